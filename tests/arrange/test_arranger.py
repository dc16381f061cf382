"""The whole way from intro to performance, over every shipped intro, in all keys, meters and three tempi."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.arranger import arrange, perform, ready, symbol_of
from introit.arrange.melody import melody_limit
from introit.arrange.plan import ArrangeError, Plan, plan_intro, suits
from introit.arrange.riff import degree_tone
from introit.arrange.score import BASS, CLICK, COMP, MELODY, PEDAL, Score, ScoreNote
from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.library.model import Intro, Library, Melody, PedalPoint, RiffNote, Tune
from introit.performance import Performance
from introit.theory.key import Key, Mode, keys
from introit.theory.limits import is_muddy
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

STEP_FOURTH_OR_FIFTH = {1, 2, 5, 7}
TEMPI = (60.0, 132.0, 280.0)
HEADS = {Mode.MAJOR: ("Imaj7", "ii7", "IVmaj7", "vi7"), Mode.MINOR: ("i6/9", "iv6")}
INTROS = sorted(load_library(content_roots()[:1])[0].intros)
RANGES = {MELODY: (64, 81), COMP: (48, 77), BASS: (28, 55), PEDAL: (28, 50)}


def feel_for(library: Library, meter: Meter) -> str:
    """The shipped feel that swings in a meter."""
    wanted = {3: "jazz-waltz", 4: "medium-swing", 5: "five-four-swing"}[meter.beats]
    return library.feels[wanted].id


def tunes(intro: Intro, library: Library, *, heads: int) -> Iterator[tuple[Tune, Key]]:
    """Every key, meter and tempo with the tonic first; further first chords in one tempo."""
    for mode in Mode:
        for number, first_chord in enumerate(HEADS[mode][:heads]):
            for key in keys(mode):
                for meter in intro.meters:
                    for tempo in TEMPI if number == 0 else TEMPI[1:2]:
                        tune = Tune(
                            id="tune",
                            title="A tune",
                            key=key,
                            meter=meter,
                            tempo=tempo,
                            feel=feel_for(library, meter),
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


def allowed_classes(plan: Plan, note: ScoreNote, following: ScoreNote | None) -> set[int]:
    """Pitch classes that a note may have, written anew from the plan and not from the arranger."""
    planned = next(chord for chord in plan.chords if chord.onset == note.harmony_tick)
    chord = planned.chord
    tones = {tone.tone.pitch_class for tone in (*chord.required, *chord.optional)}
    if note.part == PEDAL:
        assert planned.pedal is not None
        return {planned.pedal.pitch_class}
    if note.part == MELODY and plan.intro.melody.style == "riff":
        return {
            degree_tone(chord, written.degree.rstrip("+")).pitch_class for written in plan.intro.melody.riff
        }
    if note.part == BASS:
        next_root = plan.head.bass.pitch_class if following is None else following.pitch % 12
        approaches = {(next_root + step) % 12 for step in (-2, -1, 1, 2)}
        return tones | {chord.bass.pitch_class} | approaches
    return tones


def test_every_pitch_belongs_to_its_planned_chord(arranged: list[tuple[Score, Performance]]) -> None:
    for score, performance in arranged:
        planned = {(note.part, note.pitch, note.harmony_tick) for note in score.notes}
        assert {(n.part, n.pitch, n.harmony_tick) for n in performance.notes if n.part != CLICK} <= planned
        bass = [note for note in score.notes if note.part == BASS]
        after = dict(zip(bass, [*bass[1:], None], strict=False))
        for note in score.notes:
            assert note.pitch % 12 in allowed_classes(score.plan, note, after.get(note)), where(score, note)


def test_every_chord_is_heard_from_comp_or_riff(arranged: list[tuple[Score, Performance]]) -> None:
    for score, _ in arranged:
        heard = {note.harmony_tick for note in score.notes if note.part in (COMP, MELODY)}
        assert heard == {planned.onset for planned in score.plan.chords}, where(score, heard)


def test_a_note_sounds_within_its_chord_or_just_before_it(arranged: list[tuple[Score, Performance]]) -> None:
    for score, _ in arranged:
        chords = {planned.onset: planned for planned in score.plan.chords}
        for note in score.notes:
            chord = chords[note.harmony_tick]
            assert chord.onset - 960 <= note.onset < chord.end, where(score, note)
            assert note.end <= chord.end or note.part in (BASS, PEDAL), where(score, note)


def test_low_interval_limits_hold_across_comp_and_bass(arranged: list[tuple[Score, Performance]]) -> None:
    """TRADE 3, the stricter of two columns ([LI-A], [LI-B]); they apply to any two notes ([LI-E])."""
    for score, _ in arranged:
        low_parts = [note for note in score.notes if note.part in (COMP, BASS, PEDAL)]
        for tick in {note.onset for note in low_parts}:
            sounding = sorted(note.pitch for note in low_parts if note.onset <= tick < note.end)
            assert not is_muddy(sounding), where(score, (tick, sounding))


def test_the_melody_lies_over_the_comp(arranged: list[tuple[Score, Performance]]) -> None:
    for score, _ in arranged:
        comp = [note for note in score.notes if note.part == COMP]
        for note in (note for note in score.notes if note.part == MELODY):
            below = [other.pitch for other in comp if other.onset < note.end and note.onset < other.end]
            assert max(below, default=0) < note.pitch, where(score, note)


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


def test_chord_marks_tell_what_sounds(arranged: list[tuple[Score, Performance]]) -> None:
    for score, performance in arranged:
        for mark, planned in zip(performance.chords, score.plan.chords, strict=True):
            assert mark == (planned.onset, symbol_of(planned), str(planned.numeral))


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
    riff = (RiffNote(Fraction(0), "5", Fraction(1)), RiffNote(Fraction(1), "3", Fraction(1)))
    tune = make.tune()
    written = make.intro(make.form("Imaj7 VI7 | ii7 V7"), melody=Melody("riff", riff), pedal=PedalPoint("5"))
    notes = arrange(plan_intro(written, tune, tune.key), plain_library).notes
    riffed = [note for note in notes if note.part == MELODY]
    for note in (note for note in notes if note.part == COMP):
        assert not any(other.onset <= note.onset < other.end for other in riffed)
