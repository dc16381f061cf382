"""Harmonised arpeggio: every note of the run is joined by a member of its triad, one or two members below.

Between a triad's neighbouring members lie thirds and a fourth, between members two apart sixths and a fifth:
so the sizes mix (arithmetic, and common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.score import COMP, MELODY, ScoreNote
from introit.arrange.textures.members import members, triads
from introit.theory.chord import chord_from_symbol

KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
BEAT, BAR = 960, 3840
FORMS = ("ii9 | V13 | Imaj9 | H", "Imaj9 vi7 | ii9 V7 | iii7 VI7 | ii7 H")
STEPS = {1, 2}

LayOut = Callable[..., Any]


def pairs(notes: list[ScoreNote]) -> list[tuple[ScoreNote, ScoreNote]]:
    """Each note of the line with the one that joins it, in order."""
    comp = [note for note in notes if note.part == COMP]
    found = []
    for note in sorted(note for note in notes if note.part == MELODY):
        (joined,) = (other for other in comp if (other.onset, other.end) == (note.onset, note.end))
        found.append((joined, note))
    return found


def members_apart(joined: int, note: int, triad: tuple[int, ...]) -> int:
    return sum(pitch % 12 in triad for pitch in range(joined, note))


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("line_up", ["with keys", "with bass", "solo guitar"])
@pytest.mark.parametrize("form", FORMS)
def test_every_pair_is_two_members_of_one_triad_one_or_two_apart(
    lay_out: LayOut, key: str, line_up: str, form: str
) -> None:
    played = lay_out("harmonised arpeggio", form, key=key, line_up=line_up)
    sizes = set()
    for joined, note in pairs(played.notes):
        chord = played.scene.chord_of(played.scene.unit_at(note.onset)).chord
        holding = [
            triad
            for triad in (*triads(chord)[0], *triads(chord)[1])
            if {joined.pitch % 12, note.pitch % 12} <= set(triad)
        ]
        assert {joined.pitch % 12, note.pitch % 12} <= set(members(chord))
        assert any(members_apart(joined.pitch, note.pitch, triad) in {1, 2} for triad in holding)
        sizes.add(note.pitch - joined.pitch)
    assert sizes <= set(range(3, 10))
    assert sizes & {3, 4}
    assert sizes & {5, 6, 7, 8, 9}


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("seed", range(3))
def test_each_run_lands_by_step_on_the_next_chord(lay_out: LayOut, key: str, form: str, seed: int) -> None:
    played = lay_out("harmonised arpeggio", form, key=key, line_up="with keys", seed=seed)
    line = pairs(played.notes)
    landings = [
        (before[1], after[1])
        for before, after in pairwise(line)
        if before[1].harmony_tick != after[1].harmony_tick and before[1].end == after[1].onset
    ]
    assert len(landings) == 3
    for last, landing in landings:
        assert abs(landing.pitch - last.pitch) in STEPS
        third = played.scene.chord_of(played.scene.unit_at(landing.onset)).chord.guide_tones[0]
        pair = next(one for one in line if one[1] is landing)
        assert third.pitch_class in {pair[0].pitch % 12, pair[1].pitch % 12}


@pytest.mark.parametrize(
    ("symbol", "own", "above"),
    [
        ("Cmaj7", {"C E G", "E G B"}, {"G B D", "A C E"}),
        ("Dm7", {"D F A", "F A C"}, {"A C E", "C E G"}),
        ("G7", {"G B D", "B D F"}, {"E G B"}),
    ],
)
def test_the_triads_of_a_chord_and_those_from_above_it(symbol: str, own: set[str], above: set[str]) -> None:
    names = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
    inside, upper = triads(chord_from_symbol(symbol))
    assert {" ".join(names[pitch] for pitch in triad) for triad in inside} == own
    assert above <= {" ".join(names[pitch] for pitch in triad) for triad in upper}


@pytest.mark.parametrize(("tempo", "grid"), [(60.0, BEAT // 3), (140.0, BEAT // 2), (250.0, BEAT)])
def test_the_run_moves_as_the_tempo_asks(lay_out: LayOut, tempo: float, grid: int) -> None:
    played = lay_out("harmonised arpeggio", FORMS[0], line_up="with keys", tempo=tempo)
    line = [note for _, note in pairs(played.notes)]
    gaps = {later.onset - early.onset for early, later in pairwise(line)}
    assert min(gaps) == grid
    assert all(note.onset % grid == 0 for note in line)


def test_some_runs_go_on_through_a_triad_from_above(lay_out: LayOut) -> None:
    own = above = 0
    for seed in range(8):
        played = lay_out("harmonised arpeggio", FORMS[0], line_up="with keys", seed=seed)
        for joined, note in pairs(played.notes):
            chord = played.scene.chord_of(played.scene.unit_at(note.onset)).chord
            both = {joined.pitch % 12, note.pitch % 12}
            inside = any(both <= set(triad) for triad in triads(chord)[0])
            own, above = own + inside, above + (not inside)
    assert 0 < above < own / 2


def test_the_last_bar_does_not_run(lay_out: LayOut) -> None:
    played = lay_out("harmonised arpeggio", FORMS[0], line_up="with keys")
    assert [note.onset for note in played.notes if note.part == MELODY and note.onset > 3 * BAR] == []
    assert max(note.onset for note in played.notes) == 4 * BAR - BEAT


def test_another_playing_runs_otherwise_and_the_same_seed_alike(lay_out: LayOut) -> None:
    played = [
        lay_out("harmonised arpeggio", FORMS[0], line_up="with keys", seed=seed).notes for seed in range(5)
    ]
    assert len({tuple(sorted(notes)) for notes in played}) > 2
    assert lay_out("harmonised arpeggio", FORMS[0], line_up="with keys", seed=2).notes == played[2]
