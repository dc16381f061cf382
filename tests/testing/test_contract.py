"""The ports' contract: the memory port keeps it, and a port that breaks a promise is found."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from introit.live.cue import Cue, Rank
from introit.live.events import Back, Gone, Heard, Lost, Sent
from introit.live.ports.memory import MemoryPort
from introit.testing import FakeClock, PortBench, Receiver, check_port
from introit.units import NS_PER_MS

LOOKAHEAD = 30 * NS_PER_MS


def bench(kind: type[MemoryPort], *, lookahead: int = LOOKAHEAD, committed: int = 0) -> PortBench:
    clock, receiver = FakeClock(), Receiver()
    clock.jump(1_000 * NS_PER_MS)
    port = kind("memory", clock, lookahead=lookahead, committed=committed, listener=receiver)
    return PortBench(
        port,
        now=clock.now,
        wait=lambda ns: clock.jump(clock.now() + ns),
        received=lambda: [sent.data for sent in receiver.messages],
        vanish=lambda: port.vanish("unplugged"),
    )


@pytest.mark.parametrize(("lookahead", "committed"), [(0, 0), (LOOKAHEAD, 0), (LOOKAHEAD, 20 * NS_PER_MS)])
def test_the_memory_port_keeps_every_promise(lookahead: int, committed: int) -> None:
    check_port(lambda: bench(MemoryPort, lookahead=lookahead, committed=committed))


class Reordering(MemoryPort):
    def hand(self, cues: Sequence[Cue]) -> None:
        super().hand([cue._replace(ns=cue.ns + 5 * (cue.rank == Rank.OFF)) for cue in cues])


class Dropping(MemoryPort):
    def hand(self, cues: Sequence[Cue]) -> None:
        super().hand([cue for cue in cues if cue.ns >= self._clock.now()])


class Late(MemoryPort):
    def hand(self, cues: Sequence[Cue]) -> None:
        super().hand([cue._replace(ns=cue.ns + NS_PER_MS) for cue in cues])


class Repeating(MemoryPort):
    def sent(self) -> list[Sent]:
        sent = super().sent()
        self._sent = sent[-1:]
        return sent


class Lying(MemoryPort):
    def withdraw(self, after: int) -> list[Cue]:
        return [waiting.cue for waiting in self._waiting if waiting.cue.ns > after]


class Forgetful(MemoryPort):
    def withdraw(self, after: int) -> list[Cue]:
        cues = [waiting.cue for waiting in self._waiting if waiting.cue.ns > after]
        self._waiting = [waiting for waiting in self._waiting if waiting.cue.ns <= after]
        return cues


class Dark(MemoryPort):
    """Takes a lamp for a sound."""

    def withdraw(self, after: int) -> list[Cue]:
        lamps = [one.cue for one in self._waiting if one.cue.rank == Rank.LAMP and one.cue.ns > after]
        withdrawn = super().withdraw(after)
        self._waiting = [one for one in self._waiting if one.cue not in lamps]
        return [*withdrawn, *lamps]


class Queueing(MemoryPort):
    def hand(self, cues: Sequence[Cue]) -> None:
        last = max((waiting.sounds for waiting in self._waiting), default=0)
        super().hand([cue._replace(ns=max(cue.ns, last)) for cue in cues])


class Hasty(MemoryPort):
    """Lets an off pass the on it belongs to."""

    def withdraw(self, after: int) -> list[Cue]:
        del after
        return []

    def hand(self, cues: Sequence[Cue]) -> None:
        for cue in cues:
            waiting, self._waiting = self._waiting, []
            super().hand([cue])
            self._waiting = sorted([*waiting, *self._waiting], key=lambda one: one.sounds)


class Insistent(MemoryPort):
    def heard(self) -> list[Heard | Lost | Gone | Back]:
        heard = super().heard()
        return heard if self._open else [*heard, Gone(0, "still not there")]


class Undead(MemoryPort):
    def close(self) -> None:
        self._settle(self._clock.now())


@pytest.mark.parametrize(
    ("kind", "promise"),
    [
        (Reordering, "in the order handed"),
        (Dropping, "comes late still sounds"),
        (Late, "the ideal time is told"),
        (Repeating, "told as sent once|arrive|told as sent in the order"),
        (Lying, "withdrawn never sounds"),
        (Forgetful, "withdrawn without its on"),
        (Dark, "a lamp is never withdrawn"),
        (Queueing, "does not wait"),
        (Hasty, "behind an on"),
        (Insistent, "says so once"),
        (Undead, "a closed port sends nothing"),
    ],
)
def test_a_broken_promise_is_found(kind: type[MemoryPort], promise: str) -> None:
    with pytest.raises(AssertionError, match=promise):
        check_port(lambda: bench(kind))
