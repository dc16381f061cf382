"""Where a motif is said in a score, and how it returns: what a class is shown of it. Pure.

It is read from the notes that are played, not from what was meant: a return is called what
an ear would call it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from introit.arrange.melody.motif import motif_starts
from introit.arrange.score import MELODY, Score, ScoreNote, Touch
from introit.arrange.textures import silences_motif
from introit.units import ticks

_FIRST = "the motif"
_OCTAVES = {12: "again, an octave up", -12: "again, an octave down"}
_STEPS = ("", "step", "third", "fourth", "fifth", "sixth", "seventh")
"""How far a sequence is moved, by lines of the staff."""
_LINE = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Lines of the staff by semitones; a tritone is taken for a fourth."""


class Said(NamedTuple):
    """One saying of the motif.

    Attributes:
        onset, end: ticks, from its first note to the end of its last.
        how: in a few words, such as `again, an octave up`.
        changed: indexes of its notes that are others than those of the first saying; empty where all are
            moved alike.
        notes: how many it has.
    """

    onset: int
    end: int
    how: str
    changed: tuple[int, ...]
    notes: int


def sayings(score: Score) -> list[Said]:
    """Every saying of the intro's motif that is heard, in order; none where it has no motif."""
    said: list[Said] = []
    first: dict[int, ScoreNote] = {}
    for found in _heard(score):
        notes = list(found.values())
        if not said:
            first = found
        how, changed = _return(first, found) if said else (_FIRST, ())
        said.append(Said(notes[0].onset, notes[-1].end, how, changed, len(notes)))
    return said


def _heard(score: Score) -> Iterator[dict[int, ScoreNote]]:
    """The notes of each saying, by their index in the motif as it is written."""
    plan, motif = score.plan, score.plan.intro.melody.motif
    if not motif:
        return
    top: dict[int, ScoreNote] = {}
    for note in score.notes:
        if note.part == MELODY and note.touch is not Touch.ORNAMENT:
            before = top.get(note.onset)
            top[note.onset] = note if before is None or note.pitch > before.pitch else before
    starts = [
        [(start + note.bar) * plan.bar_ticks + ticks(note.position) for note in motif]
        for start in motif_starts(plan)
    ]
    for onsets, following in pairwise([*starts, [plan.head_tick]]):
        found = {
            index: top[onset]
            for index, onset in enumerate(onsets)
            if 0 <= onset < following[0]
            and onset in top
            and not silences_motif(score.scene.passage_at(onset).texture)
        }
        if len(found) > 1:  # one note alone is known by nobody
            yield found


def _return(first: dict[int, ScoreNote], found: dict[int, ScoreNote]) -> tuple[str, tuple[int, ...]]:
    """What a return is to the first saying, and which of its notes are others."""
    places = [index for index in found if index in first]
    moves = [found[index].pitch - first[index].pitch for index in places]
    short = len(found) < len(first)
    if not moves:
        return "again, in other notes", ()
    usual = max(sorted(set(moves), key=abs), key=moves.count)
    others = [at for at, move in enumerate(moves) if move != usual]
    if 2 * len(others) >= len(moves):
        return f"again, {_bent([first[index] for index in places], [found[index] for index in places])}", ()
    how = "again" if not usual else _OCTAVES.get(usual) or f"again, {_moved(usual)}"
    changed = tuple(list(found).index(places[at]) for at in others)
    if others:
        how += f", {_change(others, len(moves))}"
    elif short:
        how += ", cut short"
    return how, changed


def _bent(first: Sequence[ScoreNote], found: Sequence[ScoreNote]) -> str:
    """What is left of it on other chords: the ways that it goes."""
    same = [one == other for one, other in zip(_ways(first), _ways(found), strict=True)]
    if all(same):
        return "the same shape on the new chords"
    if all(same[:-1]) and len(same) > 1:
        return "on the new chords, with another end"
    return "bent to the new chords"


def _ways(notes: Sequence[ScoreNote]) -> list[int]:
    """Down, the same or up, from note to note: -1, 0, 1."""
    return [(b.pitch > a.pitch) - (b.pitch < a.pitch) for a, b in pairwise(notes)]


def _change(others: Sequence[int], many: int) -> str:
    """Which notes of so many are others: at the end, at the beginning, or inside."""
    if others[0] == many - len(others):
        return "with another end"
    if others[-1] == len(others) - 1:
        return "with another beginning"
    return "an inner note changed" if len(others) == 1 else "some notes changed"


def _moved(semitones: int) -> str:
    """A move that is not one octave: by a step, a third; further, by octaves and so much."""
    octaves, rest = divmod(abs(semitones), 12)
    far = [] if not octaves else ["an octave" if octaves == 1 else f"{octaves} octaves"]
    if rest:
        far.append("a half step" if rest == 1 else f"a {_STEPS[_LINE[rest]]}")
    return f"{' and '.join(far)} {'up' if semitones > 0 else 'down'}"
