"""Every hard rule: a score that breaks it, at a bar and beat, and one like it that keeps it.

What may and may not sound is common practice (no source) but where a source is named.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

from introit.arrange.review import Breach
from introit.arrange.score import Score, ScoreNote
from introit.library.model import Passage
from introit.theory.plucking import Plucking

Write = Callable[..., Score]
Judge = Callable[[Score], list[Breach]]


class Case(NamedTuple):
    """A rule, a score that breaks it there, and lines that keep it."""

    rule: str
    says: str
    at: tuple[int, float]
    bad: tuple[str, ...]
    good: tuple[str, ...]
    harmony: str = "Imaj7 | V7"
    options: dict[str, Any] = {}  # noqa: RUF012 - never changed


TWO_HAND = (Passage(1, "two-hand"),)
SOLO = {"line_up": "solo guitar"}
BASS = {"line_up": "with bass"}

CASES = [
    # Guitar: standard tuning E2 A2 D3 G3 B3 E4 ([Ra05]).
    Case(
        "place", "no string and fret for E4", (1, 2), ("comp 1:2 1 E4",), ("comp 1:2 1 E4@1/0",), options=BASS
    ),
    Case(
        "place",
        "E4 does not lie on string 1 fret 2",
        (1, 2),
        ("comp 1:2 1 E4@1/2",),
        ("comp 1:2 1 E4@2/5",),
        options=BASS,
    ),
    Case(
        "place",
        "bass: no string and fret for C3",
        (1, 1),
        ("bass 1:1 1 C3",),
        ("bass 1:1 1 C3@5/3",),
        options=SOLO,
    ),
    Case(
        "string",
        "string 2: C4 still sounds under D4",
        (1, 3),
        ("comp 1:1 4 C4@2/1 G4@1/3", "melody 1:3 1 D4@2/3"),
        ("comp 1:1 2 C4@2/1 G4@1/3", "melody 1:3 1 D4@2/3"),
        options=SOLO,
    ),
    # Frets 1 and 8 at once are 208 mm apart on a 648 mm scale; no hand reaches that.
    Case(
        "grip",
        "comp and bass: 1xx8x8 (F2 Eb4 C5)",
        (1, 2),
        ("bass 1:1 4 F2@6/1", "comp 1:2 1 Eb4@3/8 C5@1/8"),
        ("bass 1:1 1 F2@6/1", "comp 1:2 1 Eb4@3/8 C5@1/8"),
        harmony="IV7 | V7",
        options=SOLO,
    ),
    Case(
        "grip",
        "finger 1 is at two frets",
        (1, 1),
        ("comp 1:1 1 C4@2/1/1 G4@1/3/1",),
        ("comp 1:1 1 C4@2/1/1 G4@1/3/3",),
        options=BASS,
    ),
    # Fingers pluck four strings (common practice, no source); a roll takes them one by one.
    Case(
        "plucking",
        "5 strings at once, fingers pluck at most 4",
        (1, 1),
        ("comp 1:1 1 C3@5/3 E3@4/2 G3@3/0 C4@2/1 E4@1/0",),
        ("comp 1:1 1 C3@5/3 E3@4/2 G3@3/0 C4@2/1 E4@1/0 rolled",),
        options=BASS,
    ),
    # Between open strings 5 and 3 nothing damps string 4, and a pick sweeps over it.
    Case(
        "plucking",
        "string 4",
        (1, 1),
        ("comp 1:1 1 A2@5/0 G3@3/0",),
        ("comp 1:1 1 A2@5/0 G3@3/0",),
        options=SOLO | {"plucking": Plucking.PICK},
    ),
    Case(
        "position change",
        "from position 1 to 8, 7 frets, without a rest",
        (1, 3),
        ("comp 1:1 2 F4@1/1/1", "comp 1:3 1 C5@1/8/1"),
        ("comp 1:1 1 F4@1/1/1", "comp 1:3 1 C5@1/8/1"),
        options=BASS,
    ),
    Case(
        "position change",
        "for the second time in the bar",
        (1, 4),
        ("comp 1:1 .5 F4@1/1/1", "comp 1:2.5 .5 C5@1/8/1", "comp 1:4 1 F4@1/1/1"),
        ("comp 1:1 .5 F4@1/1/1", "comp 1:2.5 .5 C5@1/8/1", "comp 2:1 1 F4@1/1/1"),
        options=BASS,
    ),
    Case("range", "bass: D1 is outside E1 to G3", (2, 1), ("bass 2:1 1 D1",), ("bass 2:1 1 G1",)),
    Case("range", "melody: B3 is outside", (1, 1), ("melody 1:1 1 B3",), ("melody 1:1 1 C4",)),
    Case("length", "E4 lasts 60 ticks", (1, 2), ("comp 1:2 1/16 E4",), ("comp 1:2 1/16 E4 grace",)),
    # [LI-A], [LI-B]: the lower note of a minor third no lower than C3, of a minor ninth than E2.
    Case(
        "low interval",
        "D2 under F2 is below the limit of a minor third (C3)",
        (1, 2.5),
        ("bass 1:1 4 D2", "comp 1:2.5 1 F2"),
        ("bass 1:1 4 D2", "comp 1:2.5 1 F3"),
        harmony="ii7 | V7",
    ),
    Case(
        "low interval",
        "comp and bass: D2 under Eb3 is below the limit of a minor ninth (E2)",
        (1, 1),
        ("bass 1:1 1 D2", "comp 1:1 1 Eb3"),
        ("bass 1:1 1 D2", "comp 1:2 1 Eb3"),
    ),
    Case(
        "clash",
        "comp and bass: B2 under C4 is a minor ninth",
        (1, 1),
        ("bass 1:1 2 B2", "comp 1:1 2 C4"),
        ("bass 1:1 2 B2", "comp 1:1 2 D4"),
    ),
    Case(
        "clash",
        "melody and comp: E4 under F4 is a minor second",
        (1, 2),
        ("comp 1:1 2 E4", "melody 1:2 1 F4"),
        ("comp 1:1 2 E4 F4",),
    ),
    # The dominant's own b9 over its root is the standing exception (from memory), over another tone not.
    Case(
        "clash",
        "G4 under Ab5 is a minor ninth",
        (2, 1),
        ("comp 2:1 1 G4", "melody 1:4 2 Ab5"),
        ("bass 2:1 1 G2", "comp 2:1 1 F4 Ab4 B4"),
        harmony="Imaj7 | V7(b9)",
    ),
    # So it is where the upper note comes early, from another dominant on the same root.
    Case(
        "clash",
        "A2 under Bb4 is a minor ninth and octaves",
        (1, 4.5),
        ("bass 1:1 4 A2", "melody 1:4.5 1 Bb4 push"),
        ("bass 1:1 4 G2", "melody 1:4.5 1 Ab4 push"),
        harmony="V7sus4 | V7(b9)",
    ),
    # And where it is held over into a dominant that has it.
    Case(
        "clash",
        "G2 under Ab4 is a minor ninth and octaves",
        (2, 1),
        ("bass 2:1 4 G2", "melody 1:4.5 1 Ab4"),
        ("bass 2:1 4 G2", "melody 1:4.5 1/2 Ab4"),
        harmony="bVI13 | V13",
    ),
    Case(
        "clash",
        "Gb2 under G4 is a minor ninth and octaves",
        (1, 1),
        ("bass 1:1 4 Gb2", "melody 1:1 1 G4"),
        ("bass 2:1 4 G2", "melody 1:4.5 1 Ab4"),
        harmony="bVI13 | V7(#9)",
    ),
    Case(
        "comp floor",
        "comp: B2 is below C3",
        (1, 1),
        ("comp 1:1 1 B2",),
        ("comp 1:1 1 B3",),
    ),
    Case(
        "over the bass",
        "C3 under E3 is closer than 7 semitones",
        (1, 2),
        ("bass 1:1 2 C3", "comp 1:2 1 E3 B3"),
        ("bass 1:1 2 C3", "comp 1:2 1 G3 B3"),
    ),
    # Root omitted when a bass player plays ([RL], [Ke02]).
    Case(
        "root",
        "comp: C4 is the root of Cmaj7",
        (1, 2),
        ("comp 1:2 1 B3 C4 E4",),
        ("comp 1:2 1 B3 D4 E4",),
    ),
    Case(
        "change",
        "belongs to another chord than G7",
        (2, 1),
        ("bass 1:1 4 C3", "comp 2:1 1 B3 F4 late"),
        ("bass 1:1 4 C3", "comp 2:1 1 B3 F4"),
    ),
    Case(
        "change",
        "bass: D2 under G7, which wants G",
        (2, 1),
        ("bass 1:1 4 C2", "bass 2:1 4 D2"),
        ("bass 1:1 4 C2", "bass 2:1 2 G2", "bass 2:3 2 D2"),
    ),
    Case(
        "change",
        "bass: D2 under G7/F, which wants F",
        (2, 1),
        ("bass 2:1 4 D2",),
        ("bass 2:1 4 F2",),
        harmony="Imaj7 | V7/4",
    ),
    Case(
        "change",
        "comp: C4 is held into G7",
        (2, 1),
        ("comp 1:3 3 B3 C4",),
        ("comp 1:3 3 B3 D4",),
    ),
    # 11 over a major third is the note to avoid ([AN], [TP1]).
    Case(
        "melody tone",
        "F5 on a strong beat is no tone of Cmaj7",
        (1, 3),
        ("melody 1:3 1 F5", "melody 1:4 1 E5"),
        ("melody 1:2 1 F5", "melody 1:3 1 E5"),
    ),
    Case(
        "melody tone",
        "does not move on by step",
        (1, 4),
        ("melody 1:4 1 F5", "melody 2:1 1 B4"),
        ("melody 1:1 1 F5", "melody 1:3 1 F5", "melody 1:4 1 E5"),
        harmony="ii7 Imaj7 | V7",
    ),
    Case(
        "melody tone",
        "does not move on by step",
        (2, 2),
        ("melody 2:2 1 F#5",),
        ("melody 2:2 1 C5",),
        options={"first_note": "7"},
    ),
    Case(
        "after the head",
        "bass: G2 sounds past the head's downbeat (landing: cut)",
        (2, 4),
        ("bass 2:4 2 G2",),
        ("bass 2:4 1 G2",),
    ),
    Case(
        "after the head",
        "comp: E4 sounds past",
        (3, 1),
        ("comp 3:1 2 E4",),
        ("comp 3:1 1/2 E4",),
        options={"landing": "chord"},
    ),
    Case(
        "last bass note",
        "bass: E2 is no step, fourth or fifth from C",
        (2, 4),
        ("bass 2:1 3 G2", "bass 2:4 1 E2"),
        ("bass 2:1 3 G2", "bass 2:4 1 B2"),
    ),
    Case(
        "melody out",
        "melody: D5 sounds past beat 3 of the last bar",
        (2, 2),
        ("melody 2:2 1.5 D5",),
        ("melody 2:2 1 D5",),
    ),
    Case(
        "melody out",
        "E5 doubles the head's first note",
        (2, 4),
        ("melody 2:3 1 D5", "melody 2:4 .5 E5"),
        ("melody 2:3 1 E5", "melody 2:4 .5 D5"),
        options={"first_note": "3"},
    ),
    Case(
        "pickup",
        "melody: D5 sounds in the pickup",
        (2, 2),
        ("melody 2:2 1 D5",),
        ("melody 2:1 1 D5",),
        options={"pickup": 3},
    ),
    Case(
        "pickup",
        "comp: 2 onsets in the pickup",
        (2, 4),
        ("comp 2:3 .5 B3 F4", "comp 2:4 .5 B3 F4"),
        ("comp 2:2 .5 B3 F4", "comp 2:3 .5 B3 F4"),
        options={"pickup": 2},
    ),
    Case(
        "push into the head",
        "a hit on the last eighth",
        (2, 4.5),
        ("comp 2:4.5 .5 B3 F4",),
        ("comp 2:4 .5 B3 F4",),
    ),
]
EXCEPTIONS = [
    (
        "clash",
        "a declared pedal point",
        "Imaj7 | bII7",
        ("pedal 2:1 4 C2", "comp 2:1 1 Db4 B4"),
        {"pedal": "1"},
    ),
    ("clash", "a grace note", "Imaj7 | V7", ("comp 1:1 2 E4", "melody 1:2 .25 F5 grace"), {}),
    ("root", "a slash bass", "Imaj7/3 | V7", ("comp 1:2 1 B3 C4 G4",), {}),
    ("root", "a triad", "I | V7", ("comp 1:2 1 G3 C4 E4",), {}),
    ("root", "a sixth chord", "I6 | V7", ("comp 1:2 1 A3 C4 E4",), {}),
    ("root", "a diminished chord", "#I°7 | V7", ("comp 1:2 1 G3 C#4 E4",), {}),
    ("root", "a guitar alone", "Imaj7 | V7", ("comp 1:2 1 B3@2/0 C4@3/5",), SOLO),
    ("root", "a low shell of two hands", "Imaj7 | V7", ("comp 1:2 1 C3 B3 E4",), {"passages": TWO_HAND}),
    ("last bass note", "a pedal point", "I | V7", ("pedal 2:1 4 C2",), {"pedal": "1"}),
    ("after the head", "a ring", "I | V7", ("comp 2:4.5 4.5 E4 G4",), {"landing": "ring", "ring": 4}),
    ("push into the head", "a ring", "I | V7", ("comp 2:4.5 4.5 E4 G4",), {"landing": "ring", "ring": 4}),
    ("melody out", "a lead into the first note", "I | V7", ("melody 2:4 1 D5",), {"first_note": "3"}),
    ("change", "a chord that comes again", "Imaj7 | Imaj7", ("bass 1:1 4 C2", "bass 2:1 4 E2"), {}),
    ("change", "a push", "Imaj7 | V7", ("comp 1:4.5 1.5 B3 F4 push",), {}),
    ("change", "a common bass note", "IVmaj7 | ii7/4", ("bass 1:1 8 F2",), {}),
]


def breaches(judge: Judge, score: Score, rule: str) -> list[Breach]:
    return [breach for breach in judge(score) if breach.rule == rule]


def test_the_notation_reads_as_it_is_meant(write: Write) -> None:
    score = write("ii7 V7 | Imaj7", "comp 1:2.5 1.5 E4@1/0 push")
    assert score.notes == (ScoreNote(1440, 1440, 1920, 1, 64, string=1, fret=0),)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.rule}: {case.says}")
def test_a_broken_rule_speaks_with_bar_and_beat(case: Case, write: Write, judge: Judge) -> None:
    found = breaches(judge, write(case.harmony, *case.bad, **case.options), case.rule)
    assert (found[0].bar, found[0].beat) == case.at, found
    assert case.says in str(found[0])
    options = case.options if case.good != case.bad else case.options | {"plucking": Plucking.FINGERS}
    assert breaches(judge, write(case.harmony, *case.good, **options), case.rule) == []


@pytest.mark.parametrize(("rule", "why", "harmony", "lines", "options"), EXCEPTIONS)
def test_what_a_rule_lets_pass(
    rule: str,
    why: str,
    harmony: str,
    lines: tuple[str, ...],
    options: dict[str, Any],
    write: Write,
    judge: Judge,
) -> None:
    assert breaches(judge, write(harmony, *lines, **options), rule) == [], why


def test_a_pedal_that_nobody_declared_may_not_grate(write: Write, judge: Judge) -> None:
    lines = ("bass 2:1 4 C2", "comp 2:1 1 Db4 B4")
    assert breaches(judge, write("Imaj7 | bIImaj7", *lines), "clash")
    assert not breaches(judge, write("Imaj7 | bIImaj7", *lines, pedal="1"), "clash")
