"""Where the tones of a chord go when the next one comes: the lines that an ear follows through the harmony.

The third and the seventh tell what a chord is, and each goes the shortest way to a tone of the next: where
roots fall in fifths, the seventh falls to the third and the third becomes, or falls to, the seventh ([GT1],
[GT2]). The third of a dominant is a leading tone: it rises to a root that has no seventh beside it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from introit.theory.chord import Chord, ChordTone
from introit.theory.quality import Family

_FARTHEST = 2
_ALTERED = frozenset({"b5", "#5", "b9", "#9", "#11", "b13"})
_ROLES = {
    1: "root", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh",
    9: "nine", 11: "eleven", 13: "thirteen",
}  # fmt: skip
_SIGNS = {-1: "flat", 1: "raised"}
_FOURTHS_AND_TENSIONS = frozenset({5, 9, 11, 13})
"""Degrees whose alteration is said; a third or a seventh is one in every chord."""


class Line(NamedTuple):
    """One tone and where it goes.

    Attributes:
        tone: of the chord.
        target: of the next chord.
        step: semitones up, -2 to 2; 0 where it stays.
    """

    tone: ChordTone
    target: ChordTone
    step: int


def guide_lines(chord: Chord, following: Chord) -> tuple[Line, ...]:
    """The lines from a chord to the next: what moves first, by the smallest step, then what stays.

    At most one line starts at a tone and at most one ends at one. What has no way of a whole step or less is
    left out.
    """
    found: list[Line] = []
    for tone in _telling(chord):
        ways = [line for line in _ways(chord, tone, following) if _is_free(line, found)]
        if ways:
            found.append(ways[0])
    return tuple(sorted(found, key=lambda line: abs(line.step) or _FARTHEST + 1))


def role(tone: ChordTone) -> str:
    """What a tone is in its chord, in a word or two: `third`, `raised fifth`, `flat nine`."""
    name = _ROLES.get(tone.degree, f"{tone.degree}th")
    altered = tone.degree in _FOURTHS_AND_TENSIONS and tone.alter
    return f"{_SIGNS.get(tone.alter, '')} {name}".strip() if altered else name


def _telling(chord: Chord) -> Iterator[ChordTone]:
    """The tones to listen to: seventh and third, the root of a diminished chord, and what is altered."""
    yield from reversed(chord.guide_tones)
    if chord.kind.family is Family.DIMINISHED:
        yield chord.required[0]
    guides = set(chord.guide_tones)
    yield from (tone for tone in chord.required if tone.name in _ALTERED and tone not in guides)


def _is_free(line: Line, found: list[Line]) -> bool:
    return all(line.target.pitch_class != other.target.pitch_class for other in found)


def _ways(chord: Chord, tone: ChordTone, following: Chord) -> list[Line]:
    """Every way on, the likeliest first; an altered tone or a root only stays or goes a half step."""
    farthest = _FARTHEST if tone in chord.guide_tones else 1
    lines = [Line(tone, target, _step(tone, target)) for target in _targets(following)]
    reached = [line for line in lines if abs(line.step) <= farthest]
    unlikely = _unlikely_for_a_root if tone.degree == 1 else _unlikely
    return sorted(reached, key=lambda line: unlikely(line, following))


def _targets(following: Chord) -> Iterator[ChordTone]:
    """What tells the next chord, and its plain fifth."""
    yield from following.required
    yield from (tone for tone in following.optional if (tone.degree, tone.alter) == (5, 0))


def _unlikely(line: Line, following: Chord) -> tuple[int, bool, bool, int]:
    """By the smallest step; flat ones fall, raised ones rise; to a guide tone; down rather than up."""
    against = line.tone.name in _ALTERED and line.step * line.tone.alter < 0
    return abs(line.step), against, line.target not in following.guide_tones, int(line.step > 0)


def _unlikely_for_a_root(line: Line, _following: Chord) -> tuple[bool, bool]:
    """The root of a diminished chord is a leading tone: to the next root, and up."""
    return line.target.degree != 1, line.step < 0


def _step(tone: ChordTone, target: ChordTone) -> int:
    return (target.pitch_class - tone.pitch_class + 6) % 12 - 6
