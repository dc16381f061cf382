"""The grip that bears an inner line: outer voices that hold, and moving ones between them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations, pairwise, permutations, product
from typing import NamedTuple

from introit.arrange.line_up import Stage
from introit.arrange.textures.inner_hand import Lines, Voice, on_neck
from introit.arrange.textures.inner_moves import Move
from introit.arrange.textures.members import WIDE_MINOR_NINTHS, clean, rungs
from introit.theory.fretboard import Place

_WIDEST_GAP = 12
"""Semitones between neighbouring voices above the lowest two, at most."""
_WEIGHED = 40
"""Grips tried on the neck, the best first."""
_TOP, _BOTTOM, _THIN = 1.0, 0.3, 1.5
"""Prices: a semitone that the top, and the bottom, lies from where the voices were; a grip of three.
Judgement, no source."""
_NEAR_TOP, _FAR_TOP = 5, 2.0
"""Farther than a fourth from where the voicing had it, each semitone of the top costs more: it is a line."""
_STEP, _SKIP = 2, 1.5
"""Each semitone past a whole step that the top moves from the grip before."""
_CLOSE_TOP = 6.0
"""Price of a half step under the top."""
_SPARE = 15.0
"""A tension beside the line's own: the last dominant is to have most of them."""
_ROOT = 4.0
"""The root at the bottom of a grip whose bass plays it already."""
_LOWER = 5
"""Semitones that it may lie under the floor of other tones."""
_USUAL = 4
_FEW = 3


class Frame(NamedTuple):
    """Where a grip must lie; hashable, so that grips are found once.

    Attributes:
        low, high: lowest and highest MIDI note.
        over: the melody's MIDI notes above it.
        holding: MIDI note that must be in it when it begins; 0 for none.
        top, bottom: MIDI notes that its outer voices lie near.
        bass: MIDI note of the bass that one pair of hands plays below; 0 where another plays it.
        bass_place: where that lies, if anywhere yet.
        positions: frets near which the hand lies before it, and would have lain here.
        before: MIDI note of the top of the grip before it; 0 for none.
    """

    low: int
    high: int
    over: frozenset[int] = frozenset()
    holding: int = 0
    top: int = 67
    bottom: int = 52
    bass: int = 0
    bass_place: Place | None = None
    positions: tuple[int, ...] = ()
    before: int = 0


@lru_cache(maxsize=32768)
def grip_for(
    move: Move, root: int, *, free_root: int | None, frame: Frame, stage: Stage | None
) -> tuple[Voice, ...]:
    """The best grip that bears a line, its voices from the lowest up; empty where there is none.

    Args:
        move: the line.
        root: pitch class of the chord's root.
        free_root: that root again where the chord is a dominant, whose own b9 may lie over it; else None.
        frame: where it must lie.
        stage: the neck it must be held on; None on keys.
    """
    priced = sorted(
        (_price(voices, frame, move.spare, root), voices) for voices in _grips(move, root, free_root, frame)
    )
    if stage is None:
        return tuple(Voice(pitches) for pitches in priced[0][1]) if priced else ()
    held = [
        (price + cost, voices)
        for price, line in priced[:_WEIGHED]
        for cost, voices in on_neck(line, stage, bass_place=frame.bass_place, positions=frame.positions)
    ]
    return min(held, default=(0.0, ()))[1]


def _grips(move: Move, root: int, free_root: int | None, frame: Frame) -> Iterator[Lines]:
    for moving in _moving(move, root, frame):
        lows = [pitch for voice in moving for pitch in voice]
        pool = rungs(move.may, frame.low, frame.high)
        if frame.bass:
            bottoms: tuple[int, ...] = (frame.bass,)
        else:
            # The root under a thirteenth, too: a ninth there would be a tension more. The bass goes under it.
            roots = rungs((root,), frame.low - _LOWER, frame.high) if move.spare else ()
            bottoms = tuple(pitch for pitch in (*pool, *roots) if pitch < min(lows, default=frame.high))
        tops = [pitch for pitch in pool if pitch > max(lows, default=frame.low)]
        for bottom, top in product(bottoms, tops):
            between = [pitch for pitch in pool if bottom < pitch < top]
            for more in range(3 if not moving else 2):
                for inner in combinations(between, more):
                    lines = _lines(move, (bottom, *inner, top), moving)
                    if _fits(move, lines, free_root, frame):
                        yield lines


def _moving(move: Move, root: int, frame: Frame) -> Iterator[Lines]:
    """The moving voices in every octave and order."""
    if not move.voices:
        yield ()
        return
    for order in permutations(move.voices):
        for first in rungs(((root + order[0][0]) % 12,), frame.low, frame.high):
            starts = [first]
            for voice in order[1:]:
                starts.append(starts[-1] + (voice[0] - order[len(starts) - 1][0]) % 12)
            yield tuple(
                tuple(start + step - voice[0] for step in voice)
                for start, voice in zip(starts, order, strict=True)
            )


def _lines(move: Move, held: tuple[int, ...], moving: Lines) -> Lines:
    return tuple(sorted([*((pitch,) * move.steps for pitch in held), *moving]))


def _fits(move: Move, lines: Lines, free_root: int | None, frame: Frame) -> bool:
    starts = [line[0] for line in lines]
    comp = lines[bool(frame.bass) :]
    classes = [line[0] % 12 for line in comp]
    if len(comp) < _FEW - bool(frame.bass) or len(lines) > _USUAL or len(set(classes)) < len(classes):
        return False
    if not set(move.must) <= {pitch % 12 for pitch in starts}:
        return False
    if frame.holding and frame.holding not in (line[0] for line in comp):
        return False
    if any(high - low > _WIDEST_GAP for low, high in pairwise(starts[1:])):
        return False
    states = list(zip(*lines, strict=True))
    return all(
        list(state) == sorted(set(state))
        and clean(state, free_root=free_root)
        and not any(note - pitch in WIDE_MINOR_NINTHS for note in frame.over for pitch in state)
        for state in states
    )


def _price(lines: Lines, frame: Frame, spare: tuple[int, ...], root: int) -> float:
    comp = lines[bool(frame.bass) :]
    price = _TOP * abs(lines[-1][0] - frame.top) + _BOTTOM * abs(comp[0][0] - frame.bottom)
    price += _FAR_TOP * max(0, abs(lines[-1][0] - frame.top) - _NEAR_TOP)
    if frame.before:
        price += _SKIP * max(0, abs(lines[-1][0] - frame.before) - _STEP)
    price += _SPARE * sum(line[0] % 12 in spare and line[0] != frame.holding for line in comp)
    price += _ROOT * (comp[0][0] % 12 == root)
    price += _CLOSE_TOP * (lines[-1][0] - lines[-2][0] == 1)
    return price + _THIN * (len(lines) < _USUAL)
