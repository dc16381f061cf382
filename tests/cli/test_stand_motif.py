"""Where a motif is said and how it returns, from what is played.

The library's own words are the reference: an intro's file says in which bars its motif begins. How hand-made
returns are called is judgement, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro, suits
from introit.arrange.score import MELODY, Score, ScoreNote
from introit.cli.stand_motif import sayings
from introit.library.model import Library, Tune
from introit.theory.key import Key
from introit.theory.numeral import Numeral

QUARTER = 960


@pytest.fixture(scope="module")
def scores(library: Library) -> list[Score]:
    """Every intro with a motif that suits a tune in B flat, for guitar and bass."""
    found = []
    for intro in library.intros.values():
        key = Key.from_text("Bb")
        tune = Tune("t", "T", key, intro.meters[0], 120, intro.feels[0], Numeral.from_text("I"))
        if intro.melody.has_motif and suits(intro, tune, key) is None and LineUp.WITH_BASS in intro.line_ups:
            plan = plan_intro(intro, tune, key)
            found.append(arrange(plan, library, stage=Stage(LineUp.WITH_BASS), seed=1))
    assert len(found) > 15
    return found


def test_each_saying_begins_in_a_bar_that_the_file_names(scores: list[Score]) -> None:
    told = 0
    for score in scores:
        plan, melody = score.plan, score.plan.intro.melody
        for said in sayings(score):
            bar = said.onset // plan.bar_ticks + 1
            wanted = melody.bars or range(1, plan.bars + 1)
            room = melody.motif_bars - 1
            assert plan.scale != 1 or any(bar - room <= begin <= bar + 1 for begin in wanted), plan.intro.id
            told += 1
    assert told > 30


def test_the_first_is_the_motif_and_every_other_is_it_again(scores: list[Score]) -> None:
    returns = 0
    for score in scores:
        said = sayings(score)
        assert [one.how for one in said[:1]] == ["the motif"] * bool(said)
        assert all(one.how.startswith("again") for one in said[1:])
        assert [one.onset for one in said] == sorted(one.onset for one in said)
        returns += len(said) - 1
    assert returns > 15


def test_an_intro_without_a_motif_has_none_to_show(library: Library) -> None:
    intro = library.intros["back-door"]
    assert not intro.melody.has_motif
    tune = Tune("t", "T", Key.from_text("C"), intro.meters[0], 120, intro.feels[0], Numeral.from_text("I"))
    assert sayings(arrange(plan_intro(intro, tune, tune.key), library, seed=1)) == []


def returned(library: Library, *moves: int) -> str:
    """How the second saying of three-six-two-five's motif is called, were it the first moved so."""
    intro = library.intros["three-six-two-five"]
    tune = Tune("t", "T", Key.from_text("Bb"), intro.meters[0], 120, intro.feels[0], Numeral.from_text("I"))
    score = arrange(plan_intro(intro, tune, tune.key), library, seed=1)
    first, second = sayings(score)
    rest = [note for note in score.notes if note.part != MELODY]
    pitches = (70, 67, 69)

    def notes(onset: int, by: tuple[int, ...]) -> list[ScoreNote]:
        offsets = (0, QUARTER // 2, 3 * QUARTER // 2)  # as its file has it: &1, 2, 3
        return [
            ScoreNote(onset + offset, QUARTER // 2, onset, MELODY, pitch + move)
            for offset, pitch, move in zip(offsets, pitches, by, strict=True)
        ]

    said = [*notes(first.onset, (0, 0, 0)), *notes(second.onset, moves)]
    made = replace(score, notes=tuple(sorted([*rest, *said], key=lambda note: note.onset)))
    assert [one.notes for one in sayings(made)] == [3, 3]
    return sayings(made)[1].how


@pytest.mark.parametrize(
    ("moves", "how"),
    [
        ((0, 0, 0), "again"),
        ((12, 12, 12), "again, an octave up"),
        ((-12, -12, -12), "again, an octave down"),
        ((-1, -1, -1), "again, a half step down"),
        ((2, 2, 2), "again, a step up"),
        ((4, 4, 4), "again, a third up"),
        ((5, 5, 5), "again, a fourth up"),
        ((14, 14, 14), "again, an octave and a step up"),
        ((0, 0, 3), "again, with another end"),
        ((12, 12, 9), "again, an octave up, with another end"),
        ((-2, 0, 0), "again, with another beginning"),
        ((0, 1, 0), "again, an inner note changed"),
        ((-3, -1, -2), "again, the same shape on the new chords"),
        ((-2, -1, -9), "again, on the new chords, with another end"),
        ((-9, 2, 7), "again, bent to the new chords"),
    ],
)
def test_a_return_is_called_what_an_ear_would_call_it(
    library: Library, moves: tuple[int, ...], how: str
) -> None:
    assert returned(library, *moves) == how
