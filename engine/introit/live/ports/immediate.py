"""Immediate ports: a message leaves when it is handed over. What RtMidi offers, whatever binding reaches it.

A binding is a `Driver`. Its input callback runs in a thread of the driver's own and does no more than stamp,
append and wake. RtMidi does not tell that a device has gone, so a watcher looks once a second whether the
names connected to are still there; a device that comes back is opened again.
"""

from __future__ import annotations

import contextlib
import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from introit.errors import PortError
from introit.live.cue import Cue
from introit.live.events import Back, Gone, Heard, Lost, Sent
from introit.live.inbox import Inbox
from introit.live.ports.chatter import hushed
from introit.live.ports.finder import find
from introit.live.setup import PortSetup

WATCH_SECONDS: Final = 1.0


@dataclass(frozen=True, slots=True)
class Driver:
    """A binding to RtMidi.

    Its ends have RtMidi's own methods: `get_ports`, `open_port`, `open_virtual_port`, `send_message`,
    `close_port`, `delete`.

    Attributes:
        name: the package.
        detail: which of the system's interfaces it uses, such as ALSA.
        virtual: whether a port of our own can be offered.
        make_out: makes an output end for a client name.
        make_in: makes an input end for a client name, and a function that is told each message.
    """

    name: str
    detail: str
    virtual: bool
    make_out: Callable[[str], Any]
    make_in: Callable[[str, Callable[[Sequence[int]], None]], Any]


class ImmediatePort:
    """One rig port on a `Driver`: keeps the promise of `live.port.Port`.

    Attributes:
        destination: full name of what it sends to; empty for a virtual port or none.
    """

    def __init__(
        self, index: int, setup: PortSetup, driver: Driver, *, inbox: Inbox, now: Callable[[], int]
    ) -> None:
        """Opens both ends that the setup asks for.

        Raises:
            PortError: if a name is not found, or the driver cannot open it.
        """
        self.index = index
        self.name = setup.name
        self.lookahead = 0
        self.latency = 0
        self.destination = ""
        self._setup = setup
        self._driver = driver
        self._inbox = inbox
        self._now = now
        self._incoming: deque[Heard | Lost | Gone | Back] = deque()
        self._sent: list[Sent] = []
        self._ends: dict[bool, Any] = {}
        self._names: dict[bool, str] = {}
        self._there = True
        self._closing = threading.Event()
        self._watcher = threading.Thread(target=self._watch, name=f"watch {setup.name}", daemon=True)
        with hushed():
            self._open()
        if not setup.virtual and self._names:
            self._watcher.start()

    # --- the promise --------------------------------------------------------------------------------

    def hand(self, cues: Sequence[Cue]) -> None:
        """See `Port.hand`."""
        for cue in cues:
            if not self._there or self._closing.is_set() or True not in self._ends:
                return
            try:
                self._ends[True].send_message(list(cue.data))
            except Exception as error:  # each binding has its own family
                self._lose(str(error))
                return
            self._sent.append(Sent(self.index, cue.ns, self._now(), cue.data))

    def withdraw(self, after: int) -> list[Cue]:
        """See `Port.withdraw`: what was handed has left."""
        del after
        return []

    def sent(self) -> list[Sent]:
        """See `Port.sent`; `actual` is when the driver took the message."""
        sent, self._sent = self._sent, []
        return sent

    def heard(self) -> list[Heard | Lost | Gone | Back]:
        """See `Port.heard`."""
        heard = []
        while self._incoming:
            heard.append(self._incoming.popleft())
        return heard

    def close(self) -> None:
        """See `Port.close`."""
        if not self._closing.is_set():
            self._closing.set()
            if self._watcher.is_alive():
                self._watcher.join(2.0)
            with hushed():
                self._drop()

    # --- opening and watching -----------------------------------------------------------------------

    def _open(self) -> None:
        setup = self._setup
        if setup.virtual and not self._driver.virtual:
            raise PortError(
                f"port {setup.name!r}: {self._driver.detail} has no virtual ports; name a port to connect to."
            )
        try:
            if setup.to is not None:
                self._open_end(setup.to, sends=True)
            if setup.source is not None:
                self._open_end(setup.source, sends=False)
        except PortError:
            self._drop()
            raise
        except Exception as error:  # each binding has its own family
            self._drop()
            raise PortError(f"port {setup.name!r} cannot be opened: {error}") from error

    def _open_end(self, wanted: str, *, sends: bool) -> None:
        end = self._driver.make_out("introit") if sends else self._driver.make_in("introit", self._take)
        self._ends[sends] = end
        if self._setup.virtual:
            end.open_virtual_port(self.name)
            return
        names = _others(end.get_ports())
        if not wanted and not names:
            return
        role = "destination" if sends else "source"
        name = find(wanted, names, role=role, system="rtmidi")
        end.open_port(list(end.get_ports()).index(name), self.name)
        self._names[sends] = name
        if sends:
            self.destination = name

    def _take(self, message: Sequence[int]) -> None:
        self._incoming.append(Heard(self.index, self._now(), bytes(message)))
        self._inbox.wake()

    def _drop(self) -> None:
        for end in self._ends.values():
            with contextlib.suppress(Exception):
                end.close_port()
                end.delete()
        self._ends.clear()

    def _lose(self, reason: str) -> None:
        if self._there:
            self._there = False
            self._incoming.append(Gone(self.index, reason))
            self._inbox.wake()

    def _watch(self) -> None:
        looks = {True: self._driver.make_out("introit-watch")} if True in self._names else {}
        if False in self._names:
            looks[False] = self._driver.make_in("introit-watch", lambda _: None)
        while not self._closing.wait(WATCH_SECONDS):
            with contextlib.suppress(Exception):
                self._look({sends: end.get_ports() for sends, end in looks.items()})
        for end in looks.values():
            with contextlib.suppress(Exception):
                end.delete()

    def _look(self, present: dict[bool, list[str]]) -> None:
        missing = [name for sends, name in self._names.items() if name not in present[sends]]
        if missing and self._there:
            self._lose(f"{missing[0]!r} has gone")
        elif not missing and not self._there:
            self._drop()
            self._open()
            self._there = True
            self._incoming.append(Back(self.index))
            self._inbox.wake()


def _others(names: Iterable[str]) -> list[str]:
    """The ports that are not this program's own."""
    return [name for name in names if not name.casefold().startswith("introit")]
