"""The order of keys: by hand, by an outside reference, and that every key comes once a round."""

from __future__ import annotations

from itertools import islice, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21.interval import Interval
from music21.pitch import Pitch

from introit.errors import UsageError
from introit.practice.goal import Keys, Order
from introit.practice.key_order import circle, rounds
from introit.theory.key import Key, Mode, keys

C, BOTH = Key.from_text("C"), (Mode.MAJOR, Mode.MINOR)
ALL = [key for mode in Mode for key in keys(mode)]
CLOSED = [order for order in Order if order is not Order.AS_GIVEN]


def names(asked: Keys, start: str = "C", modes: tuple[Mode, ...] = BOTH, *, seed: int = 0) -> str:
    return " ".join(map(str, next(rounds(asked, Key.from_text(start), modes, seed=seed))))


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        # worked out by hand; the cycle of fourths is common knowledge of the trade
        (Order.FOURTHS, "C F Bb Eb Ab Db Gb B E A D G"),
        (Order.FIFTHS, "C G D A E B Gb Db Ab Eb Bb F"),
        (Order.HALF_STEPS_DOWN, "C B Bb A Ab G Gb F E Eb D Db"),
        (Order.WHOLE_STEPS_DOWN, "C Bb Ab Gb E D Db B A G F Eb"),
        (Order.HALF_STEPS, "C Db D Eb E F Gb G Ab A Bb B"),
        (Order.WHOLE_STEPS, "C D E Gb Ab Bb Db Eb F G A B"),
        (Order.MINOR_THIRDS, "C Eb Gb A Db E G Bb D F Ab B"),
    ],
)
def test_the_twelve_keys_in_order(order: Order, expected: str) -> None:
    assert names(Keys(order)) == expected


def test_a_round_begins_in_the_tunes_own_key_as_it_is_named() -> None:
    assert names(Keys(), "F#") == "F# B E A D G C F Bb Eb Ab Db"
    assert names(Keys(Order.MINOR_THIRDS), "A minor").startswith("A minor C minor Eb minor F# minor Bb minor")


@pytest.mark.parametrize(
    ("order", "interval", "breaks"),
    [
        (Order.FOURTHS, "P4", 0),
        (Order.FIFTHS, "P5", 0),
        (Order.HALF_STEPS_DOWN, "-m2", 0),
        (Order.WHOLE_STEPS_DOWN, "-M2", 1),
        (Order.HALF_STEPS, "m2", 0),
        (Order.WHOLE_STEPS, "M2", 1),
        (Order.MINOR_THIRDS, "m3", 2),
    ],
)
def test_music21_counts_the_same_intervals(order: Order, interval: str, breaks: int) -> None:
    step = Interval(interval)
    found = circle(order, 0)
    odd = [(one, other) for one, other in pairwise(found) if Pitch(one).transpose(step).pitchClass != other]
    assert len(odd) == breaks  # where a cycle of whole steps or minor thirds has closed


def test_the_players_own_keys_alone() -> None:
    own = tuple(Key.from_text(name) for name in ("Bb", "C", "Eb", "F# minor"))
    assert names(Keys(Order.AS_GIVEN, own=own)) == "Bb C Eb F# minor"
    assert names(Keys(Order.FOURTHS, own=own)) == "C Bb Eb F# minor"
    assert names(Keys(Order.FOURTHS, own=own), modes=(Mode.MAJOR,)) == "C Bb Eb"
    assert names(Keys(Order.FOURTHS, own=own, modes=(Mode.MINOR,))) == "F# minor"


def test_both_modes_are_one_after_the_other() -> None:
    found = names(Keys(Order.FOURTHS, modes=BOTH)).split(" ", 12)
    assert found[:3] == ["C", "F", "Bb"]
    assert found[12].startswith("C minor F minor Bb minor")


def test_a_mode_that_the_intro_has_not_is_told() -> None:
    with pytest.raises(UsageError, match="the intro has no minor form for this tune; it has: major"):
        rounds(Keys(modes=(Mode.MINOR,)), C, (Mode.MAJOR,))
    both = next(rounds(Keys(modes=BOTH), C, (Mode.MAJOR,)))
    assert [key.mode for key in both] == [Mode.MAJOR] * 12  # as far as it has forms for them
    own = (Key.from_text("D minor"),)
    with pytest.raises(UsageError, match=r"none of the keys that are asked for \(D minor\)"):
        rounds(Keys(own=own), C, (Mode.MAJOR,))


@given(
    order=st.sampled_from(list(Order)),
    start=st.sampled_from(ALL),
    own=st.lists(st.sampled_from(ALL), max_size=8),
    modes=st.sampled_from([(), (Mode.MAJOR,), (Mode.MINOR,), BOTH]),
    seed=st.integers(0, 99),
)
def test_every_key_comes_once_a_round(
    order: Order, start: Key, own: list[Key], modes: tuple[Mode, ...], seed: int
) -> None:
    if order is Order.AS_GIVEN and not own:
        return
    try:
        way = rounds(Keys(order, own=tuple(own), modes=modes), start, BOTH, seed=seed)
    except UsageError:
        assert own
        assert not {key.mode for key in own} & set(modes)
        return
    wanted = set(modes) or ({key.mode for key in own} or {start.mode})
    if own:
        asked = {(key.tonic.pitch_class, key.mode) for key in own if key.mode in wanted}
    else:
        asked = {(pitch, mode) for pitch in range(12) for mode in wanted}
    for one in islice(way, 3):
        places = [(key.tonic.pitch_class, key.mode) for key in one]
        assert len(places) == len(set(places))
        assert set(places) == asked


@given(st.integers(0, 10_000))
def test_at_random_no_key_is_heard_twice_running_and_rounds_differ(seed: int) -> None:
    played = [key for one in islice(rounds(Keys(Order.RANDOM), C, BOTH, seed=seed), 6) for key in one]
    assert all(one != other for one, other in pairwise(played))
    assert len({tuple(played[start : start + 12]) for start in range(0, 72, 12)}) > 1
    again = [key for one in islice(rounds(Keys(Order.RANDOM), C, BOTH, seed=seed), 6) for key in one]
    assert played == again


def test_one_key_alone_is_played_again_and_again() -> None:
    way = rounds(Keys(Order.RANDOM, own=(C,)), C, BOTH)
    assert list(islice(way, 3)) == [(C,)] * 3


@given(st.sampled_from(CLOSED), st.integers(0, 11))
def test_a_circle_has_twelve_pitch_classes(order: Order, start: int) -> None:
    found = circle(order, start)
    assert found[0] == start
    assert sorted(found) == list(range(12))
