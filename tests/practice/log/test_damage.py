"""A damaged log is set aside under the date, said, and a new one is begun with what can still be read."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from introit.practice.log.keeper import PracticeLog
from introit.practice.log.opening import LogError
from introit.practice.log.played import Played
from introit.practice.log.rescue import set_aside
from introit.practice.log.store import Store

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)
PAGE = 4096
Make = Callable[..., Played]


def filled(path: Path, played: Make, number: int = 500) -> list[Played]:
    store = Store.open(path, lambda message: None)
    passes = [played(NOON + timedelta(minutes=n), tempo=60 + n % 200) for n in range(number)]
    store.add(passes, UTC)
    store.close()
    return passes


def damaged(path: Path, change: Callable[[bytearray], bytes | bytearray]) -> bytes:
    data = bytes(change(bytearray(path.read_bytes())))
    path.write_bytes(data)
    return data


def scribbled(page: int) -> Callable[[bytearray], bytearray]:
    def change(data: bytearray) -> bytearray:
        data[page * PAGE : (page + 1) * PAGE] = random.Random(page).randbytes(PAGE)
        return data

    return change


def opened(path: Path) -> tuple[list[Played], str]:
    said: list[str] = []
    store = Store.open(path, said.append, now=NOON)
    passes = store.passes()
    store.close()
    assert len(said) == 1
    return passes, said[0]


@pytest.mark.parametrize("text", [b"no database at all", b"\0" * 8192, b"SQLite format 3\0" + b"\xff" * 5000])
def test_what_is_no_log_is_set_aside_whole(path: Path, text: bytes) -> None:
    path.write_bytes(text)
    passes, said = opened(path)
    assert passes == []
    aside = path.with_name("practice-damaged-2026-03-04.sqlite")
    assert aside.read_bytes() == text
    assert said == (
        f"the practice log {path} was damaged: it is set aside as {aside.name}, and a new one is begun; "
        "nothing of it could be read"
    )


def test_one_that_was_cut_off_gives_what_is_left_of_it(path: Path, played: Make) -> None:
    before = filled(path, played)
    data = damaged(path, lambda data: data[: 2 * len(data) // 3])
    passes, said = opened(path)
    assert path.with_name("practice-damaged-2026-03-04.sqlite").read_bytes() == data
    assert set(passes) <= set(before)
    if passes:
        assert said.endswith(f"a new one is begun, with {len(passes)} of its passes")


def test_with_a_page_lost_in_its_middle_the_passes_on_both_sides_are_saved(path: Path, played: Make) -> None:
    before = filled(path, played)
    found: dict[int, list[Played]] = {}
    for page in range(2, len(path.read_bytes()) // PAGE):
        copy = path.with_name(f"copy-{page}.sqlite")
        copy.write_bytes(path.read_bytes())
        damaged(copy, scribbled(page))
        found[page], _ = opened(copy)
        assert set(found[page]) <= set(before), page
    inside = [
        passes for passes in found.values() if passes[:1] == before[:1] and passes[-1:] == before[-1:] != []
    ]
    lost = [len(before) - len(passes) for passes in inside if len(passes) < len(before)]
    assert len(lost) > 3
    assert max(lost) < len(before) / 2


def test_a_second_one_on_the_same_day_takes_no_ones_place(path: Path) -> None:
    for _ in range(3):
        path.write_bytes(b"no database")
        opened(path)
    assert sorted(entry.name for entry in path.parent.iterdir()) == [
        "practice-damaged-2026-03-04-2.sqlite",
        "practice-damaged-2026-03-04-3.sqlite",
        "practice-damaged-2026-03-04.sqlite",
        "practice.sqlite",
    ]


def test_its_journal_goes_with_it(path: Path) -> None:
    path.write_bytes(b"a log")
    path.with_name("practice.sqlite-journal").write_bytes(b"what was being written")
    aside = set_aside(path, NOON)
    assert aside.read_bytes() == b"a log"
    assert aside.with_name(aside.name + "-journal").read_bytes() == b"what was being written"
    assert len(list(path.parent.iterdir())) == 2


def test_looking_at_a_damaged_one_sets_it_aside_too(path: Path) -> None:
    path.write_bytes(b"no database at all")
    said: list[str] = []
    store = Store.look(path, said.append, now=NOON)
    assert store.passes() == []
    assert "is set aside" in said[0]
    store.close()


def test_one_that_cannot_be_set_aside_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path.write_bytes(b"no database at all")

    def refuse(*_: object) -> Path:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises(LogError, match="is damaged and cannot be set aside: Permission denied"):
        Store.open(path, lambda message: None)
    assert path.read_bytes() == b"no database at all"


def test_practice_goes_on_with_the_new_one(path: Path, played: Make) -> None:
    path.write_bytes(b"no database at all")
    said: list[str] = []
    with PracticeLog.open(said.append, path=path, zone=UTC) as log:
        log.add(played())
    assert len(said) == 1
    store = Store.open(path, lambda message: None)
    assert store.passes() == [played()]
    store.close()


def test_damage_while_practising_costs_no_pass(path: Path, played: Make) -> None:
    said: list[str] = []
    with PracticeLog.open(said.append, path=path, zone=UTC) as log:
        log.add(played())
        assert log.settle()
        path.write_bytes(b"scribbled over by somebody")
        log.add(played(NOON + timedelta(minutes=1)))
        assert log.settle()
    assert len(said) == 1
    assert "was damaged" in said[0]
    store = Store.open(path, pytest.fail)
    assert store.passes() == [played(NOON + timedelta(minutes=1))]
    store.close()


def test_a_log_that_was_moved_while_practising_is_begun_again(path: Path, played: Make) -> None:
    with PracticeLog.open(pytest.fail, path=path, zone=UTC) as log:
        log.add(played())
        assert log.settle()
        path.rename(path.with_name("elsewhere.sqlite"))
        log.add(played(NOON + timedelta(minutes=1)))
        assert log.settle()
    kept = []
    for name in ("elsewhere.sqlite", path.name):
        store = Store.open(path.with_name(name), pytest.fail)
        kept.append(store.passes())
        store.close()
    assert kept == [[played()], [played(NOON + timedelta(minutes=1))]]
