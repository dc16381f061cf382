"""One rig port on an ALSA sequencer client: when what is played, and what it is connected to.

The kernel plays each event at its time in the client's own real-time queue. Its clock is followed by asking
where the queue stands; what comes in carries the queue's time. What else there is comes and goes, and is told
by the system; a connection is made again when the other side is back.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Final, Protocol

from introit.live.cue import Cue, Rank
from introit.live.events import Gone, Plugged, PortEvent, Sent, Unplugged
from introit.live.inbox import Inbox
from introit.live.ports.bridge import Bridge
from introit.live.ports.finder import find, is_ours
from introit.live.ports.incoming import Incoming
from introit.live.ports.patchbay import Connections
from introit.live.ports.schedule import Schedule
from introit.live.ports.whereabouts import Whereabouts
from introit.live.setup import PortSetup
from introit.units import NS_PER_MS

if TYPE_CHECKING:
    from introit.live.ports.alsa import Came

LOOKAHEAD_NS: Final = 30 * NS_PER_MS
GUARD_NS: Final = 2 * NS_PER_MS
"""What is due so soon is left alone."""
RESOLUTION_NS: Final = NS_PER_MS
"""The sequencer's timer goes a thousand times a second where nobody has set it otherwise."""


class Client(Protocol):
    """What a port asks of the sequencer: see `alsa.AlsaClient`."""

    descriptor: int

    def position(self) -> int:
        """See `alsa.AlsaClient.position`."""

    def send(self, number: int, tick: int, data: bytes) -> bool:
        """See `alsa.AlsaClient.send`."""

    def flush(self) -> None:
        """See `alsa.AlsaClient.flush`."""

    def remove(self, number: int) -> None:
        """See `alsa.AlsaClient.remove`."""

    def played(self, number: int) -> None:
        """See `alsa.AlsaClient.played`."""

    def others(self, *, sends: bool) -> Mapping[str, tuple[int, int]]:
        """See `alsa.AlsaClient.others`."""

    def connect(self, address: tuple[int, int], *, sends: bool) -> None:
        """See `alsa.AlsaClient.connect`."""

    def read(self) -> tuple[Sequence[Came], bool]:
        """See `alsa.AlsaClient.read`."""

    def clear(self) -> None:
        """See `alsa.AlsaClient.clear`."""

    def close(self) -> None:
        """See `alsa.AlsaClient.close`."""


class AlsaPort:
    """Keeps the promise of `live.port.Port`."""

    def __init__(
        self,
        index: int,
        setup: PortSetup,
        client: Client,
        *,
        now: Callable[[], int],
        inbox: Inbox,
        on_change: Callable[[Connections], None] = lambda _: None,
    ) -> None:
        """Connects a client that is open; it is closed with the port.

        Args:
            index: the port's index in the setup.
            setup: what it is.
            client: the sequencer's.
            now: the session clock, asked in the loop's thread only.
            inbox: what is woken by what comes in.
            on_change: told what is connected whenever that has changed.

        Raises:
            PortError: if a name matches nothing, or more than one port.
        """
        self.index = index
        self.name = setup.name
        self.latency = RESOLUTION_NS
        self.lookahead = LOOKAHEAD_NS + GUARD_NS
        self._setup = setup
        self._client = client
        self._now = now
        self._inbox = inbox
        self._on_change = on_change
        self._bridge = Bridge()
        self._schedule = Schedule(client)
        self._incoming = Incoming(index, timing=setup.timing)
        self._sent: list[Sent] = []
        self._open = True
        self._known: dict[bool, list[str]] = {True: [], False: []}
        self._linked: dict[bool, list[str]] = {True: [], False: []}
        self._where = {True: Whereabouts(setup.to or ""), False: Whereabouts(setup.source or "")}
        if not setup.virtual:
            for sends, wanted in ((True, setup.to), (False, setup.source)):
                if wanted is not None:
                    self._connect_first(wanted, sends=sends)
        self._read()
        inbox.watch(client.descriptor)

    @property
    def connections(self) -> tuple[list[str], list[str]]:
        """Full names of the destination and of the sources."""
        return list(self._linked[True]), list(self._linked[False])

    # --- the promise --------------------------------------------------------------------------------

    def hand(self, cues: Sequence[Cue]) -> None:
        """See `Port.hand`."""
        if self._open and self._setup.to is not None:
            self._guard(lambda: self._hand(cues))

    def _hand(self, cues: Sequence[Cue]) -> None:
        present = self._read()
        self._collect(present)
        for cue in cues:
            tick = max(present + 1, self._bridge.there(cue.ns))
            self._schedule.hand(cue, tick, fixed=present + GUARD_NS)
        self._client.flush()

    def withdraw(self, after: int) -> list[Cue]:
        """See `Port.withdraw`; what is due within two milliseconds counts as sounded."""
        withdrawn: list[Cue] = []
        if self._open:
            self._guard(lambda: withdrawn.extend(self._withdraw(after)))
        return withdrawn

    def _withdraw(self, after: int) -> list[Cue]:
        present = self._read()
        self._collect(present)
        return self._schedule.withdraw(after, fixed=present + GUARD_NS, reached=lambda: self._read() + 1)

    def sent(self) -> list[Sent]:
        """See `Port.sent`; `actual` is the queue's time at which the event was placed."""
        if self._open and len(self._schedule):
            self._guard(lambda: self._collect(self._read()))
        sent, self._sent = self._sent, []
        return sent

    def heard(self) -> list[PortEvent]:
        """See `Port.heard`."""
        if self._open:
            self._guard(self._hear)
        return self._incoming.take()

    def close(self) -> None:
        """Sends the offs that are still due, at once, then nothing more. Safe to call twice."""
        if self._open:
            self._open = False
            self._guard(self._finish)
            self._let_go()

    def _finish(self) -> None:
        present = self._read()
        self._schedule.withdraw(-(1 << 62), fixed=present, reached=lambda: 0)
        left = [entry.cue for entry in self._schedule.played(1 << 62) if entry.cue.rank == Rank.OFF]
        self._client.clear()
        for number, cue in enumerate(left):
            self._client.send(number, present, cue.data)
        self._client.flush()

    def _let_go(self) -> None:
        self._inbox.unwatch(self._client.descriptor)
        self._client.close()

    def _guard(self, action: Callable[[], object]) -> None:
        """Whatever the sequencer raises, the port has gone then, and says so once."""
        try:
            action()
        except Exception as error:  # the package has its own family, and the system another
            self._sent.clear()
            self._schedule.clear()
            if self._open:
                self._open = False
                self._let_go()
                self._incoming.tell(Gone(self.index, str(error)))

    # --- time ---------------------------------------------------------------------------------------

    def _read(self) -> int:
        """Where the queue stands."""
        present = self._client.position()
        self._bridge.see(self._now(), present)
        return present

    def _collect(self, present: int) -> None:
        for entry in self._schedule.played(present + 1):
            self._client.played(entry.number)
            actual = self._bridge.here(entry.tick)
            self._sent.append(Sent(self.index, entry.cue.ns, actual, entry.cue.data))

    def _hear(self) -> None:
        came, changed = self._client.read()
        if came:
            self._read()
        for ns, data in came:
            self._incoming.hear(self._bridge.here(ns), data)
        if changed and not self._setup.virtual:
            self._look()

    # --- what it is connected to --------------------------------------------------------------------

    def _others(self, sends: bool) -> dict[str, tuple[int, int]]:
        there = self._client.others(sends=sends)
        return {name: address for name, address in there.items() if not is_ours(name)}

    def _connect_first(self, wanted: str, *, sends: bool) -> None:
        there = self._others(sends)
        names = list(there)
        self._known[sends] = names
        role = "destination" if sends else "source"
        if wanted == "" and not sends:
            chosen = names
        elif wanted or names:
            chosen = [find(wanted, names, role=role, system="alsa")]
        else:
            chosen = []
        for name in chosen:
            self._connect(name, there, sends=sends)

    def _connect(self, name: str, there: Mapping[str, tuple[int, int]], *, sends: bool) -> None:
        self._client.connect(there[name], sends=sends)
        self._linked[sends].append(name)
        self._where[sends].opened(name, list(there))

    def _look(self) -> None:
        before = self.connections
        for sends, wanted in ((True, self._setup.to), (False, self._setup.source)):
            if wanted is not None:
                self._look_at(sends, takes_all=wanted == "" and not sends)
        if self.connections != before:
            self._on_change({self.index: self.connections})

    def _look_at(self, sends: bool, *, takes_all: bool) -> None:
        there = self._others(sends)
        names = list(there)
        new = [name for name in names if name not in self._known[sends]]
        self._known[sends] = names
        linked = self._linked[sends]
        for name in [name for name in linked if name not in names]:
            linked.remove(name)
            self._incoming.tell(Unplugged(self.index, name, sends, alone=not linked))
        if takes_all:
            found = [name for name in new if name not in linked]
        elif linked:
            found = []
        else:
            again = self._where[sends].again(names, new=new)
            found = [] if again is None else [again]
        for name in found:
            alone = not linked
            self._connect(name, there, sends=sends)
            self._incoming.tell(Plugged(self.index, name, sends, alone=alone))
