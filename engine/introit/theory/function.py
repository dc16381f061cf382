"""What chords do: the dominant that leads to a tune's first chord, and a plain sentence for each chord.

The sentences are derived from where a chord stands and what follows it, so they hold for intros not yet
written.
"""

from __future__ import annotations

from introit.theory.key import Key, Mode
from introit.theory.numeral import Numeral
from introit.theory.passage import NUMBERS, PLACES, Passage
from introit.theory.pitch import MAJOR_SCALE
from introit.theory.sentences import words_for
from introit.theory.target import LocalKey, root_of


def head_dominant(first_chord: Numeral, mode: Mode, *, sus: bool = False) -> Numeral:
    """The dominant of a head's first chord: `H` in an intro's harmony.

    A plain dominant seventh where that chord is major (I: V7, IV: I7), with b9 and b13 where it is minor
    (ii: VI7(b9,b13), vi: III7(b9,b13), i: V7(b9,b13)).

    Args:
        first_chord: of the head.
        mode: of the head's key; degrees count from the major scale of the tonic in both.
        sus: True for the suspended form: 7sus4, with b9 before a minor chord.

    Returns:
        A numeral whose root lies a fifth above the first chord's.
    """
    degree, alter = _place(first_chord, mode)
    fifth = (degree + 3) % 7 + 1
    semitones = MAJOR_SCALE[degree - 1] + alter + 7
    raised = (semitones - MAJOR_SCALE[fifth - 1] + 5) % 12 - 5
    if raised not in {-1, 0, 1}:  # a fifth above a twice altered root: named by the plain degree there
        fifth, raised = _plain_place(semitones % 12)
    colour = _sus_colour(first_chord) if sus else ("b9", "b13") if first_chord.is_minor else ()
    return Numeral(fifth, raised, upper=True, quality="7sus4" if sus else "7", alterations=colour)


def explain(numeral: Numeral, key: Key, following: Numeral | None = None) -> str:
    """What a chord does, in one plain sentence that a student understands.

    Args:
        numeral: the chord.
        key: the key it is read in.
        following: the chord after it, where known.
    """
    passage = Passage.of(numeral, key, following)
    words = words_for(passage)
    if numeral.applied and not numeral.upper and "the two of" not in words:
        words += f": {NUMBERS[numeral.degree - 1]} of {_place_name(numeral.applied, key)}"
    words += _bass_words(passage)
    return words[0].upper() + words[1:] + "."


def _bass_words(passage: Passage) -> str:
    numeral = passage.numeral
    if not numeral.bass_degree:
        return ""
    if passage.sounds_as_suspended_five:
        return "; over five in the bass it sounds as the five, suspended"
    sign = {-1: "flat ", 0: "", 1: "raised "}[numeral.bass_alter]
    name = f"{sign}{NUMBERS[numeral.bass_degree - 1]}"
    pedal = ": the colour of a pedal point" if name == "five" else ""
    return f"; over {name} in the bass{pedal}"


def _place_name(numeral: Numeral, key: Key) -> str:
    return PLACES[LocalKey(key.tonic, key.mode).semitones(root_of(numeral, key))]


def _sus_colour(first_chord: Numeral) -> tuple[str, ...]:
    return ("b9",) if first_chord.is_minor else ()


def _place(numeral: Numeral, mode: Mode) -> tuple[int, int]:
    """Degree and alteration of a numeral's root in the key, an applied chord's included."""
    if numeral.applied is None:
        return numeral.degree, numeral.alter
    any_key = Key.from_pitch_class(0, mode)
    return _plain_place(root_of(numeral, any_key).pitch_class)


def _plain_place(semitones: int) -> tuple[int, int]:
    name = PLACES[semitones]
    number = NUMBERS.index(name.split()[-1]) + 1
    return number, -1 if name.startswith("flat") else int(name.startswith("raised"))
