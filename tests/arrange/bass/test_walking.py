"""Walking: what it is, over the shipped intros, and its limits over any progression."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from introit.arrange.plan import Plan
from introit.arrange.score import ScoreNote
from introit.theory.key import Mode, keys
from introit.theory.pitch import Tone

WALKING = ("walking", "walking-in-three", "walking-in-five")
STRONG = {3: {0}, 4: {0, 2}, 5: {0, 3}}
BEAT = 960
LEAP, MOST_ONE_WAY = 5, 6
# Semitones over the coming root: half steps and whole steps, and the fifth above it (the fourth below).
WAYS_IN = {1, 2, 10, 11, 7}

MAJOR = ["Imaj9", "I6/9", "ii9", "iii11", "IVmaj7", "V13", "V7(b9)", "V9sus4", "vi7", "viiø7", "#i°7"]
MINOR = ["i6/9", "iiø7", "bIIImaj7", "iv6", "bVImaj7", "bVII7", "bII7", "VI7(b9)", "II7"]
bars = st.lists(st.sampled_from(MAJOR + MINOR), min_size=1, max_size=2).map(" ".join)
progressions = st.lists(bars, min_size=2, max_size=6).map(" | ".join)


def broken_rules(line: Sequence[ScoreNote]) -> list[str]:
    """Repeats, more than six notes one way, and leaps that are not answered by a step the other way."""
    moves = [after.pitch - before.pitch for before, after in pairwise(line)]
    found = ["repeat" for move in moves if move == 0]
    run = 0
    for before, move in pairwise([0, *moves]):
        run = run + 1 if before * move > 0 else 1
        if run + 1 > MOST_ONE_WAY:
            found.append("one way")
    for move, answer in pairwise(moves):
        if abs(move) > LEAP and not (abs(answer) <= 2 and move * answer < 0):
            found.append("leap")
    return found


def changes(plan: Plan) -> dict[int, int]:
    """Tick -> pitch class of the bass, where a chord differs from the one before it."""
    return {
        planned.onset: planned.chord.bass.pitch_class
        for index, planned in enumerate(plan.chords)
        if index == 0 or planned.chord != plan.chords[index - 1].chord
    }


def members(plan: Plan, tick: int) -> set[int]:
    """Pitch classes of bass note, third, fifth and seventh (or what stands for them)."""
    chord = plan.chords[plan.at(tick)].chord
    found = [chord.tone(degree) for degree in ("3", "5", "7")]
    return {chord.bass.pitch_class} | {tone.pitch_class for tone in found if tone is not None}


@pytest.mark.parametrize("manner", WALKING)
def test_a_note_on_every_beat_legato_and_never_overlapping(bass: Any, manner: str) -> None:
    for plan, line in bass.over_shipped(manner):
        assert [(note.onset, note.length) for note in line] == [
            (tick, BEAT) for tick in range(0, plan.head_tick, BEAT)
        ]


@pytest.mark.parametrize("manner", WALKING)
def test_the_target_is_the_root_on_the_change(bass: Any, manner: str) -> None:
    """[BW1]: the target note is the chord's first beat, most often its root."""
    for plan, line in bass.over_shipped(manner):
        played = {note.onset: note.pitch % 12 for note in line}
        assert {tick: played[tick] for tick in changes(plan)} == changes(plan)


@pytest.mark.parametrize("manner", WALKING)
def test_the_beat_before_a_change_is_an_approach(bass: Any, manner: str) -> None:
    """[BW1] and [BW2]: approach on 4, with two chords a bar on 2 and 4; chromatic from either side
    ([BW3]); the dominant approach is from memory. A leap from root to root is answered first."""
    approached = 0
    for plan, line in bass.over_shipped(manner):
        targets = changes(plan)
        for index, (before, note) in enumerate(pairwise(line)):
            answers = index > 1 and abs(line[index - 1].pitch - line[index - 2].pitch) > LEAP
            if note.onset in targets and before.onset not in targets and not answers:
                assert (before.pitch - targets[note.onset]) % 12 in WAYS_IN, plan.intro.id
                assert abs(before.pitch - note.pitch) in {1, 2, 5, 7}
                approached += 1
    assert approached > 10


@pytest.mark.parametrize("manner", WALKING)
def test_strong_beats_have_chord_tones(bass: Any, manner: str) -> None:
    """[FB23]: chord tones on strong beats. A beat right before a change is its approach instead."""
    for plan, line in bass.over_shipped(manner):
        targets = changes(plan)
        for note in line:
            beat = note.onset % plan.bar_ticks // BEAT
            if beat in STRONG[plan.meter.beats] and note.end not in targets:
                assert note.pitch % 12 in members(plan, note.onset), (plan.intro.id, note)


@pytest.mark.parametrize("manner", WALKING)
def test_a_chord_that_goes_on_has_its_third_or_fifth_on_one(bass: Any, manner: str) -> None:
    """From memory."""
    plan = bass.plan("Imaj7 | Imaj7", meter=bass.shipped.bass[manner].meters[0])
    ones = {bass.line(plan, manner, seed=seed)[plan.meter.beats].pitch % 12 for seed in range(8)}
    assert ones <= {4, 7}


@pytest.mark.parametrize("manner", WALKING)
def test_no_shipped_line_breaks_a_rule(bass: Any, manner: str) -> None:
    """No pitch twice running, six notes one way at most, leaps answered (common practice, no source; [BW6]:
    mix directions). Roots on each of two beats in a row leave nothing to choose."""
    for plan, line in bass.over_shipped(manner):
        targets = changes(plan)
        if not any(tick + BEAT in targets or tick + BEAT == plan.head_tick for tick in targets):
            assert broken_rules(line) == [], (plan.intro.id, str(plan.key), [note.pitch for note in line])


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=progressions, key=st.integers(0, 11), seed=st.integers(0, 999))
def test_no_progression_breaks_a_rule(bass: Any, text: str, key: int, seed: int) -> None:
    """One or two chords a bar, however far apart their roots."""
    plan = bass.plan(text, key=str(keys(Mode.MAJOR)[key]))
    line = bass.line(plan, "walking", seed=seed)
    assert broken_rules(line) == []
    assert all(28 <= note.pitch <= 55 for note in line)
    for before, note in pairwise(line):
        if note.onset in changes(plan):
            assert note.pitch % 12 == changes(plan)[note.onset]
            assert (before.pitch - note.pitch) % 12 in WAYS_IN


def test_the_rule_checker_hears_what_it_should() -> None:
    def of(*pitches: int) -> list[str]:
        return broken_rules([ScoreNote(960 * n, 960, 0, 2, pitch) for n, pitch in enumerate(pitches)])

    assert of(40, 41, 43, 45, 47, 48) == []
    assert of(40, 41, 43, 45, 47, 48, 50) == ["one way"]
    assert of(40, 40) == ["repeat"]
    assert of(40, 47, 45) == []
    assert of(40, 47, 48) == ["leap"]
    assert of(40, 47, 44) == ["leap"]


# A half step that is a chord tone leads on: the b5 of a half-diminished two lies a half step over the root of
# the five, the third of the five a half step under the root of the one ([BW6]).
@pytest.mark.parametrize(
    ("key", "text", "beat", "usual"),
    [
        ("C minor", "iiø7 V7 | i6/9", 1, "Ab"),
        ("C minor", "iiø7 V7 | i6/9", 3, "B"),
        ("Eb", "ii9 V13 | Imaj9", 3, "D"),
    ],
)
def test_the_approach_that_is_a_chord_tone_is_the_usual_one(
    bass: Any, key: str, text: str, *, beat: int, usual: str
) -> None:
    lines = [bass.line(bass.plan(text, key=key), "walking", seed=seed) for seed in range(60)]
    counted = Counter(line[beat].pitch % 12 for line in lines)
    assert counted.most_common(1)[0][0] == Tone.from_text(usual).pitch_class


def test_half_steps_outnumber_whole_ones(bass: Any) -> None:
    """[BW3]: whole-step approaches sound blander."""
    steps = Counter(
        abs(before.pitch - note.pitch)
        for plan, line in bass.over_shipped("walking")
        for before, note in pairwise(line)
        if note.onset in changes(plan)
    )
    assert steps[1] > 2 * steps[2] > 0
    assert steps[5] + steps[7] > 0


def test_enclosures_come_now_and_then(bass: Any) -> None:
    """One note over the coming root and one under it, then the root (from memory)."""
    found = {True: 0, False: 0}
    for plan, line in bass.over_shipped("walking"):
        for first, second, root in zip(line, line[1:], line[2:], strict=False):
            if root.onset in changes(plan) and first.onset not in changes(plan):
                over, under = first.pitch - root.pitch, second.pitch - root.pitch
                found[over * under < 0 and max(abs(over), abs(under)) <= 2] += 1
    assert 0.1 < found[True] / sum(found.values()) < 0.5


@pytest.mark.parametrize(
    ("two", "other_third"), [("ii7", 4), ("ii9", 4), ("iiø7", 4), ("iv6", 4), ("IVmaj7", 3)]
)
@pytest.mark.parametrize("five", ["V7", "bII7", "VI7", "bVImaj7"])
def test_the_bass_never_plays_the_other_third(
    bass: Any, some_keys: Any, two: str, *, other_third: int, five: str
) -> None:
    """F# under Dm7 says D7, and Ab under Fmaj7 says Fm: common practice, no source."""
    for seed, key in enumerate(some_keys):
        plan = bass.plan(f"{two} {five} | {two} | {five}", key=str(key))
        root = plan.chords[0].chord.root.pitch_class
        for note in bass.line(plan, "walking", seed=seed):
            if plan.chords[plan.at(note.onset)].numeral == plan.chords[0].numeral:
                assert (note.pitch - root) % 12 != other_third, (str(key), two, five)


def test_the_contour_is_an_arch(bass: Any) -> None:
    """Low at first, highest past the middle, down again, taken over all lines (judgement, no source)."""
    quarters: list[list[int]] = [[], [], [], []]
    for plan, line in bass.over_shipped("walking"):
        for note in line:
            quarters[4 * note.onset // plan.head_tick].append(note.pitch)
    first, second, third, last = (sum(pitches) / len(pitches) for pitches in quarters)
    assert min(second, third) > first + 1.5
    assert third > last + 0.5


def test_the_register_is_a_double_basss_and_mostly_below_d3(bass: Any) -> None:
    """E1 to G3, mostly below D3 (from memory; open strings from E1 seen in [DB1])."""
    pitches = [note.pitch for manner in WALKING for _, line in bass.over_shipped(manner) for note in line]
    assert 28 <= min(pitches) <= max(pitches) <= 55
    assert sum(pitch < 50 for pitch in pitches) >= 0.95 * len(pitches)
    assert sum(pitch < 31 for pitch in pitches) < 0.1 * len(pitches)
