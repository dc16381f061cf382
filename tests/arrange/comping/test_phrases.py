"""What a good comper's phrases have in common, over every shipped intro of four bars or more in swing.

The figures are the project's starting values: common practice, no source, unless a check names one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import pytest

from introit.arrange.comping import Stroke, comp_strokes, pushes_of
from introit.arrange.line_up import Stage
from introit.arrange.melody import write_melody
from introit.arrange.plan import plan_intro, suits
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import ScoreNote
from introit.arrange.shelf import first_fitting
from introit.library.model import CompingRhythm, Feel, Intro, Library, Tune
from introit.theory.key import Key
from introit.theory.numeral import Numeral
from introit.units import TICKS_PER_QUARTER

SWING = ("medium-swing", "up-tempo-swing", "slow-swing", "shuffle", "jazz-waltz", "five-four-swing")
SEEDS = 5
"""Each intro in each feel is played once, with so many seeds in turn."""
FEWEST_JUDGED = 8
"""Hits from which a share of them is judged, as in `patterns/measures.yaml`: of fewer, one is chance."""
HEADS = {"C": "Imaj7", "C minor": "i6/9"}


@dataclass(frozen=True)
class Case:
    """One playing: the scene, its melody and its comp, and whether the comp is made of phrases at all."""

    scene: Scene
    melody: list[ScoreNote]
    strokes: tuple[Stroke, ...]
    rhythm: CompingRhythm

    def __str__(self) -> str:
        plan = self.scene.plan
        return f"{plan.intro.id} in {plan.key}, {plan.meter}, {plan.tune.feel}, seed {self.scene.seed}"

    @property
    def bars(self) -> list[list[Stroke]]:
        plan = self.scene.plan
        return [
            [one for one in self.strokes if one.onset // plan.bar_ticks == bar] for bar in range(plan.bars)
        ]

    @property
    def has_motif(self) -> bool:
        return self.scene.plan.intro.melody.has_motif

    @property
    def most_chords(self) -> int:
        """Chords in the bar that has most of them; with three, no bar can be thin."""
        return max(Counter(one.onset // self.scene.plan.bar_ticks for one in self.scene.plan.chords).values())

    @property
    def pushes(self) -> list[Stroke]:
        return [one for one in self.strokes if self.scene.units[one.unit].start > one.onset]


def playings(intro: Intro, feel: Feel, library: Library, seed: int) -> Iterator[Case]:
    for name, head in HEADS.items():
        for meter in (one for one in intro.meters if one in feel.meters):
            key = Key.from_text(name)
            tune = Tune("t", "T", key, meter, feel.typical_tempo, feel.id, Numeral.from_text(head))
            if suits(intro, tune, key) is None:
                scene = set_scene(plan_intro(intro, tune, key), Stage(), seed=seed)
                names = (intro.comping, *feel.comping)
                rhythm = first_fitting(scene.plan, names, library.comping, what="comping rhythm")
                melody = write_melody(scene)
                rhythms = [[rhythm]] * len(scene.passages)
                strokes = comp_strokes(scene, rhythms, melody=melody, pushes=pushes_of(feel.id))
                yield Case(scene, melody, strokes, rhythm)


@pytest.fixture(scope="module")
def cases(shipped: Library) -> list[Case]:
    """Those whose rhythm is no steady pattern."""
    pairs = [(one, name) for one in shipped.intros.values() for name in SWING if name in one.feels]
    found = [
        case
        for number, (intro, name) in enumerate(pairs)
        for case in playings(intro, shipped.feels[name], shipped, number % SEEDS)
        if not case.rhythm.steady and case.scene.plan.bars >= 4
    ]
    assert len(found) > 100
    return found


def test_every_chord_is_stated_by_comp_or_motif(cases: list[Case]) -> None:
    for case in cases:
        plan = case.scene.plan
        stated = {case.scene.units[one.unit].chord for one in case.strokes}
        if case.has_motif:
            stated |= {plan.at(note.harmony_tick) for note in case.melody}
        assert stated == set(range(len(plan.chords))), str(case)


def test_most_hits_fall_in_the_melodys_gaps_and_few_on_its_onsets(cases: list[Case]) -> None:
    for case in cases:
        onsets = {note.onset for note in case.melody}
        gaps = [s for s in case.strokes if not any(n.onset <= s.onset < n.end for n in case.melody)]
        together = [stroke for stroke in case.strokes if stroke.onset in onsets]
        assert len(gaps) >= 0.6 * len(case.strokes), str(case)
        if len(case.strokes) >= FEWEST_JUDGED:
            assert len(together) <= 0.25 * len(case.strokes), str(case)


def test_a_bar_has_one_to_two_and_a_half_hits_on_the_average(cases: list[Case]) -> None:
    judged = [case for case in cases if not case.has_motif and case.most_chords <= 2]
    assert judged
    for case in judged:
        assert 1 <= len(case.strokes) / case.scene.plan.bars <= 2.5, str(case)


def test_some_bar_of_every_four_has_one_hit_at_most(cases: list[Case]) -> None:
    judged = [case for case in cases if case.most_chords <= 2]
    for case in judged:
        hits = [len(bar) for bar in case.bars]
        for first in range(len(hits) - 3):
            assert min(hits[first : first + 4]) <= 1, (str(case), hits)


def test_no_bar_is_the_same_more_than_twice_running(cases: list[Case]) -> None:
    for case in cases:
        bar_ticks = case.scene.plan.bar_ticks
        rhythms = [tuple(stroke.onset % bar_ticks for stroke in bar) for bar in case.bars]
        for first in range(len(rhythms) - 2):
            assert not rhythms[first] or len(set(rhythms[first : first + 3])) > 1, (str(case), rhythms)


def test_a_quarter_to_two_fifths_of_the_changes_are_pushed(cases: list[Case]) -> None:
    """Judged from three changes on: a share of fewer cannot lie there."""
    judged = [case for case in cases if not case.has_motif and len(case.scene.plan.chords) > 3]
    for case in judged:
        changes = len(case.scene.plan.chords) - 1
        assert 0.25 * changes <= len(case.pushes) <= 0.4 * changes, str(case)


def test_pushes_sound_the_chord_that_comes_an_eighth_later(cases: list[Case]) -> None:
    """[CP2], [CP7]: the off-beat before the change takes the next chord."""
    for case in cases:
        for stroke in case.pushes:
            assert case.scene.chord_of(stroke.unit).onset - stroke.onset == TICKS_PER_QUARTER // 2, str(case)


def test_three_in_ten_hits_are_short_and_as_many_are_held(cases: list[Case]) -> None:
    """Short: three quarters of a beat at most; held: a beat and a half or more, in three a beat."""
    for case in cases:
        lengths = [(stroke.end - stroke.onset) / TICKS_PER_QUARTER for stroke in case.strokes]
        assert sum(length <= 0.75 for length in lengths) >= 0.3 * len(lengths), str(case)
        least = 1.0 if case.scene.plan.meter.beats == 3 else 1.5
        if not case.has_motif:
            assert sum(length >= least for length in lengths) >= 0.3 * len(lengths), str(case)


def test_hits_are_released_in_rhythm_and_before_the_next_one(cases: list[Case]) -> None:
    for case in cases:
        assert all(stroke.end % (TICKS_PER_QUARTER // 2) == 0 for stroke in case.strokes), str(case)
        assert all(one.onset < one.end <= after.onset for one, after in pairwise(case.strokes)), str(case)


def test_what_is_played_twice_differs_and_a_seed_brings_it_back(shipped: Library) -> None:
    intro, feel = shipped.intros["last-four-bars"], shipped.feels["medium-swing"]
    found = [next(playings(intro, feel, shipped, seed)).strokes for seed in range(16)]
    assert found == [next(playings(intro, feel, shipped, seed)).strokes for seed in range(16)]
    assert len(set(found)) >= 5
