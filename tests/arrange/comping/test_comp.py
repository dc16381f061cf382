"""Single hits: pushes, statements, steady patterns, answers to a motif, pickups, the set-up of the head."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from introit.arrange.comping import Stroke, comp_strokes, pushes_of
from introit.arrange.line_up import Stage
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import MELODY, ScoreNote
from introit.library.model import CompingRhythm, Melody, MotifNote
from introit.units import TICKS_PER_QUARTER

SEEDS = range(6)


def scene_of(make: Any, text: str, *, seed: int = 0, melody: Melody | None = None, **fields: Any) -> Scene:
    tune = make.tune(**fields)
    intro = make.intro(make.form(text), melody=melody or Melody("none"))
    return set_scene(plan_intro(intro, tune, tune.key), Stage(), seed=seed)


def struck(scene: Scene, rhythm: CompingRhythm, **asked: Any) -> tuple[Stroke, ...]:
    return comp_strokes(scene, [[rhythm]] * len(scene.passages), **asked)


def beats(scene: Scene, strokes: Sequence[Stroke]) -> list[tuple[float, float, int]]:
    """(onset, length) in beats, and the chord's index."""
    return [
        (
            stroke.onset / TICKS_PER_QUARTER,
            (stroke.end - stroke.onset) / TICKS_PER_QUARTER,
            scene.units[stroke.unit].chord,
        )
        for stroke in strokes
    ]


def charleston(make: Any) -> CompingRhythm:
    """One and the off-beat of two ([CP1] item 2); the second hit takes a chord on three early ([CP2])."""
    found: CompingRhythm = make.rhythm((make.hit("0", "3/2"), make.hit("3/2", "2", push=True)))
    return found


def steady(make: Any, *bars: Any, **fields: Any) -> CompingRhythm:
    found: CompingRhythm = replace(make.rhythm(*bars, **fields), steady=True)
    return found


def test_a_push_takes_the_coming_chord(make: Any) -> None:
    scene = scene_of(make, "ii7 V7 | Imaj7 | ii7 V7 | Imaj7", pickup=Fraction(1))
    pattern = replace(charleston(make), steady=True)
    strokes = beats(scene, struck(scene, pattern, pushes=(0.0, 1.0)))
    assert strokes[:3] == [(0, 1.5, 0), (1.5, 2, 1), (4, 1.5, 2)]


def test_a_push_with_no_change_near_it_stays_on_its_chord(make: Any) -> None:
    scene = scene_of(make, "Imaj7 | ii7")
    strokes = struck(scene, replace(charleston(make), steady=True))
    assert [scene.units[stroke.unit].chord for stroke in strokes[:4]] == [0, 0, 1, 1]


@pytest.mark.parametrize("seed", SEEDS)
def test_pushes_come_an_eighth_early_and_carry_the_coming_harmony(make: Any, seed: int) -> None:
    """[CP2], [CP7]: the off-beat before the change takes the next chord."""
    scene = scene_of(make, "Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii7 V7", seed=seed)
    onsets = {chord.onset for chord in scene.plan.chords}
    pushed = [
        stroke for stroke in struck(scene, charleston(make)) if scene.units[stroke.unit].start > stroke.onset
    ]
    assert pushed
    for stroke in pushed:
        chord = scene.chord_of(stroke.unit)
        assert chord.onset - stroke.onset == TICKS_PER_QUARTER // 2
        assert chord.onset in onsets
        assert stroke.end <= chord.end


@pytest.mark.parametrize("seed", SEEDS)
def test_no_hit_pushes_where_none_is_wanted(make: Any, seed: int) -> None:
    scene = scene_of(make, "Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii7 V7", seed=seed)
    strokes = struck(scene, charleston(make), pushes=(0.0, 0.0))
    assert all(scene.units[stroke.unit].start <= stroke.onset for stroke in strokes)


def test_ballads_want_no_pushes_and_swing_wants_some() -> None:
    """The project's figures: common practice, no source."""
    assert pushes_of("ballad") == (0.0, 0.0)
    assert pushes_of("medium-swing") == pushes_of("jazz-waltz") == (0.25, 0.4)


@pytest.mark.parametrize("text", ["I6 vi7 ii7 V7 | I6 . . V7", "I6 | V7", "ii7 V7 | I6 . . V7", "V7"])
@pytest.mark.parametrize("seed", SEEDS)
def test_every_chord_is_stated(make: Any, text: str, *, seed: int) -> None:
    scene = scene_of(make, text, seed=seed)
    late = make.rhythm((make.hit("3/2", "1"), make.hit("7/2", "1/2", push=True)))
    stated = {scene.units[stroke.unit].chord for stroke in struck(scene, late)}
    assert stated == set(range(len(scene.plan.chords)))


def test_a_steady_rhythm_is_repeated_faithfully(make: Any) -> None:
    """Bossa, two bars, as published: [BN2]; the last bar makes room for the head."""
    bars = (
        [("0", "1/2"), ("1", "3/2"), ("5/2", "1/2"), ("7/2", "1")],
        [("1/2", "3/2"), ("2", "1/2"), ("3", "1/2")],
    )
    pattern = steady(make, *(tuple(make.hit(*hit) for hit in bar) for bar in bars))
    scene = scene_of(make, "Imaj7 | Imaj7 | ii7 | V7", pickup=Fraction(0))
    written = [bar * 4 + float(Fraction(at)) for bar in range(4) for at, _ in bars[bar % 2]]
    for seed in SEEDS:
        strokes = struck(replace(scene, seed=seed), pattern, pushes=(0.0, 0.4))
        assert [stroke.onset / TICKS_PER_QUARTER for stroke in strokes] == written


def test_a_steady_rhythm_begins_with_the_scenes_side(make: Any) -> None:
    pattern = steady(make, (make.hit("0", "1"), make.hit("3/2", "1")), (make.hit("1", "2"),))
    scene = scene_of(make, "Imaj7 | Imaj7 | ii7 | V7", pickup=Fraction(1))
    onsets = [
        [stroke.onset / TICKS_PER_QUARTER for stroke in struck(replace(scene, side=side), pattern)]
        for side in (0, 1)
    ]
    assert onsets == [[0, 1.5, 5, 8, 9.5, 13], [1, 4, 5.5, 9, 12, 13.5]]


def test_a_chord_that_rings_is_struck_again_only_where_the_melody_is_silent(make: Any) -> None:
    """No source: in a ballad a repeated chord is for the gaps; where chords are pushed a pattern is kept."""
    halves = steady(make, (make.hit("0", "2"), make.hit("2", "2")))
    scene = scene_of(make, "Imaj7 | ii7 V7 | Imaj7", pickup=Fraction(1))
    melody = [ScoreNote(TICKS_PER_QUARTER * beat, TICKS_PER_QUARTER, 0, MELODY, 72) for beat in (2, 6)]
    ballad = struck(scene, halves, melody=melody, pushes=(0.0, 0.0))
    assert [stroke.onset // TICKS_PER_QUARTER for stroke in ballad] == [0, 4, 6, 8, 10]
    even = struck(scene, halves, melody=melody, pushes=(0.0, 0.4))
    assert [stroke.onset // TICKS_PER_QUARTER for stroke in even] == [0, 2, 4, 6, 8, 10]


def test_a_steady_rhythm_states_chords_that_it_passes_over(make: Any) -> None:
    held = steady(make, (make.hit("0", "4"),))
    scene = scene_of(make, "ii7 V7 | Imaj7", pickup=Fraction(1))
    assert beats(scene, struck(scene, held)) == [(0, 2, 0), (2, 2, 1), (4, 3, 2)]


def motif(scene: Scene, *spans: tuple[float, float], pitches: Sequence[int] = (76, 74)) -> list[ScoreNote]:
    """Notes of a motif from beat to beat of the intro, on the pitches in turn: E and D."""
    found = []
    for number, (start, end) in enumerate(spans):
        onset = round(start * TICKS_PER_QUARTER)
        harmony = scene.plan.chords[scene.plan.at(onset)].onset
        length = round(end * TICKS_PER_QUARTER) - onset
        found.append(ScoreNote(onset, length, harmony, MELODY, pitches[number % len(pitches)]))
    return found


A_MOTIF = Melody("motif", (MotifNote(0, Fraction(0), "3", Fraction(1)),))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_comp_answers_a_motif_only_in_its_gaps_and_with_accents(make: Any, seed: int) -> None:
    scene = scene_of(make, "Imaj7 | ii7 V7 | Imaj7 | ii7 V7", seed=seed, melody=A_MOTIF)
    notes = motif(scene, (0, 0.5), (0.5, 1), (1.25, 2), (4, 5), (5, 6), (8, 8.5), (9, 10))
    spans = [(0, 2), (4, 6), (8, 10)]  # rests shorter than a beat are part of the motif
    strokes = struck(scene, charleston(make), melody=notes)
    assert strokes
    for stroke in strokes:
        start, end = stroke.onset / TICKS_PER_QUARTER, stroke.end / TICKS_PER_QUARTER
        assert stroke.accent
        assert not any(start < after and before < end for before, after in spans), (start, end)


# C4 is 60: over Cmaj7 the third and the seventh are E and B, the guide tones; the fifth is G, the ninth D.
@pytest.mark.parametrize("pitches", [(76, 71), (76, 67), (71, 72)])
def test_a_motif_that_states_the_chord_may_leave_nothing_to_the_comp(
    make: Any, pitches: tuple[int, ...]
) -> None:
    """Two of the chord's tones, a guide tone among them, tell it: common practice, no source."""
    scene = scene_of(make, "Imaj7 | V7", melody=A_MOTIF)
    strokes = struck(scene, charleston(make), melody=motif(scene, (0, 2), (2, 4), pitches=pitches))
    assert {scene.units[stroke.unit].chord for stroke in strokes} == {1}


def test_the_last_chord_is_struck_even_where_the_motif_states_it(make: Any) -> None:
    """It leads home, and is the densest of the intro: common practice, no source."""
    scene = scene_of(make, "Imaj7", melody=A_MOTIF)
    strokes = struck(scene, charleston(make), melody=motif(scene, (0, 2), (2, 4), pitches=(76, 71)))
    assert [stroke.onset for stroke in strokes] == [0]


@pytest.mark.parametrize("pitches", [(76, 76), (72, 67), (76, 74), (74, 81)])
def test_the_comp_states_under_the_motif_a_chord_that_it_does_not_state(
    make: Any, pitches: tuple[int, ...]
) -> None:
    """One tone, two without a guide tone, one with a tension, tensions: none of these tells the chord."""
    scene = scene_of(make, "Imaj7", melody=A_MOTIF)
    strokes = struck(scene, charleston(make), melody=motif(scene, (0, 2), (2, 4), pitches=pitches))
    assert [(stroke.onset, scene.units[stroke.unit].chord) for stroke in strokes] == [(0, 0)]


@pytest.mark.parametrize("seed", SEEDS)
def test_each_chord_is_stated_by_itself_under_a_motif(make: Any, seed: int) -> None:
    """E and B tell Cmaj7 in bar 1 and say nothing of Dm7, where only the root and the fifth are sung."""
    scene = scene_of(make, "Imaj7 | ii7 | Imaj7 | V7", seed=seed, melody=A_MOTIF)
    notes = motif(scene, (0, 2), (2, 4), pitches=(76, 71)) + motif(scene, (4, 6), (6, 8), pitches=(74, 69))
    strokes = struck(scene, charleston(make), melody=notes, pushes=(0.0, 0.4))
    chords = {scene.units[stroke.unit].chord for stroke in strokes if stroke.onset < 8 * TICKS_PER_QUARTER}
    assert chords - {2} == {1}  # the third chord may be pushed


@pytest.mark.parametrize("seed", SEEDS)
def test_the_comp_holds_its_chords_under_the_motif_where_nothing_is_pushed(make: Any, seed: int) -> None:
    """A ballad's comp lies under the motif, as if it were a line: common practice, no source."""
    scene = scene_of(make, "Imaj7 | ii7 | iii7 | V7", seed=seed, melody=A_MOTIF)
    notes = motif(scene, *((beat, beat + 2) for beat in range(0, 12, 2)), pitches=(76, 71))
    held = struck(scene, charleston(make), melody=notes, pushes=pushes_of("ballad"))
    assert {scene.units[stroke.unit].chord for stroke in held} == {0, 1, 2, 3}
    assert not any(stroke.accent for stroke in held[:-1])
    spans = [(note.onset, note.end) for note in notes]
    assert any(stroke.onset < end and start < stroke.end for stroke in held for start, end in spans)
    swung = struck(scene, charleston(make), melody=notes, pushes=(0.0, 0.4))
    assert 0 not in {scene.units[stroke.unit].chord for stroke in swung}  # there it leaves bar 1 to the motif


def test_a_chord_that_the_motif_does_not_state_is_stated_in_the_gap(make: Any) -> None:
    scene = scene_of(make, "Imaj7 | ii7 V7 | Imaj7 | V7", melody=A_MOTIF)
    strokes = struck(scene, charleston(make), melody=motif(scene, (0, 2), (4, 7)))
    assert {scene.units[stroke.unit].chord for stroke in strokes} >= {2}
    assert not [stroke for stroke in strokes if 4 <= stroke.onset / TICKS_PER_QUARTER < 7]


@pytest.mark.parametrize("pickup", ["1/2", "1", "3/2", "2", "5/2", "3", "7/2", "4"])
@pytest.mark.parametrize("feel", [(0.25, 0.4), (0.0, 0.0)])
def test_nothing_is_struck_in_the_pickup_but_a_last_chord_that_begins_there(
    make: Any, pickup: str, *, feel: tuple[float, float]
) -> None:
    """Without its dominant an intro would not lead home: common practice, no source. It rings for a beat."""
    for seed in SEEDS:
        scene = scene_of(make, "Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii7 V7", seed=seed, pickup=Fraction(pickup))
        quiet = scene.plan.head_tick - round(Fraction(pickup) * TICKS_PER_QUARTER)
        for rhythm in (charleston(make), steady(make, (make.hit("0", "4"),))):
            strokes = struck(scene, rhythm, pushes=feel)
            five = scene.plan.chords[-1].onset
            late = five >= quiet
            assert [stroke.onset for stroke in strokes if stroke.onset >= quiet] in ([], [five] * late)
            assert max(stroke.end for stroke in strokes) <= (five + TICKS_PER_QUARTER if late else quiet)
            assert scene.chord_of(strokes[-1].unit).onset == five


@pytest.mark.parametrize(("meter", "places"), [(0, {2.5, 3}), (1, {1.5, 2}), (2, {3.5, 4})])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_short_hit_sets_up_the_head_and_air_follows(
    make: Any, meter: int, *, places: set[float], seed: int
) -> None:
    """The off-beat of 3 or 4 in 4/4, likewise in the other meters: common practice, no source."""
    scene = scene_of(make, "Imaj7 | ii7 | iii7 VI7 | ii7 V7", seed=seed, meter=make.meters[meter])
    for rhythm in (charleston(make), steady(make, (make.hit("0", "3"),), meter=make.meters[meter])):
        last = struck(scene, replace(rhythm, meters=(make.meters[meter],)))[-1]
        beat = (last.onset - scene.plan.head_tick + scene.plan.bar_ticks) / TICKS_PER_QUARTER
        assert beat in places
        assert last.end - last.onset <= TICKS_PER_QUARTER // 2
        assert last.end < scene.plan.head_tick


def test_the_hit_that_sets_up_the_head_varies(make: Any) -> None:
    ends = {
        struck(scene_of(make, "Imaj7 | ii7 | ii7 | V7", seed=seed), charleston(make))[-1].onset
        for seed in range(40)
    }
    assert len(ends) == 2


def test_a_passage_without_a_rhythm_gets_no_hits(make: Any) -> None:
    scene = scene_of(make, "Imaj7 | ii7 | iii7 | V7")
    assert comp_strokes(scene, [[]]) == ()


def test_the_same_seed_comps_the_same_and_others_differ(make: Any) -> None:
    scene = scene_of(make, "Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii7 V7")
    found = [struck(replace(scene, seed=seed), charleston(make)) for seed in range(24)]
    assert found == [struck(replace(scene, seed=seed), charleston(make)) for seed in range(24)]
    assert len(set(found)) >= 6


def test_another_rhythm_may_stand_in_from_the_second_phrase_on(make: Any) -> None:
    scene = scene_of(make, " | ".join(["Imaj7", "vi7", "ii7", "V7"] * 2))
    fourth = make.rhythm((make.hit("3", "1/2"), make.hit("7/2", "1/2")), (make.hit("3", "1"),))
    alone = [comp_strokes(replace(scene, seed=seed), [[charleston(make)]]) for seed in range(24)]
    both = [comp_strokes(replace(scene, seed=seed), [[charleston(make), fourth]]) for seed in range(24)]
    assert alone != both
    kept = steady(make, (make.hit("0", "2"),))
    assert comp_strokes(scene, [[kept, fourth]]) == comp_strokes(scene, [[kept]])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_chord_that_begins_with_the_pickup_is_pushed_before_it_or_struck_with_it(
    make: Any, seed: int
) -> None:
    """The dominant would not be heard otherwise: common practice, no source."""
    scene = scene_of(make, "Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii7 V7", seed=seed, pickup=Fraction(2))
    last = struck(scene, charleston(make))[-1]
    quiet = scene.plan.head_tick - 2 * TICKS_PER_QUARTER
    assert last.onset in (quiet - TICKS_PER_QUARTER // 2, quiet)
    assert scene.chord_of(last.unit).onset == quiet
