"""Every way in which a note could be left hanging has a test, and the house plan names it truly."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PLAN = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
SECTION = PLAN.partition("## Nothing hangs\n")[2].partition("\n## ")[0]
ROWS = re.findall(r"^\| (.+) \| (.*) \| `(.+?)` \|$", SECTION, re.MULTILINE)


def test_there_are_rows() -> None:
    assert len(ROWS) > 20
    assert len({what for what, _, _ in ROWS}) == len(ROWS)


@pytest.mark.parametrize("test", [test for _, _, test in ROWS])
def test_each_row_names_a_test_that_there_is(test: str) -> None:
    path, _, name = test.partition("::")
    text = (ROOT / "tests" / path).read_text(encoding="utf-8")
    assert f"def {name or 'test_'}" in text
