"""Every content file that is shipped loads without a mistake, and its folder says what it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from introit.library.content import content_roots
from introit.library.loader import load_file, load_library

SHIPPED = content_roots()[0]
FILES = sorted(path for folder in ("patterns", "config") for path in (SHIPPED / folder).glob("*/*.yaml"))


def test_there_is_content() -> None:
    library, problems = load_library([SHIPPED])
    assert problems == []
    loaded = sum(
        len(getattr(library, kind))
        for kind in ("intros", "comping", "bass", "feels", "tunes", "sets", "rigs")
    )
    assert loaded == len(FILES)


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_shipped_file_loads(path: Path) -> None:
    library, _ = load_library([SHIPPED])
    load_file(path, library)
