"""How the player leads an intro with the foot: what a tune says of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


class BarBeat(NamedTuple):
    """A place in an intro: bar from 1, the first after the count-off, and beat from 1."""

    bar: int
    beat: int = 1

    def __str__(self) -> str:
        return f"bar {self.bar}" if self.beat == 1 else f"bar {self.bar} beat {self.beat}"


class Bars(NamedTuple):
    """Bars of an intro: the first and the last of them, from 1."""

    first: int
    last: int

    def __str__(self) -> str:
        return f"bar {self.first}" if self.first == self.last else f"bars {self.first}-{self.last}"


@dataclass(frozen=True, slots=True)
class Leading:
    """How the player leads an intro.

    Attributes:
        tapped: the count-off is tapped, and the tempo with it.
        vamp: bars go round until the nod: all, and the head follows.
        vamp_bars: those that go round instead, after which the others follow; None for all.
        once_more: the player may ask for another round while it plays, or for the last bar.
        hold: a chord waits for the player's breath: the last dominant; where there is none, the last chord.
        held: a place in the chord that waits instead; None for none.
        rolled: the held chord is rolled slowly and softly, in place of one stroke.
        start_clock: what begins with MIDI clock's Start, `intro` or `head`; empty for what the rig says.
        colla_voce: bars from the first that are played out of time, a press a chord; 0 for none.
        in_time: the place from which time is kept in those bars; None for behind them.
        tapped_on: a bar is tapped before time goes on after a wait, and with it the tempo.
    """

    tapped: bool = False
    vamp: bool = False
    once_more: bool = False
    hold: bool = False
    colla_voce: int = 0
    in_time: BarBeat | None = None
    tapped_on: bool = False
    held: BarBeat | None = None
    vamp_bars: Bars | None = None
    rolled: bool = False
    start_clock: str = ""
