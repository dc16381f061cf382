"""What tests of the log share: a pass, with whatever is told otherwise, and an open log of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from introit.practice.log.played import Played
from introit.practice.log.store import Store
from introit.theory.key import Key

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)


def silent(message: str) -> None:
    raise AssertionError(message)


@pytest.fixture
def played() -> Callable[..., Played]:
    def make(began: datetime = NOON, *, key: str = "C", **told: Any) -> Played:
        fields: dict[str, Any] = {"seconds": 20.0, "intro": "plain", "tempo": 120.0, **told}
        return Played(began=began, key=Key.from_text(key), **fields)

    return make


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "practice.sqlite"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    opened = Store.open(path, silent)
    yield opened
    opened.close()
