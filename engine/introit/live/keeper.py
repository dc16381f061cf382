"""The front's side of the player: starts it, talks with it, and releases what it owed when it dies.

Standard library only, beside the live core. A thread waits for the player's end, whatever the front is busy
with, so that notes are released at once; everything else happens in the caller's thread.
"""

from __future__ import annotations

import contextlib
import os
import select
import time
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from introit.errors import PlayerError, PortError
from introit.live import last_words
from introit.live.events import FrontEvent, Heard, Quit, Reordered, Sent, Shown, Taught, Wanted
from introit.live.ledger import LEFT
from introit.live.life import PROGRAM, Life
from introit.live.mix import Mix
from introit.live.setup import Setup
from introit.live.states import Ask
from introit.live.wire import Dropped, Failed, Left, Message, Opened

__all__ = ["Dropped", "Keeper", "PlayerLeft", "Told"]

START_SECONDS: Final = 15.0
STALE_SECONDS: Final = 1.0
"""A heartbeat that has stood still for so long, while we were awake, is a stopped process."""
STEP_SECONDS: Final = 0.4
"""How long at most between two looks at the heart, in less than half of `STALE_SECONDS`."""
QUIT_SECONDS: Final = 2.0
"""How long the player may take to release everything and leave, before it is made to."""
RESTARTS: Final = 3
RESTART_WINDOW_SECONDS: Final = 60.0


@dataclass(frozen=True, slots=True)
class PlayerLeft:
    """The player is no longer there. Nothing it owed sounds any more, as far as its ports can be reached.

    Attributes:
        reason: one line for the user.
        released: how many notes had to be released for it.
        restarted: True when a new player has taken its place; it begins anew, with a `Wanted`.
    """

    reason: str
    released: int = 0
    restarted: bool = False


Told = Wanted | Shown | Sent | Heard | Dropped | PlayerLeft


class Keeper:
    """Starts a player for a setup and keeps it.

    Attributes:
        opened: what the player said when it had opened its ports; None before.
        chatter: what dead players and their drivers had printed, for the log.
    """

    def __init__(
        self,
        setup: Setup,
        *,
        environ: Mapping[str, str] | None = None,
        program: Sequence[str] = PROGRAM,
        waiting: Life | None = None,
    ) -> None:
        """Prepares, starts nothing.

        Args:
            setup: what the player is told.
            environ: its surroundings; this process's own when left out.
            program: the command that starts it.
            waiting: the first player, where one has been started already, for as many ports.
        """
        self._waiting = waiting
        self._setup = setup
        self._environ = dict(os.environ if environ is None else environ)
        self._program = tuple(program)
        self._life: Life | None = None
        self._starts: deque[float] = deque()
        self._told: deque[Told] = deque()
        self._beat = (0, 0.0)
        self._checked = 0.0
        self._goes_on = setup
        self._mix = setup.mix
        self._order: Reordered | None = None
        self._lesson: Taught | None = None
        self.opened: Opened | None = None
        self.chatter: list[str] = []
        self._words: list[str] = []

    @property
    def pid(self) -> int | None:
        """The player's process; None when there is none."""
        return self._life.process.pid if self._life else None

    @property
    def well(self) -> bool:
        """Whether there is a player whose heart was beating at the last look."""
        return self._life is not None and time.monotonic() - self._beat[1] <= STALE_SECONDS

    @property
    def destinations(self) -> dict[int, list[str]]:
        """Full names of what each sending port is connected to, by its index; empty without a player."""
        return {index: destinations for index, (destinations, _) in self.connections.items()}

    @property
    def connections(self) -> dict[int, tuple[list[str], list[str]]]:
        """Full names of what each port plays into and listens to, by its index; empty without a player."""
        told = self._life.shared.connections.read() if self._life else None
        return {int(index): (names, sources) for index, (names, sources) in (told or {}).items()}

    def fileno(self) -> int:
        """What `select` can wait for: readable when the player said something. -1 when there is none."""
        return self._life.socket.fileno() if self._life else -1

    def launch(self) -> None:
        """Starts the player and waits for nothing, so that other work can be done before `start`."""
        waiting, self._waiting = self._waiting, None
        self._life = waiting or Life(len(self._setup.ports), program=self._program, environ=self._environ)
        self._starts.append(time.monotonic())
        self._life.greet(self._goes_on)

    def start(self) -> None:
        """Waits until the player has opened its ports; starts it first, where that has not been done.

        Raises:
            PortError: if a port cannot be opened.
            PlayerError: if the player cannot be started.
        """
        if self._life is None:
            self.launch()
        life = self._life
        assert life is not None
        self.opened = None
        try:
            _import_port_libraries(self._setup)
            self._await_opening(life, time.monotonic() + START_SECONDS)
        except (OSError, PlayerError, PortError) as error:
            self._end(life)
            if isinstance(error, OSError):
                raise PlayerError(f"the player could not be started: {self._why(life)}") from error
            raise
        life.socket.setblocking(False)
        for told in (self._order, self._lesson):
            if told is not None:
                self.send(told)
        self._beat = (life.shared.ledger.last_beat("player"), time.monotonic())

    def send(self, event: FrontEvent) -> None:
        """Passes something on to the player; never waits. Nothing happens when there is none."""
        if isinstance(event, Reordered):  # whoever takes its place must know it, too
            self._order = event
        elif isinstance(event, Taught) and event.ask in (Ask.OPEN, Ask.CLOSE):
            self._lesson = event
        life = self._life
        if life is not None:
            with contextlib.suppress(OSError):  # its end is told by `receive`
                life.outbox.put(event)

    def receive(self, timeout: float | None = 0) -> list[Told]:
        """What the player said, in order, and its end; waits up to `timeout` seconds for the first of it.

        Must be called at least every second or so: it also looks whether the player's heart beats.
        """
        limit = None if timeout is None else time.monotonic() + timeout
        while True:
            if self._life is not None:
                self._attend(self._life)
            left = STEP_SECONDS if limit is None else min(limit - time.monotonic(), STEP_SECONDS)
            if self._told or left <= 0:
                break
            self._sleep(left)
        told = list(self._told)
        self._told.clear()
        return told

    def stop(self, reason: str) -> None:
        """Has the player release everything and leave; makes it, if it does not. Safe to call twice."""
        life, self._life = self._life, None
        if life is None:
            return
        with contextlib.suppress(OSError, PlayerError):
            life.socket.setblocking(False)  # it may have been launched only
            life.outbox.put(Quit(reason))
            self._drain(life, time.monotonic() + QUIT_SECONDS)
        self._end(life)

    def pause(self, reason: str) -> None:
        """As `stop`; but the next `start` goes on with the tune, the key and the mix that there were."""
        if self._life is not None:
            self._remember(self._life)
        self.stop(reason)
        self._starts.clear()  # it was no death
        self._told.clear()
        self.opened = None

    # --- one turn -----------------------------------------------------------------------------------

    def _sleep(self, seconds: float) -> None:
        if self._life is None:
            time.sleep(seconds)
        else:
            wants = [self._life.socket] if self._life.outbox.pending else []
            select.select([self._life.socket], wants, [], seconds)

    def _attend(self, life: Life) -> None:
        """Reads what there is, writes what waits, and looks whether the player lives."""
        life.shared.ledger.beat("front", time.monotonic_ns())
        try:
            life.outbox.flush()
            while data := life.socket.recv(65536):
                self._sort(life, life.decoder.feed(data))
        except BlockingIOError:
            self._check_heart(life)
            return
        except OSError:
            pass  # gone, as at the end of the stream
        except PlayerError as error:
            life.left = Failed("player", str(error))
        self._bury(life)

    def _sort(self, life: Life, messages: Sequence[Message]) -> None:
        for message in messages:
            if isinstance(message, Left | Failed):
                life.left = message
            elif isinstance(message, Opened):
                self.opened = message
            elif isinstance(message, Wanted | Shown | Sent | Heard | Dropped):
                if isinstance(message, Shown):
                    self._goes_on = replace(
                        self._goes_on,
                        first_tune=message.tune,
                        first_tonic=message.tonic,
                        first_minor=message.minor,
                    )
                self._told.append(message)

    def _check_heart(self, life: Life) -> None:
        now = time.monotonic()
        beat = life.shared.ledger.last_beat("player")
        asleep = now - self._checked > STALE_SECONDS / 2  # it was we who did not look
        self._checked = now
        if beat != self._beat[0] or asleep:
            self._beat = (beat, now)
        elif now - self._beat[1] > STALE_SECONDS:
            life.left = Failed("player", "the player stood still and was ended")
            life.process.kill()  # whoever wakes it up must not find it playing
            self._bury(life)

    def _bury(self, life: Life) -> None:
        """Tells of the player's end and, where it was no good end, starts another."""
        self._life = None
        self._remember(life)
        self._end(life)
        reason = self._why(life)
        restarted = False
        if not isinstance(life.left, Left) and self._may_restart():
            try:
                self.start()
                restarted = True
            except (PlayerError, PortError) as error:
                reason = f"{reason}; it could not be started again: {error}"
        self._told.append(PlayerLeft(reason, life.released, restarted))

    def _remember(self, life: Life) -> None:
        """What a player's successor goes on with, beside its tune and key."""
        mix = life.shared.mix.read()
        if mix is not None:
            self._mix = Mix.from_json(mix)
        self._goes_on = replace(self._goes_on, mix=self._mix)

    def _may_restart(self) -> bool:
        while self._starts and self._starts[0] < time.monotonic() - RESTART_WINDOW_SECONDS:
            self._starts.popleft()
        return len(self._starts) <= RESTARTS

    # --- beginning and end --------------------------------------------------------------------------

    def _await_opening(self, life: Life, limit: float) -> None:
        while True:
            life.socket.settimeout(max(0.01, limit - time.monotonic()))
            data = life.socket.recv(65536)
            if not data:
                raise PlayerError(f"the player could not be started: {self._why(life)}")
            self._sort(life, life.decoder.feed(data))
            if self.opened is not None:
                return
            if isinstance(life.left, Failed):
                kind = PortError if life.left.kind == "port" else PlayerError
                raise kind(life.left.reason)

    def _drain(self, life: Life, limit: float) -> None:
        """Reads to the end of what a leaving player says; ends one that stands still."""
        beat, beaten = life.shared.ledger.last_beat("player"), time.monotonic()
        while life.left is None and (now := time.monotonic()) < limit:
            if (last := life.shared.ledger.last_beat("player")) != beat or life.shared.ledger.state == LEFT:
                beat, beaten = last, now
            elif now - beaten > STALE_SECONDS / 2:
                life.process.kill()  # what it owes is released at once
                return
            wants = [life.socket] if life.outbox.pending else []
            select.select([life.socket], wants, [], min(STEP_SECONDS / 4, limit - now))
            with contextlib.suppress(BlockingIOError):
                life.outbox.flush()
                data = life.socket.recv(65536)
                if not data:
                    return
                self._sort(life, life.decoder.feed(data))

    def _end(self, life: Life) -> None:
        """Sees the process off, gently if it goes, and lets go of it."""
        orderly = life.left is not None and life.shared.ledger.state == LEFT
        if not life.wait_buried(QUIT_SECONDS if orderly else 0.05):
            life.process.terminate()
        if not life.wait_buried(QUIT_SECONDS):
            life.process.kill()
        buried = life.wait_buried(QUIT_SECONDS)
        self._words = life.last_words()
        self.chatter += self._words
        if self._life is life:
            self._life = None
        if buried:
            life.close()

    def _why(self, life: Life) -> str:
        if life.left is not None:
            return life.left.reason
        return last_words.told(life.process.poll(), self._words)


def _import_port_libraries(setup: Setup) -> None:
    """Loads now what a release would need: at that moment every millisecond counts."""
    systems = {port.system for port in setup.ports}
    with contextlib.suppress(PortError):
        if "jack" in systems:
            from introit.live.ports.libjack import load

            load()
        if "rtmidi" in systems:
            from introit.live.ports.opener import rtmidi_driver

            rtmidi_driver()
