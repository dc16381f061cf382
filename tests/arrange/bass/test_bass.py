from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.bass import bass_notes, pedal_notes
from introit.arrange.plan import Plan, plan_intro
from introit.arrange.score import COMP, ScoreNote
from introit.library.model import PedalPoint
from introit.theory.key import Mode, keys
from introit.theory.pitch import Tone

STEP_FOURTH_OR_FIFTH = {1, 2, 5, 7}
WALKING = "0 root 1, 1 chord 1, 2 fifth 1, 3 approach 1"


def plan_of(
    make: Any, text: str, *, pedal: str | None = None, leads: tuple[str, ...] = (), **fields: Any
) -> Plan:
    tune = make.tune(**fields)
    written = make.intro(
        make.form(text, tune.key.mode, leads_to=leads), pedal=PedalPoint(pedal) if pedal else None
    )
    return plan_intro(written, tune, tune.key)


def timed(notes: list[ScoreNote]) -> list[tuple[float, float]]:
    return [(note.onset / 960, note.length / 960) for note in notes]


def test_root_on_each_chord_and_a_two_feel_between(make: Any) -> None:
    """Root on one, fifth on three (TRADE 5, [BW6]); a chord that changes on three brings its root there."""
    notes = bass_notes(plan_of(make, "ii7 V7 | Imaj7"), make.manner("0 root 2, 2 fifth 2"))
    assert timed(notes) == [(0, 2), (2, 2), (4, 2), (6, 2)]
    assert [note.pitch % 12 for note in notes] == [2, 7, 0, 7]


def test_a_chord_between_the_steps_gets_its_root(make: Any) -> None:
    notes = bass_notes(plan_of(make, "Imaj7 . . V7"), make.manner("0 root 4"))
    assert timed(notes) == [(0, 3), (3, 1)]
    assert [note.pitch % 12 for note in notes] == [0, 7]


def test_a_slash_bass_is_kept_below_its_chord(make: Any) -> None:
    notes = bass_notes(plan_of(make, "iiø7/5 | V7"), make.manner("0 root 2, 2 third 2"))
    assert [note.pitch % 12 for note in notes[:2]] == [7, 7]


def test_walking_roots_on_changes_and_approaches_before_them(make: Any) -> None:
    """Targets on a chord's first beat, approaches on the beat before (TRADE 6, [BW1], [BW2])."""
    plan = plan_of(make, "ii7 V7 | Imaj7 | IVmaj7")
    notes = bass_notes(plan, make.manner(WALKING))
    roots = {planned.onset: planned.chord.bass.pitch_class for planned in plan.chords}
    assert all(note.pitch % 12 == roots[note.onset] for note in notes if note.onset in roots)
    for before, after in pairwise(notes):
        if after.onset in roots:
            assert abs(before.pitch - after.pitch) in (1, 2)
        assert before.pitch != after.pitch


# Walking lines by hand: a half step that is a chord tone leads on, the b5 of a half-diminished two into the
# five, the third of the five into the one (TRADE 6, [BW6]); never the other third of the chord.
@pytest.mark.parametrize(
    ("key", "text", "expected"),
    [
        ("C minor", "iiø7 V7 | i6/9", "D Ab G B C"),
        ("C minor", "iiiø7 VI7(b9,b13) | iiø7 V7(b9,b13)", "E Bb A C# D Ab G B"),
        ("C", "ii9 V13 | Imaj9", "D A G B C"),
        ("Eb", "ii9 V13 | Imaj9", "F C Bb D Eb"),
    ],
)
def test_walking_lines_by_hand(make: Any, key: str, text: str, *, expected: str) -> None:
    notes = bass_notes(plan_of(make, text, key=key), make.manner(WALKING))
    wanted = [Tone.from_text(name).pitch_class for name in expected.split()]
    assert [note.pitch % 12 for note in notes][: len(wanted)] == wanted


@pytest.mark.parametrize("mode", list(Mode))
@pytest.mark.parametrize(
    ("two", "other_third"), [("ii7", 4), ("ii9", 4), ("iiø7", 4), ("iv6", 4), ("IVmaj7", 3)]
)
@pytest.mark.parametrize("five", ["V7", "bII7", "VI7", "bVImaj7"])
def test_the_bass_never_plays_the_other_third(
    make: Any, mode: Mode, two: str, *, other_third: int, five: str
) -> None:
    """F# under Dm7 says D7, and Ab under Fmaj7 says Fm: common practice, no source."""
    for key in keys(mode):
        plan = plan_of(make, f"{two} {five} | {two} | {five}", key=str(key))
        root = plan.chords[0].chord.root.pitch_class
        for note in bass_notes(plan, make.manner(WALKING)):
            if plan.chords[plan.at(note.onset)].numeral == plan.chords[0].numeral:
                assert (note.pitch - root) % 12 != other_third, (str(key), two, five)


def test_the_bass_keeps_from_under_a_minor_ninth(make: Any) -> None:
    """Dm7 to G7 with a Bb held over beat two: A, a minor ninth under it, is given up for another approach."""
    plan = plan_of(make, "ii7 V7 | Imaj7")
    plain = bass_notes(plan, make.manner(WALKING))
    held = ScoreNote(960, 960, 0, COMP, 70)
    other = bass_notes(plan, make.manner(WALKING), above=[held])
    assert (plain[1].pitch % 12, other[1].pitch % 12) == (9, 8)  # A; Ab, a half step over G


def test_a_bass_note_is_let_go_for_a_pushed_minor_ninth(make: Any) -> None:
    """The root cannot give way, so it ends where the comp takes the coming chord early."""
    plan = plan_of(make, "ii7 | V7")
    pushed = ScoreNote(1440, 2400, 3840, COMP, 63)
    root, *_ = bass_notes(plan, make.manner("0 root 4"), above=[pushed])
    assert (root.pitch % 12, root.onset, root.end) == (2, 0, 1440)


@pytest.mark.parametrize("mode", list(Mode))
@pytest.mark.parametrize("steps", ["0 root 2, 2 fifth 2", "0 root 4", WALKING])
@pytest.mark.parametrize("first_chord", ["I", "ii7", "IVmaj7", "vi7", "i"])
def test_the_last_note_leads_to_the_heads_root(make: Any, mode: Mode, steps: str, first_chord: str) -> None:
    """A step, fourth or fifth from the head's root: the project's figure, common practice, no source."""
    for key in keys(mode):
        plan = plan_of(
            make, "ii7 V7" if mode is Mode.MAJOR else "iiø7 V7", key=str(key), first_chord=first_chord
        )
        last = bass_notes(plan, make.manner(steps))[-1]
        apart = {
            abs(last.pitch - pitch) for pitch in range(20, 70) if pitch % 12 == plan.head.bass.pitch_class
        }
        assert apart & STEP_FOURTH_OR_FIFTH


def test_the_register_is_a_double_basss_and_mostly_below_d3(make: Any) -> None:
    """E1 to G3, mostly below D3 (TRADE 4, memory; open strings from E1 seen in [DB1])."""
    pitches = [
        note.pitch
        for key in keys(Mode.MAJOR)
        for note in bass_notes(plan_of(make, "iii7 VI7 | ii7 V7 | Imaj7", key=str(key)), make.manner(WALKING))
    ]
    assert 28 <= min(pitches) <= max(pitches) <= 55
    assert sum(pitch < 50 for pitch in pitches) >= 0.95 * len(pitches)


def test_walking_is_smooth(make: Any) -> None:
    for key in keys(Mode.MAJOR):
        notes = bass_notes(plan_of(make, "iii7 VI7 | ii7 V7 | Imaj7", key=str(key)), make.manner(WALKING))
        leaps = [abs(after.pitch - before.pitch) for before, after in pairwise(notes)]
        assert max(leaps) <= 9
        assert sum(leap <= 5 for leap in leaps) >= 0.8 * len(leaps)


def test_the_bass_is_silent_under_a_pedal_point(make: Any) -> None:
    plan = plan_of(make, "iii7 VI7(b9) | ii7 V7", pedal="5")
    assert bass_notes(plan, make.manner(WALKING)) == []
    notes = pedal_notes(plan)
    assert timed(notes) == [(0, 2), (2, 2), (4, 2), (6, 2)]
    assert {note.pitch % 12 for note in notes} == {7}
    assert all(28 <= note.pitch <= 50 for note in notes)


@pytest.mark.parametrize(("meter", "expected"), [(1, [(0, 3)]), (2, [(0, 3), (3, 2)])])
def test_the_pedal_point_is_struck_on_the_strong_beats(
    make: Any, meter: int, expected: list[tuple[float, float]]
) -> None:
    assert timed(pedal_notes(plan_of(make, "ii7 V7", pedal="5", meter=make.meters[meter]))) == expected


def test_a_fast_pedal_point_is_struck_once_a_bar(make: Any) -> None:
    assert timed(pedal_notes(plan_of(make, "ii7 V7", pedal="5", tempo=240.0))) == [(0, 4)]


def test_the_bass_takes_over_where_the_pedal_point_is_freed(make: Any) -> None:
    plan = plan_of(make, "ii7 V7 | ii7 V7", pedal="5", leads=("I",), first_chord="vi7")
    assert timed(pedal_notes(plan)) == [(0, 2), (2, 2), (4, 2)]
    (note,) = bass_notes(plan, make.manner("0 root 2, 2 fifth 2"))
    assert (note.onset, note.end) == (5760, 7680)
    assert note.pitch % 12 == 4  # E, the root of the dominant of vi
