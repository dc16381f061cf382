"""Bars that go round: each round begins with a chord and its bass, and leads back as well as on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from introit.arrange.arranger import arrange, perform
from introit.arrange.form import ArrangeError
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import Plan, plan_intro
from introit.arrange.round import heard_each_round
from introit.arrange.scene import set_scene
from introit.arrange.score import ScoreNote
from introit.arrange.voicing import Wish, voice
from introit.library.leading import Bars, Leading
from introit.library.model import Library, Tune
from introit.live.cue import Rank
from introit.live.setup import Route
from introit.live.tracks import Span, laid, routed
from introit.performance import PARTS, Performance
from introit.theory.key import Key, Mode
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.units import TICKS_PER_QUARTER

COMP, BASS, PEDAL = (PARTS.index(part) for part in ("comp", "bass", "pedal"))
RANGES = [Bars(1, 1), Bars(1, 2), Bars(2, 3)]


def vamped(
    library: Library,
    intro: str,
    bars: Bars | None,
    line_up: LineUp = LineUp.WITH_KEYS,
    *,
    tempo: float | None = None,
) -> tuple[Plan, Performance]:
    found = library.intros[intro]
    key = Key.from_text("Ab") if found.forms[0].mode is Mode.MAJOR else Key.from_text("D minor")
    meter = found.meters[0]
    feel = next(name for name in found.feels if meter in library.feels[name].meters)
    first = Numeral.from_text("i6/9" if key.is_minor else "Imaj7")
    tune = Tune("t", "T", key, meter, tempo or library.feels[feel].typical_tempo, feel, first)
    plan = plan_intro(found, replace(tune, leading=Leading(vamp=True, vamp_bars=bars)), key)
    return plan, perform(arrange(plan, library, stage=Stage(line_up)), library)


def as_played(performance: Performance) -> tuple[list[tuple[int, int, int, int]], int]:
    """Once through, round again twice, and on: (onset, end, part, pitch); and the tick of the way on."""
    (notes,) = routed(performance, [Route(part, 0, part) for part in range(len(PARTS) - 1)], 1)
    assert performance.vamp is not None
    start, end = performance.vamp
    length = end - start
    spans = [
        Span(0, end, 0),
        Span(start, end, end, joined=True),
        Span(start, end, end + length, joined=True),
        Span(end, None, end + 2 * length, joined=True),
    ]
    played = []
    for span in spans:
        steps = laid(notes, span)
        played += [(step.tick, step.end, step.part, step.data[1]) for step in steps if step.rank == Rank.ON]
    return sorted(played), end + 2 * length


def cases(library: Library) -> Iterator[tuple[str, Bars]]:
    for number, intro in enumerate(library.intros.values()):
        bars = RANGES[number % len(RANGES)]
        if number % 2 == 0 and all(len(form.bars) > bars.last for form in intro.forms):
            yield intro.id, bars


def test_the_bars_that_the_tune_names_go_round(shipped: Library) -> None:
    bar = 4 * TICKS_PER_QUARTER
    assert vamped(shipped, "three-six-two-five", None)[1].vamp == (0, 4 * bar)
    assert vamped(shipped, "three-six-two-five", Bars(1, 2))[1].vamp == (0, 2 * bar)
    assert vamped(shipped, "three-six-two-five", Bars(4, 4))[1].vamp == (3 * bar, 4 * bar)


def test_bars_that_the_intro_does_not_have(shipped: Library) -> None:
    with pytest.raises(ArrangeError) as caught:
        vamped(shipped, "three-six-two-five", Bars(3, 6))
    assert str(caught.value).startswith(
        "tune 'T' goes round in bars 3-6; intro 'three-six-two-five' has bars 1 to 4"
    )


def test_each_round_is_begun_by_a_bass_and_has_its_comp(shipped: Library) -> None:
    found = list(cases(shipped))
    assert len(found) > 8
    for intro, bars in found:
        _, performance = vamped(shipped, intro, bars)
        played, on = as_played(performance)
        assert performance.vamp is not None
        start, end = performance.vamp
        for line in range(end, on + 1, end - start):
            low = [note for note in played if note[2] in (BASS, PEDAL) and note[0] <= line + 120 < note[1]]
            assert low, (intro, bars, line)
        comp = [note for note in played if note[2] == COMP and end <= note[0] < on]
        assert comp, (intro, bars)
        assert all(note[1] - note[0] >= 30 for note in played), (intro, bars)


def test_a_chord_that_lasts_over_the_bar_line_is_struck_again_there(shipped: Library) -> None:
    """Above 170, each chord of two bars lasts two: bars 2 and 3 begin and end within a chord."""
    plan, performance = vamped(shipped, "two-bars-two-five", Bars(2, 3), tempo=200)
    assert performance.vamp is not None
    assert [chord.onset // plan.bar_ticks for chord in plan.chords] == [0, 2]
    for line in performance.vamp:
        begun = [note for note in performance.notes if 0 <= note.onset - line < 60 and note.part == BASS]
        assert len(begun) == 1
        assert not [note for note in performance.notes if line - 60 < note.onset < line < note.end]


def test_the_bass_leads_back_as_well_as_on(shipped: Library) -> None:
    """Where the round's first chord has another root than the one behind it, no note leads to that alone."""
    compared = 0
    for intro, bars in cases(shipped):
        plan, performance = vamped(shipped, intro, bars)
        assert performance.vamp is not None
        start, end = performance.vamp
        back, on = plan.chords[plan.at(start)], plan.chords[plan.at(end)]
        if (back.pedal or back.chord.bass).pitch_class == (on.pedal or on.chord.bass).pitch_class:
            continue
        chord = plan.chords[plan.at(end - 1)]
        own = {tone.pitch_class for tone in (*chord.chord.required, *chord.chord.optional, chord.chord.root)}
        own |= {chord.chord.bass.pitch_class} | ({chord.pedal.pitch_class} if chord.pedal else set())
        for note in performance.notes:
            if note.part == BASS and end - 1000 <= note.onset < end - 120 and note.harmony_tick < end:
                compared += 1
                assert note.pitch % 12 in own, (intro, bars)
    assert compared > 3


@pytest.mark.parametrize(
    ("bars", "pickup", "left"),
    [(None, 4, 4.0), (Bars(1, 2), 4, 3.0), (Bars(1, 3), 6, 3.0), (Bars(1, 3), 2, 3.5)],
)
def test_a_pickup_makes_no_break_in_the_rounds(
    bars: Bars | None, pickup: int, left: float, shipped: Library
) -> None:
    """The pickup is left to the melody behind the bars that go round; `left` is where, in bars."""
    tune = Tune("t", "T", Key.from_text("F"), Meter(4), 140, "medium-swing", Numeral.from_text("Imaj7"))
    led = replace(tune, pickup=Fraction(pickup), leading=Leading(vamp=True, vamp_bars=bars))
    plan = plan_intro(shipped.intros["one-six-two-five"], led, tune.key)
    assert plan.pickup_tick == left * plan.bar_ticks
    performance = perform(arrange(plan, shipped), shipped)
    for line in range(0, plan.pickup_tick, plan.bar_ticks):
        end = min(line + plan.bar_ticks, plan.pickup_tick)
        assert [note for note in performance.notes if note.part in (COMP, BASS) and line <= note.onset < end]


def test_all_bars_in_rounds_are_played_as_once_through(shipped: Library) -> None:
    """What a whole intro that goes round leads to is the head."""
    tune = Tune("t", "T", Key.from_text("F"), Meter(4), 140, "medium-swing", Numeral.from_text("Imaj7"))
    intro = shipped.intros["one-six-two-five"]
    once, round_ = (
        perform(arrange(plan_intro(intro, replace(tune, leading=leading), tune.key), shipped), shipped)
        for leading in (Leading(), Leading(vamp=True))
    )
    assert once.notes == round_.notes


@pytest.mark.parametrize(
    ("struck", "harmony", "given"),
    [
        (None, None, True),
        (1, 1, False),  # the comp is heard in the round
        (2, 2, True),  # not yet
        (1, 2, True),  # taken early from behind the round: not played on the way back
    ],
)
def test_a_round_in_which_the_comp_plays_nothing_is_given_a_grip(
    make: Any, struck: int | None, harmony: int | None, given: bool
) -> None:
    bar = 4 * TICKS_PER_QUARTER
    tune = make.tune(leading=Leading(vamp=True, vamp_bars=Bars(2, 2)))
    plan = plan_intro(make.intro(make.form("Imaj7 | ii7 | V7")), tune, tune.key)
    scene = set_scene(plan, Stage(LineUp.WITH_KEYS))
    voicings = voice(scene, [Wish(ceiling=77, floor=48)] * len(scene.units))
    notes = []
    if struck is not None and harmony is not None:
        notes = [ScoreNote(struck * bar + 480, 480, harmony * bar, COMP, 60)]
    found = [note for note in heard_each_round(scene, voicings, notes, []) if note not in notes]
    grip = [(bar, bar + TICKS_PER_QUARTER, pitch) for pitch in voicings[1].pitches]
    assert [(note.onset, note.end, note.pitch) for note in sorted(found)] == (grip if given else [])
