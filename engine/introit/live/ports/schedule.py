"""What a sequencer of the system's was given to play later: in order, and taken back exactly. Pure.

Such a sequencer takes an event with its time, keeps it, and plays it from a thread of its own or in the
kernel. What it plays at one and the same time it may play in any order. So no two events get the same tick
here: one that belongs between two others has those behind it moved, unless they are about to be played.
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections import Counter
from collections.abc import Callable
from typing import NamedTuple, Protocol

from introit.live.cue import Cue, Rank

_NOTE_STATUS = (0x80, 0x90)


class Sequencer(Protocol):
    """The system's. Numbers are given once, from 0 up."""

    def send(self, number: int, tick: int, data: bytes) -> bool:
        """Plays a message at a tick. Whether it can be taken back by its number."""

    def remove(self, number: int) -> None:
        """Takes one back that has not been played; does nothing otherwise."""


class Entry(NamedTuple):
    """A cue that waits. `key` orders as cues are ordered; an off never stands before an on of its pitch."""

    key: tuple[int, int, int]
    tick: int
    number: int
    cue: Cue
    free: bool


class Schedule:
    """One port's events.

    Args:
        sequencer: who plays them.
    """

    def __init__(self, sequencer: Sequencer) -> None:
        self._sequencer = sequencer
        self._entries: list[Entry] = []  # by key; ticks rise with it, but for what could not be moved
        self._count = 0

    def __len__(self) -> int:
        return len(self._entries)

    def hand(self, cue: Cue, tick: int, *, fixed: int) -> None:
        """Has a cue played at a tick, or as soon after as its order needs.

        Args:
            cue: what is played.
            tick: the first that would do.
            fixed: what is due before this tick cannot be moved any more.
        """
        number = self._count
        self._count += 1
        key = self._key(cue, number)
        place = bisect_right(self._entries, key, key=lambda entry: entry.key)
        if place:
            tick = max(tick, self._entries[place - 1].tick + 1)
        taken = {entry.tick for entry in self._entries[place:] if entry.tick < fixed or not entry.free}
        while tick in taken:
            tick += 1
        self._move(place, tick, fixed)
        self._place(Entry(key, tick, number, cue, free=False))

    def _key(self, cue: Cue, number: int) -> tuple[int, int, int]:
        if cue.rank == Rank.OFF and (note := _note(cue)) is not None:
            ons = [entry for entry in self._entries if entry.cue.rank == Rank.ON and _note(entry.cue) == note]
            if ons and ons[-1].key > (cue.ns, cue.rank, number):
                return (*ons[-1].key[:2], number)
        return (cue.ns, cue.rank, number)

    def _move(self, place: int, tick: int, fixed: int) -> None:
        """Moves what stands from a place on behind a tick, so far as it is in the way."""
        moved = []
        for entry in self._entries[place:]:
            if entry.tick > tick:
                break
            if entry.tick >= fixed and entry.free:
                tick += 1
                moved.append((entry, tick))
        for entry, later in moved:
            self._entries.remove(entry)
            self._sequencer.remove(entry.number)
            self._place(entry._replace(tick=later, number=self._count))
            self._count += 1

    def _place(self, entry: Entry) -> None:
        free = self._sequencer.send(entry.number, entry.tick, entry.cue.data)
        insort(self._entries, entry._replace(free=free), key=lambda one: one.key)

    def played(self, before: int) -> list[Entry]:
        """What was due before a tick and so has been played, in the order played; each once."""
        gone = sorted((entry for entry in self._entries if entry.tick < before), key=lambda one: one.tick)
        if gone:
            self._entries = [entry for entry in self._entries if entry.tick >= before]
        return gone

    def withdraw(self, after: int, *, fixed: int, reached: Callable[[], int]) -> list[Cue]:
        """Takes back what is due after a nanosecond, in order; an off only with its on, and a lamp never.

        Args:
            after: the nanosecond.
            fixed: what is due before this tick may be played at any moment, and stays.
            reached: asked afterwards; what is due before the tick that it says may have been played
                meanwhile, and counts as played.
        """
        freed: Counter[tuple[int, int]] = Counter()
        chosen = []
        for entry in self._entries:
            note = _note(entry.cue)
            if entry.cue.ns <= after or entry.tick < fixed or not entry.free or entry.cue.rank == Rank.LAMP:
                continue
            if entry.cue.rank == Rank.OFF and (note is None or not freed[note]):
                continue
            if note is not None:
                freed[note] += 1 if entry.cue.rank == Rank.ON else -1
            chosen.append(entry)
        for entry in chosen:
            self._sequencer.remove(entry.number)
        limit = reached() if chosen else 0
        back = {entry.number for entry in chosen if entry.tick >= limit}
        self._entries = [entry for entry in self._entries if entry.number not in back]
        return [entry.cue for entry in chosen if entry.number in back]

    def clear(self) -> None:
        """Forgets everything; the sequencer has been emptied."""
        self._entries.clear()


def _note(cue: Cue) -> tuple[int, int] | None:
    """Channel and pitch of a note-on or note-off; None for anything else, a lamp's too."""
    status = 0 if cue.rank == Rank.LAMP else cue.data[0]
    return (status & 0x0F, cue.data[1]) if status & 0xF0 in _NOTE_STATUS else None
