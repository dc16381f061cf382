"""The grip that bears an inner line: outer voices that hold, and moving ones between them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations, pairwise, permutations, product
from typing import NamedTuple

from introit.arrange.line_up import Stage
from introit.arrange.textures.inner_moves import Move
from introit.arrange.textures.members import WIDE_MINOR_NINTHS, clean, rungs
from introit.arrange.textures.neck import Held, held_at
from introit.theory.fretboard import Place

_WIDEST_GAP = 12
"""Semitones between neighbouring voices above the lowest two, at most."""
_WEIGHED = 40
"""Grips tried on the neck, the best first."""
_TOP, _BOTTOM, _THIN, _HAND, _POSITION = 1.0, 0.3, 1.5, 1.5, 0.25
"""Prices: a semitone that the top, and the bottom, lies from where the voices were; a grip of three; what it
costs the hand; a fret that the hand moves. Judgement, no source."""
_OTHER_FINGER = 3.0
_STRETCH, _HIGH, _FAR_OPEN = 1.5, 0.5, 3.0
"""Prices: each fret past a hand's four, each fret above the twelfth, an open string beside a hand high up."""
_AT_EASE, _BODY, _NEAR_NUT = 3, 12, 5
_USUAL = 4
_FEW = 3


class Voice(NamedTuple):
    """One voice of the grip: a note a step of the line, all alike where it holds.

    Attributes:
        pitches: MIDI notes.
        places: string and fret of each; empty on keys.
        fingers: finger of each; empty on keys.
    """

    pitches: tuple[int, ...]
    places: tuple[Place, ...] = ()
    fingers: tuple[int, ...] = ()

    @property
    def moves(self) -> bool:
        """Whether it has more than one pitch."""
        return len(set(self.pitches)) > 1


class Frame(NamedTuple):
    """Where a grip must lie; hashable, so that grips are found once.

    Attributes:
        low, high: lowest and highest MIDI note.
        over: the melody's MIDI notes above it.
        holding: MIDI note that must be in it when it begins; 0 for none.
        top, bottom: MIDI notes that its outer voices lie near.
        bass: MIDI note of the bass that one pair of hands plays below; 0 where another plays it.
        bass_place: where that lies, if anywhere yet.
        position: the fret near which the hand lies; 0 for anywhere.
    """

    low: int
    high: int
    over: frozenset[int] = frozenset()
    holding: int = 0
    top: int = 67
    bottom: int = 52
    bass: int = 0
    bass_place: Place | None = None
    position: int = 0


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
    priced = sorted((_price(voices, frame), voices) for voices in _grips(move, root, free_root, frame))
    if stage is None:
        return tuple(Voice(pitches) for pitches in priced[0][1]) if priced else ()
    held = [
        (price + cost, voices)
        for price, line in priced[:_WEIGHED]
        for cost, voices in _on_neck(line, frame, stage)
    ]
    return min(held, default=(0.0, ()))[1]


_Lines = tuple[tuple[int, ...], ...]
"""The pitches of each voice, step by step; voices from the lowest up."""


def _grips(move: Move, root: int, free_root: int | None, frame: Frame) -> Iterator[_Lines]:
    for moving in _moving(move, root, frame):
        lows = [pitch for voice in moving for pitch in voice]
        pool = rungs(move.may, frame.low, frame.high)
        if frame.bass:
            bottoms: tuple[int, ...] = (frame.bass,)
        else:
            bottoms = tuple(pitch for pitch in pool if pitch < min(lows, default=frame.high))
        tops = [pitch for pitch in pool if pitch > max(lows, default=frame.low)]
        for bottom, top in product(bottoms, tops):
            between = [pitch for pitch in pool if bottom < pitch < top]
            for more in range(3 if not moving else 2):
                for inner in combinations(between, more):
                    lines = _lines(move, (bottom, *inner, top), moving)
                    if _fits(move, lines, free_root, frame):
                        yield lines


def _moving(move: Move, root: int, frame: Frame) -> Iterator[_Lines]:
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


def _lines(move: Move, held: tuple[int, ...], moving: _Lines) -> _Lines:
    return tuple(sorted([*((pitch,) * move.steps for pitch in held), *moving]))


def _fits(move: Move, lines: _Lines, free_root: int | None, frame: Frame) -> bool:
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
        and state[-1] - state[-2] > 1
        and clean(state, free_root=free_root)
        and not any(note - pitch in WIDE_MINOR_NINTHS for note in frame.over for pitch in state)
        for state in states
    )


def _price(lines: _Lines, frame: Frame) -> float:
    comp = lines[bool(frame.bass) :]
    price = _TOP * abs(lines[-1][0] - frame.top) + _BOTTOM * abs(comp[0][0] - frame.bottom)
    return price + _THIN * (len(lines) < _USUAL)


def _on_neck(lines: _Lines, frame: Frame, stage: Stage) -> Iterator[tuple[float, tuple[Voice, ...]]]:
    """Every way to hold all steps of a line, each voice on one string throughout."""
    neck = stage.fretboard
    for strings in combinations(range(neck.strings, 0, -1), len(lines)):
        if frame.bass_place is not None and strings[0] != frame.bass_place.string:
            continue
        frets = [
            [neck.fret(pitch, string) for pitch in line]
            for line, string in zip(lines, strings, strict=True)
        ]  # fmt: skip
        places = [
            tuple(Place(string, fret) for fret in row if fret is not None)
            for row, string in zip(frets, strings, strict=True)
        ]
        if any(len(row) < len(lines[0]) for row in places):
            continue
        steps = [held_at(stage, state) for state in zip(*places, strict=True)]
        held = [step for step in steps if step is not None]
        if len(held) == len(steps):
            yield (
                _hand_price(lines, held, frame),
                tuple(
                    Voice(line, row, tuple(step.fingers[number] for step in held))
                    for number, (line, row) in enumerate(zip(lines, places, strict=True))
                ),
            )


def _hand_price(lines: _Lines, held: list[Held], frame: Frame) -> float:
    price = _HAND * max(step.cost for step in held)
    changed = sum(
        len({step.fingers[number] for step in held}) > 1
        for number, line in enumerate(lines)
        if len(set(line)) == 1
    )
    moved = abs(held[0].position - frame.position) if held[0].position and frame.position else 0
    price += max(_frets_price([place.fret for place in step.places]) for step in held)
    return price + _OTHER_FINGER * changed + _POSITION * moved


def _frets_price(frets: list[int]) -> float:
    stopped = [fret for fret in frets if fret]
    if not stopped:
        return 0.0
    price = _STRETCH * max(0, max(stopped) - min(stopped) - _AT_EASE) + _HIGH * max(0, max(stopped) - _BODY)
    return price + _FAR_OPEN * (0 in frets and min(stopped) > _NEAR_NUT)
