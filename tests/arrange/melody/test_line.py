"""The line over every shipped intro's chords, in all its bars. Its figures are common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.melody import melody_limit, write_melody
from introit.arrange.melody.phrases import PHRASES
from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote
from introit.arrange.tones import offered
from introit.theory.chord import Chord

KEYS = ("Eb", "A", "F# minor")
TEMPI = (64.0, 140.0, 240.0)
STRONG = {3: (0,), 4: (0, 2), 5: (0, 3)}
"""Beats 1 and 3; 1 in three; 1 and 4 in five."""

Lines = list[tuple[Scene, list[ScoreNote]]]


@pytest.fixture(scope="module")
def lines(melodies: Any) -> Lines:
    return [(scene, write_melody(scene)) for scene in melodies.library("line", KEYS, TEMPI)]


def chord_of(scene: Scene, note: ScoreNote) -> Chord:
    return scene.plan.chords[scene.plan.at(note.harmony_tick)].chord


def tones_of(chord: Chord) -> set[int]:
    return {tone.pitch_class for tone in (*chord.required, *offered(chord))}


def on_strong_beats(scene: Scene, notes: list[ScoreNote]) -> Iterator[ScoreNote]:
    beats = STRONG[scene.plan.meter.beats]
    ticks = {bar * scene.plan.bar_ticks + beat * 960 for bar in range(scene.plan.bars) for beat in beats}
    return (note for note in notes if any(note.onset <= tick < note.end for tick in ticks))


def where(scene: Scene, note: ScoreNote | None = None) -> tuple[object, ...]:
    plan = scene.plan
    return (plan.intro.id, str(plan.key), str(plan.meter), plan.tempo, note)


def test_there_is_a_line(lines: Lines) -> None:
    assert len(lines) > 300
    for scene, notes in lines:
        assert notes or scene.plan.bars == 1, where(scene)
        assert all(before.end <= after.onset for before, after in pairwise(notes))
        assert all(64 <= note.pitch <= 81 for note in notes)  # E4 to A5


def test_strong_beats_have_chord_tones_or_tensions(lines: Lines) -> None:
    """Available tensions: [AN] and [Te], against which `theory` is checked in its own tests."""
    for scene, notes in lines:
        for note in on_strong_beats(scene, notes):
            assert note.pitch % 12 in tones_of(chord_of(scene, note)), where(scene, note)


def test_an_eleventh_never_stands_over_a_major_third(lines: Lines) -> None:
    """[AN] table 1: avoid 11 on Imaj7 and V7."""
    for scene, notes in lines:
        for note in notes:
            chord = chord_of(scene, note)
            third = any(tone.name == "3" for tone in chord.required)
            assert not (third and (note.pitch - chord.root.pitch_class) % 12 == 5), where(scene, note)


def test_flat_thirteen_and_fifth_never_meet_on_a_dominant(lines: Lines) -> None:
    for scene, notes in lines:
        by_chord: dict[int, set[int]] = {}
        for note in on_strong_beats(scene, notes):
            chord = chord_of(scene, note)
            if chord.is_dominant:
                sung = by_chord.setdefault(note.harmony_tick, set())
                sung.add((note.pitch - chord.root.pitch_class) % 12)
        assert not any({7, 8} <= sung for sung in by_chord.values()), where(scene)


def test_nothing_rubs_a_minor_ninth_over_the_bass_but_a_dominants_own(lines: Lines) -> None:
    """[TP1]; b9 on dominants is the standing exception (memory)."""
    for scene, notes in lines:
        for note in notes:
            chord = chord_of(scene, note)
            over_bass = (note.pitch - chord.bass.pitch_class) % 12
            own = chord.is_dominant and chord.bass == chord.root
            assert over_bass != 1 or own, where(scene, note)


def test_what_is_no_tone_of_its_chord_resolves_by_step(lines: Lines) -> None:
    chromatic = scalewise = 0
    for scene, notes in lines:
        for index, note in enumerate(notes):
            chord = chord_of(scene, note)
            if note.pitch % 12 in tones_of(chord):
                continue
            assert index + 1 < len(notes), where(scene, note)
            following = notes[index + 1]
            in_scale = note.pitch % 12 in {tone.pitch_class for tone in chord.scale}
            assert 0 < abs(following.pitch - note.pitch) <= 1 + in_scale, where(scene, note)
            assert note.length <= 960, where(scene, note)
            assert following.onset == note.end, where(scene, note)
            chromatic += not in_scale
            scalewise += in_scale
    assert min(chromatic, scalewise) > 50  # both kinds are there


def test_it_moves_mostly_by_step_and_answers_its_leaps(lines: Lines, moves_of: Any) -> None:
    steps = total = leaps = 0
    for scene, notes in lines:
        moves = moves_of(notes)
        steps += sum(1 <= abs(move) <= 2 for move in moves)
        total += len(moves)
        for move, after in pairwise(moves):
            if abs(move) > 4:
                leaps += 1
                assert 1 <= abs(after) <= 2, (where(scene), moves)
    assert 0.70 * total <= steps <= 0.95 * total
    assert leaps > 10


def test_it_leaves_air(lines: Lines) -> None:
    for scene, notes in lines:
        plan = scene.plan
        assert sum(note.length for note in notes) <= 0.65 * plan.head_tick, where(scene)
        silences = [(0, notes[0].onset)] if notes else [(0, plan.head_tick)]
        silences += [(before.end, after.onset) for before, after in pairwise(notes)]
        silences += [(notes[-1].end, plan.head_tick)] if notes else []
        for bar in range(plan.bars - 1):
            start, end = bar * plan.bar_ticks, (bar + 2) * plan.bar_ticks
            longest = max(min(end, late) - max(start, early) for early, late in silences)
            assert longest >= 960, (where(scene), bar)


def test_phrases_start_off_the_downbeat_and_have_several_notes(lines: Lines, phrases_of: Any) -> None:
    sizes = []
    for scene, notes in lines:
        groups = phrases_of(notes)
        off = sum(bool(group[0].onset % scene.plan.bar_ticks) for group in groups)
        assert off >= len(groups) / 2, where(scene)
        sizes += [len(group) for group in groups]
    assert sum(sizes) / len(sizes) > 1.7  # a beat of rest parts what belongs together, too


def test_the_highest_note_comes_once_and_late(lines: Lines) -> None:
    judged = 0
    for scene, notes in lines:
        if scene.plan.bars < 2:
            continue
        top = max(note.pitch for note in notes)
        (peak,) = [note for note in notes if note.pitch == top]
        assert 0.60 <= peak.onset / scene.plan.head_tick <= 0.85, where(scene, peak)
        judged += 1
    assert judged > 300


def test_density_falls_with_tempo_and_a_ballad_is_sparse(melodies: Any) -> None:
    density = []
    for tempo in (62.0, 120.0, 180.0, 240.0):
        made = [(s.plan, write_melody(s)) for s in melodies.library("line", ("C",), (tempo,))]
        density.append(
            sum(len(notes) for _, notes in made) / sum(plan.bars * plan.meter.beats / 4 for plan, _ in made)
        )
    ballad, *rising = density
    assert rising == sorted(rising, reverse=True)
    assert ballad < 0.75 * rising[0]
    assert rising[-1] < 0.7 * rising[0]


def test_it_is_out_in_time(lines: Lines) -> None:
    for scene, notes in lines:
        plan = scene.plan
        beats = {3: 2, 4: 2, 5: 3}[plan.meter.beats]  # beat 3; beat 4 in five
        assert melody_limit(plan) == plan.head_tick - plan.bar_ticks + beats * 960
        assert all(note.end <= melody_limit(plan) for note in notes)


@pytest.mark.parametrize("pickup", ["1/2", "3/2", "3"])
def test_it_leaves_the_pickup_alone(pickup: str, melodies: Any) -> None:
    """All of it, but for an intro that it would take more than half of: judgement, no source."""
    for scene in melodies.library("line", ("F",), (140.0,), pickup=Fraction(pickup)):
        head = scene.plan.head_tick
        clear = max(head - Fraction(pickup) * 960, head // 2)
        assert all(note.end <= clear for note in write_melody(scene)), where(scene)


def test_the_seed_does_not_change_it_and_the_key_only_moves_it(melodies: Any) -> None:
    harmony = "iii7 VI7 | ii9 V13 | Imaj9 VI7 | ii9 V7"
    first, second = (write_melody(melodies.scene(harmony, seed=seed)) for seed in (1, 2))
    assert first == second
    rhythms = {
        tuple((note.onset, note.length) for note in write_melody(melodies.scene(harmony, key=key)))
        for key in ("C", "F", "B")
    }
    assert len(rhythms) <= 2  # a held note may be one of two chords in one key's octave and cut in another's


def test_on_one_guitar_it_stays_under_e5(melodies: Any) -> None:
    for scene in melodies.library("line", ("C", "B"), (140.0,), line_up="solo guitar"):
        notes = write_melody(scene)
        assert all(62 <= note.pitch <= 76 for note in notes), where(scene)
        assert all(note.string is None and note.fret is None for note in notes)


@pytest.mark.parametrize("beats", [3, 4, 5])
def test_phrases_keep_their_promises(beats: int) -> None:
    for phrase in PHRASES[beats]:
        length = phrase.bars * beats * 960
        ends = [note.onset + note.length for note in phrase.notes]
        onsets = [note.onset for note in phrase.notes]
        assert all(end <= onset for end, onset in zip(ends, onsets[1:], strict=False))
        assert sum(note.length for note in phrase.notes) <= 0.65 * length
        assert ends[-1] <= length - 960
        going = onsets[0]
        for end, onset in zip(ends, [*onsets[1:], length], strict=True):
            assert end - going <= (2 * beats - 2) * 960
            going = onset if onset - end >= 960 else going
        for note, end, onset in zip(phrase.notes, ends, onsets[1:], strict=False):
            assert not note.approach or end == onset
        assert not phrase.notes[-1].approach
    off = [bool(phrase.notes[0].onset) for phrase in PHRASES[beats]]
    assert sum(off) > len(off) / 2
    assert any(note.onset % 960 for phrase in PHRASES[beats] for note in phrase.notes)


def test_intros_do_not_all_have_one_rhythm(lines: Lines) -> None:
    rhythms = [tuple(note.onset for note in notes) for scene, notes in lines if scene.plan.tempo == 140.0]
    assert len(set(rhythms)) > 25
