"""What the log shows, against the same reckoned by plain Python from the passes themselves."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from introit.practice.log import Played
from introit.practice.log.store import Store
from introit.practice.log.views import (
    InKey,
    Visited,
    Which,
    all_intros,
    by_day,
    circle,
    first_day,
    in_keys,
    rested,
    visited,
    week_before,
)  # fmt: skip
from introit.theory.key import Key, Mode, keys

START = datetime(2026, 3, 1, tzinfo=UTC)
NAMES = ["C", "F#", "Gb", "Bb minor", "G# minor", "Ab minor", "A"]
Make = Callable[..., Played]

PASSES = st.lists(
    st.builds(
        Played,
        began=st.integers(0, 20 * 24 * 60).map(lambda minutes: START + timedelta(minutes=minutes)),
        seconds=st.integers(1, 100).map(float),
        intro=st.sampled_from(["plain", "vamp"]),
        key=st.sampled_from([Key.from_text(name) for name in NAMES]),
        tempo=st.integers(60, 240).map(float),
        clean=st.sampled_from([None, True, False]),
        mode=st.sampled_from(["loop", "keys climb", "listen", "build"]),
        bars=st.sampled_from(["", "", "3-4"]),
    ),
    max_size=40,
)
WHICH = st.builds(
    Which,
    st.sampled_from([None, "plain", "never played"]),
    st.sampled_from([None, date(2026, 3, 8)]),
)


def pitch(key: Key) -> tuple[int, Mode]:
    return key.tonic.pitch_class, key.mode


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(passes=PASSES, which=WHICH)
def test_sums_are_those_of_the_passes(tmp_path: Path, passes: list[Played], which: Which) -> None:
    path = tmp_path / "practice.sqlite"
    path.unlink(missing_ok=True)
    store = Store.open(path, pytest.fail)
    store.add(passes, UTC)
    asked = [
        one
        for one in passes
        if which.intro in (None, one.intro) and (which.since is None or one.began.date() >= which.since)
    ]
    first, last = date(2026, 2, 25), date(2026, 3, 25)
    for day in by_day(store.connection, which, first=first, last=last):
        of = [one for one in asked if one.began.date() == day.day]
        assert (day.passes, day.seconds) == (len(of), sum(one.seconds for one in of))
        assert day.clean == sum(one.clean is True for one in of)
    found = in_keys(store.connection, which)
    whole = [one for one in asked if not one.bars and one.mode not in ("listen", "build")]
    assert sum(one.passes for one in found) == len(whole)
    assert len({(one.intro, pitch(one.key)) for one in found}) == len(found)
    for one in found:
        of = [other for other in whole if (other.intro, pitch(other.key)) == (one.intro, pitch(one.key))]
        assert one.passes == len(of)
        assert (one.slowest, one.fastest) == (min(o.tempo for o in of), max(o.tempo for o in of))
        assert one.clean == max((o.tempo for o in of if o.clean), default=None)
        assert one.last == max(o.began.date() for o in of)
    together = all_intros(found)
    assert sum(one.passes for one in together) == len(whole)
    assert len({pitch(one.key) for one in together}) == len(together)
    assert first_day(store.connection, which) == min((one.began.date() for one in asked), default=None)
    store.close()


def test_the_circle_goes_round_by_fourths() -> None:
    # The cycle of fourths as every method prints it (no source: common practice)
    assert " ".join(map(str, circle(Mode.MAJOR))) == "C F Bb Eb Ab Db Gb B E A D G"
    for mode in Mode:
        pitches = [key.tonic.pitch_class for key in circle(mode)]
        assert sorted(pitches) == list(range(12))
        assert {(after - before) % 12 for before, after in pairwise(pitches)} == {5}


def test_a_key_by_another_name_is_the_same_key(store: Store, played: Make) -> None:
    store.add([played(key="F#", tempo=100), played(key="Gb", tempo=140, clean=True), played(key="F# minor")])
    found = in_keys(store.connection, Which())
    assert [(str(one.key), one.passes) for one in found] == [("Gb", 2), ("F# minor", 1)]
    assert (found[0].slowest, found[0].fastest, found[0].clean) == (100, 140, 140)


def test_what_was_never_visited_is_told_by_mode(store: Store, played: Make) -> None:
    store.add([played(key=str(key)) for key in keys(Mode.MAJOR) if str(key) not in {"B", "Gb"}])
    store.add([played(intro="vamp", key="C minor"), played(intro="gone", key="A")])
    found = visited(
        in_keys(store.connection, Which()), {"plain": [Mode.MAJOR], "vamp": [Mode.MAJOR, Mode.MINOR]}
    )
    by_name = {(one.intro, one.mode): one for one in found}
    assert [str(key) for key in by_name["plain", Mode.MAJOR].never] == ["Gb", "B"]
    assert by_name["plain", Mode.MAJOR].visited == 10
    assert by_name["vamp", Mode.MAJOR].visited == 0
    assert by_name["vamp", Mode.MINOR].visited == 1
    assert by_name["gone", Mode.MAJOR].visited == 1  # it is in no library any more
    assert ("gone", Mode.MINOR) not in by_name
    assert ("plain", Mode.MINOR) not in by_name


def test_what_was_practised_last_is_told_first() -> None:
    c, f = Key.from_text("C"), Key.from_text("F")
    early, late = date(2026, 3, 1), date(2026, 3, 2)
    found = visited([InKey("a", c, 1, 60, 60, None, early), InKey("b", f, 1, 60, 60, None, late)], {})
    assert [(one.intro, one.last) for one in found] == [("b", late), ("a", early)]
    assert all(isinstance(one, Visited) and one.visited == 1 for one in found)


def test_what_has_rested_longest_comes_first(store: Store, played: Make) -> None:
    store.add([played(START, key="C"), played(START - timedelta(days=9), key="F")], UTC)
    store.add([played(START - timedelta(days=3), key="Bb"), played(START - timedelta(days=90), key="C")], UTC)
    store.add([played(START - timedelta(days=5), key="A", intro="zigzag")], UTC)
    found = rested(in_keys(store.connection, Which()))
    assert [str(one.key) for one in found] == ["F", "A", "Bb", "C"]


def test_a_week_is_seven_days_with_today() -> None:
    assert week_before(date(2026, 3, 7)) == date(2026, 3, 1)
