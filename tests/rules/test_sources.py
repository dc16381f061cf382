"""A source that is named by a key can be looked up; every key that can be looked up is named somewhere."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROWS = re.findall(r"^\| \[([\w-]+)\] \| (.+) \|$", (ROOT / "tests" / "SOURCES.md").read_text(), re.MULTILINE)
KEY = re.compile(r"\[([A-Z][A-Za-z]{0,2}\d{1,2}|[A-Z]{2}-[A-Z]|AN|BT|FJ|Hu|KTH|JND|RL|TU|Te)\](?![\[(\w])")
"""Letters and a number or a letter, and the few that are letters alone; no index or type of Python's."""


def named() -> set[str]:
    files = [*(ROOT / "engine").rglob("*.py"), *(ROOT / "tests").rglob("*.py")]
    return {key for file in files if file != Path(__file__) for key in KEY.findall(file.read_text())}


def test_every_key_is_in_the_list_and_every_row_is_used() -> None:
    rows = [key for key, _ in ROWS]
    assert rows == sorted(rows)
    assert len(set(rows)) == len(rows) > 40
    assert named() == set(rows)
