"""Cues on their way from the loop to a port's callback: placed by frame, withdrawn exactly, without locks.

What is neither sounded nor withdrawn lies in one dictionary by number, and whoever pops a number owns its
cue: the callback sounds it, or `withdraw` returns it, never both. `dict.pop` and `deque.popleft` are atomic
in CPython.
"""

from __future__ import annotations

import heapq
from collections import Counter, deque
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from introit.live.cue import Cue, Rank

_NOTE_STATUS = (0x80, 0x90)


class Entry(NamedTuple):
    """A cue in the queue, ordered as cues are; `number` is unique, so order never reaches `cue`."""

    ns: int
    rank: int
    number: int
    frame: int
    cue: Cue


class CueQueue:
    """One port's cues.

    Args:
        frame_of: the frame on which a nanosecond is to sound.
    """

    def __init__(self, frame_of: Callable[[int], int]) -> None:
        self._frame_of = frame_of
        self._pending: dict[int, Cue] = {}
        self._handed: deque[Entry] = deque()
        self._heap: list[Entry] = []  # the callback's own
        self._kept = False
        self._count = 0

    def __len__(self) -> int:
        return len(self._pending)

    # --- the loop's thread -------------------------------------------------------------------------

    def hand(self, cues: Iterable[Cue]) -> None:
        """Takes cues for the callback to sound."""
        for cue in cues:
            number = self._count
            self._count += 1
            self._pending[number] = cue
            self._handed.append(Entry(cue.ns, cue.rank, number, self._frame_of(cue.ns), cue))

    def withdraw(self, after: int) -> list[Cue]:
        """Takes back what is due after `after` and has not sounded, in order; an off only with its on.

        A lamp is no sound, and stays.
        """
        later = [item for item in self._pending.copy().items() if item[1].ns > after]
        later.sort(key=lambda item: (item[1].ns, item[1].rank, item[0]))
        freed: Counter[tuple[int, int]] = Counter()
        withdrawn = []
        for number, cue in later:
            note = _note(cue)
            if cue.rank == Rank.LAMP or (cue.rank == Rank.OFF and (note is None or not freed[note])):
                continue
            if self._pending.pop(number, None) is None:
                continue  # the callback was faster: it has sounded
            if note is not None:
                freed[note] += 1 if cue.rank == Rank.ON else -1
            withdrawn.append(cue)
        return withdrawn

    def hurry(self, now: int) -> None:
        """Withdraws what can be, and moves every off and lamp that is left to `now`."""
        self.withdraw(now)
        for number, cue in sorted(self._pending.copy().items(), key=lambda item: item[1][:3]):
            if cue.ns > now and self._pending.pop(number, None) is not None:
                self.hand([cue._replace(ns=now)])

    # --- the callback's thread ---------------------------------------------------------------------

    @property
    def at_rest(self) -> bool:
        """Whether there is nothing for `due` to do, as in nearly every cycle."""
        return not (self._handed or self._heap or self._kept)

    def due(self, start: int, end: int, *, most: int = 1 << 30) -> list[Entry]:
        """What falls before frame `end`, in order, at most so many. Claim each entry before sounding it.

        What was left over by an earlier cycle comes offs first, where no on of the pitch stands before them.
        """
        while self._handed:
            heapq.heappush(self._heap, self._handed.popleft())
        entries: list[Entry] = []
        while self._heap and self._heap[0].frame < end and len(entries) < most:
            entries.append(heapq.heappop(self._heap))
        if self._kept:
            late = [entry for entry in entries if entry.frame <= start]
            entries = [*offs_first(late), *entries[len(late) :]]
        self._kept = len(entries) == most
        return entries

    def claim(self, entry: Entry) -> bool:
        """Whether the entry is the callback's to sound; False when it was withdrawn. Once only."""
        return self._pending.pop(entry.number, None) is not None

    def keep(self, entries: Sequence[Entry]) -> None:
        """Puts back what `due` gave and nobody claimed, for the next cycle."""
        for entry in entries:
            heapq.heappush(self._heap, entry)
        self._kept = True


def offs_first(entries: Sequence[Entry]) -> list[Entry]:
    """The same entries with each off moved ahead, unless an on of its pitch stands before it."""
    first, rest = [], []
    begun: set[tuple[int, int] | None] = set()
    for entry in entries:
        note = _note(entry.cue)
        if entry.rank == Rank.OFF and note is not None and note not in begun:
            first.append(entry)
        else:
            rest.append(entry)
            if entry.rank == Rank.ON:
                begun.add(note)
    return first + rest


def _note(cue: Cue) -> tuple[int, int] | None:
    """Channel and pitch of a note-on or note-off; None for anything else, a lamp's too."""
    status = 0 if cue.rank == Rank.LAMP else cue.data[0]
    return (status & 0x0F, cue.data[1]) if status & 0xF0 in _NOTE_STATUS else None
