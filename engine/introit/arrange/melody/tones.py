"""A motif's tones as pitches over the chords that sound, before they are fitted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

from introit.arrange.melody.palette import palette_of
from introit.arrange.melody.register import Register
from introit.arrange.plan import Plan
from introit.theory.chord import Chord, ChordTone
from introit.theory.key import Key
from introit.theory.pitch import Tone

Tones = Sequence[tuple[int, str]]
"""(index of the plan's chord, tone as written), note by note."""


def nominals(plan: Plan, tones: Tones, register: Register) -> list[list[int]]:
    """The pitches that a saying of a motif would have, in each octave that touches the register.

    Degrees of the chord follow each chord from its root, the nearest way where the chord changes; degrees of
    the key lie where they lie; a contour steps through the scale of each chord.
    """
    line = _LINES[plan.intro.melody.tones](plan, tones)
    lowest, highest = min(line), max(line)
    middle = (register.lowest + register.highest) / 2
    octaves = [
        octave
        for octave in range(-60, 61, 12)
        if lowest + octave >= register.lowest and highest + octave <= register.highest
    ]
    nearest = min(range(-60, 61, 12), key=lambda octave: abs((lowest + highest) / 2 + octave - middle))
    return [[pitch + octave for pitch in line] for octave in octaves or [nearest]]


_OTHER_WAY = 4.5
"""Semitones that a move into another chord may be wider to go the written way. Judgement, no source."""


def degree_tone(chord: Chord, name: str) -> Tone:
    """The note that a motif's degree means over a chord.

    A chord tone or tension of that name; for the fifth of a chord that drops it, the tone that stands in for
    it: b13, or what lies nearest; for another plain number that it lacks, the note of its scale on that
    letter; else the degree as written, against the major scale of the root.
    """
    found = chord.tone(name) or (_in_place_of_fifth(chord) if name == "5" else None)
    if found is not None:
        return found.tone
    number = int(name.lstrip("b#"))
    written = chord.root.up(number, name.count("#") - name.count("b"))
    if name.isdigit():
        return next((tone for tone in chord.scale if tone.letter == written.letter), written)
    return written


def key_tone(key: Key, name: str) -> Tone:
    """The note that a degree of the key means: a plain number as the signature has it, in minor too.

    An altered one counts from the major scale of the tonic, as everywhere.
    """
    number, alter = int(name.lstrip("b#")), name.count("#") - name.count("b")
    if alter:
        return key.degree(number, alter)
    letter = key.tonic.up(number).letter
    return next(tone for tone in (Tone(letter, sign) for sign in (0, -1, 1)) if key.holds(tone))


def _in_place_of_fifth(chord: Chord) -> ChordTone | None:
    """The chord's own tone nearest to the fifth that it does without, the higher of two."""
    fifth = chord.root.up(5).pitch_class
    apart = {tone: (tone.pitch_class - fifth + 6) % 12 - 6 for tone in (*chord.required, *chord.optional)}
    return min(apart, key=lambda tone: (abs(apart[tone]), -apart[tone]), default=None)


def _chord_line(plan: Plan, tones: Tones) -> list[int]:
    """Chord degrees: exact over one chord; the nearest way in the written direction into another."""
    line: list[int] = []
    root = 60 + plan.chords[tones[0][0]].chord.root.pitch_class
    for number, (chord, tone) in enumerate(tones):
        if number and chord != tones[number - 1][0]:
            root = _next_root(plan, tones[number - 1], tones[number], line[-1], root)
        line.append(root + _offset(plan.chords[chord].chord, tone))
    return line


def _next_root(plan: Plan, before: tuple[int, str], here: tuple[int, str], pitch: int, root: int) -> int:
    """The root, in its octave, from which a note is reached by the smallest move, written ways first."""
    chord, tone = here
    offset = _offset(plan.chords[chord].chord, tone)
    wanted = _line_of(tone) - _line_of(before[1])
    lowest = root - 24
    pitch_class = plan.chords[chord].chord.root.pitch_class
    roots = [at for at in range(lowest, root + 25) if at % 12 == pitch_class]

    def price(at: int) -> float:
        move = at + offset - pitch
        return abs(move) + _OTHER_WAY * (_sign(move) != _sign(wanted))

    return min(roots, key=price)


def _key_line(plan: Plan, tones: Tones) -> list[int]:
    return [_key_pitch(plan.key, tone) for _, tone in tones]


@lru_cache(maxsize=4096)
def _key_pitch(key: Key, tone: str) -> int:
    """A degree of the key over the tonic from C4 up."""
    name, octaves = _parted(tone)
    tonic = key.tonic.pitch_class
    return 60 + tonic + (key_tone(key, name).pitch_class - tonic) % 12 + 12 * octaves


def _contour_line(plan: Plan, tones: Tones) -> list[int]:
    first, tone = tones[0]
    # A saying that lost its first note (a pick-up before bar 1, a texture that sings) starts on the third.
    degree = "3" if tone[0] in "+-0" else tone
    line = [60 + plan.chords[first].chord.root.pitch_class + _offset(plan.chords[first].chord, degree)]
    for chord, steps in tones[1:]:
        line.append(_stepped(palette_of(plan.chords[chord]).scale, line[-1], int(steps)))
    return line


def _stepped(scale: frozenset[int], pitch: int, steps: int) -> int:
    """So many steps of a scale from a pitch; the pitch itself need not be in the scale."""
    way = 1 if steps > 0 else -1
    for _ in range(abs(steps)):
        pitch += way
        while pitch % 12 not in scale:
            pitch += way
    return pitch


_LINES: dict[str, Callable[[Plan, Tones], list[int]]] = {
    "chord": _chord_line,
    "key": _key_line,
    "contour": _contour_line,
}


@lru_cache(maxsize=8192)
def _offset(chord: Chord, tone: str) -> int:
    """Semitones over the root of a degree such as `3`, `b9`, `5+`; a plain one as the chord has it."""
    name, octaves = _parted(tone)
    number = int(name.lstrip("b#"))
    within = (degree_tone(chord, name).pitch_class - chord.root.pitch_class) % 12
    return within + 12 * octaves + (12 if number > 7 else 0)


def _parted(tone: str) -> tuple[str, int]:
    """A degree's name and how many octaves its sign moves it."""
    return tone.rstrip("+-"), tone.count("+") - tone.count("-")


def _line_of(tone: str) -> int:
    name, octaves = _parted(tone)
    return int(name.lstrip("b#")) + 7 * octaves


def _sign(number: int) -> int:
    return (number > 0) - (number < 0)
