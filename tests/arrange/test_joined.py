"""Performances behind each other: what sounds when, and that nothing is struck twice or let go too late."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.joined import joined, starts_of
from introit.performance import ChordMark, Performance, PlayedNote, Wait
from introit.testing import sketch
from introit.units import TICKS_PER_QUARTER

BAR = 4 * TICKS_PER_QUARTER
COMP, BASS, CLICK = 1, 2, 5


def test_parts_begin_where_the_one_before_ends() -> None:
    parts = [sketch(bars=2, count_off=4), sketch(5, bars=3), sketch(7, bars=1)]
    assert starts_of(parts) == (0, 2 * BAR, 5 * BAR, 6 * BAR)
    whole = joined(parts)
    assert (whole.start_tick, whole.head_tick, whole.end_tick) == (-BAR, 6 * BAR, 6 * BAR)
    lengths = [(mark.tick // BAR, mark.symbol) for mark in whole.chords]
    assert lengths == [(0, "C"), (1, "C"), (2, "F"), (3, "F"), (4, "F"), (5, "G")]
    bass = [note.pitch for note in whole.notes if note.part == BASS]
    assert bass == [36] * 8 + [41] * 12 + [43] * 4


def test_one_part_is_itself() -> None:
    assert joined([sketch(bars=2, count_off=4)]) == sketch(bars=2, count_off=4)


def test_only_the_first_part_is_counted_off() -> None:
    whole = joined([sketch(count_off=4), sketch(count_off=4)])
    clicks = [note.onset for note in whole.notes if note.part == CLICK]
    assert clicks == [-BAR, -BAR * 3 // 4, -BAR // 2, -BAR // 4]
    assert min(joined([sketch(), sketch(count_off=4)]).notes).onset == 0


def test_a_landing_gives_way_to_what_follows_and_ends_the_last_part() -> None:
    head = 2 * BAR
    landing = (
        PlayedNote(head - 480, head + 960, head, COMP, 60, 70),  # pushed
        PlayedNote(head, head + 960, head, BASS, 40, 70),
    )
    plain = sketch(bars=2)
    landed = replace(plain, notes=(*plain.notes, *landing), end_tick=head + 960)
    assert joined([landed, plain]) == joined([plain, plain])
    assert joined([plain, landed]).end_tick == 4 * BAR + 960
    assert {(note.onset - 2 * BAR, note.pitch) for note in joined([plain, landed]).notes} >= {
        (note.onset, note.pitch) for note in landing
    }


def test_how_it_begins_is_the_first_parts_and_how_it_ends_the_last_ones() -> None:
    first = replace(sketch(), tapped=True, start_clock="intro", once_more=True, rest=BAR)
    last = replace(sketch(3), title="Another", rest=2 * BAR)
    whole = joined([first, last])
    assert (whole.tapped, whole.start_clock, whole.title, whole.key) == (True, "intro", "A Sketch", "C")
    assert (whole.once_more, whole.rest) == (False, 2 * BAR)


def test_what_went_round_in_a_part_does_so_no_longer() -> None:
    assert joined([replace(sketch(), vamp=(0, BAR)), sketch()]).vamp is None
    whole = joined([sketch(), sketch(), sketch()], vamp=(BAR, 5 * BAR), exits=(BAR, 3 * BAR))
    assert (whole.vamp, whole.exits) == ((BAR, 5 * BAR), (BAR, 3 * BAR))


WAITING = replace(sketch(), waits=(Wait(BAR, BAR),))
PARTS = [sketch(), sketch()]


@pytest.mark.parametrize(
    ("parts", "vamp", "exits", "says"),
    [
        ([], None, (), "nothing to join"),
        ([sketch(), sketch(beats=3)], None, (), "parts differ: 4 beats at 120, 3 beats at 120"),
        ([sketch(), sketch(tempo=90)], None, (), "parts differ"),
        ([sketch(), WAITING], None, (), "not the first"),
        ([WAITING, sketch()], (0, BAR), (), "nothing goes round"),
        (PARTS, None, (BAR,), "none do"),
        (PARTS, (0, 5 * BAR), (), "bar lines between 0"),
        (PARTS, (BAR, BAR), (), "bar lines"),
        (PARTS, (0, BAR + 1), (), "bar lines"),
        (PARTS, (0, 3 * BAR), (960,), "bar lines"),
        (PARTS, (0, 3 * BAR), (3 * BAR,), "do not rise within"),
        (PARTS, (BAR, 3 * BAR), (0,), "do not rise within"),
        (PARTS, (0, 4 * BAR), (2 * BAR, BAR), "do not rise within"),
    ],
)
def test_what_cannot_be_joined(
    parts: list[Performance], vamp: tuple[int, int] | None, exits: tuple[int, ...], says: str
) -> None:
    with pytest.raises(ValueError, match=says):
        joined(parts, vamp=vamp, exits=exits)


def test_an_intro_that_waits_may_stand_before_a_tune_that_does_not_go_round() -> None:
    assert joined([WAITING, sketch()]).waits == WAITING.waits


@st.composite
def performances(draw: st.DrawFn) -> Performance:
    """A few notes anywhere from a count-off to a landing that rings, legal or not."""
    bars = draw(st.integers(1, 3))
    head = bars * BAR
    notes = []
    for _ in range(draw(st.integers(0, 12))):
        onset = draw(st.integers(-BAR, head + BAR))
        end = onset + draw(st.integers(1, 3 * BAR))
        harmony = draw(st.sampled_from([onset, head, -(-onset // BAR) * BAR]))
        notes.append(PlayedNote(onset, end, harmony, draw(st.integers(0, 4)), draw(st.integers(60, 63)), 80))
    plain = sketch(bars=bars)
    chords = tuple(ChordMark(tick, "C", "I") for tick in range(0, head + 1, BAR))
    return replace(
        plain,
        start_tick=-BAR,
        end_tick=max([head, *(note.end for note in notes)]),
        notes=tuple(sorted(notes)),
        chords=chords,
    )


def one_channel(part: int) -> tuple[int, int]:
    return 0, 0


@given(parts=st.lists(performances(), min_size=1, max_size=4), together=st.booleans())
def test_nothing_is_struck_twice_or_let_go_after_it_was_struck_again(
    parts: list[Performance], together: bool
) -> None:
    channel_of = one_channel if together else lambda part: (0, part)
    whole = joined(parts, channel_of=channel_of)
    lanes: defaultdict[object, list[PlayedNote]] = defaultdict(list)
    for note in whole.notes:
        assert note.end > note.onset
        lanes[channel_of(note.part), note.pitch].append(note)
    for lane in lanes.values():
        assert all(before.end <= after.onset for before, after in pairwise(lane))
    starts = starts_of(parts)
    lines = starts[1:-1]
    for note in whole.notes:
        assert not any(note.onset < line < note.end for line in lines)
        assert note.onset >= 0 or any(note.onset == own.onset for own in parts[0].notes)
    assert [mark.tick for mark in whole.chords] == list(range(0, starts[-1], BAR))
    assert whole.end_tick - whole.head_tick == parts[-1].end_tick - parts[-1].head_tick
    assert Performance.from_bytes(whole.to_bytes()) == whole
