"""Both halves in one process on a fake clock: the real loop, ports in memory, a front that answers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from introit.live.events import Event, Heard, Played, Quit, Ready, Refused, Sent, Shown, Wanted
from introit.live.inbox import Inbox
from introit.live.ledger import Ledger
from introit.live.loop import Loop, run
from introit.live.mix import Mix
from introit.live.port import Port
from introit.live.ports.memory import MemoryPort
from introit.live.ports.offset import OffsetPort
from introit.live.session import Session
from introit.live.setup import Setup
from introit.testing.fake_clock import FakeClock
from introit.testing.receiver import Receiver
from introit.units import NS_PER_SECOND

Answer = Callable[[Wanted], Sequence[Ready | Refused]]


@dataclass
class Rehearsal:
    """A loop set up and not yet run; afterwards, what it did.

    Args:
        setup: ports, routes, foot-switch and key zone.
        answer: what the front says to each `Wanted`.
        lookaheads: one for each port, in nanoseconds; 0 for all when empty.
        committed: how long before sounding a cue can no longer be withdrawn.
        answer_after: nanoseconds that the front takes to answer.

    Attributes:
        clock, inbox, ports, receivers, session: the parts, to be scripted before `run`.
        played: the ports as the loop has them, lined up where the setup says so.
        loop: for `advance`, which goes step by step; `run` makes its own.
        buffer: the ledger's memory.
        shown, wanted, sent, heard: what the front was told.
        mix: what was kept of the mix last; None where nothing was.
        reason: why the loop left.
    """

    setup: Setup
    answer: Answer
    lookaheads: Sequence[int] = ()
    committed: int = 0
    answer_after: int = 0
    shown: list[Shown] = field(default_factory=list)
    wanted: list[Wanted] = field(default_factory=list)
    sent: list[Sent] = field(default_factory=list)
    heard: list[Heard] = field(default_factory=list)
    mix: Mix | None = None
    reason: str = ""

    def __post_init__(self) -> None:
        self.clock = FakeClock()
        self.inbox = Inbox()
        self.lookaheads = tuple(self.lookaheads) or (0,) * len(self.setup.ports)
        self.receivers = [Receiver() for _ in self.setup.ports]
        self.ports = [
            MemoryPort(
                port.name,
                self.clock,
                index=index,
                lookahead=lookahead,
                committed=self.committed,
                listener=self.receivers[index],
            )
            for index, (port, lookahead) in enumerate(zip(self.setup.ports, self.lookaheads, strict=True))
        ]
        self.played: list[Port] = [
            OffsetPort(port, setup.offset_ns, now=self.clock.now) if setup.offset_ns else port
            for port, setup in zip(self.ports, self.setup.ports, strict=True)
        ]
        self.session = Session(self.setup, [port.lookahead for port in self.played])
        self.buffer = bytearray(Ledger.size(len(self.setup.ports)))
        self.ledger = Ledger.create(self.buffer, len(self.setup.ports))
        self.loop = Loop(
            self.session,
            self.clock,
            inbox=self.inbox,
            ports=self.played,
            ledger=self.ledger,
            link=self,
            on_state=None,
        )
        self._answers: list[Event | Played] = []

    # --- the link: what the loop says to the front, and hears from it ---------------------------------

    def send(self, message: Wanted | Shown | Sent | Heard | Mix) -> None:
        """See `Link.send`."""
        if isinstance(message, Mix):
            self.mix = message
        elif isinstance(message, Shown):
            self.shown.append(message)
        elif isinstance(message, Sent):
            self.sent.append(message)
        elif isinstance(message, Heard):
            self.heard.append(message)
        else:
            self.wanted.append(message)
            answers = self.answer(message)
            self.clock.at(self.clock.now() + self.answer_after, lambda: self._answers.extend(answers))

    def receive(self) -> Sequence[Event | Played]:
        """See `Link.receive`."""
        answers, self._answers = self._answers, []
        return answers

    # --- the script ---------------------------------------------------------------------------------

    def play(self, script: Iterable[tuple[int, bytes]], *, port: int = 0) -> None:
        """Plans messages that come in on a port, as (nanosecond, bytes)."""
        for ns, data in script:
            self.put(ns, Heard(port, ns, data))

    def put(self, ns: int, event: Event) -> None:
        """Plans an event that another thread leaves in the inbox."""
        self.clock.at(ns, lambda: self.inbox.put(event))

    def say(self, ns: int, event: Event | Played) -> None:
        """Plans something that the front says through the link."""
        self.clock.at(ns, lambda: self._answers.append(event))

    def advance(self, until: int) -> None:
        """Runs the loop, step by step, to a time at or after `until`, and leaves it running."""
        self.clock.at(until, lambda: None)
        self.clock.jump(self.clock.now())  # what was planned for now
        while self.loop.work() and self.clock.now() < until:
            self.loop.wait()

    def run(self, until: int) -> None:
        """Runs the whole loop, and quits it at `until` nanoseconds."""
        self.put(until, Quit("the rehearsal is over"))
        try:
            self.reason = run(
                self.session,
                self.clock,
                inbox=self.inbox,
                ports=self.played,
                ledger=self.ledger,
                link=self,
            )
        finally:
            self.inbox.close()

    def beats(self) -> list[Shown]:
        """The beats that were shown."""
        return [shown for shown in self.shown if shown.what == "beat"]

    def states(self) -> list[tuple[int, str]]:
        """The states as they began: (nanosecond, name)."""
        return [(shown.ns, shown.state) for shown in self.shown if shown.what == "state"]


def rehearse(
    setup: Setup,
    answer: Answer,
    script: Iterable[tuple[int, bytes]],
    *,
    lookaheads: Sequence[int] = (),
    until: int = 60 * NS_PER_SECOND,
) -> Rehearsal:
    """Runs the real loop on a fake clock with a scripted foot and hand on port 0.

    Args:
        setup: ports, routes, foot-switch and key zone.
        answer: what the front says to each `Wanted`.
        script: what comes in, as (nanosecond, bytes), in order of time.
        lookaheads: one for each port, in nanoseconds; 0 for all when empty.
        until: when it quits, in nanoseconds.

    Returns:
        What was sent (`receivers`), shown and wanted.
    """
    rehearsal = Rehearsal(setup, answer, lookaheads=lookaheads)
    rehearsal.play(script)
    rehearsal.run(until)
    return rehearsal
