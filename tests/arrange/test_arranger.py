"""The whole way from intro to performance, over every shipped intro, in all keys, meters and three tempi."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.arranger import arrange, perform, ready
from introit.arrange.melody import melody_limit
from introit.arrange.plan import ArrangeError, plan_intro, suits
from introit.arrange.score import BASS, CLICK, COMP, MELODY, PEDAL, Score
from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.library.model import Intro, Library, Melody, MotifNote, PedalPoint, Tune
from introit.performance import Performance
from introit.theory.key import Key, Mode, keys
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

STEP_FOURTH_OR_FIFTH = {1, 2, 5, 7}
TEMPI = (60.0, 132.0, 280.0)
HEADS = {Mode.MAJOR: ("Imaj7", "ii7", "IVmaj7", "vi7"), Mode.MINOR: ("i6/9", "iv6")}
INTROS = sorted(load_library(content_roots()[:1])[0].intros)
RANGES = {MELODY: (60, 84), COMP: (48, 84), BASS: (28, 55), PEDAL: (28, 50)}


FEELS = {
    (3, 60.0): ("ballad",),
    (4, 60.0): ("ballad",),
    (3, 132.0): ("jazz-waltz", "straight-eighths"),
    (4, 132.0): ("medium-swing", "bossa", "straight-eighths", "medium-swing"),
    (4, 280.0): ("up-tempo-swing",),
}
"""Feels for beats in a bar and tempo, in turn for the first chords tried; elsewhere the one that swings."""


def feel_for(library: Library, meter: Meter, tempo: float, *, number: int) -> str:
    swinging = {3: "jazz-waltz", 4: "medium-swing", 5: "five-four-swing"}[meter.beats]
    names = FEELS.get((meter.beats, tempo), (swinging,))
    return library.feels[names[number % len(names)]].id


def tunes(intro: Intro, library: Library, *, heads: int) -> Iterator[tuple[Tune, Key]]:
    """Three keys (all twelve for one intro in ten), every meter and tempo with the tonic first.

    Further first chords come in one tempo.
    """
    every = INTROS.index(intro.id) % 10 == 0
    for mode in Mode:
        for number, first_chord in enumerate(HEADS[mode][:heads]):
            for key in keys(mode) if every else keys(mode)[1::4]:
                for meter in intro.meters:
                    for tempo in TEMPI if number == 0 else TEMPI[1:2]:
                        tune = Tune(
                            id="tune",
                            title="A tune",
                            key=key,
                            meter=meter,
                            tempo=tempo,
                            feel=feel_for(library, meter, tempo, number=number),
                            first_chord=Numeral.from_text(first_chord),
                            count_off=1,
                        )
                        if suits(intro, tune, key) is None:
                            yield tune, key


@pytest.fixture(scope="module", params=INTROS)
def arranged(request: pytest.FixtureRequest, shipped: Library) -> list[tuple[Score, Performance]]:
    intro = shipped.intros[request.param]
    made = []
    for tune, key in tunes(intro, shipped, heads=4):
        score = arrange(plan_intro(intro, tune, key), shipped)
        made.append((score, perform(score, shipped)))
    assert made
    return made


def where(score: Score, note: object) -> str:
    tune = score.plan.tune
    return (
        f"{score.plan.intro.id} in {score.plan.key}, {tune.meter}, {tune.tempo}, {tune.first_chord}: {note}"
    )


def test_the_head_falls_after_bars_times_beats(arranged: list[tuple[Score, Performance]]) -> None:
    for score, performance in arranged:
        plan = score.plan
        assert performance.head_tick == plan.bars * plan.meter.beats * 960
        assert sum(planned.length for planned in plan.chords) == performance.head_tick
        assert performance.start_tick == -plan.meter.beats * 960


def test_nothing_begins_at_the_head_or_sounds_past_it(arranged: list[tuple[Score, Performance]]) -> None:
    for score, performance in arranged:
        assert any(note.part == COMP for note in performance.notes)
        for note in performance.notes:
            assert performance.start_tick <= note.onset < note.end <= performance.head_tick, where(
                score, note
            )
            assert note.onset >= 0 or note.part == CLICK
            assert 1 <= note.velocity <= 127


def test_every_note_lies_in_its_parts_register(arranged: list[tuple[Score, Performance]]) -> None:
    for score, performance in arranged:
        for note in performance.notes:
            if note.part != CLICK:
                lowest, highest = RANGES[note.part]
                assert lowest <= note.pitch <= highest, where(score, note)


def test_every_chord_is_heard(arranged: list[tuple[Score, Performance]]) -> None:
    for score, _ in arranged:
        heard = {note.harmony_tick for note in score.notes if note.part != PEDAL}
        assert heard == {planned.onset for planned in score.plan.chords}, where(score, heard)


def test_the_last_low_note_leads_to_the_heads_root(arranged: list[tuple[Score, Performance]]) -> None:
    """Step, fourth or fifth: the project's figure, common practice, no source."""
    for score, _ in arranged:
        last = max((note for note in score.notes if note.part in (BASS, PEDAL)), key=lambda note: note.onset)
        root = score.plan.head.bass.pitch_class
        apart = {abs(last.pitch - pitch) for pitch in range(16, 80) if pitch % 12 == root}
        assert apart & STEP_FOURTH_OR_FIFTH, where(score, last)


def test_bass_and_pedal_point_never_sound_together(arranged: list[tuple[Score, Performance]]) -> None:
    for score, _ in arranged:
        low = sorted(
            (note for note in score.notes if note.part in (BASS, PEDAL)), key=lambda note: note.onset
        )
        for before, after in pairwise(low):
            assert before.end <= after.onset, where(score, before)


def test_repeated_pitches_are_legal_on_one_channel_too(
    arranged: list[tuple[Score, Performance]], shipped: Library
) -> None:
    for score, apart in arranged[::7]:
        together = perform(score, shipped, channel_of=lambda part: (0, 0))
        for performance, one_channel in ((apart, False), (together, True)):
            lanes = defaultdict(list)
            for note in performance.notes:
                lanes[0 if one_channel else note.part, note.pitch].append(note)
            for lane in lanes.values():
                for before, after in pairwise(lane):
                    assert before.end <= after.onset, where(score, before)


def test_the_melody_is_out_in_time(arranged: list[tuple[Score, Performance]]) -> None:
    for score, _ in arranged:
        for note in (note for note in score.notes if note.part == MELODY):
            assert note.end <= melody_limit(score.plan), where(score, note)


# Written out by hand: beat from the start, symbol with what lies in the bass, numeral. No source.
@pytest.mark.parametrize(
    ("intro", "key", "expected"),
    [
        (
            "sharp-four-descent",
            "C",
            "0 F#m7b5 #ivø7, 2 Fm6 iv6, 4 Em7 iii7, 6 Eb°7 bIII°7, 8 Dm7 ii7, 12 Dbmaj7 bIImaj7",
        ),
        (
            "two-fives-over-the-fifth",
            "Eb",
            "0 Gm7/Bb iii7, 2 C7(b9)/Bb VI7(b9), 4 Fm7/Bb ii7, 6 Bb7 V7, "
            "8 Gm7/Bb iii7, 10 C7(b9)/Bb VI7(b9), 12 Fm7/Bb ii7, 14 Bb13 V13",
        ),
        (
            "sus-from-the-minor",
            "G",
            "0 D7sus4(b9) V7sus4(b9), 2 Am7b5/D iiø7/5, 4 D7sus4(b9) V7sus4(b9), 6 Cm6/D iv6/5, "
            "8 D7sus4(b9) V7sus4(b9), 10 Ebmaj7/D bVImaj7/5, 12 D7alt V7alt",
        ),
        (
            "dominant-vamp",
            "A minor",
            "0 E7sus4 V7sus4, 4 E7(b9,b13) V7(b9,b13), 8 E7sus4(b9) V7sus4(b9), 12 E7alt V7alt",
        ),
    ],
)
def test_chord_marks_tell_what_sounds(shipped: Library, intro: str, key: str, *, expected: str) -> None:
    called = Key.from_text(key)
    first_chord = Numeral.from_text("i6/9" if called.is_minor else "Imaj7")
    tune = Tune("t", "T", called, Meter(4), 132.0, "medium-swing", first_chord)
    marks = ready(tune, called, shipped, intro=shipped.intros[intro]).chords
    wanted = [line.split() for line in expected.split(", ")]
    assert [(mark.tick / 960, mark.symbol, mark.numeral) for mark in marks] == [
        (float(beat), symbol, numeral) for beat, symbol, numeral in wanted
    ]


def test_bytes_carry_a_performance_whole(arranged: list[tuple[Score, Performance]]) -> None:
    for _, performance in arranged[::20]:
        assert Performance.from_bytes(performance.to_bytes()) == performance


# Common practice, no source: the ten progressions written out as chord names in C, as the trade reads them.
@pytest.mark.parametrize(
    ("intro", "expected"),
    [
        ("three-six-two-five", "Em11 A7 Dm9 G13(b9) Cmaj9 A7(b13) Dm9 G7(b13)"),
        ("two-five-to-flat-six", "Dm9 G13 Abmaj9 Dbmaj7(#11) Cmaj9 G7"),
        ("two-fives-over-the-fifth", "Em7/G A7(b9)/G Dm7/G G7 Em7/G A7(b9)/G Dm7/G G13"),
        ("riff-turnaround", "Cmaj7 C#°7 Dm7 G7 Cmaj7 C#°7 Dm7 G7"),
    ],
)
def test_in_c_the_chords_are_these(shipped: Library, intro: str, expected: str) -> None:
    tune = Tune("t", "T", Key.from_text("C"), Meter(4), 132.0, "medium-swing", Numeral.from_text("Imaj7"))
    performance = ready(tune, tune.key, shipped, intro=shipped.intros[intro])
    assert [mark.symbol for mark in performance.chords] == expected.split()


@pytest.mark.parametrize(
    ("feel", "tempo", "meter", "allowed"),
    [
        ("ballad", 45.0, 0, {"sharp-four-descent"}),
        ("jazz-waltz", 310.0, 1, {"dominant-vamp"}),
    ],
)
def test_without_a_named_intro_feel_and_tempo_choose(
    shipped: Library, make: Any, feel: str, *, tempo: float, meter: int, allowed: set[str]
) -> None:
    """At 310 only the vamp is at home, at 45 only the descent, by the tempi in the shipped files."""
    tune = make.tune(feel=feel, tempo=tempo, meter=make.meters[meter])
    chosen = shipped.intros[ready(tune, tune.key, shipped).intro]
    assert feel in chosen.feels
    assert chosen.tempo[0] <= tempo <= chosen.tempo[1]
    assert chosen.id in allowed


def test_a_tune_gets_its_own_intro_or_the_first_that_suits(shipped: Library, make: Any) -> None:
    tune = make.tune(feel="jazz-waltz", meter=make.meters[1], intro="dominant-vamp")
    assert ready(tune, tune.key, shipped).intro == "dominant-vamp"
    chosen = shipped.intros[ready(replace(tune, intro=None), tune.key, shipped).intro]
    assert "jazz-waltz" in chosen.feels
    assert make.meters[1] in chosen.meters


def test_what_is_not_in_the_library_is_named(shipped: Library, make: Any) -> None:
    with pytest.raises(
        ArrangeError, match=r"no intro 'dominant-wamp' in the library\. Did you mean 'dominant-vamp'"
    ):
        ready(make.tune(feel="bossa", intro="dominant-wamp"), Key.from_text("C"), shipped)
    with pytest.raises(ArrangeError, match=r"no feel 'bosa' in the library\. Did you mean 'bossa'"):
        ready(make.tune(feel="bosa"), Key.from_text("C"), shipped)


def test_an_empty_library_suits_nobody(shipped: Library, make: Any) -> None:
    with pytest.raises(
        ArrangeError, match=r"no intro in the library suits 'A tune' \(4/4, Eb minor, Imaj7\)"
    ):
        ready(make.tune(feel="bossa"), Key.from_text("Eb minor"), replace(shipped, intros={}))


def test_no_rhythm_for_the_meter_is_told(plain_library: Library, make: Any) -> None:
    tune = make.tune(meter=make.meters[2])
    plan = plan_intro(make.intro(make.form("ii7 V7")), tune, tune.key)
    with pytest.raises(ArrangeError, match="no comping rhythm for 5/4 in feel 'plain'; tried: rhythm"):
        arrange(plan, plain_library)


def test_pickup_beats_are_left_to_the_tune(plain_library: Library, make: Any) -> None:
    tune = make.tune(pickup=Fraction(3))
    plan = plan_intro(make.intro(make.form("iii7 VI7 | ii7 V7")), tune, tune.key)
    melody = [note for note in arrange(plan, plain_library).notes if note.part == MELODY]
    assert melody
    assert max(note.end for note in melody) <= plan.head_tick - 3 * 960


def test_without_a_melody_there_is_none(plain_library: Library, make: Any) -> None:
    tune = make.tune()
    plan = plan_intro(make.intro(make.form("ii7 V7"), melody=Melody("none")), tune, tune.key)
    assert {note.part for note in arrange(plan, plain_library).notes} == {COMP, BASS}


def test_the_comp_keeps_out_of_the_riff(plain_library: Library, make: Any) -> None:
    riff = (MotifNote(0, Fraction(0), "5", Fraction(1)), MotifNote(0, Fraction(1), "3", Fraction(1)))
    tune = make.tune()
    written = make.intro(make.form("Imaj7 VI7 | ii7 V7"), melody=Melody("motif", riff), pedal=PedalPoint("5"))
    notes = arrange(plan_intro(written, tune, tune.key), plain_library).notes
    riffed = [note for note in notes if note.part == MELODY]
    for note in (note for note in notes if note.part == COMP):
        assert not any(other.onset <= note.onset < other.end for other in riffed)
