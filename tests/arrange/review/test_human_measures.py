"""Every measure of what keeps an intro human: a score over its bounds, at a bar and beat, and one within.

The figures are common practice (no source); they stand in patterns/measures.yaml, and the scores here lie
well on either side of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any, NamedTuple

import pytest

from introit.arrange.review import Breach, review
from introit.arrange.score import BASS, COMP, Score, Touch
from introit.library.measures import UNITS, Measures
from introit.library.model import Passage
from introit.performance import Performance, PlayedNote

Write = Callable[..., Score]
Judge = Callable[[Score], list[Breach]]

FOUR_BARS = "Imaj7 | vi7 | ii7 | V7"
NINE_CHORDS = "Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii7 V7 | Imaj7"
ROLLED = (Passage(1, "rolled"),)
ARPEGGIO = (Passage(1, "harmonised arpeggio"),)
COMMON_TONE = (Passage(1, "common tone"),)


class Case(NamedTuple):
    """A measure, a score over its bounds, where that is told, and lines that keep them."""

    rule: str
    at: tuple[int, float]
    bad: tuple[str, ...]
    good: tuple[str, ...]
    says: str = ""
    harmony: str = FOUR_BARS
    options: dict[str, Any] = {}  # noqa: RUF012 - never changed


def every_bar(*texts: str, bars: int = 4) -> tuple[str, ...]:
    """The same in each bar; `{}` stands for its number."""
    return tuple(text.format(bar) for bar in range(1, bars + 1) for text in texts)


def struck(places: str, length: str = "1/2", pitches: str = "E4 B4") -> tuple[str, ...]:
    """Comp hits at `1:1 1:2.5 ...`."""
    return tuple(f"comp {place} {length} {pitches}" for place in places.split())


LINE = ("melody {}:2 1 E5", "melody {}:3 1 D5")


def tops(*pitches: str) -> tuple[str, ...]:
    """A hit on 1 and on 3, with these on top."""
    return tuple(
        f"comp {number // 2 + 1}:{number % 2 * 2 + 1} 1 {pitch}" for number, pitch in enumerate(pitches)
    )


CASES = [
    Case(
        "one mover",
        (1, 1),
        every_bar(
            "melody {}:1 .5 E5",
            "melody {}:1.5 .5 D5",
            "bass {}:1 .5 C2",
            "bass {}:1.5 .5 G2",
            "comp {}:3 1 B3",
        ),
        every_bar("melody {}:1 .5 E5", "melody {}:1.5 .5 D5", "bass {}:1 1 C2", "comp {}:3 1 B3"),
        says="in 4 of 8 beats",
        options={"passages": ROLLED},
    ),
    Case(
        "comp in the gaps",
        (1, 2),
        every_bar(*LINE, "comp {}:2 .5 B3", "comp {}:2.5 .5 B3"),
        every_bar(*LINE, "comp {}:2 .5 B3", "comp {}:1 .5 B3", "comp {}:4 .5 B3"),
        says="0 of 8 hits",
        options={"passages": COMMON_TONE},
    ),
    Case(
        "comp on the melody",
        (1, 2),
        every_bar(*LINE, "comp {}:2 .5 B3", "comp {}:4 .5 B3"),
        every_bar(*LINE, "comp {}:2.5 .5 B3", "comp {}:4 .5 B3"),
        says="4 of 8 hits",
        options={"passages": COMMON_TONE},
    ),
    Case(
        "hits a bar",
        (1, 1),
        every_bar(*struck("{0}:1 {0}:2 {0}:3")),
        every_bar(*struck("{0}:1 {0}:3")),
        says="3.00 hits a bar",
    ),
    Case(
        "hits a bar",
        (2, 1),
        struck("1:1 3:1"),
        struck("1:1 2:1 3:1 4:1"),
        says="0.50 hits a bar",
    ),
    Case(
        "thin bar",
        (1, 1),
        every_bar(*struck("{0}:1 {0}:3")),
        every_bar(*struck("{0}:1 {0}:3"), bars=3),
        says="bars 1 to 4",
    ),
    Case(
        "melody sounding",
        (1, 1),
        every_bar("melody {}:1 3 E5"),
        every_bar("melody {}:1 2.5 E5"),
        says="75 percent",
    ),
    Case(
        "melody rest",
        (3, 1),
        ("melody 1:1 3 E5", "melody 3:1 3.5 E5", "melody 4:1 3.5 D5"),
        ("melody 1:1 3 E5", "melody 3:1 3 E5", "melody 4:1 3.5 D5"),
        says="0.5 beats",
    ),
    Case(
        "phrases off one",
        (1, 1),
        ("melody 1:1 1 E5", "melody 2:1 1 E5", "melody 3:2 1 E5"),
        ("melody 1:1 1 E5", "melody 2:1.5 1 E5"),
        says="2 of 3 phrases",
    ),
    Case(
        "voices a chord",
        (1, 1),
        struck("1:1 2:1 3:1 4:1", pitches="E3 B3 D4 G4"),
        (*struck("1:1 2:1", pitches="E3 B3 D4 G4"), *struck("3:1 4:1", pitches="F4 C5")),
        says="4.00 voices",
    ),
    Case(
        "full grips",
        (3, 1),
        struck("1:1 1:3 3:1", pitches="E3 G3 B3 D4 F#4"),
        struck("1:1 1:3", pitches="E3 G3 B3 D4 F#4"),
        says="2 chords",
    ),
    Case(
        "same rhythm",
        (3, 1),
        every_bar(*struck("{0}:1 {0}:2.5"), bars=3),
        (*every_bar(*struck("{0}:1 {0}:2.5"), bars=2), *struck("3:1.5 3:3 4:1 4:2.5")),
        says="beats 1, 2.5) in 3 bars",
    ),
    Case(
        "short hits",
        (1, 1),
        every_bar(*struck("{0}:1 {0}:3", "2")),
        (*every_bar(*struck("{0}:1", "2")), *every_bar(*struck("{0}:3", "1/2"))),
        says="0 of 8 hits are short",
    ),
    Case(
        "held hits",
        (1, 1),
        every_bar(*struck("{0}:1 {0}:3", "1/2")),
        (*every_bar(*struck("{0}:1", "2")), *every_bar(*struck("{0}:3", "1/2"))),
        says="0 of 8 hits are held",
    ),
    Case(
        "release",
        (2, 1),
        ("comp 2:1 7/5 E4",),
        ("comp 2:1 4/3 E4", "comp 3:1 5/4 E4", "comp 3:3 7/5 E4", "comp 3:4.4 1.6 E4"),
        says="ends at beat 2.40",
    ),
    Case(
        "pushes",
        (1, 3),
        tuple(f"comp {place} 1 E4" for place in ("1:1", "1:3", "2:1", "2:3", "3:1", "3:3", "4:1", "4:3")),
        ("comp 1:2.5 1 E4 push", "comp 1:4.5 1 F4 push", "comp 2:4.5 1 E4 push", "comp 4:3 1 F4"),
        harmony=NINE_CHORDS,
        says="0 of 8 changes",
    ),
    Case(
        "pushes in a ballad",
        (2, 1),
        ("comp 1:4.5 1 E4 push",),
        ("comp 2:1 1 E4",),
        options={"feel": "ballad"},
    ),
    Case(
        "top voice steps",
        (1, 3),
        tops("E4", "A4", "E4", "A4", "E4", "A4", "E4", "A4", "E4"),
        tops("E4", "F4", "G4", "F4", "E4", "E4", "A4", "G4", "E4"),
        harmony=f"{FOUR_BARS} | Imaj7",
        says="0 of 8 moves",
    ),
    Case(
        "top voice leaps",
        (2, 1),
        tops("E4", "B4", "E4"),
        tops("E4", "B4", "B4", "G4", "E4"),
        says="B4 to E4",
    ),
    Case(
        "top voice leaps",
        (2, 1),
        (*tops("E4", "B4", "E4"), "melody 1:2 .5 F5"),
        (*tops("E4", "B4", "E4"), "melody 1:2 .5 A4"),
        says="B4 to E4",
    ),
    Case(
        "top voice leaps",
        (2, 1),
        (*tops("E4", "B4", "E4"), "melody 2:2 .5 F5"),
        (*tops("E4", "B4", "E4"), "melody 2:2 .5 A4"),
        says="B4 to E4",
    ),
    Case(
        "under the melody",
        (1, 2),
        ("comp 1:1 2 D4", "melody 1:2 1 E4"),
        ("comp 1:1 2 C4", "melody 1:2 1 E4"),
        says="D4 is no third under the melody's E4",
    ),
    Case(
        "melody's place",
        (1, 3),
        ("melody 1:1 2 G4", "melody 1:3.5 1 E5", "comp 1:3 .5 A4"),
        ("melody 1:1 2 G4", "melody 1:3.5 1 E5", "comp 1:3 .5 E4", "comp 2:3 .5 A4"),
        says="A4 is in the place of a phrase that goes down to G4",
    ),
    Case(
        "highest note",
        (1, 1),
        ("melody 1:1 1 G5", "melody 3:3 1 E5"),
        ("melody 1:1 1 E5", "melody 3:3 1 G5"),
        says="G5, the highest note, comes at 0 percent",
    ),
    Case(
        "highest note",
        (4, 1),
        ("melody 3:3 1 G5", "melody 4:1 1 G5"),
        ("melody 3:3 1 G5", "melody 3:4 1 G5"),
        says="comes back in another chord",
    ),
    Case(
        "densest tension",
        (2, 1),
        ("comp 2:1 1 C4 G4 B4 D5", "comp 4:1 1 F4 A4 B4"),
        ("comp 2:1 1 C4 G4 B4", "comp 4:1 1 F4 A4 B4"),
        says="Am7 sounds 2 tensions, the last dominant 1",
    ),
    Case(
        "plain shell",
        (1, 1),
        every_bar(*struck("{0}:1 {0}:3", pitches="D4 F#4")),
        (*every_bar(*struck("{0}:1 {0}:3", pitches="D4 F#4")), *struck("1:4", pitches="E4 B4")),
        says="0 hits of 8",
    ),
    Case(
        "plain shell",
        (1, 1),
        every_bar(*struck("{0}:1 {0}:3", pitches="D4 F4 Ab4 C5")),
        (*every_bar(*struck("{0}:1 {0}:3", pitches="D4 F4 Ab4 C5")), *struck("1:4", pitches="F4 Ab4 C5")),
        says="0 hits of 8 ",
        harmony="iiø7 | iiø7 | iiø7 | iiø7",
    ),
    Case(
        "slides",
        (2, 1),
        ("comp 1:1 .25 Eb4 grace", "comp 2:1 .25 Eb4 grace"),
        ("comp 1:1 .25 Eb4 A4 grace", "comp 3:1 .25 Eb4 grace"),
    ),
    Case(
        "grace notes",
        (1, 2.5),
        (
            "melody 1:1 .25 D#5 grace",
            "melody 1:1.25 1 E5",
            "melody 1:2.5 .25 F#5 grace",
            "melody 1:2.75 1 G5",
        ),
        ("melody 1:1 .25 D#5 grace", "melody 1:1.25 1 E5", "melody 2:1 .25 F#5 grace", "melody 2:1.25 1 G5"),
    ),
]

BALLAD = {"feel": "ballad", "harmony": "Imaj7 | Imaj7 | V7"}
LEFT_OUT = [
    (
        "one mover",
        "block",
        every_bar("melody {}:1 .5 E5", "melody {}:1.5 .5 D5", "comp {}:1 .5 C4", "comp {}:1.5 .5 C4"),
        {},
    ),
    (
        "hits a bar",
        "a rhythm that is a pulse",
        every_bar(*struck("{0}:1 {0}:2 {0}:3 {0}:4")),
        {"steady": True},
    ),
    ("hits a bar", "even eighths", every_bar(*struck("{0}:1 {0}:2 {0}:3 {0}:4")), {"feel": "bossa"}),
    (
        "hits a bar",
        "three bars",
        every_bar(*struck("{0}:1 {0}:2 {0}:3"), bars=3),
        {"harmony": "Imaj7 | ii7 | V7"},
    ),
    (
        "hits a bar",
        "a bar that the pickup takes",
        every_bar(*struck("{0}:1")),
        {"harmony": "Imaj7 | vi7 | ii7 | V7 | V7", "pickup": Fraction(4)},
    ),
    (
        "same rhythm",
        "a bar that the pickup cuts short",
        every_bar(*struck("{0}:1 {0}:2.5"), bars=3),
        {"harmony": "Imaj7 | ii7 | V7", "pickup": Fraction(3, 2)},
    ),
    ("same rhythm", "chords held through", every_bar("comp {}:1 4 E4"), {}),
    ("same rhythm", "a texture's own rhythm", every_bar(*struck("{0}:1 {0}:2.5")), {"passages": ARPEGGIO}),
    ("melody rest", "an arpeggio's upper line", every_bar("melody {}:1 4 E5"), {"passages": ARPEGGIO}),
    ("short hits", "a ballad", every_bar(*struck("{0}:1 {0}:3", "2")), {"feel": "ballad"}),
    ("phrases off one", "a motif", ("melody 1:1 1 G5", "melody 2:1 1 G5"), {"melody": "motif"}),
    (
        "phrases off one",
        "the way to the tune's first note",
        ("melody 1:1 1 E5", "melody 2:2 1 E5", "melody 4:1 1 A5"),
        {"first_note": "5", "pickup": Fraction(5, 2)},
    ),
    ("pushes in a ballad", "the same chord", ("comp 1:4.5 1 E4 push",), BALLAD),
    ("highest note", "a motif", ("melody 1:1 1 G5", "melody 2:1 1 G5"), {"melody": "motif"}),
    ("highest note", "a common tone on top", every_bar("comp {}:1 1 C5"), {"passages": COMMON_TONE}),
    ("highest note", "a landing's chord", ("melody 3:3 1 G5", "comp 4:4.5 1 A5 push"), {"landing": "ring"}),
    (
        "highest note",
        "a melody that only leads to the tune's first note so late",
        ("melody 1:1 1 G5", "melody 4:3.5 .5 A4"),
        {"first_note": "5"},
    ),
    ("highest note", "two bars", ("melody 1:1 1 G5",), {"harmony": "ii7 | V7"}),
    (
        "plain shell",
        "a shell under a common tone",
        every_bar(*struck("{0}:1 {0}:3", pitches="E4 B4 G5")),
        {"passages": COMMON_TONE, "harmony": "Imaj7 | Imaj7 | Imaj7 | Imaj7"},
    ),
    (
        "plain shell",
        "a shell with the thumb's root",
        every_bar(*struck("{0}:1 {0}:3", pitches="E4"), "bass {}:1 4 C3"),
        {"line_up": "solo guitar", "harmony": "Imaj7 | Imaj7 | Imaj7 | Imaj7"},
    ),
    ("densest tension", "no dominant", ("comp 1:1 1 E4 D5",), {"harmony": "Imaj7 vi7 | ii7 Imaj7"}),
    (
        "densest tension",
        "a last dominant that the pickup cuts short",
        ("comp 1:1 1 E4 D5",),
        {"pickup": Fraction(1)},
    ),
    (
        "densest tension",
        "a guitar that sings over the last dominant",
        ("comp 1:1 1 E4 D5", "melody 4:1 1 D5"),
        {"line_up": "solo guitar"},
    ),
    ("densest tension", "a tension that the melody has", ("comp 1:1 1 E4 D5", "melody 4:1 1 E5"), {}),
    (
        "melody's place",
        "what a phrase sang as a texture's own upper line",
        ("melody 1:3 2 C4", "melody 2:1 1 E5", "comp 2:1 1 G4"),
        {"passages": (*ARPEGGIO, Passage(2, "block"))},
    ),
    ("under the melody", "an arpeggio", ("comp 1:1 2 D4", "melody 1:1 2 E4"), {"passages": ARPEGGIO}),
    (
        "top voice steps",
        "a landing's chord",
        (*tops(*("E4",) * 5, "A4", "A4", "E4"), "comp 4:4 1/2 E4", "comp 4:4.5 1 A4 push"),
        {"landing": "ring"},
    ),
    (
        "top voice leaps",
        "a landing's chord",
        ("comp 3:1 1 E4", "comp 3:3 1 C5", "comp 4:3 1 C5", "comp 4:4.5 1 E4 push"),
        {"landing": "ring"},
    ),
    ("top voice steps", "an arpeggio", tops(*("E4", "A4") * 5), {"passages": ARPEGGIO}),
    ("pushes in a ballad", "swing", ("comp 1:4.5 1 E4 push",), {}),
]


def breaches(judge: Judge, score: Score, rule: str) -> list[Breach]:
    return [breach for breach in judge(score) if breach.rule == rule]


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.rule}: {case.says}")
def test_a_measure_over_its_bounds_speaks_with_bar_and_beat(case: Case, write: Write, judge: Judge) -> None:
    found = breaches(judge, write(case.harmony, *case.bad, **case.options), case.rule)
    assert [(breach.bar, breach.beat) for breach in found] == [case.at]
    assert case.says in str(found[0])
    assert breaches(judge, write(case.harmony, *case.good, **case.options), case.rule) == []


@pytest.mark.parametrize(("rule", "why", "lines", "options"), LEFT_OUT)
def test_what_a_measure_leaves_out(
    rule: str, why: str, lines: tuple[str, ...], options: dict[str, Any], write: Write, judge: Judge
) -> None:
    options = {"harmony": FOUR_BARS, **options}
    harmony = options.pop("harmony")
    assert breaches(judge, write(harmony, *lines, **options), rule) == [], why


def test_too_many_pushes_are_told_as_well(write: Write, judge: Judge) -> None:
    lines = [f"comp {bar}:{beat} .5 E4 push" for bar in range(1, 5) for beat in ("2.5", "4.5")]
    score = write(NINE_CHORDS, *lines)
    assert "8 of 8 changes" in str(breaches(judge, score, "pushes")[0])


def performed(score: Score, velocity: Callable[[PlayedNote], int]) -> Performance:
    """The score as it is written, with velocities by a rule."""
    plain = [
        PlayedNote(note.onset, note.end, note.harmony_tick, note.part, note.pitch, 64) for note in score.notes
    ]
    notes = tuple(note._replace(velocity=velocity(note)) for note in plain)
    plan = score.plan
    return Performance(
        intro="i",
        title="T",
        key="C",
        tonic=0,
        minor=False,
        tempo=120.0,
        beats=4,
        start_tick=0,
        head_tick=plan.head_tick,
        end_tick=plan.head_tick,
        notes=notes,
        chords=(),
    )


def loudness(score: Score, measures: Measures, velocity: Callable[[PlayedNote], int]) -> dict[str, Breach]:
    return {breach.rule: breach for breach in review(score, performed(score, velocity), measures)}


def swell(note: PlayedNote) -> int:
    """Up to bar 3, down in bar 4, 24 units in all; the top voice of every grip 8 over the others."""
    return (50, 58, 66, 54)[note.onset // 3840] + 8 * (note.pitch == 76)


@pytest.fixture(scope="session")
def quarters(write: Write) -> Score:
    return write(FOUR_BARS, *every_bar(*struck("{0}:1 {0}:2 {0}:3 {0}:4", "1", "G4 B4 E5")))


@pytest.mark.parametrize(
    ("rule", "at", "says", "velocity"),
    [
        ("dynamic range", (1, 1), "comp: 8 velocity units", lambda note: 60 + 8 * (note.pitch == 76)),
        (
            "one arc",
            (2, 1),
            "dips by 24",
            lambda note: (80, 56, 80, 60)[note.onset // 3840] + 8 * (note.pitch == 76),
        ),
        ("top voice level", (1, 1), "0.0 velocity units", lambda note: 50 + note.onset // 480),
        (
            "top voice level",
            (1, 1),
            "20.0 velocity units",
            lambda note: swell(note) + 12 * (note.pitch == 76),
        ),
    ],
)
def test_loudness_over_its_bounds_speaks(
    rule: str,
    at: tuple[int, float],
    says: str,
    velocity: Callable[[PlayedNote], int],
    quarters: Score,
    measures: Measures,
) -> None:
    found = loudness(quarters, measures, velocity)
    assert (found[rule].bar, found[rule].beat) == at
    assert says in found[rule].text
    kept = loudness(quarters, measures, swell)
    assert not {"dynamic range", "one arc", "top voice level"} & set(kept)


def test_a_first_beat_played_a_hair_early_belongs_to_its_own_bar(quarters: Score, measures: Measures) -> None:
    def first_beat_heavy(note: PlayedNote) -> int:
        return (106 if note.onset == 3840 else 44) if note.onset // 3840 == 1 else swell(note)

    written = performed(quarters, first_beat_heavy)
    ahead = tuple(
        note._replace(onset=note.onset - 20) if note.onset % 3840 == 0 and note.onset else note
        for note in written.notes
    )
    for notes in (written.notes, ahead):
        found = review(quarters, replace(written, notes=notes), measures)
        assert "one arc" not in {breach.rule for breach in found}


def test_a_grip_slid_into_a_bar_does_not_make_it_softer(write: Write, measures: Measures) -> None:
    """A slide is soft by trade (common practice, no source); the bar that it leads into is not."""
    comp = every_bar(*struck("{0}:1 {0}:2 {0}:3 {0}:4", "1", "G4 B4 E5"))
    score = write(FOUR_BARS, *comp, "comp 1:4.875 1/8 F#4 A#4 D#5 push grace")

    def soft_slide(note: PlayedNote) -> int:
        return 1 if note.end - note.onset == 120 else (60, 56, 66, 54)[note.onset // 3840]

    assert "one arc" not in loudness(score, measures, soft_slide)
    struck_alike = tuple(note._replace(touch=Touch.STRUCK) for note in score.notes)
    assert "one arc" in loudness(replace(score, notes=struck_alike), measures, soft_slide)


def test_without_a_performance_nothing_is_said_of_loudness(quarters: Score, judge: Judge) -> None:
    assert not {"dynamic range", "one arc", "top voice level"} & {breach.rule for breach in judge(quarters)}


def test_a_part_with_few_notes_has_no_range(write: Write, measures: Measures) -> None:
    score = write(FOUR_BARS, "bass 1:1 4 C2", "bass 2:1 4 A2")
    assert score.notes[0].part == BASS != COMP
    assert "dynamic range" not in loudness(score, measures, lambda note: 64)


def test_every_measure_of_the_file_is_tried_here_or_with_the_rules() -> None:
    tried = {case.rule for case in CASES} | {"dynamic range", "one arc", "top voice level"}
    assert set(UNITS) - tried == {"position change", "roots", "pickup"}  # hard rules, tried in test_rules
