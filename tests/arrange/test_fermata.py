"""Chords that wait for the foot: all that belongs to them is said before time waits, and rings."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import permutations
from typing import Any

import pytest

from introit.arrange.arranger import arrange, perform
from introit.arrange.fermata import gathered
from introit.arrange.form import ArrangeError
from introit.arrange.led import waiting_chords
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.melody.palette import Status, palette_of
from introit.arrange.plan import Plan, plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import MELODY, ScoreNote, Touch
from introit.arrange.suggest import rank
from introit.library.leading import BarBeat, Leading
from introit.library.model import Library, Tune
from introit.performance import PARTS, Performance
from introit.theory.key import Key, Mode
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.units import TICKS_PER_QUARTER

RIDE = PARTS.index("ride")
SOME = 7
"""Every so many of the shipped intros, beginning with each of the line-ups in turn."""


def led(library: Library, number: int, leading: Leading, line_up: LineUp) -> Performance:
    return led_with_plan(library, number, leading, line_up)[1]


def led_with_plan(
    library: Library, number: int, leading: Leading, line_up: LineUp
) -> tuple[Plan, Performance]:
    intro = list(library.intros.values())[number]
    key = Key.from_text("Eb") if intro.forms[0].mode is Mode.MAJOR else Key.from_text("C minor")
    meter = intro.meters[0]
    feel = next(name for name in intro.feels if meter in library.feels[name].meters)
    first = Numeral.from_text("i6/9" if key.is_minor else "Imaj7")
    tune = Tune("t", "T", key, meter, library.feels[feel].typical_tempo, feel, first)
    plan = plan_intro(intro, replace(tune, leading=leading), key)
    return plan, perform(arrange(plan, library, stage=Stage(line_up)), library)


CASES = [(number, list(LineUp)[place % len(LineUp)]) for place, number in enumerate(range(0, 65, SOME))]


@pytest.mark.parametrize(("number", "line_up"), CASES)
@pytest.mark.parametrize(
    "leading", [Leading(hold=True), Leading(colla_voce=64), Leading(colla_voce=1)], ids=str
)
def test_nothing_begins_while_time_waits(
    number: int, line_up: LineUp, leading: Leading, shipped: Library
) -> None:
    played = led(shipped, number, leading, line_up)
    assert played.waits
    assert list(played.waits) == sorted(played.waits)
    for wait in played.waits:
        assert 0 < wait.tick < wait.to <= played.head_tick
        assert not [note for note in played.notes if wait.tick <= note.onset < wait.to]
        ringing = [note for note in played.notes if note.onset < wait.tick < note.end]
        assert ringing  # somebody plays it, and it rings
        assert all(note.end <= wait.to for note in ringing)
        assert not any(note.part == RIDE for note in ringing)


@pytest.mark.parametrize(("number", "line_up"), CASES)
def test_the_last_dominant_rings_until_the_head_or_the_chord_behind_it(
    number: int, line_up: LineUp, shipped: Library
) -> None:
    played = led(shipped, number, Leading(hold=True), line_up)
    assert len(played.waits) == 1
    assert played.vamp is None
    assert not played.out_of_time


def test_out_of_time_every_chord_of_the_bars_asked_for_waits(shipped: Library) -> None:
    for number, line_up in CASES:
        whole = led(shipped, number, Leading(colla_voce=64), line_up)
        one_bar = led(shipped, number, Leading(colla_voce=1), line_up)
        assert whole.out_of_time
        assert whole.waits[-1].to == whole.head_tick
        bar = one_bar.beats * 960
        assert [wait.to for wait in one_bar.waits] == [wait.to for wait in whole.waits if wait.to <= bar]


@pytest.mark.parametrize(
    ("place", "waiting"),
    [(BarBeat(2, 3), 3), (BarBeat(2, 2), 3), (BarBeat(1, 2), 1), (BarBeat(4, 3), 7), (BarBeat(4, 4), 8)],
)
def test_time_is_kept_from_the_place_named(place: BarBeat, waiting: int, shipped: Library) -> None:
    """Two chords a bar: those that begin before the place wait, and time goes on to the head from there."""
    leading = Leading(colla_voce=64, in_time=place)
    for line_up in (LineUp.SOLO_GUITAR, LineUp.WITH_KEYS):
        plan = planned(shipped, leading)
        played = perform(arrange(plan, shipped, stage=Stage(line_up)), shipped)
        assert [wait.to for wait in played.waits] == [
            number * 2 * TICKS_PER_QUARTER for number in range(1, waiting + 1)
        ]
        assert played.out_of_time
        free = [note for note in played.notes if note.onset < played.waits[-1].to]
        assert all(note.end <= played.waits[-1].to + 90 for note in free)
    last = waiting_chords(planned(shipped, replace(leading, hold=True)))[-1]
    assert last.end == 4 * 4 * TICKS_PER_QUARTER, "and the last dominant, where it is held"


def test_with_bars_and_a_place_the_earlier_end_counts(shipped: Library) -> None:
    """As read from a file there is one of them; made by hand there may be both."""
    plan = planned(shipped, Leading(colla_voce=1, in_time=BarBeat(3)))
    assert [chord.end for chord in waiting_chords(plan)] == [1920, 3840]


@pytest.mark.parametrize("bars", [1, 64])
def test_out_of_time_the_held_chord_is_a_fermata_and_no_other(bars: int, shipped: Library) -> None:
    for number, line_up in CASES:
        held = led(shipped, number, Leading(hold=True), line_up)
        both = led(shipped, number, Leading(hold=True, colla_voce=bars), line_up)
        assert [wait.fermata for wait in held.waits] == [True]
        assert [wait.to for wait in both.waits if wait.fermata] == [held.waits[0].to]


def test_what_the_player_is_told_of_it_arrives_there(shipped: Library) -> None:
    plain = led(shipped, 0, Leading(hold=True), LineUp.WITH_KEYS)
    assert (plain.tapped_on, plain.start_clock) == (False, "")
    told = led(shipped, 0, Leading(hold=True, tapped_on=True, start_clock="head"), LineUp.WITH_KEYS)
    assert (told.tapped_on, told.start_clock) == (True, "head")
    assert Performance.from_bytes(told.to_bytes()) == told


def planned(library: Library, leading: Leading, intro: str = "three-six-two-five") -> Plan:
    tune = Tune("t", "T", Key.from_text("F"), Meter(4), 140, "medium-swing", Numeral.from_text("Imaj7"))
    return plan_intro(library.intros[intro], replace(tune, leading=leading), tune.key)


@pytest.mark.parametrize(
    ("place", "onset"), [(BarBeat(1), 0), (BarBeat(2, 2), 4), (BarBeat(2, 3), 6), (BarBeat(4, 4), 14)]
)
def test_the_chord_that_sounds_at_the_place_is_held(place: BarBeat, onset: int, shipped: Library) -> None:
    """Two chords a bar: a beat in the middle of one names that one. Onsets in beats."""
    plan = planned(shipped, Leading(hold=True, held=place))
    (chord,) = waiting_chords(plan)
    assert chord.onset == onset * TICKS_PER_QUARTER
    played = perform(arrange(plan, shipped), shipped)
    assert [wait.to for wait in played.waits] == [chord.end]
    assert [wait.fermata for wait in played.waits] == [True]


@pytest.mark.parametrize(("place", "what"), [(BarBeat(5), "bar 5"), (BarBeat(1, 5), "bar 1 beat 5")])
def test_a_place_that_the_intro_does_not_have(place: BarBeat, what: str, shipped: Library) -> None:
    with pytest.raises(ArrangeError) as caught:
        planned(shipped, Leading(hold=True, held=place))
    expected = f"tune 'T' holds {what}; intro 'three-six-two-five' has bars 1 to 4 at 140, of 4 beats"
    assert str(caught.value) == expected


def test_a_tune_that_names_no_intro_gets_one_that_has_the_place(shipped: Library) -> None:
    tune = Tune("t", "T", Key.from_text("F"), Meter(4), 140, "medium-swing", Numeral.from_text("Imaj7"))
    ranked = [
        [found.intro.id for found in rank(shipped.intros.values(), replace(tune, leading=leading), tune.key)]
        for leading in (Leading(), Leading(hold=True, held=BarBeat(6)))
    ]
    assert set(ranked[1]) < set(ranked[0])
    assert "last-eight-bars" in ranked[1]
    for name in ranked[1]:
        assert planned(shipped, Leading(), name).bars >= 6


def test_which_chord_is_held(shipped: Library) -> None:
    """The last dominant; where there is none, the last chord."""
    intro = shipped.intros[next(iter(shipped.intros))]
    tune = Tune(
        "t", "T", Key.from_text("C"), intro.meters[0], 100, intro.feels[0], Numeral.from_text("Imaj7")
    )
    plan = plan_intro(intro, replace(tune, leading=Leading(hold=True)), tune.key)
    held = waiting_chords(plan)
    dominants = [chord for chord in plan.chords if chord.chord.is_dominant]
    assert held == [(dominants or list(plan.chords))[-1]]
    assert waiting_chords(plan_intro(intro, tune, tune.key)) == []


HELD_OR_FREE = [Leading(hold=True), Leading(colla_voce=64)]


@pytest.mark.parametrize("leading", HELD_OR_FREE, ids=["held", "colla voce"])
@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_BASS, LineUp.WITH_KEYS])
def test_each_wait_rings_a_whole_chord_over_its_bass(
    leading: Leading, line_up: LineUp, shipped: Library
) -> None:
    """What tells a chord is its bass note and its guide tones (common practice, no source).

    One that would lie a minor ninth under the melody is left out; and a guitar alone may need its string for
    the melody over the grip: in one wait of ten.
    """
    waited = lacking = 0
    for number, intro in list(enumerate(shipped.intros.values()))[::SOME]:
        if line_up not in intro.line_ups:
            continue
        plan, played = led_with_plan(shipped, number, leading, line_up)
        for chord, wait in zip(waiting_chords(plan), played.waits, strict=True):
            ringing = [note.pitch for note in played.notes if note.onset < wait.tick < note.end]
            bass = chord.pedal or chord.chord.bass
            assert min(ringing) % 12 == bass.pitch_class, (intro.id, chord)
            classes = {pitch % 12 for pitch in ringing}
            sung = {
                note.pitch % 12
                for note in played.notes
                if note.part == MELODY and note.harmony_tick == chord.onset
            }
            guides = {tone.pitch_class for tone in chord.chord.guide_tones}
            missing = {guide for guide in guides - classes if (guide + 1) % 12 not in sung}
            assert not missing or line_up is LineUp.SOLO_GUITAR, (intro.id, chord)
            waited, lacking = waited + 1, lacking + bool(missing)
    assert waited > 5
    assert lacking * 10 <= waited


@pytest.mark.parametrize("leading", HELD_OR_FREE, ids=["held", "colla voce"])
@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_KEYS])
def test_a_melody_waits_on_a_note_that_can_rest(leading: Leading, line_up: LineUp, shipped: Library) -> None:
    sung = 0
    for number in range(0, len(shipped.intros), 3):
        plan, _ = led_with_plan(shipped, number, leading, line_up)
        score = arrange(plan, shipped, stage=Stage(line_up))
        for chord in waiting_chords(plan):
            melody = [
                note for note in score.notes if note.part == MELODY and note.harmony_tick == chord.onset
            ]
            if melody:
                sung += 1
                assert palette_of(chord).status[melody[-1].pitch % 12] == Status.STABLE
    assert sung


@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_KEYS])
def test_a_press_is_answered_at_once_by_bass_and_grip(line_up: LineUp, shipped: Library) -> None:
    """Before a chord that follows a wait there is no time in which a roll could begin."""
    for number, _ in CASES:
        plan, played = led_with_plan(shipped, number, Leading(colla_voce=64), line_up)
        for chord in waiting_chords(plan):
            own = [note for note in played.notes if chord.onset <= note.onset < chord.end]
            assert min(note.onset for note in own) <= chord.onset + 10
            low = min(own, key=lambda note: note.pitch)
            assert low.onset <= chord.onset + 10, "the bass comes first"
            assert all(note.end > note.onset for note in own)
            struck = Counter((note.part, note.pitch) for note in own if note.part != MELODY)
            assert line_up is LineUp.SOLO_GUITAR or set(struck.values()) == {1}


@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_KEYS])
@pytest.mark.parametrize(
    "leading", [Leading(colla_voce=64), Leading(hold=True, held=BarBeat(2))], ids=["colla voce", "held"]
)
def test_what_comes_after_a_wait_is_as_long_as_it_was(
    leading: Leading, line_up: LineUp, shipped: Library
) -> None:
    """A note that was taken early begins on the beat after a wait, and is no click there."""
    for number in range(0, len(shipped.intros), 2):
        plan, played = led_with_plan(shipped, number, leading, line_up)
        for wait in played.waits:
            begun = [note for note in played.notes if wait.to <= note.onset < wait.to + 30]
            assert all(note.end - note.onset >= 120 for note in begun if note.part < RIDE), plan.intro.id


def test_a_string_rings_until_it_is_needed(shipped: Library) -> None:
    """One guitar: no two notes of a waiting chord sound on one string at once."""
    shared = 0
    for number, intro in enumerate(shipped.intros.values()):
        if number % 3 or LineUp.SOLO_GUITAR not in intro.line_ups:
            continue
        plan, _ = led_with_plan(shipped, number, Leading(colla_voce=64), LineUp.SOLO_GUITAR)
        score = arrange(plan, shipped, stage=Stage(LineUp.SOLO_GUITAR))
        for chord in waiting_chords(plan):
            own = [note for note in score.notes if note.harmony_tick == chord.onset and note.string]
            for note, other in permutations(own, 2):
                if note.string == other.string:
                    shared += 1
                    assert note.end <= other.onset or other.end <= note.onset, intro.id
    assert shared


def test_nothing_of_the_chord_before_rings_into_one_that_waits(shipped: Library) -> None:
    for number, line_up in CASES:
        plan, played = led_with_plan(shipped, number, Leading(hold=True, colla_voce=2), line_up)
        for chord in waiting_chords(plan):
            over = [
                note
                for note in played.notes
                if note.harmony_tick < chord.onset < note.end - 90 and note.onset < chord.onset
            ]
            assert over == []


@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_KEYS])
def test_a_held_chord_that_is_rolled_has_all_begun_before_time_waits(
    line_up: LineUp, shipped: Library
) -> None:
    """From the beat on, from the lowest note up, softer than one stroke; slower than the feel's own roll.

    A feel rolls at 30 to 70 ms from string to string (patterns/README.md).
    """
    for number, _ in CASES:
        plan, rung = led_with_plan(shipped, number, Leading(hold=True), line_up)
        _, rolled = led_with_plan(shipped, number, Leading(hold=True, rolled=True), line_up)
        (chord,), (wait,) = waiting_chords(plan), rolled.waits
        hands = ("comp", "bass", "pedal") if line_up is LineUp.SOLO_GUITAR else ("comp",)
        once, grip = (
            sorted(
                (note.pitch, note.onset, note.end, note.velocity)
                for note in played.notes
                if note.harmony_tick == chord.onset and PARTS[note.part] in hands
            )
            for played in (rung, rolled)
        )
        assert [note[0] for note in grip] == [note[0] for note in once]
        onsets = [note[1] for note in grip]
        assert onsets[0] == chord.onset
        assert onsets == sorted(set(onsets))
        assert onsets[-1] < wait.tick < wait.to == chord.end
        assert {note[2] for note in grip} == {chord.end}
        if len(grip) > 1:
            step_ms = (onsets[1] - onsets[0]) * 60_000 / (rolled.tempo * TICKS_PER_QUARTER)
            room_ms = chord.length * 60_000 / (rolled.tempo * TICKS_PER_QUARTER)
            assert step_ms > 70 or room_ms < 70 * len(grip) * 4 / 3 + 5
        assert sum(note[3] for note in grip) < sum(note[3] for note in once)


@pytest.mark.parametrize("pickup", [1, 2, 3, 4])
@pytest.mark.parametrize(
    "leading",
    [
        Leading(hold=True),
        Leading(hold=True, held=BarBeat(4, 3)),
        Leading(colla_voce=64),
        Leading(colla_voce=3, hold=True, rolled=True),
    ],
    ids=["last dominant", "named", "colla voce", "both"],
)
@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_KEYS])
def test_before_a_pickup_what_waits_sounds(
    line_up: LineUp, leading: Leading, pickup: int, shipped: Library
) -> None:
    tune = Tune("t", "T", Key.from_text("F"), Meter(4), 72, "ballad", Numeral.from_text("Imaj7"))
    led_tune = replace(tune, leading=leading, pickup=Fraction(pickup))
    plan = plan_intro(shipped.intros["three-six-two-five"], led_tune, tune.key)
    played = perform(arrange(plan, shipped, stage=Stage(line_up)), shipped)
    assert len(played.waits) == len(waiting_chords(plan)) > 0
    for wait in played.waits:
        assert len([note for note in played.notes if note.onset < wait.tick < note.end]) > 2


def waiting_dominant(make: Any) -> Scene:
    tune = make.tune(leading=Leading(hold=True))
    return set_scene(plan_intro(make.intro(make.form("ii7 | V7")), tune, tune.key), Stage(LineUp.WITH_KEYS))


def test_no_ornament_leads_into_a_wait_or_out_of_it(make: Any) -> None:
    """Time stands still between it and what it leads to."""
    bar = 4 * TICKS_PER_QUARTER
    grace = ScoreNote(bar - 60, 60, 0, MELODY, 70, touch=Touch.ORNAMENT)
    sung = ScoreNote(bar, 960, bar, MELODY, 71)
    found = gathered(waiting_dominant(make), [grace, sung, grace._replace(onset=2 * bar - 60)])
    assert [note.pitch for note in found if note.part == MELODY] == [71]
    elsewhere = grace._replace(onset=960)
    assert elsewhere in gathered(waiting_dominant(make), [elsewhere, sung])


def test_a_note_that_is_only_repeated_is_sung_once(make: Any) -> None:
    bar = 4 * TICKS_PER_QUARTER
    repeated = [ScoreNote(bar + at * 960, 480, bar, MELODY, 71) for at in range(3)]
    found = gathered(waiting_dominant(make), repeated)
    assert [(note.onset, note.end) for note in found if note.part == MELODY] == [(bar, repeated[-1].end)]
