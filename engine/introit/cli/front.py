"""The front at work: answers the player, feeds the screen, keeps the log, passes signals on."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from types import FrameType
from typing import Any, Protocol

from introit.cli.job import stop_as_asked
from introit.cli.record import LogFile, Timing
from introit.cli.screen import Screen
from introit.cli.service import Service
from introit.errors import PlayerError
from introit.live.events import FrontEvent, Heard, Ready, Refused, Reordered, Request, Sent, Shown, Wanted
from introit.live.keeper import Dropped, Keeper, PlayerLeft
from introit.live.setup import PortSetup
from introit.units import NS_PER_MS

_IDLE_SECONDS = 0.4
"""How long the front sleeps when nothing happens; the player wakes it for anything it says."""


class Answers(Protocol):
    """Whoever arranges what the player wants: the `Desk`, as a rule."""

    def answer(self, request: Request, *, afresh: bool = False) -> Iterator[Ready | Refused]:
        """See `Desk.answer`."""


class Front:
    """Runs until the player leaves, a signal comes or `until` says so.

    Args:
        keeper: started by `run`, stopped when it returns, whatever happens.
        desk: arranges what is wanted.
        screen: shows what happens.
        ports: the setup's, to say where each plays.
        log: where messages are logged, or None.
        on_shown: called with everything shown, after the screen; may send and stop.
        timing: True to remember how late each note was.
        service: whoever tells a service manager how it goes; None in a terminal.
        on_pause: called when everything is silent and the process is about to be stopped by its shell.
        on_hang_up: called where a hang-up (SIGHUP) is a wish to read everything again; None where it ends the
            run, as a closed terminal does.

    Attributes:
        timing: how late each note was; None where nobody asked.
        pauses: how often it was stopped by Ctrl-Z and has gone on with a new player.
    """

    def __init__(
        self,
        keeper: Keeper,
        desk: Answers,
        screen: Screen,
        *,
        ports: Sequence[PortSetup],
        log: LogFile | None = None,
        on_shown: Callable[[Shown, Front], None] | None = None,
        timing: bool = False,
        service: Service | None = None,
        on_hang_up: Callable[[Front], None] | None = None,
        on_pause: Callable[[], None] | None = None,
    ) -> None:
        self._keeper = keeper
        self._desk = desk
        self._screen = screen
        self._ports = ports
        self._log = log
        self._on_shown = on_shown
        self._answers: deque[Iterator[Ready | Refused | Reordered]] = deque()
        self._stopping = ""
        self._failure = ""
        self._suspended = self._playing = False
        self.pauses = 0
        self._service = service
        self._on_hang_up = on_hang_up
        self._on_pause = on_pause
        self._hung_up = False
        self.timing = Timing() if timing else None

    def send(self, event: FrontEvent) -> None:
        """Passes something on to the player."""
        self._keeper.send(event)

    def renew(self, answers: Iterator[Ready | Refused | Reordered]) -> None:
        """Sends these on, one at a time, in turns with what is arranged ahead."""
        self._answers.append(answers)

    def stop(self, reason: str) -> None:
        """Asks `run` to release everything and return; safe in a signal handler."""
        self._stopping = self._stopping or reason

    def run(self, *, ticks: Callable[[Front], float | None] | None = None) -> str:
        """Keeps going until it is over; returns why it ended.

        Args:
            ticks: called at each turn; may send; returns in how many seconds it wants to be called again.

        Raises:
            PortError: when the player could not open a port.
            PlayerError: when it could not begin, or was lost for good.
        """
        before = self._take_signals()
        try:
            self._open()
            if self._service:
                self._service.opened()
            while not self._stopping:
                wait = ticks(self) if ticks else None
                self._turn(_IDLE_SECONDS if wait is None else min(wait, _IDLE_SECONDS))
                if self._service:
                    self._service.turned(well=self._keeper.well)
        finally:
            if self._service:
                self._service.leaving(self._stopping or "a fault")
            self._keeper.stop(self._stopping or "the front failed")
            for effect in self._keeper.receive(0):
                self._note(effect)
            if self._log:
                for line in self._keeper.chatter:
                    self._log.note(driver=line)
            for number, handler in before.items():
                signal.signal(number, handler)
        if self._failure:
            raise PlayerError(f"{self._failure}; it was given up, and every note it owed was released")
        return self._stopping

    def _open(self) -> None:
        """Waits until the player can play, and says where."""
        self._keeper.start()
        self._playing = True
        self._tell_connections()
        if self._log and self._keeper.opened:
            self._log.note(system=self._keeper.opened.scheduling)

    def _pause(self) -> None:
        """Ctrl-Z: silence, then the player leaves, then this process stops; `fg`, and a new player is there.

        The player cannot be stopped with it: a JACK server waits for a client that stands still and then
        throws it out, and no other system's driver would send the offs meanwhile.
        """
        self._playing = False
        self._keeper.pause("Ctrl-Z")
        self._answers.clear()
        self._screen.say("paused, every note is off; `fg` goes on")
        if self._log:
            self._log.note(paused=True)
        if self._on_pause:
            self._on_pause()
        stop_as_asked()
        self._suspended = False
        if self._stopping:  # hung up, or ended, while it was stopped
            return
        self.pauses += 1
        self._screen.say_anew("going on")
        self._open()

    def _tell_connections(self) -> None:
        """Says where each port plays and listens: no silence on a stage without a reason."""
        connected = self._keeper.connections
        for index, port in enumerate(self._ports):
            if port.system == "memory":
                continue
            destinations, sources = connected.get(index, ([], []))
            if port.to is not None:
                into = ", ".join(destinations) or "nothing yet"
                self._screen.say(f"{port.name}: plays into {into}{self._how_late(index)}")
            if port.source is not None:
                self._screen.say(f"{port.name}: listens to {', '.join(sources) or 'nothing yet'}")

    def _how_late(self, index: int) -> str:
        """What the port knows of its own latency, and what the rig does about it; empty for nothing."""
        opened = self._keeper.opened
        latency = opened.latencies[index] if opened and index < len(opened.latencies) else 0
        words = [f"latency {latency / NS_PER_MS:.1f} ms"] if latency else []
        if offset := self._ports[index].offset_ns // NS_PER_MS:
            words.append(f"sent {abs(offset)} ms {'earlier' if offset > 0 else 'later'}")
        return f" ({', '.join(words)})" if words else ""

    def _turn(self, wait: float) -> None:
        if self._suspended:
            self._pause()
        if self._hung_up and self._on_hang_up:
            self._hung_up = False
            self._on_hang_up(self)
        for effect in self._keeper.receive(0 if self._answers else wait):
            self._hear(effect)
        if self._answers:
            self._answer_one()

    def _hear(self, effect: Wanted | Shown | Sent | Heard | PlayerLeft | Dropped) -> None:
        if isinstance(effect, Wanted):
            # What is wanted now goes before keys that are arranged ahead.
            self._answers.appendleft(self._desk.answer(effect.request, afresh=effect.afresh))
        elif isinstance(effect, Shown):
            self._screen.show(effect)
            if self._service:
                self._service.shown(effect)
            if self._log and effect.what in ("lost", "slept"):
                self._log.note(**{effect.what: effect.text}, ns=effect.ns)
            if self._on_shown:
                self._on_shown(effect, self)
        elif isinstance(effect, PlayerLeft):
            self._lost(effect)
        else:
            self._note(effect)

    def _lost(self, left: PlayerLeft) -> None:
        if self._stopping or self._suspended:
            return  # it was asked to
        if left.restarted:
            self._screen.say_anew(f"{left.reason}; what it played is silenced. A new player is getting ready")
        else:
            self._failure = left.reason
            self.stop(left.reason)

    def _note(self, effect: object) -> None:
        if isinstance(effect, Sent):
            if self.timing:
                self.timing.add(effect)
            if self._log:
                self._log.sent(effect)
        elif isinstance(effect, Heard) and self._log:
            self._log.heard(effect)
        elif isinstance(effect, Dropped) and self._log:
            self._log.note(dropped=effect.count)

    def _answer_one(self) -> None:
        answer = next(self._answers[0], None)
        if answer is None:
            self._answers.popleft()
            return
        self._keeper.send(answer)
        self._answers.rotate(-1)  # the first of each before the second of any

    def _take_signals(self) -> dict[int, Any]:
        """SIGINT and SIGTERM (and a closed terminal) end the run in order instead of ending the process.

        The player is told at once and directly: this process may be stuck in a write to a terminal or a pipe.
        """

        def silence() -> None:
            if (player := self._keeper.pid) is not None and sys.platform != "win32":
                with contextlib.suppress(ProcessLookupError):
                    os.kill(player, signal.SIGTERM)

        def asked(number: int, _frame: FrameType | None) -> None:
            self.stop(signal.Signals(number).name)
            silence()

        def hung_up(_number: int, _frame: FrameType | None) -> None:
            self._hung_up = True

        def suspended(_number: int, _frame: FrameType | None) -> None:
            if self._suspended:  # twice: whoever holds us up holds up the shell, too
                stop_as_asked()
            self._suspended = True
            if self._playing:
                silence()

        before = {}
        if hasattr(signal, "SIGTSTP"):
            before[int(signal.SIGTSTP)] = signal.signal(signal.SIGTSTP, suspended)
        names = [name for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)]
        for number in (getattr(signal, name) for name in names):
            before[int(number)] = signal.signal(number, asked)
        if self._on_hang_up and hasattr(signal, "SIGHUP"):
            signal.signal(signal.SIGHUP, hung_up)
        return before
