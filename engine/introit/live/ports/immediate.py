"""Immediate ports: a message leaves when it is handed over. What RtMidi offers, whatever binding reaches it.

A binding is a `Driver`. Its input callback runs in a thread of the driver's own and does no more than stamp,
append and wake. RtMidi does not tell that a device has gone, so a watcher looks once a second whether the
names connected to are still there; a device that comes back is opened again. Names are unique here (see
`names`); which of several devices with one name has come back is decided in `whereabouts`.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from introit.chatter import hushed
from introit.errors import PortError
from introit.live.cue import Cue
from introit.live.events import Back, Gone, Heard, Plugged, PortEvent, Sent, Unplugged
from introit.live.inbox import Inbox
from introit.live.ports.finder import find, is_ours
from introit.live.ports.incoming import Incoming
from introit.live.ports.names import of_driver
from introit.live.ports.patchbay import Connections
from introit.live.ports.whereabouts import Whereabouts, namesakes
from introit.live.setup import PortSetup

WATCH_SECONDS: Final = 1.0


@dataclass(frozen=True, slots=True)
class Driver:
    """A binding to RtMidi.

    Its ends have RtMidi's own methods: `get_ports`, `open_port`, `open_virtual_port`, `send_message`,
    `close_port`, `delete`, `ignore_types`.

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


@dataclass(slots=True)
class _End:
    """One end that is open: the driver's, and the name it was opened to; empty for a virtual one."""

    driver: Any
    name: str


class ImmediatePort:
    """One rig port on a `Driver`: keeps the promise of `live.port.Port`.

    A destination that goes is told as `Gone`, one that is found later as `Back` or `Plugged`; sources, of
    which an empty name takes every one, are told as `Unplugged` and `Plugged`.
    """

    wakes = True

    def __init__(
        self,
        index: int,
        setup: PortSetup,
        driver: Driver,
        *,
        inbox: Inbox,
        now: Callable[[], int],
        stamp: Callable[[], int] = time.monotonic_ns,
        on_change: Callable[[Connections], None] = lambda _: None,
    ) -> None:
        """Opens both ends that the setup asks for.

        Args:
            index: the port's index in the setup.
            setup: what to open.
            driver: the binding.
            inbox: what it wakes.
            now: the session clock, asked in the loop's thread only.
            stamp: nanoseconds of any clock that runs as fast, asked in the driver's thread.
            on_change: told, from another thread, what is connected whenever that has changed.

        Raises:
            PortError: if a name is not found, or the driver cannot open it.
        """
        self.index = index
        self.name = setup.name
        self.lookahead = 0
        self.latency = 0
        self._setup = setup
        self._driver = driver
        self._inbox = inbox
        self._now = now
        self._stamp = stamp
        self._on_change = on_change
        self._incoming = Incoming(index, timing=setup.timing)
        self._sent: list[Sent] = []
        self._out: _End | None = None
        self._ins: dict[str, _End] = {}
        self._where = {True: Whereabouts(setup.to or ""), False: Whereabouts(setup.source or "")}
        self._known: dict[bool, list[str]] = {True: [], False: []}
        self._there = True
        self._closing = threading.Event()
        self._watcher = threading.Thread(target=self._watch, name=f"watch {setup.name}", daemon=True)
        with hushed():
            self._open()
        if not setup.virtual:
            self._watcher.start()

    @property
    def destination(self) -> str:
        """Full name of what it sends to; empty for a virtual port or none."""
        out = self._out
        return "" if out is None else out.name

    @property
    def connections(self) -> tuple[list[str], list[str]]:
        """Full names of the destination and of the sources."""
        there = self._there and self.destination
        return ([self.destination] if there else []), [name for name in self._ins if name]

    # --- the promise --------------------------------------------------------------------------------

    def hand(self, cues: Sequence[Cue]) -> None:
        """See `Port.hand`."""
        for cue in cues:
            out = self._out
            if not self._there or self._closing.is_set() or out is None:
                return
            try:
                out.driver.send_message(list(cue.data))
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

    def heard(self) -> list[PortEvent]:
        """See `Port.heard`."""
        heard: list[PortEvent] = []
        for event in self._incoming.take():
            if isinstance(event, Heard):  # stamped in the driver's thread, by a clock that any thread may ask
                event = replace(event, ns=self._now() - (self._stamp() - event.ns))
            heard.append(event)
        return heard

    def close(self) -> None:
        """See `Port.close`."""
        if not self._closing.is_set():
            self._closing.set()
            if self._watcher.is_alive():
                self._watcher.join(2.0)
            with hushed():
                self._drop_all()

    # --- opening ------------------------------------------------------------------------------------

    def _open(self) -> None:
        setup = self._setup
        if setup.virtual and not self._driver.virtual:
            raise PortError(
                f"port {setup.name!r}: {self._driver.detail} has no virtual ports; name a port to connect to."
            )
        try:
            for sends, wanted in ((True, setup.to), (False, setup.source)):
                if wanted is not None:
                    self._open_first(wanted, sends=sends)
        except PortError:
            self._drop_all()
            raise
        except Exception as error:  # each binding has its own family
            self._drop_all()
            raise PortError(f"port {setup.name!r} cannot be opened: {error}") from error

    def _open_first(self, wanted: str, *, sends: bool) -> None:
        look = self._make(sends)
        try:
            names = self._names(look)
            self._known[sends] = names
        finally:
            _drop(look)
        role = "destination" if sends else "source"
        if self._setup.virtual:
            self._open_end("", sends=sends)
        elif wanted == "" and not sends:
            for name in names:
                self._open_end(name, sends=False)
        elif wanted or names:
            self._open_end(find(wanted, names, role=role, system="rtmidi"), sends=sends)

    def _open_end(self, name: str, *, sends: bool) -> None:
        driver = self._make(sends)
        try:
            if self._setup.virtual:
                driver.open_virtual_port(self.name)
            else:
                names = of_driver(driver, self._driver.detail)
                driver.open_port(names.index(name), self.name)
                self._where[sends].opened(name, names)
        except BaseException:
            _drop(driver)
            raise
        if sends:
            self._out = _End(driver, name)
        else:
            self._ins[name] = _End(driver, name)

    def _names(self, end: Any) -> list[str]:
        """What the end could be opened to that is not this program's own."""
        return [name for name in of_driver(end, self._driver.detail) if not is_ours(name)]

    def _make(self, sends: bool) -> Any:
        driver = self._driver
        if sends:
            return driver.make_out("introit")
        end = driver.make_in("introit", self._take)
        if self._setup.timing:
            end.ignore_types(sysex=True, timing=False, active_sense=True)
        return end

    def _take(self, message: Sequence[int]) -> None:
        if self._incoming.hear(self._stamp(), message):
            self._inbox.wake()

    def _drop_all(self) -> None:
        for end in (*self._ins.values(), *([self._out] if self._out else [])):
            _drop(end.driver)
        self._ins.clear()
        self._out = None

    # --- watching -----------------------------------------------------------------------------------

    def _lose(self, reason: str) -> None:
        if self._there:
            self._there = False
            self._tell(Gone(self.index, reason))

    def _tell(self, event: PortEvent) -> None:
        self._incoming.tell(event)
        self._inbox.wake()

    def _watch(self) -> None:
        looks: dict[bool, Any] = {}
        with contextlib.suppress(Exception):
            if self._setup.to is not None:
                looks[True] = self._driver.make_out("introit-watch")
            if self._setup.source is not None:
                looks[False] = self._driver.make_in("introit-watch", lambda _: None)
        while not self._closing.wait(WATCH_SECONDS):
            with contextlib.suppress(Exception):
                self._look({sends: self._names(end) for sends, end in looks.items()})
        for end in looks.values():
            with contextlib.suppress(Exception):
                end.delete()

    def _look(self, present: dict[bool, list[str]]) -> None:
        before = self.connections
        for sends, names in present.items():
            new = [name for name in names if name not in self._known[sends]]
            self._known[sends] = names
            if sends:
                self._look_for_destination(names, new)
            else:
                self._look_for_sources(names, new)
        if self.connections != before:
            self._on_change({self.index: self.connections})

    def _look_for_destination(self, names: list[str], new: list[str]) -> None:
        if self._out is not None and self._there:
            if not self._where[True].here(names):
                self._lose(f"{self._out.name!r} has gone")
            return
        found = self._where[True].again(names, new=new)
        if found is None:
            return
        first = self._out is None and self._there
        if self._out is not None:
            _drop(self._out.driver)
            self._out = None
        try:
            self._open_end(found, sends=True)
        except Exception:  # each binding has its own family
            self._known[True] = [name for name in self._known[True] if name != found]  # it is tried again
            return
        self._there = True
        self._tell(Plugged(self.index, found, True) if first else Back(self.index))

    def _look_for_sources(self, names: list[str], new: list[str]) -> None:
        where, every = self._where[False], self._setup.source == ""
        for name in [name for name in self._ins if not (name in names if every else where.here(names))]:
            _drop(self._ins.pop(name).driver)
            if every:
                self._open_anew(namesakes(name, list(self._ins)))
            self._tell(Unplugged(self.index, name, False, alone=not self._ins))
        for name in new if every else self._source_again(names, new):
            alone = not self._ins
            if every:
                self._open_anew(namesakes(name, list(self._ins)))
            if self._open_source(name):
                self._tell(Plugged(self.index, name, False, alone=alone))

    def _source_again(self, names: list[str], new: list[str]) -> list[str]:
        found = None if self._ins else self._where[False].again(names, new=new)
        return [] if found is None else [found]

    def _open_anew(self, found: Iterable[str]) -> None:
        """Of sources with one name nobody knows which has gone: those that are there are opened once more."""
        for name in found:
            _drop(self._ins.pop(name).driver)
            self._open_source(name)

    def _open_source(self, name: str) -> bool:
        try:
            self._open_end(name, sends=False)
        except Exception:  # each binding has its own family
            self._known[False] = [known for known in self._known[False] if known != name]  # it is tried again
            return False
        return True


def _drop(end: Any) -> None:
    with contextlib.suppress(Exception):
        end.close_port()
    with contextlib.suppress(Exception):
        end.delete()
