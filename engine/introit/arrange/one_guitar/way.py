"""One way to have played everything so far on one guitar, and what each thing in it costs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from introit.arrange.score import BASS, COMP, MELODY, ScoreNote
from introit.arrange.shifting import REST
from introit.theory.fretboard import Place

# What each thing costs. Judgement, no source.
LET_GO = {COMP: 0.6, MELODY: 1.5, BASS: 2.0}
LEFT_OUT, AGAIN_LEFT_OUT = {COMP: 10.0, BASS: 110.0}, {COMP: 4.0, BASS: 12.0}
"""A chord's first notes are dear; what strikes it again may be spared."""
SHIFT, WILD_SHIFT = 0.12, 120.0
STRAIN = 0.5
BREATH = 1.5
"""What rings is let go early, so that the hand can jump in the rest."""


class Spot(NamedTuple):
    """A finger on a place, or an open string, and what is reckoned with of it; `Grips.spot` makes it once.

    Attributes:
        place, finger: where, and which; finger 0 for an open string.
        code: the place as a number, see `grips.code_of`.
        string: the bit of its string.
        held: the finger as a number, see `grips.held_code`.
    """

    place: Place
    finger: int
    code: int
    string: int
    held: int


class Sounding(NamedTuple):
    """A note on the neck.

    Attributes:
        note: its index.
        part, pitch: as it sounds.
        end: a tick.
        spot: where it is held.
    """

    note: int
    part: int
    pitch: int
    end: int
    spot: Spot


class Way(NamedTuple):
    """One way to have played everything so far: its price, and where it leaves the hand.

    Attributes:
        price: what it costs.
        wild: leaps without a rest, second leaps in a bar, chords without their bass note, and groups that
            could not be played at all.
        position: of the hand; 0 before anything is stopped.
        free_from: tick from which the hand rests.
        jumped: bar of the last jump; -1 for none.
        ringing: what still sounds.
        done: what has ended, and the way before it; None at the beginning.
    """

    price: float
    wild: int
    position: int
    free_from: int
    jumped: int
    ringing: tuple[Sounding, ...]
    done: tuple[object, tuple[Sounding, ...]] | None


START = Way(0.0, 0, 0, -REST, -1, (), None)


def prices_of_leaving_out(notes: Sequence[ScoreNote]) -> list[float]:
    """For each note; the melody, which never is, has none of its own."""
    first: dict[tuple[int, int], int] = {}
    prices = []
    for note in notes:
        begins = first.setdefault((note.part, note.harmony_tick), note.onset) == note.onset
        prices.append((LEFT_OUT if begins else AGAIN_LEFT_OUT).get(note.part, 0.0))
    return prices


def played(way: Way, notes: Sequence[ScoreNote]) -> Iterator[ScoreNote]:
    """The notes of a way with their places and the ends that they got."""
    link: tuple[object, tuple[Sounding, ...]] | None = (way.done, way.ringing)
    while link is not None:
        earlier, soundings = link
        for one in soundings:
            note = notes[one.note]
            yield note._replace(
                length=one.end - note.onset,
                pitch=one.pitch,
                string=one.spot.place.string,
                fret=one.spot.place.fret,
                finger=one.spot.finger,
            )
        link = earlier  # type: ignore[assignment]
