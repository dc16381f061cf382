"""Motifs: written once, following the harmony; what a return keeps, and what it changes."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.line_up import Stage
from introit.arrange.melody import write_melody
from introit.arrange.melody.motif import motif_starts
from introit.arrange.melody.tones import degree_tone, key_tone
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import ScoreNote
from introit.library.model import Library, Melody
from introit.theory.chord import Chord, chord_of
from introit.theory.key import Key, Mode, keys
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone

RIFF = "0 5 1/2, 1/2 3 1/2, 1 5+ 1"
CONTOUR = "1/2 3 1/2, 1 +1 1/2, 3/2 +1 1, 3 -2 1"
KEY = "0 5 1, 1 6 1/2, 3/2 5 1/2, 2 3 1"
AWKWARD = {
    "diminished": "I°7 | #i°7 | bIII°7 | #iv°7",
    "altered": "V7alt | VI7alt | II7alt | V7(#5)",
    "sus": "V7sus4 | V9sus4 | V7sus4(b9) | I7sus4",
    "half-diminished": "iiø7 | #ivø7 | viiø9 | iiø7",
    "mixed": "Imaj7(#11) V7alt | bIImaj7 #i°7 | I+ iv6 | VI7(b9,b13) V13sus4",
    "slash": "Imaj7/5 iiø7/5 | bVImaj7/5 iv6/5 | ii7/5 V7sus4(b9) | I/5 V7",
}


def chord_under(scene: Scene, note: ScoreNote) -> Chord:
    return scene.plan.chords[scene.plan.at(note.harmony_tick)].chord


def members(chord: Chord) -> set[int]:
    return {tone.pitch_class for tone in (*chord.required, *chord.optional)}


def by_saying(scene: Scene, notes: list[ScoreNote], long: int = 1) -> list[list[ScoreNote]]:
    sayings = []
    for start in motif_starts(scene.plan):
        first, last = start * scene.plan.bar_ticks, (start + long) * scene.plan.bar_ticks
        sayings.append([note for note in notes if first <= note.onset < last])
    return sayings


def names(notes: list[ScoreNote]) -> list[int]:
    return [note.pitch % 12 for note in notes]


def classes(text: str) -> list[int]:
    return [Tone.from_text(name).pitch_class for name in text.split()]


def signs(notes: list[ScoreNote]) -> list[int]:
    moves = [after.pitch - before.pitch for before, after in pairwise(notes)]
    return [(move > 0) - (move < 0) for move in moves]


def test_degrees_of_the_chord_follow_the_chords(melodies: Any) -> None:
    """Written out: over Cmaj7 G-E-G, over Dm7 A-F-A."""
    melody = Melody("motif", melodies.motif(RIFF), change="none")
    scene = melodies.scene("Imaj7 #i°7 | ii7 V7 | Imaj7 | V7", melody)
    notes = write_melody(scene)
    assert names(notes[:6]) == classes("G E G A F A")
    assert [note.pitch - notes[0].pitch for note in notes[:3]] == [0, -3, 12]
    assert {note.onset // scene.plan.bar_ticks for note in notes} == {0, 1, 2}  # every bar but the last


# First, second and third note of the riff 5-3-5 by semitones above the tonic, for every chord that it meets:
# written out by hand from the chords' spelling in C. A chord with b13 has no 5: b13 stands in.
RIFF_OVER = {
    "Imaj7": "G E G", "#i°7": "G E G", "ii7": "A F A", "V7": "D B D", "iiiø7": "Bb G Bb",
    "VI7(b9,b13)": "F C# F", "v7": "D Bb D", "I7": "G E G", "viiø7": "F D F", "III7(b9,b13)": "C Ab C",
    "i6": "G Eb G", "viø7": "Eb C Eb", "iiø7": "Ab F Ab", "V7(b9)": "D B D", "vø7": "Db Bb Db",
    "I7(b9,b13)": "Ab E Ab",
}  # fmt: skip
HEADS = {Mode.MAJOR: ("Imaj7", "ii7", "IVmaj7", "vi7"), Mode.MINOR: ("i6/9", "iiø7", "iv6")}


def test_the_shipped_riff_note_by_note(make: Any, shipped: Library) -> None:
    """In every key, as written and stretched, before every head; a return has one change."""
    intro = shipped.intros["riff-turnaround"]
    changed = 0
    for mode, heads in HEADS.items():
        for key in keys(mode):
            for head in heads:
                for tempo in (140.0, 236.0):
                    plan = plan_intro(intro, make.tune(str(key), head, tempo=tempo), key)
                    scene = set_scene(plan, Stage())
                    notes = write_melody(scene)
                    starts = motif_starts(plan)
                    assert starts == ([0, 2] if plan.bars == 4 else [0, 2, 4, 6])
                    wrong = [0] * len(starts)
                    for bar in range(plan.bars):
                        group = [note for note in notes if note.onset // 3840 == bar]
                        numeral = str(plan.chords[plan.at(bar * 3840)].numeral)
                        found = [(note.pitch - key.tonic.pitch_class) % 12 for note in group]
                        expected = zip(found, classes(RIFF_OVER[numeral]), strict=True)
                        wrong[bar // 2] += sum(one != other for one, other in expected)
                        timing = [(note.onset - bar * 3840, note.length) for note in group]
                        assert timing == [(0, 480), (480, 480), (960, 960)]
                    assert wrong[0] == 0, (str(key), head)
                    assert max(wrong) == 1, (str(key), head, wrong)
                    changed += sum(wrong)
    assert changed > 100


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [("V7", "D"), ("V7(b9,b13)", "Eb"), ("V7alt", "Eb"), ("V7(#5)", "D#"), ("iiø7", "Ab"), ("V7(b13)", "Eb")],
)
def test_what_a_plain_fifth_means(symbol: str, expected: str) -> None:
    assert str(degree_tone(chord_of(Numeral.from_text(symbol), Key.from_text("C")), "5")) == expected


def test_a_plain_degree_of_the_chord_takes_its_alteration(melodies: Any) -> None:
    melody = Melody("motif", melodies.motif("0 9 1"), change="none")
    # Ab and A over G7(b9) and G9.
    assert names(write_melody(melodies.scene("V7(b9) | V9 | V7", melody))) == classes("Ab A")


def test_degrees_of_the_key_are_those_of_its_signature() -> None:
    """Against music21's scales: the major scale, and in minor the natural one."""
    from music21 import key as other

    for mode in Mode:
        for mine in keys(mode):
            scale = other.Key(str(mine.tonic).replace("b", "-"), mode.value)
            found = [key_tone(mine, str(degree)).pitch_class for degree in range(1, 8)]
            assert found == [scale.pitchFromDegree(degree).pitchClass for degree in range(1, 8)]
    assert str(key_tone(Key.from_text("C minor"), "#4")) == "F#"


def test_degrees_of_the_key_stay_where_the_chords_have_them(melodies: Any) -> None:
    melody = Melody("motif", melodies.motif("1/2 5 1/2, 1 1+ 1"), "key", change="none")
    notes = write_melody(melodies.scene("Imaj9 | vi7 | ii7 | V7", melody))
    # The tonic over Cmaj9 would rub against its seventh, but a motif that names a chord tone gets it.
    assert names(notes)[:4] == classes("G C G C")
    assert len({note.pitch for note in notes if note.pitch % 12 == 7}) == 1


@pytest.mark.parametrize("mode", Mode)
def test_degrees_of_the_key_leave_a_clash_by_step(mode: Mode, melodies: Any) -> None:
    """Written out in C: over A7(b9,b13) the tonic is a #9; over Db7 it gives way to Db or B."""
    harmony = "VI7(b9,b13) | bII7 | V7alt | bVImaj7 | V7"
    plain = "0 1 1, 2 6 1"
    for key in keys(mode):
        melody = Melody("motif", melodies.motif(plain), "key", change="none")
        scene = melodies.scene(harmony, melody, key=str(key))
        for note in write_melody(scene):
            chord = chord_under(scene, note)
            assert note.pitch % 12 in members(chord)
            unbent = key_tone(key, "1" if note.onset % 3840 == 0 else "6").pitch_class
            bend = (note.pitch - unbent + 6) % 12 - 6
            assert abs(bend) <= 2
            assert not bend or unbent not in {tone.pitch_class for tone in chord.required}
    first = write_melody(
        melodies.scene(harmony, Melody("motif", melodies.motif(plain), "key", change="none"))
    )
    assert names(first)[:2] == classes("C A")
    assert names(first)[2] in {1, 11}


def stands_well(scene: Scene, notes: list[ScoreNote]) -> None:
    """Strong beats (1 and 3) and long notes rest on their chord or are prepared; others resolve by step."""
    for index, note in enumerate(notes):
        chord = chord_under(scene, note)
        if note.pitch % 12 in members(chord):
            continue
        before = notes[index - 1] if index else None
        after = notes[index + 1]  # the last note of all rests
        in_scale = note.pitch % 12 in {tone.pitch_class for tone in chord.scale}
        assert 0 < abs(after.pitch - note.pitch) <= 1 + in_scale
        assert after.onset - note.end < 480
        strong = any(note.onset <= tick < note.end for tick in range(0, scene.plan.head_tick, 1920))
        if strong or note.length > 480:
            assert before is not None
            assert before.pitch == note.pitch


@pytest.mark.parametrize("harmony", AWKWARD.values(), ids=AWKWARD)
@pytest.mark.parametrize(
    ("tones", "text"), [("contour", CONTOUR), ("key", KEY), ("chord", "0 3 1, 1 2 1/2, 3/2 1 1/2, 2 5 1")]
)
def test_a_motif_fits_awkward_chords_in_every_key(tones: str, text: str, harmony: str, melodies: Any) -> None:
    written = melodies.motif(text)
    for key in keys(Mode.MAJOR):
        scene = melodies.scene(harmony, Melody("motif", written, tones, (1, 2, 3), "none"), key=str(key))
        notes = write_melody(scene)
        stands_well(scene, notes)
        assert len(notes) == 12
        assert all(62 <= note.pitch <= 84 for note in notes)
        for saying in by_saying(scene, notes):
            if tones == "contour":
                assert signs(saying) == [1, 1, -1], (str(key), [note.pitch for note in saying])


@pytest.mark.parametrize("key", [str(key) for key in keys(Mode.MAJOR)])
@pytest.mark.parametrize(
    ("tones", "text"), [("contour", CONTOUR), ("key", KEY), ("chord", "0 5 1/2, 1/2 3 1/2, 1 5 1")]
)
@pytest.mark.parametrize("change", ["end", "inner"])
def test_a_return_keeps_rhythm_and_contour_and_changes_one_note(
    change: str, tones: str, text: str, key: str, melodies: Any
) -> None:
    """Beside the same motif without a change; each over one chord a bar."""
    harmony = "Imaj9 | ii9 | Imaj9 | IVmaj9 | V9"
    written = melodies.motif(text)
    scene = melodies.scene(harmony, Melody("motif", written, tones, change=change), key=key)
    same = melodies.scene(harmony, Melody("motif", written, tones, change="none"), key=key)
    pairs = list(zip(by_saying(scene, write_melody(scene)), by_saying(same, write_melody(same)), strict=True))
    assert len(pairs) == 4
    assert pairs[0][0] == pairs[0][1]
    start = pairs[0][0][0].onset
    for number, (returned, plain) in enumerate(pairs[1:], start=1):
        rhythm = [(note.onset - number * 3840, note.length) for note in returned]
        assert rhythm == [(note.onset, note.length) for note in pairs[0][0]]
        assert returned[0].onset - number * 3840 == start
        assert signs(returned) == signs(plain)
        apart = [
            index for index, (a, b) in enumerate(zip(returned, plain, strict=True)) if a.pitch != b.pitch
        ]
        assert len(apart) == 1
    stands_well(scene, write_melody(scene))


def test_the_change_is_where_it_was_asked_for(melodies: Any) -> None:
    written = melodies.motif("0 5 1/2, 1/2 3 1/2, 1 5 1")
    for change, index in (("end", 2), ("inner", 1)):
        scene = melodies.scene("Imaj9 | Imaj9 | V9", Melody("motif", written, change=change))
        first, second = by_saying(scene, write_melody(scene))
        assert [a.pitch != b.pitch for a, b in zip(first, second, strict=True)] == [
            at == index for at in range(3)
        ]


def test_a_return_in_another_octave_is_all_in_another_octave(melodies: Any) -> None:
    written = melodies.motif("0 5 1/2, 1/2 3 1/2, 1 5 1")
    elsewhere = 0
    for key in keys(Mode.MAJOR):
        scene = melodies.scene("Imaj9 | Imaj9 | V9", Melody("motif", written, change="octave"), key=str(key))
        first, second = by_saying(scene, write_melody(scene))
        moved = {b.pitch - a.pitch for a, b in zip(first, second, strict=True)}
        assert [note.length for note in first] == [note.length for note in second]
        if moved in ({12}, {-12}):
            elsewhere += 1
        else:  # no octave has room for both: the end changes instead
            assert [a.pitch for a in first[:2]] == [b.pitch for b in second[:2]]
            assert first[2].pitch != second[2].pitch
    assert elsewhere >= 8


def test_an_approach_that_is_written_is_kept_and_resolves(melodies: Any) -> None:
    """The minor third before the major one, over a dominant: written with an accidental, it is meant."""
    written = melodies.motif("0 1 1/2, 1/2 b3 1/2, 1 3 1/2, 3/2 5 1")
    notes = write_melody(melodies.scene("I13 | IV13 | V7", Melody("motif", written, change="none")))
    assert names(notes) == classes("C Eb E G F Ab A C")


def test_two_bars_and_a_pickup(melodies: Any) -> None:
    written = melodies.motif("-1 5 1/2, -1/2 6 1/2, 0 1+ 1, 11/2 3 1/2, 6 5 1")
    melody = Melody("motif", written, bars=(1, 3), change="none")
    scene = melodies.scene("Imaj9 | Imaj9 | Imaj9 | Imaj9 | V7", melody)
    notes = write_melody(scene)
    assert motif_starts(scene.plan) == [0, 2]
    # There is no bar before the first for its pick-up.
    assert [note.onset / 960 for note in notes] == [0, 5.5, 6, 7, 7.5, 8, 13.5, 14]
    assert all(before.end <= after.onset for before, after in pairwise(notes))


def test_a_motif_of_two_bars_said_in_bar_one_of_a_stretched_intro_fills_its_room(
    make: Any, melodies: Any
) -> None:
    tune = make.tune(tempo=240.0)
    for text, bars, expected in (
        (RIFF, (1,), [0, 1]),
        ("0 5 1, 4 3 1", (1,), [0, 2]),
        ("0 5 1, 4 3 1", (1, 3), [0, 2, 4, 6]),
    ):
        melody = Melody("motif", melodies.motif(text), bars=bars)
        intro = make.intro(make.form("Imaj7 | V7 | Imaj7 | V7"), melody=melody, stretch_above=200)
        assert motif_starts(plan_intro(intro, tune, tune.key)) == expected


def test_sayings_lie_near_to_each_other(melodies: Any) -> None:
    for key in keys(Mode.MAJOR):
        melody = Melody("motif", melodies.motif("0 5 1/2, 1/2 3 1/2, 1 5 1"), change="none")
        scene = melodies.scene("Imaj7 | ii7 | iii7 | IVmaj7 | V7", melody, key=str(key))
        firsts = [saying[0].pitch for saying in by_saying(scene, write_melody(scene))]
        assert max(abs(after - before) for before, after in pairwise(firsts)) <= 5


def test_on_one_guitar_a_motif_stays_under_f5(melodies: Any) -> None:
    for key in keys(Mode.MAJOR):
        melody = Melody("motif", melodies.motif(KEY), "key", change="octave")
        notes = write_melody(
            melodies.scene("Imaj9 | vi9 | ii9 | V9", melody, key=str(key), line_up="solo guitar")
        )
        assert all(60 <= note.pitch <= 77 for note in notes)


def test_the_seed_does_not_change_it(melodies: Any) -> None:
    melody = Melody("motif", melodies.motif(RIFF))
    assert write_melody(melodies.scene("Imaj9 | ii9 | V7", melody, seed=1)) == write_melody(
        melodies.scene("Imaj9 | ii9 | V7", melody, seed=2)
    )
