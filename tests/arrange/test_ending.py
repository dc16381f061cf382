"""How an intro ends: the pickup's beats, the three landings, and the voicing of the head's first chord."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.ending import finish
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.review import review
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, RIDE, Score, ScoreNote
from introit.library.content import program_root
from introit.library.measures import load_measures
from introit.library.model import Library
from introit.theory.key import Key
from introit.theory.limits import is_muddy
from introit.units import TICKS_PER_QUARTER

PICKUPS = ["1/2", "1", "3/2", "2", "5/2", "3", "7/2", "4"]
LINE_UPS = list(LineUp)
HEADS = [("C", "Imaj7"), ("Eb", "ii7"), ("A", "IVmaj7"), ("F minor", "i6/9")]


def score_of(
    shipped: Library, make: Any, *, intro: str = "last-four-bars", seed: int = 0, **fields: Any
) -> Score:
    line_up = fields.pop("line_up", LineUp.WITH_KEYS)
    tune = make.tune(**({"feel": "medium-swing"} | fields))
    return arrange(
        plan_intro(shipped.intros[intro], tune, tune.key), shipped, stage=Stage(line_up), seed=seed
    )


def pitched(score: Score) -> list[ScoreNote]:
    return [note for note in score.notes if note.part in (MELODY, COMP, BASS, PEDAL)]


def landing(score: Score) -> list[ScoreNote]:
    return [note for note in score.notes if note.harmony_tick == score.plan.head_tick]


@pytest.mark.parametrize("pickup", PICKUPS)
def test_nothing_is_struck_or_rings_in_the_pickup_but_a_last_chord_that_begins_there(
    shipped: Library, make: Any, pickup: str
) -> None:
    """Its beats belong to the head's melody, and the dominant leads there: common practice, no source."""
    for number, intro in enumerate(("last-four-bars", "round-the-circle", "dominant-vamp", "amen-steps")):
        score = score_of(shipped, make, intro=intro, pickup=Fraction(pickup), line_up=LINE_UPS[number % 4])
        quiet = score.plan.head_tick - Fraction(pickup) * TICKS_PER_QUARTER
        five = score.plan.chords[-1].onset
        late = [note for note in pitched(score) if note.end > quiet]
        if five < quiet:
            assert late == [], intro
            continue
        assert all(note.end <= five + TICKS_PER_QUARTER for note in late), intro
        onsets = [(note.part, note.onset) for note in late if note.onset >= quiet]
        assert set(onsets) <= {(part, five) for part in (COMP, BASS, PEDAL)}, intro
        assert any(note.part in (COMP, BASS) and note.harmony_tick == five for note in pitched(score)), intro


@pytest.mark.parametrize("line_up", LINE_UPS)
def test_a_cut_ends_everything_by_the_downbeat(shipped: Library, make: Any, line_up: LineUp) -> None:
    score = score_of(shipped, make, line_up=line_up)
    assert max(note.end for note in score.notes) <= score.plan.head_tick
    assert landing(score) == []


@pytest.mark.parametrize(("key", "head"), HEADS)
@pytest.mark.parametrize("line_up", LINE_UPS)
def test_a_short_chord_of_the_head_falls_on_its_downbeat(
    shipped: Library, make: Any, key: str, *, head: str, line_up: LineUp
) -> None:
    score = score_of(shipped, make, key=key, first_chord=head, landing="chord", line_up=line_up)
    plan, chord = score.plan, landing(score)
    assert {(note.onset, note.end) for note in chord} == {(plan.head_tick, plan.head_tick + 480)}
    low = [note for note in chord if note.part == BASS]
    assert [note.pitch % 12 for note in low] == [plan.head.bass.pitch_class]
    tones = {tone.pitch_class for tone in (*plan.head.required, *plan.head.optional)}
    assert {note.pitch % 12 for note in chord} <= tones
    assert len([note for note in chord if note.part == COMP]) >= 2
    assert min(note.pitch for note in chord if note.part == COMP) > low[0].pitch
    assert not is_muddy([note.pitch for note in chord])
    if score.scene.seats.comp_on == "guitar":
        assert all(note.string is not None for note in chord if note.part == COMP)
    assert all(note.end <= plan.head_tick for note in score.notes if note not in chord)


@pytest.mark.parametrize("ring", [1, 2, 4, 8])
def test_a_landing_that_rings_rings_so_many_beats_past_the_head(
    shipped: Library, make: Any, ring: int
) -> None:
    score = score_of(shipped, make, landing="ring", ring=Fraction(ring))
    assert {note.end for note in landing(score)} == {score.plan.head_tick + ring * TICKS_PER_QUARTER}


def test_only_a_landing_that_rings_may_come_an_eighth_early(shipped: Library, make: Any) -> None:
    """A push on the last eighth needs a chord that goes on over the bar line: common practice, no source."""
    for name, early in (("ring", {-480, 0}), ("chord", {0})):
        scores = [score_of(shipped, make, landing=name, ring=Fraction(4), seed=seed) for seed in range(10)]
        onsets = {note.onset - score.plan.head_tick for score in scores for note in landing(score)}
        assert onsets == early
        for score in scores:
            bass = [note for note in landing(score) if note.part == BASS]
            assert [note.onset for note in bass] == [score.plan.head_tick]


def test_a_ballads_landing_is_never_early(shipped: Library, make: Any) -> None:
    for seed in range(6):
        score = score_of(
            shipped, make, landing="ring", ring=Fraction(4), seed=seed, feel="ballad", tempo=62.0
        )
        assert {note.onset for note in landing(score)} == {score.plan.head_tick}


@pytest.mark.parametrize(("key", "head"), HEADS)
def test_the_landing_follows_from_the_last_grip(shipped: Library, make: Any, key: str, *, head: str) -> None:
    """Its top voice moves by a fourth at most: voice movement as everywhere, no source."""
    for seed in range(4):
        score = score_of(shipped, make, key=key, first_chord=head, landing="chord", seed=seed)
        comp = [note for note in score.notes if note.part == COMP]
        last = max(note.onset for note in comp if note.onset < score.plan.head_tick)
        before = max(note.pitch for note in comp if note.onset == last)
        after = max(note.pitch for note in comp if note.onset == score.plan.head_tick)
        assert abs(after - before) <= 5


def scene_of(make: Any, **fields: Any) -> Scene:
    tune = make.tune(**fields)
    plan = plan_intro(make.intro(make.form("Imaj7 | V7")), tune, tune.key)
    return set_scene(plan, Stage())


def test_light_time_goes_on_through_the_pickup(make: Any) -> None:
    scene = scene_of(make, pickup=Fraction(2))
    ride = ScoreNote(scene.plan.head_tick - 960, 240, 3840, RIDE, 51)
    comp = ride._replace(part=COMP, pitch=60)
    assert finish(scene, [ride, comp]) == [ride]


def test_what_rings_into_the_pickup_ends_where_it_begins(make: Any) -> None:
    scene = scene_of(make, pickup=Fraction(2))
    bass = ScoreNote(scene.plan.head_tick - 3840, 3840, 3840, BASS, 36)
    assert finish(scene, [bass]) == [bass._replace(length=1920)]


def test_the_first_chord_is_the_one_of_the_called_mode(shipped: Library, make: Any) -> None:
    tune = make.tune(feel="medium-swing", landing="chord")
    score = arrange(plan_intro(shipped.intros["last-four-bars"], tune, Key.from_text("C minor")), shipped)
    thirds = {note.pitch % 12 for note in landing(score)} & {3, 4}
    assert thirds == {3}


@pytest.mark.parametrize("landed", ["chord", "ring"])
@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_BASS])
def test_a_guitar_comes_to_its_landing_as_to_any_grip(
    shipped: Library, make: Any, landed: str, line_up: LineUp
) -> None:
    """By the rules for hands, whose sources are named in `tests/arrange/review`: no leap without a rest."""
    measures = load_measures([program_root()])
    for intro in ("round-the-circle", "dominant-vamp", "amen-steps", "substitute-turnaround"):
        for number, head in enumerate(("Imaj7", "ii7", "IVmaj7", "vi7", "iii7")):
            tune = {"landing": landed, "ring": Fraction(4), "first_chord": head, "first_note": "5"}
            score = score_of(shipped, make, intro=intro, key="Ab", line_up=line_up, seed=number, **tune)
            assert all(note.fret is not None for note in landing(score) if note.part == COMP)
            broken = {breach.rule for breach in review(score, None, measures)}
            assert not broken & {"position change", "grip", "after the head", "clash"}, (intro, head)


@pytest.mark.parametrize(
    ("beside", "pushed"),
    [
        ((MELODY, 79), False),  # it leads to the head there
        ((BASS, 50), False),  # too near under the chord
        ((BASS, 43), True),
    ],
)
def test_a_landing_comes_early_only_where_nothing_else_needs_the_last_eighth(
    make: Any, beside: tuple[int, int], pushed: bool
) -> None:
    """No source: the melody is heard out, and a bass note lies a fifth under a chord at least."""
    early = set()
    for seed in range(16):
        scene = replace(scene_of(make, landing="ring", ring=Fraction(4)), seed=seed)
        head = scene.plan.head_tick
        grip = [ScoreNote(head - 3840, 960, 3840, COMP, pitch) for pitch in (53, 57, 59, 64)]
        over = ScoreNote(head - 960, 960, 3840, *beside)
        early |= {note.onset < head for note in finish(scene, [*grip, over]) if note.harmony_tick == head}
    assert early == {False, True} if pushed else {False}
