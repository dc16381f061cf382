from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.legal import UNISON_TICKS, legal
from introit.performance import PlayedNote

COMP, BASS, MELODY = 1, 2, 0


def one_channel(part: int) -> tuple[int, int]:
    return 0, 0


@st.composite
def notes(draw: st.DrawFn) -> PlayedNote:
    onset = draw(st.integers(-3840, 4000))
    length = draw(st.integers(1, 3000))
    part, pitch = draw(st.integers(0, 5)), draw(st.integers(60, 63))
    return PlayedNote(onset, onset + length, max(onset, 0), part, pitch, draw(st.integers(1, 127)))


@given(st.lists(notes(), max_size=40), st.integers(1, 3))
def test_no_off_lands_behind_the_next_on(played: list[PlayedNote], channels: int) -> None:
    def channel_of(part: int) -> tuple[int, int]:
        return part % 2, part % channels

    lanes: defaultdict[tuple[tuple[int, int], int], list[PlayedNote]] = defaultdict(list)
    for note in legal(played, channel_of):
        assert note.end > note.onset
        lanes[channel_of(note.part), note.pitch].append(note)
    for lane in lanes.values():
        for before, after in pairwise(lane):
            assert before.end <= after.onset


@given(st.lists(notes(), max_size=40))
def test_nothing_is_invented_and_no_pitch_falls_silent(played: list[PlayedNote]) -> None:
    result = legal(played, one_channel)
    for note in result:
        assert any(note.onset == other.onset and note.pitch == other.pitch for other in played)
        assert any(note.end in (other.end, other.onset) and note.pitch == other.pitch for other in played)
    for note in played:
        assert any(
            kept.pitch == note.pitch and kept.onset <= note.onset < kept.onset + UNISON_TICKS
            for kept in result
        ) or any(kept.pitch == note.pitch and kept.onset <= note.onset < kept.end for kept in result)


@given(st.lists(notes(), max_size=40))
def test_what_is_legal_stays_as_it_is(played: list[PlayedNote]) -> None:
    once = legal(played, one_channel)
    assert legal(once, one_channel) == once


def test_a_unison_of_two_parts_keeps_the_louder_and_the_longer() -> None:
    comp = PlayedNote(0, 1920, 0, COMP, 60, 70)
    melody = PlayedNote(20, 960, 0, MELODY, 60, 90)
    assert legal([comp, melody], one_channel) == (PlayedNote(0, 1920, 0, MELODY, 60, 90),)


def test_parts_on_their_own_channels_are_left_alone() -> None:
    comp = PlayedNote(0, 1920, 0, COMP, 60, 70)
    melody = PlayedNote(0, 960, 0, MELODY, 60, 90)
    assert legal([comp, melody]) == (melody, comp)


def test_a_repeated_pitch_ends_where_it_begins_again() -> None:
    first, second = PlayedNote(0, 1000, 0, BASS, 40, 70), PlayedNote(960, 1900, 960, BASS, 40, 70)
    assert [note.end for note in legal([first, second])] == [960, 1900]
