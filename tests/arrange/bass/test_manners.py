"""Each manner but walking by what it is, over the shipped intros, and how manners are laid over a plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.plan import Plan
from introit.arrange.score import COMP, ScoreNote
from introit.theory.key import Mode, keys

BEAT, HALF = 960, 480
STEP_FOURTH_OR_FIFTH = {1, 2, 5, 7}


def timed(notes: Sequence[ScoreNote]) -> list[tuple[float, float]]:
    return [(note.onset / BEAT, note.length / BEAT) for note in notes]


def new_chords(plan: Plan) -> dict[int, int]:
    """Tick -> pitch class of the bass, where a chord differs from the one before it."""
    return {
        planned.onset: planned.chord.bass.pitch_class
        for index, planned in enumerate(plan.chords)
        if index == 0 or planned.chord != plan.chords[index - 1].chord
    }


def over_root(plan: Plan, note: ScoreNote) -> int:
    """Semitones, octaves taken off, of a note over the bass of the chord that it belongs to."""
    return (note.pitch - plan.chords[plan.at(note.harmony_tick)].chord.bass.pitch_class) % 12


def at_beat(plan: Plan, line: Sequence[ScoreNote], position: float) -> list[ScoreNote]:
    """Notes of bars that have one chord all through, at a position in beats from 0."""
    found = []
    for note in line:
        bar, within = divmod(note.onset, plan.bar_ticks)
        whole = plan.at(bar * plan.bar_ticks) == plan.at((bar + 1) * plan.bar_ticks - 1)
        if within == position * BEAT and whole:
            found.append(note)
    return found


def test_every_meter_has_its_manners(bass: Any) -> None:
    """At least eight manners, and in every meter one that walks, one that does not and one that answers."""
    manners = bass.shipped.bass.values()
    assert len(manners) >= 8
    for meter in {manner.meters[0] for manner in manners}:
        kinds = {
            (manner.walks, manner.answering)
            for manner in bass.shipped.bass.values()
            if manner.meters == (meter,)
        }
        assert kinds == {(True, False), (False, False), (False, True)}


def test_every_manner_over_the_shipped_intros(bass: Any) -> None:
    """In range, never two at once, nothing past the head, and the root at every change unless taken early."""
    for name in bass.shipped.bass:
        for plan, line in bass.over_shipped(name):
            assert all(28 <= note.pitch <= 55 for note in line)
            assert all(before.end <= after.onset for before, after in pairwise(line))
            assert line[-1].end <= plan.head_tick
            by_harmony: dict[int, ScoreNote] = {}
            for note in line:
                by_harmony.setdefault(note.harmony_tick, note)
            for tick, root in new_chords(plan).items():
                assert by_harmony[tick].pitch % 12 == root, (plan.intro.id, name, tick)
                assert by_harmony[tick].onset <= tick


@pytest.mark.parametrize("name", ["roots", "roots-in-three", "roots-in-five"])
def test_roots_are_only_roots_and_ring(bass: Any, name: str) -> None:
    for plan, line in bass.over_shipped(name):
        assert {over_root(plan, note) for note in line[:-1]} <= {0}
        assert over_root(plan, line[0]) == 0
        assert all(before.end == after.onset for before, after in pairwise(line))


@pytest.mark.parametrize("name", ["two-feel", "two-feel-with-pickup", "two-feel-with-skips", "bossa"])
def test_two_feels_have_root_on_one_and_fifth_on_three(bass: Any, name: str) -> None:
    """[BW6] for the two-feel, [BN1] for the bossa; now and then an octave stands for the fifth."""
    threes: Counter[int] = Counter()
    for plan, line in bass.over_shipped(name):
        ones = at_beat(plan, line, 0)
        assert {over_root(plan, note) for note in ones} <= {0}
        threes.update(over_root(plan, note) for note in at_beat(plan, line, 2))
    fifths = threes[6] + threes[7] + threes[8]
    assert fifths > 0.6 * threes.total()
    assert threes[0] > 0
    assert (
        fifths + threes[0] >= 0.97 * threes.total()
    )  # a slash bass may stay, a chord without a fifth has none


def test_a_two_feel_is_a_little_short(bass: Any) -> None:
    for plan, line in bass.over_shipped("two-feel"):
        assert all(note.length <= 1.75 * BEAT for note in line), plan.intro.id


def test_skips_are_short_come_now_and_then_and_lie_before_one_and_three(bass: Any) -> None:
    """A skip: a short pickup eighth before a strong beat; common practice, no source."""
    bars = skips = 0
    for plan, line in bass.over_shipped("two-feel-with-skips"):
        bars += plan.bars
        for note in line:
            if note.onset % BEAT:
                skips += 1
                assert note.onset % plan.bar_ticks in {3 * HALF, 7 * HALF}
                assert note.length == HALF
    assert 0.3 * bars < skips < 1.3 * bars


def test_a_bossas_pick_ups_lead_to_what_they_precede(bass: Any) -> None:
    """The eighth before three is the fifth itself, the one before one the fifth of what comes (no source)."""
    led = same = 0
    for plan, line in bass.over_shipped("bossa"):
        for note, after in pairwise(line):
            if note.onset % plan.bar_ticks == 7 * HALF:
                led += (note.pitch - after.pitch) % 12 in {7, 6, 8}
                same += 1
    assert led > 0.8 * same


def test_latin_sounds_on_the_off_beat_after_two_and_early_on_four(bass: Any) -> None:
    """A tumbao: one is left empty after the first bar, four takes the coming root (no source)."""
    plan = bass.plan("ii7 | V7 | Imaj7 | vi7")
    line = bass.line(plan, "latin")
    assert [note.onset / BEAT for note in line] == [0, 1.5, 3, 5.5, 7, 9.5, 11, 13.5, 15]
    pushed = [note for note in line if note.onset % plan.bar_ticks == 3 * BEAT]
    assert [note.harmony_tick - note.onset for note in pushed] == [BEAT, BEAT, BEAT, -3 * BEAT]
    assert [note.pitch % 12 for note in pushed[:3]] == [7, 0, 9]
    assert pushed[-1].end == plan.head_tick


def test_latin_takes_a_chord_on_three_early_as_well(bass: Any) -> None:
    plan = bass.plan("ii7 V7 | Imaj7")
    assert [(note.onset, note.harmony_tick) for note in bass.line(plan, "latin")][:3] == [
        (0, 0),
        (3 * HALF, 2 * BEAT),
        (3 * BEAT, 4 * BEAT),
    ]


def test_a_push_is_given_up_where_the_comp_still_rubs(bass: Any) -> None:
    """C is taken early on four, but not while a Db sounds: then four has the fifth, and C comes on one."""
    plan = bass.plan("V7(b9) | Imaj7")
    held = ScoreNote(2 * BEAT, 2 * BEAT, 0, COMP, 61)
    free, rubbed = bass.line(plan, "latin"), bass.line(plan, "latin", above=[held])
    assert (free[2].onset, free[2].harmony_tick, free[2].pitch % 12) == (3 * BEAT, 4 * BEAT, 0)
    assert rubbed[2].harmony_tick == 0
    assert rubbed[2].pitch % 12 != 0
    assert (rubbed[3].onset, rubbed[3].pitch % 12) == (4 * BEAT, 0)


@pytest.mark.parametrize(("name", "positions"), [("waltz", {0}), ("dotted-waltz", {0, 1.5})])
def test_waltzes(bass: Any, name: str, positions: set[float]) -> None:
    """The bass on one ([JW1]); two equal notes a bar for the dotted-quarter pulse ([JW2])."""
    for plan, line in bass.over_shipped(name):
        bars = [
            {note.onset % plan.bar_ticks / BEAT for note in line if note.onset // plan.bar_ticks == bar}
            for bar in range(plan.bars)
        ]
        assert all(positions <= bar for bar in bars)


def test_every_other_bar_of_a_waltz_walks(bass: Any) -> None:
    line = bass.line(bass.plan("Imaj7 | vi7 | ii7 | V7", meter=bass.shipped.bass["waltz"].meters[0]), "waltz")
    counted = Counter(note.onset // (3 * BEAT) for note in line)
    assert [counted[bar] for bar in range(4)] == [2, 3, 2, 3]


def test_five_four_is_three_and_two(bass: Any) -> None:
    for plan, line in bass.over_shipped("five-four"):
        onsets = {note.onset % plan.bar_ticks / BEAT for note in line}
        assert {0, 3} <= onsets <= {0, 2.5, 3, 4}
        assert all(over_root(plan, note) == 0 for note in at_beat(plan, line, 0))


def test_a_shuffle_strikes_the_root_again_before_three(bass: Any) -> None:
    for plan, line in bass.over_shipped("shuffle-two-feel"):
        first_bars = [note for note in line if note.onset // plan.bar_ticks % 2 == 0]
        for note in at_beat(plan, first_bars, 1.5):
            assert over_root(plan, note) == 0
            assert note.length == HALF


# Lines that a bass that answers goes by: comp hits on one and the off-beat after two, or late in the bar.
def comp(*onsets: float, length: float = 0.5) -> list[ScoreNote]:
    return [
        ScoreNote(int(onset * BEAT), int(length * BEAT), 0, COMP, pitch)
        for onset in onsets
        for pitch in (64, 67)
    ]


ANSWERS = [
    ("answering", 4, (0, 1.5)),
    ("answering-in-three", 3, (0, 1.0)),
    ("answering-in-five", 5, (0, 1.5)),
]


@pytest.mark.parametrize(("name", "beats", "hits"), ANSWERS)
def test_an_answer_comes_after_the_comp_and_leads_on(
    bass: Any, name: str, *, beats: int, hits: tuple[float, ...]
) -> None:
    """Root on the change, then out of the comp's hits, then two or three notes into the next root."""
    plan = bass.plan("ii7 | V7 | Imaj7 | vi7", meter=bass.shipped.bass[name].meters[0])
    above = comp(*(beats * bar + hit for bar in range(4) for hit in hits))
    last_hit = max(hits)
    answered = 0
    for seed in range(12):
        line = bass.line(plan, name, above=above, seed=seed)
        for bar in range(4):
            notes = [note for note in line if note.onset // plan.bar_ticks == bar]
            root, *answer = notes
            assert root.onset == bar * plan.bar_ticks
            assert over_root(plan, root) == 0
            assert len(answer) in {0, 2, 3}
            answered += bool(answer)
            for note in answer:
                assert note.onset >= bar * plan.bar_ticks + (last_hit + 0.5) * BEAT
            following = [note.pitch for note in line if note.onset == (bar + 1) * plan.bar_ticks]
            if answer and following:
                assert abs(answer[-1].pitch - following[0]) in {1, 2, 5, 7}
    assert answered > 0.7 * 12 * 4


def test_an_answer_keeps_off_every_hit(bass: Any) -> None:
    plan = bass.plan("ii7 | V7 | Imaj7 | vi7")
    for hits in [(0.5, 2.0), (1.0, 3.5), (2.5,), (0.0, 3.0)]:
        above = comp(*(4 * bar + hit for bar in range(4) for hit in hits))
        struck = {note.onset for note in above}
        for seed in range(6):
            for note in bass.line(plan, "answering", above=above, seed=seed):
                assert note.onset not in struck or note.onset % plan.bar_ticks == 0


def test_an_answer_does_not_run_where_the_melody_does(bass: Any) -> None:
    """One mover at a time: no two notes of an answer in a beat in which another part has two."""
    plan = bass.plan("ii7 | V7 | Imaj7 | vi7")
    running = [ScoreNote(at * HALF, HALF, 0, 0, 76) for at in range(32)]
    for seed in range(8):
        line = bass.line(plan, "answering", above=running, seed=seed)
        assert max(Counter(note.onset // BEAT for note in line).values()) == 1


def test_at_a_run_of_tempo_answers_come_in_quarters(bass: Any) -> None:
    plan = bass.plan("ii7 | V7 | Imaj7 | vi7", tempo=240.0)
    for seed in range(6):
        assert all(not note.onset % BEAT for note in bass.line(plan, "answering", seed=seed))


def test_a_chord_between_the_steps_gets_its_root(make: Any, bass: Any) -> None:
    notes = bass.line(bass.plan("Imaj7 . . V7"), make.manner("0 root 4"))
    assert timed(notes) == [(0, 3), (3, 1)]
    assert [note.pitch % 12 for note in notes] == [0, 7]


def test_a_slash_bass_is_kept_below_its_chord(make: Any, bass: Any) -> None:
    notes = bass.line(bass.plan("iiø7/5 | V7"), make.manner("0 root 2, 2 third 2"))
    assert [note.pitch % 12 for note in notes[:2]] == [7, 7]


def test_bars_of_a_manner_take_turns(make: Any, bass: Any) -> None:
    two = replace(make.manner("0 root 4, 4 root 2, 6 fifth 2"), bars=2)
    line = bass.line(bass.plan("ii7 | V7 | Imaj7 | vi7"), two)
    assert [note.onset / BEAT for note in line[:-1]] == [0, 4, 6, 8, 12]


def test_each_word_plays_what_it_says(make: Any, bass: Any) -> None:
    """Over Dm7 to G7: members of the chord, or ways into G."""
    words = {
        "third": {5},
        "fifth": {9, 2},
        "seventh": {0},
        "octave": {2},
        "chromatic": {6, 8},
        "dominant": {2},
        "approach": {2, 5, 6, 8, 9},
        "enclosure": {5, 9},
    }
    plan = bass.plan("ii7 | V7")
    for word, allowed in words.items():
        manner = make.manner(f"0 root 3, 3 {word} 1")
        found = {bass.line(plan, manner, seed=seed)[1].pitch % 12 for seed in range(20)}
        assert found <= allowed, word


def test_an_octave_is_an_octave(make: Any, bass: Any) -> None:
    root, octave, *_ = bass.line(bass.plan("ii7 | V7"), make.manner("0 root 2, 2 octave 2"))
    assert abs(octave.pitch - root.pitch) == 12


@pytest.mark.parametrize("mode", list(Mode))
@pytest.mark.parametrize("name", ["roots", "two-feel", "walking", "bossa", "latin", "answering"])
@pytest.mark.parametrize("first_chord", ["I", "ii7", "bIII", "vi7", "i"])
def test_the_last_note_leads_to_the_heads_root(bass: Any, mode: Mode, name: str, first_chord: str) -> None:
    """A step, fourth or fifth from the head's root: the project's figure, common practice, no source."""
    text = "ii7 V7" if mode is Mode.MAJOR else "iiø7 V7"
    for seed, key in enumerate(keys(mode)[::3]):
        for bars in (text, f"{text} | Imaj7 VI7"):
            for pickup in ("0", "3/2"):
                plan = bass.plan(bars, key=str(key), first_chord=first_chord, pickup=Fraction(pickup))
                last = bass.line(plan, name, seed=seed)[-1]
                head = plan.head.bass.pitch_class
                apart = {abs(last.pitch - pitch) for pitch in range(20, 70) if pitch % 12 == head}
                assert apart & STEP_FOURTH_OR_FIFTH
                assert last.end <= plan.head_tick


def test_a_fifth_that_is_the_heads_root_gives_way(bass: Any) -> None:
    """In a two-feel the fifth of four would be the head's own root: the last note is another."""
    plan = bass.plan("i7 | IV13", key="C minor", leads=("i",))
    assert plan.chords[-1].chord.root.pitch_class == 5
    for seed in range(8):
        last = bass.line(plan, "two-feel", seed=seed)[-1]
        assert (last.pitch - plan.head.bass.pitch_class) % 12 in {1, 2, 5, 7, 10, 11}


@pytest.mark.parametrize("pickup", ["1", "3/2", "2", "3"])
@pytest.mark.parametrize("name", ["walking", "two-feel", "bossa", "answering", "latin"])
def test_the_pickups_beats_are_clear_or_thin(bass: Any, name: str, pickup: str) -> None:
    """At most one bass note begins in the beats of the tune's pickup."""
    for text in ("ii7 V7 | Imaj7 VI7 | ii7 V7", "ii7 | V7", "I6 VI7 | ii7 . V7 bII7"):
        plan = bass.plan(text, pickup=Fraction(pickup))
        start = plan.head_tick - int(Fraction(pickup) * BEAT)
        for seed in range(3):
            line = bass.line(plan, name, seed=seed)
            assert sum(note.onset >= start for note in line) <= 1


def test_the_bass_takes_over_where_the_pedal_point_is_freed(bass: Any) -> None:
    plan = bass.plan("ii7 V7 | ii7 V7", pedal="5", leads=("I",), first_chord="vi7")
    (note,) = bass.line(plan, "two-feel")
    assert note.onset == 6 * BEAT
    assert note.pitch % 12 == 4  # E, the root of the dominant of vi


def test_the_bass_is_silent_under_a_pedal_point(bass: Any) -> None:
    plan = bass.plan("iii7 VI7(b9) | ii7 V7", pedal="5")
    assert all(bass.line(plan, name) == [] for name in ("walking", "two-feel", "answering", "latin"))


def test_the_same_seed_brings_the_same_line_and_another_varies_it(bass: Any) -> None:
    plan = bass.plan("iii7 VI7 | ii7 V7 | Imaj7 | V7")
    for name in ("walking", "two-feel-with-skips", "answering"):
        lines = [bass.line(plan, name, seed=seed) for seed in range(12)]
        assert lines[5] == bass.line(plan, name, seed=5)
        assert len({tuple(note.pitch for note in line) for line in lines}) >= 4, name
        assert all(line[0].pitch % 12 == 4 for line in lines)
