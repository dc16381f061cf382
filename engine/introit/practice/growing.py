"""One intro grown in steps under one top line: from the plain turnaround to its substitutes.

Made from theory, for the meter, the feel and the key of what is practised:

1. one, six, two, five as the key has them;
2. the six becomes the dominant of the two;
3. the chord on three stands for the one;
4. the five gives way to the dominant a tritone away;
5. so does the dominant of the two, and the roots fall by half steps.

The top line is what all steps allow: found once, from the chord tones and tensions that they share.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise, product

from introit.arrange.form import first_chord, head_name
from introit.arrange.tones import offered
from introit.library.model import Bar, Form, Melody, MotifNote, Passage, Slot
from introit.practice.subject import Subject
from introit.theory.chord import Chord, chord_of
from introit.theory.function import head_dominant
from introit.theory.key import Key, Mode
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

CHORD_STEPS = 5
"""Steps from the plain chords to the last substitute."""
STEP_WORDS = (
    "one, six, two, five",
    "the six is the dominant of the two",
    "three for one",
    "the five a tritone away",
    "the six a tritone away, too",
)
"""What is new in each step, for the screen."""
BARS = 4
"""The turnaround twice, two chords a bar."""
TRITONE = 6
_ONE = {Mode.MAJOR: "Imaj7", Mode.MINOR: "i6"}
_THREE = {Mode.MAJOR: "iii7", Mode.MINOR: "bIIImaj7"}
_PLAIN_SIX = {Mode.MAJOR: "vi7", Mode.MINOR: "viø7"}
_TWO = {Mode.MAJOR: "ii7", Mode.MINOR: "iiø7"}
_DEGREES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
_LOWEST, _HIGHEST = 3, 14
"""Semitones over the tonic between which the top line moves: from a third to the ninth."""

# What a tone of the top line costs by what it is in a chord, and a semitone of its way. Judgement, no source.
_GUIDE, _MEMBER, _TENSION, _PER_SEMITONE = 0.0, 1.0, 3.0, 1.0


def turnaround(step: int, mode: Mode) -> tuple[Numeral, Numeral, Numeral, Numeral]:
    """The four chords of a step.

    Args:
        step: 1 to `CHORD_STEPS`.
        mode: of the key.

    Raises:
        ValueError: for a step that there is not.
    """
    if not 1 <= step <= CHORD_STEPS:
        raise ValueError(f"build has steps 1 to {CHORD_STEPS}, not {step!r}")
    two = Numeral.from_text(_TWO[mode])
    one = Numeral.from_text(_THREE[mode] if step >= 3 else _ONE[mode])
    five = head_dominant(Numeral.from_text(_ONE[mode]), mode)
    six = head_dominant(two, mode) if step >= 2 else Numeral.from_text(_PLAIN_SIX[mode])
    return one, substitute(six) if step >= 5 else six, two, substitute(five) if step >= 4 else five


def substitute(dominant: Numeral) -> Numeral:
    """The dominant a tritone away, with the same guide tones; a plain seventh.

    Raises:
        ValueError: where its root has no plain name in the key.
    """
    semitones = (_semitones(dominant) + TRITONE) % 12
    name = _DEGREES[semitones].replace("#4", "b5")
    return Numeral(int(name[-1]), -1 if name[0] == "b" else 0, upper=True, quality="7")


def grown(subject: Subject, step: int, key: Key) -> Subject:
    """What is practised in a step: the turnaround with the intro's own way of comping and its bass.

    The last two chords lead to the tune's first chord; where that is not the tonic, they are the same in
    every step.
    """
    intro = subject.intro
    mode, meter = key.mode, subject.tune.meter
    form = Form(mode, _bars(step, mode, first_chord(subject.tune, mode)))
    made = replace(
        intro,
        forms=(form,),
        passages=(Passage(1, "block"),),
        pedal=None,
        melody=_melody(mode, meter),
        stretch_above=None,
        halve_below=None,
    )
    return replace(subject, intro=made)


def _bars(step: int, mode: Mode, head: Numeral) -> tuple[Bar, ...]:
    one, six, two, five = turnaround(step, mode)
    last = (two, five)
    if head_name(head) != head_name(Numeral.from_text(_ONE[mode])):
        dominant = head_dominant(head, mode)
        above = replace(head_dominant(dominant, mode), upper=False, quality="m7", alterations=())
        last = (replace(above, quality="m7b5") if head.is_minor else above, dominant)
    pairs = ((one, six), (two, five), (one, six), last)
    return tuple(Bar(tuple(Slot(chord) for chord in pair)) for pair in pairs)


def _melody(mode: Mode, meter: Meter) -> Melody:
    """The top line as a figure of two bars, said twice without a change: two long notes a bar."""
    second = Fraction(meter.beats - meter.beats // 2)
    starts, lengths = (Fraction(0), second), (second, meter.beats - second)
    notes = [
        MotifNote(number // 2, starts[number % 2], degree_of(semitones), Fraction(lengths[number % 2]))
        for number, semitones in enumerate(top_line(mode))
    ]
    return Melody("motif", tuple(notes), tones="key", bars=(1, 3), change="none")


def degree_of(semitones: int) -> str:
    """A place above the tonic as a degree of the key, with `+` an octave up."""
    return _DEGREES[semitones % 12] + "+" * (semitones // 12)


@lru_cache(maxsize=2)
def top_line(mode: Mode) -> tuple[int, int, int, int]:
    """The top line, a tone for each chord, in semitones over the tonic: allowed in every step.

    The smoothest, with guide tones before other members of the chords, and those before tensions; it goes on
    to the tonic's third or fifth.
    """
    key = Key.from_pitch_class(0, mode)
    steps = [_chords(step, key) for step in range(1, CHORD_STEPS + 1)]
    options = [
        {
            place: cost
            for place in range(_LOWEST, _HIGHEST + 1)
            if (cost := _cost(place, [chords[number] for chords in steps])) is not None
        }
        for number in range(4)
    ]
    home = {
        tone.pitch_class
        for tone in chord_of(Numeral.from_text(_ONE[mode]), key).required
        if tone.degree in (3, 5)
    }
    ends = [place for place in range(_LOWEST, _HIGHEST + 1) if place % 12 in home]

    def price(line: tuple[int, ...]) -> tuple[float, tuple[int, ...]]:
        way = (*line, min(ends, key=lambda end: abs(end - line[-1])))
        moved = sum(abs(after - before) for before, after in pairwise(way))
        back = abs(line[0] - line[-1])
        standing = sum(option[place] for option, place in zip(options, line, strict=True))
        return standing + _PER_SEMITONE * (moved + back), line

    first, second, third, fourth = min(product(*options), key=price)
    return first, second, third, fourth


def _chords(step: int, key: Key) -> list[Chord]:
    numerals = turnaround(step, key.mode)
    following = (*numerals[1:], numerals[0])
    return [
        chord_of(numeral, key, following=after) for numeral, after in zip(numerals, following, strict=True)
    ]


def _cost(place: int, chords: list[Chord]) -> float | None:
    """What a tone costs over the chords of all steps; None where one of them cannot bear it."""
    costs = [_cost_over(place % 12, chord) for chord in chords]
    known = [cost for cost in costs if cost is not None]
    return sum(known) if len(known) == len(costs) else None


def _cost_over(pitch_class: int, chord: Chord) -> float | None:
    fifth = [tone for tone in chord.optional if tone.name == "5"]
    members = (*chord.required, *fifth)
    for tones, cost in ((chord.guide_tones, _GUIDE), (members, _MEMBER), (offered(chord), _TENSION)):
        if pitch_class in {tone.pitch_class for tone in tones}:
            return cost
    return None


def _semitones(numeral: Numeral) -> int:
    key = Key.from_pitch_class(0, Mode.MAJOR)
    return chord_of(numeral, key).root.pitch_class
