"""What chords do: the dominant that leads to a tune's first chord, and a plain sentence for each chord.

The sentences are derived from where a chord stands and what follows it, so they hold for intros not yet
written.
"""

from __future__ import annotations

from dataclasses import dataclass

from introit.theory.key import Key, Mode
from introit.theory.numeral import Numeral
from introit.theory.pitch import MAJOR_SCALE
from introit.theory.quality import Family
from introit.theory.target import FIFTH_DOWN, HALF_STEP_DOWN, LocalKey, root_of

_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven")
_PLACES = (
    "one", "flat two", "two", "flat three", "three", "four",
    "raised four", "five", "flat six", "six", "flat seven", "seven",
)  # fmt: skip
_HALF_STEP_UP = 1
_WHOLE_STEP_UP = 2


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
    passage = _Passage.of(numeral, key, following)
    words = _WORDS[numeral.kind.family](passage)
    if numeral.applied and not numeral.upper:
        words += f": {_NUMBERS[numeral.degree - 1]} of {_place_name(numeral.applied, key)}"
    words += _bass_words(numeral)
    return words[0].upper() + words[1:] + "."


@dataclass(frozen=True, slots=True)
class _Passage:
    """A chord and its next one, measured in semitones above the tonic of the key.

    Attributes:
        numeral: the chord.
        here: its root, 0 to 11.
        after: the next chord's root, or None.
        following: the next chord, or None.
        minor: True in a minor key.
    """

    numeral: Numeral
    here: int
    after: int | None
    following: Numeral | None
    minor: bool

    @classmethod
    def of(cls, numeral: Numeral, key: Key, following: Numeral | None) -> _Passage:
        local = LocalKey(key.tonic, key.mode)
        after = None if following is None else local.semitones(root_of(following, key))
        here = local.semitones(root_of(numeral, key))
        return cls(numeral, here, after, following, local.mode is Mode.MINOR)

    @property
    def movement(self) -> int | None:
        """Semitones up to the next root, 0 to 11."""
        return None if self.after is None else (self.after - self.here) % 12

    def place(self, up: int = 0) -> str:
        """The name of the degree so many semitones above this chord's root."""
        return _PLACES[(self.here + up) % 12]

    @property
    def two_five_into(self) -> str | None:
        """The place that a two-five starting here leads into, when its dominant follows."""
        if self.movement != FIFTH_DOWN or self.following is None or self.following.is_minor:
            return None
        if not self.following.kind.has_seventh or self.following.kind.family is Family.MAJOR:
            return None
        return self.place(2 * FIFTH_DOWN)


def _major_words(passage: _Passage) -> str:
    if passage.here == 0:
        return "the tonic: home"
    if passage.here == 5:
        return "the four: moves away from home, still at rest"
    if passage.here == 7:
        return "the dominant as a plain major chord: leads to one"
    if passage.here == 1:
        step = " and falls into one" if passage.after == 0 else ""
        return f"flat two, major: stands where the dominant would, a half step above home{step}"
    if passage.here in {3, 8, 10}:
        origin = "the key's own" if passage.minor else "borrowed from the parallel minor"
        return f"{passage.place()}, major: {origin}"
    return f"a major chord on {passage.place()}: bright, from outside the key"


def _minor_words(passage: _Passage) -> str:
    if passage.here == 0 and passage.minor:
        at_rest = "b7" not in passage.numeral.kind.required
        return (
            "the tonic: home"
            if at_rest
            else "one with a minor seventh: less at rest than a sixth or major seventh"
        )
    if passage.here == 0:
        return "the tonic made minor: borrowed from the parallel minor"
    into = passage.two_five_into
    if passage.here == 2:
        return f"the two: prepares the dominant{' that follows' if into else ''}"
    if passage.here == 5:
        return "the four of the key" if passage.minor else "four made minor: borrowed from the parallel minor"
    if passage.here == 4 and not passage.minor:
        also = f", and the two of a two-five into {into}" if into else ""
        return f"three stands in for one, sharing its tones{also}"
    if into:
        return f"the two of a two-five into {into}"
    if passage.here == 9 and not passage.minor:
        return "six: the relative minor, a softer home"
    return f"a minor chord on {passage.place()}{_step_words(passage)}"


def _dominant_words(passage: _Passage) -> str:
    lead = _dominant_lead(passage)
    if passage.numeral.quality == "7alt":
        return f"{lead}, with fifth and ninth altered so that it pulls hardest"
    return lead


def _dominant_lead(passage: _Passage) -> str:
    movement = passage.movement
    if movement == HALF_STEP_DOWN and passage.here != 7:
        target = passage.place(HALF_STEP_DOWN)
        return f"tritone substitute for the dominant of {target}: falls to it by a half step"
    if passage.here == 10 and movement in {None, _WHOLE_STEP_UP}:
        return "the backdoor dominant: borrowed from the parallel minor, it rises a whole step to one"
    if passage.here == 1 and movement != FIFTH_DOWN:
        return "tritone substitute for the dominant: its third and seventh are the dominant's own"
    if passage.here == 7:
        return _own_dominant_words(passage)
    if passage.here == 0 and movement not in {None, FIFTH_DOWN}:
        return "one with a flat seventh: the tonic of the blues"
    name = f"the dominant of {passage.place(FIFTH_DOWN)}"
    if movement in {None, 0, FIFTH_DOWN}:
        return name
    return f"{name}, answered by {passage.place(movement or 0)} instead"


def _own_dominant_words(passage: _Passage) -> str:
    if passage.movement in {None, FIFTH_DOWN}:
        return "the dominant: leads to one"
    if passage.movement == 0:
        return "the dominant: goes on in another colour"
    return f"the dominant, answered by {passage.place(passage.movement or 0)} instead of one"


def _suspended_words(passage: _Passage) -> str:
    if not passage.numeral.kind.has_seventh:
        return f"{passage.place()} suspended: the third is still to come"
    origin = " of the parallel minor" if passage.here == 7 and not passage.minor else ""
    ninth = f", with the flat nine{origin}" if "b9" in passage.numeral.alterations else ""
    name = "the dominant" if passage.here == 7 else f"the dominant of {passage.place(FIFTH_DOWN)}"
    return f"{name}, suspended: the fourth waits in place of the third{ninth}"


def _half_diminished_words(passage: _Passage) -> str:
    into = passage.two_five_into
    pair = f"the two of a minor two-five into {into}" if into else ""
    if passage.here == 6:
        name = "half-diminished on the raised fourth: starts the descent"
        return f"{name} as {pair}" if pair else name
    if passage.here == 2:
        name = "the two of the minor key: prepares the dominant"
        return name if passage.minor else f"{name}; borrowed from the parallel minor"
    if pair:
        return pair
    if passage.here == 9 and passage.minor:
        return "half-diminished on the raised six of the melodic minor: the tonic with six in the bass"
    return f"half-diminished on {passage.place()}{_step_words(passage)}"


def _diminished_words(passage: _Passage) -> str:
    if passage.movement == _HALF_STEP_UP:
        target = passage.place(_HALF_STEP_UP)
        return f"passing diminished: rises a half step into {target}, standing for its dominant"
    if passage.movement == HALF_STEP_DOWN:
        return f"passing diminished: falls a half step into {passage.place(HALF_STEP_DOWN)}"
    if passage.here == 11:
        return "diminished on the leading tone: a dominant without its root"
    if passage.movement == 0:
        return f"diminished on {passage.place()}: delays the chord on the same root"
    return f"diminished on {passage.place()}: tension without a root of its own"


def _augmented_words(passage: _Passage) -> str:
    if passage.movement in {FIFTH_DOWN, None}:
        name = "the dominant" if passage.here == 7 else f"the dominant of {passage.place(FIFTH_DOWN)}"
        return f"{name}, augmented: the raised fifth leads up"
    return f"augmented on {passage.place()}: the raised fifth leads up"


_WORDS = {
    Family.MAJOR: _major_words,
    Family.MINOR: _minor_words,
    Family.DOMINANT: _dominant_words,
    Family.SUSPENDED: _suspended_words,
    Family.HALF_DIMINISHED: _half_diminished_words,
    Family.DIMINISHED: _diminished_words,
    Family.AUGMENTED: _augmented_words,
}


def _step_words(passage: _Passage) -> str:
    if passage.movement == HALF_STEP_DOWN:
        return f": slides down a half step to {passage.place(HALF_STEP_DOWN)}"
    if passage.movement == _HALF_STEP_UP:
        return f": slides up a half step to {passage.place(_HALF_STEP_UP)}"
    return ""


def _bass_words(numeral: Numeral) -> str:
    if not numeral.bass_degree:
        return ""
    sign = {-1: "flat ", 0: "", 1: "raised "}[numeral.bass_alter]
    name = f"{sign}{_NUMBERS[numeral.bass_degree - 1]}"
    pedal = ": the colour of a pedal point" if name == "five" else ""
    return f"; over {name} in the bass{pedal}"


def _place_name(numeral: Numeral, key: Key) -> str:
    return _PLACES[LocalKey(key.tonic, key.mode).semitones(root_of(numeral, key))]


def _sus_colour(first_chord: Numeral) -> tuple[str, ...]:
    return ("b9",) if first_chord.is_minor else ()


def _place(numeral: Numeral, mode: Mode) -> tuple[int, int]:
    """Degree and alteration of a numeral's root in the key, an applied chord's included."""
    if numeral.applied is None:
        return numeral.degree, numeral.alter
    any_key = Key.from_pitch_class(0, mode)
    return _plain_place(root_of(numeral, any_key).pitch_class)


def _plain_place(semitones: int) -> tuple[int, int]:
    name = _PLACES[semitones]
    number = _NUMBERS.index(name.split()[-1]) + 1
    return number, -1 if name.startswith("flat") else int(name.startswith("raised"))
