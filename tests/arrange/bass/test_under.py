"""What sounds above the bass: minor ninths, low-interval limits and the distance to the comp."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from typing import Any

import pytest

from introit.arrange.line_up import SEATS, LineUp
from introit.arrange.plan import Plan
from introit.arrange.score import COMP, MELODY, ScoreNote
from introit.theory.chord import Chord
from introit.theory.limits import too_low

BEAT, HALF = 960, 480
MINOR_NINTHS = {1, 13, 25, 37}
OVER_BASS = SEATS[LineUp.WITH_BASS].over_bass
MANNERS = ("walking", "two-feel", "bossa", "latin", "answering", "two-feel-with-skips", "roots")


def chord_at(plan: Plan, note: ScoreNote) -> Chord:
    return plan.chords[plan.at(note.harmony_tick)].chord


def forbids(high: ScoreNote, low: ScoreNote, chord: Chord) -> bool:
    """Whether a note above forbids a bass note of a chord: [LI-A], [LI-B], [TP1], and the line-up."""
    rubs = high.pitch - low.pitch in MINOR_NINTHS
    own = (
        chord.is_dominant
        and low.pitch % 12 == chord.root.pitch_class
        and high.harmony_tick == low.harmony_tick
    )
    near = high.part == COMP and high.pitch - low.pitch < OVER_BASS
    return (rubs and not own) or too_low(low.pitch, high.pitch) or near


def forbidden(low: ScoreNote, above: Sequence[ScoreNote], chord: Chord) -> list[ScoreNote]:
    sounding = [note for note in above if note.onset < low.end and low.onset < note.end]
    return [note for note in sounding if forbids(note, low, chord)]


def made_up_comp(plan: Plan, seed: int, *, lowest: int) -> list[ScoreNote]:
    """Grips of any tones of the chords, with pushes of an eighth, held or short."""
    rolls = Random(seed)
    notes = []
    for planned in plan.chords:
        classes = [tone.pitch_class for tone in (*planned.chord.required[1:], *planned.chord.optional)]
        pitches = [pitch for pitch in range(lowest, lowest + 24) if pitch % 12 in classes]
        onset = planned.onset - (HALF if planned.onset and rolls.random() < 0.4 else 0)
        length = rolls.choice([HALF, 2 * BEAT, planned.end - onset])
        notes += [
            ScoreNote(onset, min(length, planned.end - onset), planned.onset, COMP, pitch)
            for pitch in rolls.sample(pitches, 3)
        ]
    return notes


def alternatives(plan: Plan, note: ScoreNote) -> list[int]:
    """Pitches that the bass might have had instead: at a change the root, else any member of the chord."""
    chord = chord_at(plan, note)
    members = {tone.tone.pitch_class for name in ("3", "5", "7") if (tone := chord.tone(name))}
    first = note.onset <= note.harmony_tick
    classes = {chord.bass.pitch_class} | (set() if first else members)
    return [pitch for pitch in range(28, 51) if pitch % 12 in classes]


@pytest.mark.parametrize("manner", MANNERS)
@pytest.mark.parametrize("lowest", [48, 55])
def test_where_any_choice_keeps_clear_the_bass_does(bass: Any, manner: str, lowest: int) -> None:
    """Made-up comps, from C3 up: a bass note that is forbidden had no other choice."""
    texts = ("ii9 V7(b9) | Imaj9 VI7(b9) | ii9 V13 | Imaj9 | V7", "i6/9 | bVImaj7 V7(b9) | iiø7 V7alt | i6/9")
    told = notes = 0
    for seed in range(12):
        plan = bass.plan(texts[seed % 2], key=("C", "Ab minor")[seed % 2])
        above = made_up_comp(plan, seed, lowest=lowest)
        for note in bass.line(plan, manner, above=above, seed=seed):
            notes += 1
            if forbidden(note, above, chord_at(plan, note)):
                told += 1
                others = [note._replace(pitch=pitch) for pitch in alternatives(plan, note)]
                assert all(forbidden(other, above, chord_at(plan, note)) for other in others), (seed, note)
    assert notes > 50
    assert told < 0.3 * notes


def test_a_note_under_a_held_minor_ninth_gives_way(make: Any, bass: Any) -> None:
    """The fifth of Dm7 is A, but not with a Bb held over it; nor does a walking line come through A then."""
    plan = bass.plan("ii7 V7 | Imaj7")
    held = ScoreNote(BEAT, BEAT, 0, COMP, 70)
    fifths = make.manner("0 root 1, 1 fifth 1, 2 root 2")
    assert bass.line(plan, fifths)[1].pitch % 12 == 9
    assert bass.line(plan, fifths, above=[held])[1].pitch % 12 != 9
    assert all(bass.line(plan, "walking", seed=seed, above=[held])[1].pitch % 12 != 9 for seed in range(20))


def test_a_bass_note_is_let_go_for_a_pushed_minor_ninth(make: Any, bass: Any) -> None:
    """The root cannot give way, so it ends where the comp takes the coming chord early."""
    pushed = ScoreNote(1440, 2400, 3840, COMP, 63)
    root, *_ = bass.line(bass.plan("ii7 | V7"), make.manner("0 root 4"), above=[pushed])
    assert (root.pitch % 12, root.onset, root.end) == (2, 0, 1440)


def test_a_bass_note_is_let_go_for_a_passing_note_of_the_melody(make: Any, bass: Any) -> None:
    passing = ScoreNote(2400, 480, 0, MELODY, 73)
    root, *_ = bass.line(bass.plan("Imaj7 | V7"), make.manner("0 root 4"), above=[passing])
    assert (root.pitch % 12, root.end) == (0, 2400)


@pytest.mark.parametrize(
    ("text", "pitch", "stays"),
    [("V7(b9) | Imaj7", 68, True), ("Imaj7 | V7", 61, False)],
)
def test_only_a_dominant_bears_its_own_flat_nine(
    make: Any, bass: Any, text: str, *, pitch: int, stays: bool
) -> None:
    """The minor ninth is to be avoided ([TP1]), a dominant's own b9 over its root apart."""
    later = ScoreNote(BEAT, 3 * BEAT, 0, COMP, pitch)
    root, *_ = bass.line(bass.plan(text), make.manner("0 root 4"), above=[later])
    assert (root.length == 4 * BEAT) is stays


def test_a_pushed_flat_nine_is_not_the_dominants_own(make: Any, bass: Any) -> None:
    pushed = ScoreNote(3 * BEAT, 2 * BEAT, 4 * BEAT, COMP, 68)
    root, *_ = bass.line(bass.plan("V7 | bVImaj7"), make.manner("0 root 4"), above=[pushed])
    assert (root.pitch % 12, root.end) == (7, 3 * BEAT)


def test_the_bass_keeps_a_fifth_under_the_comp(bass: Any) -> None:
    """A comp down to C3 presses the line below F2; without it the line goes higher."""
    plan = bass.plan("IVmaj7 | Imaj7 | IVmaj7 | Imaj7")
    low = [ScoreNote(at * 4 * BEAT, 4 * BEAT, at * 4 * BEAT, COMP, 48) for at in range(4)]
    for seed in range(4):
        free, pressed = (
            bass.line(plan, "walking", seed=seed),
            bass.line(plan, "walking", seed=seed, above=low),
        )
        assert max(note.pitch for note in pressed) <= 48 - OVER_BASS < max(note.pitch for note in free)
