"""A port in memory: keeps every promise of `Port`, on a real clock or a fake one, and needs no hardware.

It is the receiver as well: what sounds, and when, is told to a listener. Nothing runs in the background;
everything is worked out from the clock when the port is called.
"""

from __future__ import annotations

from bisect import insort
from collections import Counter, deque
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from introit.live.clock import Clock
from introit.live.cue import Cue, Rank
from introit.live.events import Back, Gone, Heard, Lost, PortEvent, Sent
from introit.live.messages import ChannelMessage, Kind, parse


class _Waiting(NamedTuple):
    cue: Cue
    sounds: int


class MemoryPort:
    """A port that ends in memory.

    Args:
        name: as the rig calls it.
        clock: the loop's clock.
        index: the port's index in the setup.
        lookahead: nanoseconds ahead that cues may come; 0 for an immediate port, which sends them at once.
        committed: nanoseconds before sounding from which a cue can no longer be withdrawn, at most
        `lookahead`.
        script: inputs as (nanosecond, bytes), in order of time; each is heard once its time has come.
        listener: told each message as it sounds.
    """

    def __init__(
        self,
        name: str,
        clock: Clock,
        *,
        index: int = 0,
        lookahead: int = 0,
        committed: int = 0,
        script: Iterable[tuple[int, bytes]] = (),
        listener: Callable[[Sent], None] | None = None,
    ) -> None:
        self.name = name
        self.lookahead = lookahead
        self.latency = 0
        self.wakes = not script
        self._clock = clock
        self._index = index
        self._committed = committed
        self._script = deque(script)
        self._listener = listener
        self._waiting: list[_Waiting] = []
        self._sent: list[Sent] = []
        self._deaf: list[tuple[int, int]] = []
        self._news: list[Lost | Gone | Back] = []
        self._open = True
        self._closed = False

    # --- the promise --------------------------------------------------------------------------------

    def hand(self, cues: Sequence[Cue]) -> None:
        """See `Port.hand`."""
        now = self._clock.now()
        self._settle(now)
        if not self._open:
            return
        for cue in cues:
            sounds = max(now, cue.ns) if self.lookahead else now
            if cue.rank == Rank.OFF:
                ons = (
                    one.sounds
                    for one in self._waiting
                    if one.cue.rank == Rank.ON and _same_note(one.cue, cue)
                )
                sounds = max(sounds, *ons, sounds)
            insort(self._waiting, _Waiting(cue, sounds), key=lambda waiting: waiting.sounds)
        self._settle(now)

    def withdraw(self, after: int) -> list[Cue]:
        """See `Port.withdraw`."""
        now = self._clock.now()
        self._settle(now)
        kept: list[_Waiting] = []
        withdrawn: list[Cue] = []
        silent: Counter[tuple[int, int]] = Counter()  # notes whose on was withdrawn, so their off may be
        for waiting in self._waiting:
            free = waiting.cue.ns > after and waiting.sounds >= now + self._committed
            if free and waiting.cue.rank != Rank.LAMP and _may_go(waiting.cue.data, silent):
                withdrawn.append(waiting.cue)
            else:
                kept.append(waiting)
        self._waiting = kept
        return withdrawn

    def sent(self) -> list[Sent]:
        """See `Port.sent`."""
        self._settle(self._clock.now())
        sent, self._sent = self._sent, []
        return sent

    def heard(self) -> list[PortEvent]:
        """See `Port.heard`."""
        now = self._clock.now()
        heard: list[PortEvent] = [*self._news]
        self._news.clear()
        while self._script and self._script[0][0] <= now:
            ns, data = self._script.popleft()
            if self._open:
                heard.append(Heard(self._index, ns, data))
        return heard

    def close(self) -> None:
        """See `Port.close`."""
        self._settle(self._clock.now())
        self._waiting.clear()
        self._open, self._closed = False, True

    # --- what may befall a port ---------------------------------------------------------------------

    def lose(self, start: int, end: int, *, told: bool = True) -> None:
        """Skips a cycle: what waits to sound within [start, end] never does, and `Lost` is told.

        Untold, it is told as sent all the same, as by a system that does not know what it lost; and what is
        still to be handed is lost as well.
        """
        if not told:
            self._deaf.append((start, end))
            return
        self._settle(self._clock.now())
        self._waiting = [waiting for waiting in self._waiting if not start <= waiting.sounds <= end]
        self._news.append(Lost(self._index, start, end))

    def vanish(self, reason: str) -> None:
        """Goes away: what waits never sounds, and `Gone` is told."""
        self._settle(self._clock.now())
        if self._open:
            self._open = False
            self._waiting.clear()
            self._news.append(Gone(self._index, reason))

    def revive(self) -> None:
        """Is there again, and `Back` is told; nothing happens when it had not gone, or was closed."""
        if not self._open and not self._closed:
            self._open = True
            self._news.append(Back(self._index))

    def _settle(self, now: int) -> None:
        while self._waiting and self._waiting[0].sounds <= now:
            cue, sounds = self._waiting.pop(0)
            sent = Sent(self._index, cue.ns, sounds, cue.data)
            self._sent.append(sent)
            if self._listener is not None and not any(start <= sounds <= end for start, end in self._deaf):
                self._listener(sent)


def _same_note(one: Cue, other: Cue) -> bool:
    return one.data[0] & 0x0F == other.data[0] & 0x0F and one.data[1] == other.data[1]


def _may_go(data: bytes, silent: Counter[tuple[int, int]]) -> bool:
    """Whether a message may be withdrawn: an off only with its on, which was handed before it."""
    message = parse(data)
    if isinstance(message, ChannelMessage):
        note = (message.channel, message.first)
        if message.kind is Kind.NOTE_ON:
            silent[note] += 1
        elif message.kind is Kind.NOTE_OFF:
            silent[note] -= 1
            return silent[note] >= 0
    return True
