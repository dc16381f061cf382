"""What a teacher says about a chord: what it does, where it was borrowed, where it goes, what to listen for.

The first sentence is `function.explain`'s, with the key that the chord was borrowed from; the second follows
the tones into the next chord. Both come from the chords alone, so they hold for intros not yet written.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from introit.theory.chord import Chord, ChordTone
from introit.theory.function import explain
from introit.theory.guide_lines import Line, guide_lines, role
from introit.theory.key import Key
from introit.theory.numeral import Numeral
from introit.theory.passage import HALF_STEP_UP, WHOLE_STEP_UP, Passage
from introit.theory.pitch import Tone
from introit.theory.quality import Family
from introit.theory.target import FIFTH_DOWN, HALF_STEP_DOWN, situation_of

_DISTANCES = (
    "", "up a half step", "up a whole step", "up a minor third", "up a major third",
    "down a fifth", "a tritone away", "down a fourth", "down a major third", "down a minor third",
    "down a whole step", "down a half step",
)  # fmt: skip
"""How a root gets to another, by semitones upwards."""
_MAJOR, _MINOR = frozenset({0, 2, 4, 5, 7, 9, 11}), frozenset({0, 2, 3, 5, 7, 8, 9, 10, 11})
"""Semitones above the tonic that are no surprise: the major scale; the minor scale in all its forms."""
_NATURAL_MINOR = frozenset({0, 2, 3, 5, 7, 8, 10})
_TENSE = frozenset({Family.DOMINANT, Family.SUSPENDED, Family.DIMINISHED, Family.AUGMENTED})
_MOST_LINES = 3


class Placed(NamedTuple):
    """A chord where it stands.

    Attributes:
        numeral: as it is read in the key.
        chord: its tones.
        symbol: its name, with the bass note that it stands over.
        bass: that note, a pedal point's where there is one.
    """

    numeral: Numeral
    chord: Chord
    symbol: str
    bass: Tone


def lesson(here: Placed, key: Key, following: Placed | None = None) -> str:
    """Two sentences about a chord; one where nothing is known to follow.

    Args:
        here: the chord.
        key: that it is read in.
        following: the chord after it; the head's first after the last.
    """
    passage = Passage.of(here.numeral, key, following.numeral if following else None)
    words = explain(here.numeral, key, following.numeral if following else None).removesuffix(".")
    borrowed = _borrowed(passage, here, key, words)
    first = f"{words}; {borrowed}." if borrowed else f"{words}."
    return f"{first} {_onward(passage, here, following, key)}".strip() if following else first


def _borrowed(passage: Passage, here: Placed, key: Key, words: str) -> str:
    """Where the tones come from that the key does not have; nothing where the first sentence says it."""
    if passage.numeral.kind.family is Family.DIMINISHED and passage.movement == HALF_STEP_UP:
        return _without_root(here.chord, key)
    if words.startswith("Tritone substitute"):
        return f"it has the third and the seventh of {_in_key(here.chord.root.up(5, -1), key)}7"
    foreign = _foreign(here.chord, key)
    if not foreign or "borrowed" in words or "parallel minor" in words:
        return ""
    if passage.here == 7 and not passage.minor:
        return _dark_tensions(foreign, key)
    if "the two of a" in words.lower():
        return _home_of(here, key, passage.following, place="two")
    if words.startswith("The dominant of"):
        return _home_of(here, key, passage.following, place="five")
    return ""


def _home_of(here: Placed, key: Key, following: Numeral | None, *, place: str) -> str:
    """The key that a two or a five comes from: minor where a minor chord is expected there."""
    if place == "five":
        tonic, minor = here.chord.root.up(4), situation_of(here.numeral, key, following).to_minor
    else:
        tonic, minor = here.chord.root.up(7, -1), here.chord.kind.family is Family.HALF_DIMINISHED
    return f"borrowed from {_named(tonic, key)} {'minor' if minor else 'major'}, where it is the {place}"


def _dark_tensions(foreign: Sequence[ChordTone], key: Key) -> str:
    """Flat tensions of the dominant that the minor key on the same tonic has."""
    dark = [tone for tone in foreign if tone.alter < 0 and tone.degree > 7]
    if not dark or not all(_above(tone, key) in _NATURAL_MINOR for tone in dark):
        return ""
    named = " and ".join(f"{role(tone)}, {_named(tone.tone, key)}," for tone in dark)
    return f"its {named} {'is' if len(dark) == 1 else 'are'} borrowed from the parallel minor"


def _without_root(chord: Chord, key: Key) -> str:
    """A diminished seventh chord is a dominant with a flat nine and no root."""
    if chord.quality != "°7":
        return ""
    return f"it is {_in_key(chord.root.up(6, -1), key)}7(b9) without the root"


def _foreign(chord: Chord, key: Key) -> list[ChordTone]:
    own = _MINOR if key.is_minor else _MAJOR
    fifth = [tone for tone in chord.optional if (tone.degree, tone.alter) == (5, 0)]
    return [tone for tone in (*chord.required, *fifth) if _above(tone, key) not in own]


def _above(tone: ChordTone, key: Key) -> int:
    return (tone.pitch_class - key.tonic.pitch_class) % 12


def _onward(passage: Passage, here: Placed, following: Placed, key: Key) -> str:
    if here.symbol == following.symbol:
        return ""
    words = _heard(here, following, key)
    heard = f": hear {_joined(words)}" if words else ""
    if passage.movement == 0:
        return f"Becomes {following.symbol} on the same root{heard}."
    return f"{_verb(passage, following)} {_DISTANCES[passage.movement or 0]} to {following.symbol}{heard}."


def _heard(here: Placed, following: Placed, key: Key) -> list[str]:
    """The lines, and the bass where it has one of its own; where all tones stay, what is new."""
    lines = guide_lines(here.chord, following.chord)
    at_rest = not any(line.step for line in lines)
    step = _bass_step(here, following, of_roots=at_rest)
    in_bass = [line for line in lines if step and _is_bass(line, here, following)]
    bass = f"the bass {_moves(step)} from {_named(here.bass, key)} to {_named(following.bass, key)}"
    alone = [bass] if step and not in_bass else []
    words = [
        _line(line, key) + (" in the bass" if line in in_bass else "")
        for line in lines[: _MOST_LINES - len(alone)]
    ]
    if lines and at_rest:
        words += [f"{_named(tone.tone, key)} ({role(tone)}) come in" for tone in _new(here, following)[:1]]
    return [*words, *alone]


def _bass_step(here: Placed, following: Placed, *, of_roots: bool) -> int:
    """How the bass steps, -2 to 2; 0 where it leaps or stays, and from root to root unless asked for."""
    step = (following.bass.pitch_class - here.bass.pitch_class + 6) % 12 - 6
    roots = here.bass == here.chord.root and following.bass == following.chord.root
    return 0 if (roots and not of_roots) or abs(step) > 2 else step


def _is_bass(line: Line, here: Placed, following: Placed) -> bool:
    before, after = line.tone.pitch_class, line.target.pitch_class
    return (before, after) == (here.bass.pitch_class, following.bass.pitch_class)


def _new(here: Placed, following: Placed) -> list[ChordTone]:
    """Guide tones of the next chord, and its altered fifth, that the chord before does not have."""
    before = {tone.pitch_class for tone in (*here.chord.required, *here.chord.optional)}
    altered = [tone for tone in following.chord.required if tone.degree == 5 and tone.alter]
    return [tone for tone in (*following.chord.guide_tones, *altered) if tone.pitch_class not in before]


def _verb(passage: Passage, following: Placed) -> str:
    """Tension that lets go where it is expected to resolves; into more tension it leads on."""
    family, movement = passage.numeral.kind.family, passage.movement
    ways = {FIFTH_DOWN, HALF_STEP_DOWN} if family is not Family.DIMINISHED else {HALF_STEP_UP, HALF_STEP_DOWN}
    if passage.here == 10 and family is Family.DOMINANT:
        ways = ways | {WHOLE_STEP_UP}
    if family not in _TENSE or movement not in ways:
        return "Goes"
    return "Leads on" if following.numeral.kind.family in _TENSE else "Resolves"


def _line(line: Line, key: Key) -> str:
    """`Eb (seventh) fall a half step to D (third)`, `Ab stay (third, then seventh)`."""
    tone, target = _named(line.tone.tone, key), _named(line.target.tone, key)
    before, after = role(line.tone), role(line.target)
    if line.step:
        return f"{tone} ({before}) {_moves(line.step)} to {target} ({after})"
    called = "" if tone == target else f", now called {target}"
    roles = f"the {before} of both" if before == after else f"{before}, then {after}"
    return f"{tone} stay{called} ({roles})"


def _moves(step: int) -> str:
    return f"{'rise' if step > 0 else 'fall'} a {'half' if abs(step) == 1 else 'whole'} step"


def _named(tone: Tone, key: Key) -> Tone:
    """A tone as it is read; one with a double sharp or flat by its plain name."""
    return _in_key(tone, key) if abs(tone.alter) > 1 else tone


def _in_key(tone: Tone, key: Key) -> Tone:
    """The name that the key has for a tone, else one with the key's own kind of accidental."""
    sharps = key.signature > 0
    return min(
        tone.names(), key=lambda name: (not key.holds(name), abs(name.alter), (name.alter > 0) != sharps)
    )


def _joined(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
