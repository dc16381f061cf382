"""A port whose synth is slower, or faster, than the others: all goes out earlier, or later, by a constant.

Times are shifted on the way out and back on the way in, so that nobody else has to know. What the loop itself
adds (the offs of a release, Active Sensing) is never sent later than it says: silence does not wait.
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

from introit.live.cue import Cue, Rank
from introit.live.events import Lost, PortEvent, Sent
from introit.live.port import Port
from introit.live.release import OWN_SEQUENCE
from introit.units import NS_PER_MS

HELD_NS: Final = NS_PER_MS
"""How long before it is sent a cue comes here, where cues are held: what comes behind it may be due first."""


class OffsetPort:
    """Another port, lined up: keeps the promise of `live.port.Port`.

    A port that places events ahead is handed them with other times. For one that sends at once they are held
    here until their time has come; the loop asks `next_due` when that is, and has them sent by `send_due`.

    Attributes:
        holds: whether cues are held here.
    """

    def __init__(self, port: Port, offset: int, *, now: Callable[[], int]) -> None:
        """Takes over a port.

        Args:
            port: open.
            offset: nanoseconds by which everything is sent earlier than its time; later, where negative.
            now: the session clock.
        """
        self.name = port.name
        self.latency = port.latency
        self.wakes: bool = getattr(port, "wakes", False)
        self.holds = port.lookahead == 0
        self.lookahead = abs(offset) + (HELD_NS if self.holds else port.lookahead)
        self._port = port
        self._offset = offset
        self._now = now
        self._held: list[tuple[int, int, int, Cue]] = []  # (shifted ns, rank, number, cue), in order
        self._count = 0
        self._unshifted: Counter[tuple[int, bytes]] = Counter()

    # --- the promise --------------------------------------------------------------------------------

    def hand(self, cues: Sequence[Cue]) -> None:
        """See `Port.hand`."""
        shifted = [self._shift(cue) for cue in cues]
        if not self.holds:
            self._port.hand(shifted)
            return
        for cue in shifted:
            self._hold(cue)
        self.send_due()

    def withdraw(self, after: int) -> list[Cue]:
        """See `Port.withdraw`."""
        if not self.holds:
            return [self._back(cue) for cue in self._port.withdraw(after - self._offset)]
        freed: Counter[tuple[int, int]] = Counter()
        kept, withdrawn = [], []
        for item in self._held:
            cue = self._as_handed(item[3])
            note = (cue.data[0] & 0x0F, cue.data[1]) if cue.rank in (Rank.ON, Rank.OFF) else None
            stays = cue.ns <= after or cue.rank == Rank.LAMP
            if stays or (cue.rank == Rank.OFF and (note is None or not freed[note])):
                kept.append(item)
                continue
            if note is not None:
                freed[note] += 1 if cue.rank == Rank.ON else -1
            withdrawn.append(self._back(item[3]))
        self._held = kept
        return withdrawn

    def sent(self) -> list[Sent]:
        """See `Port.sent`; both times as they would have been without the offset."""
        if self.holds:
            self.send_due()
        return [self._lined_up(one) for one in self._port.sent()]

    def heard(self) -> list[PortEvent]:
        """See `Port.heard`; what was played elsewhere keeps its time."""
        offset = self._offset
        return [
            replace(event, start=event.start + offset, end=event.end + offset)
            if isinstance(event, Lost)
            else event
            for event in self._port.heard()
        ]

    def close(self) -> None:
        """See `Port.close`; an off that is held goes out first."""
        self._port.hand([item[3] for item in self._held if item[3].rank == Rank.OFF])
        self._held.clear()
        self._port.close()

    # --- what is held -------------------------------------------------------------------------------

    def next_due(self) -> int | None:
        """When something that is held is to be sent; None for nothing."""
        return self._held[0][0] if self._held else None

    def send_due(self) -> None:
        """Sends what is held and due."""
        now = self._now()
        due = bisect_right(self._held, now, key=lambda item: item[0])
        if due:
            cues = [item[3] for item in self._held[:due]]
            del self._held[:due]
            self._port.hand(cues)

    def _hold(self, cue: Cue) -> None:
        ns = cue.ns
        if cue.rank == Rank.OFF:
            ons = (
                item[0]
                for item in self._held
                if item[3].rank == Rank.ON and _note(item[3]) == _note(cue) and item[0] >= ns
            )
            ns = max(ns, *ons, ns)
        # An off that had to wait for its on stands behind it, whatever their ranks.
        rank = int(Rank.ON) if ns != cue.ns else int(cue.rank)
        insort(self._held, (ns, rank, self._count, cue))
        self._count += 1

    # --- time ---------------------------------------------------------------------------------------

    def _shift(self, cue: Cue) -> Cue:
        if self._offset < 0 and cue.sequence >= OWN_SEQUENCE:
            self._unshifted[cue.ns, cue.data] += 1
            return cue
        return cue._replace(ns=cue.ns - self._offset)

    def _as_handed(self, cue: Cue) -> Cue:
        own = self._offset < 0 and cue.sequence >= OWN_SEQUENCE
        return cue if own else cue._replace(ns=cue.ns + self._offset)

    def _back(self, cue: Cue) -> Cue:
        if self._offset < 0 and cue.sequence >= OWN_SEQUENCE:
            self._take(cue.ns, cue.data)
            return cue
        return self._as_handed(cue)

    def _lined_up(self, sent: Sent) -> Sent:
        if self._take(sent.ideal, sent.data):
            return sent
        return replace(sent, ideal=sent.ideal + self._offset, actual=sent.actual + self._offset)

    def _take(self, ns: int, data: bytes) -> bool:
        """Whether this went out, or came back, with the time that it was handed with."""
        there = self._unshifted[ns, data]
        self._unshifted[ns, data] = there - 1
        if there <= 1:
            del self._unshifted[ns, data]
        return there > 0


def _note(cue: Cue) -> tuple[int, int]:
    return cue.data[0] & 0x0F, cue.data[1]
