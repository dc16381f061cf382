"""The ALSA sequencer: what alsa-midi is asked for. A client of our own for each port, with a real-time queue.

Written against alsa-midi 1.0 and the kernel's documented behaviour; `alsa_port` decides what happens when.
"""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Callable
from typing import Any, Final, NamedTuple

from introit.chatter import hushed
from introit.errors import PortError
from introit.live.inbox import Inbox
from introit.live.ports.alsa_port import AlsaPort
from introit.live.ports.finder import Listing
from introit.live.ports.names import labels, told_apart
from introit.live.ports.patchbay import Connections
from introit.live.setup import PortSetup
from introit.units import NS_PER_SECOND

CLIENT: Final = "introit"
POOL: Final = 2000
"""Events that the kernel keeps for us, as many as it allows: then giving it some never waits."""
TAGS: Final = range(1, 256)
"""A tag is a byte, and none but zero when it cannot be given: what has it cannot be taken back."""


class Came(NamedTuple):
    """A message that came in, at the queue's nanosecond."""

    ns: int
    data: bytes


class AlsaClient:
    """One sequencer client with one port, in, out or both. For one thread.

    Attributes:
        descriptor: readable when something has come in.
    """

    def __init__(self, name: str, *, sends: bool, listens: bool) -> None:
        """Opens the sequencer.

        Args:
            name: the port's.
            sends: whether it can be read from.
            listens: whether it can be written to.

        Raises:
            PortError: if alsa-midi is not installed, or there is no sequencer.
        """
        self._alsa = alsa = load()
        self._tags = set(TAGS)
        self._tag_of: dict[int, int] = {}
        try:
            with hushed():
                self._client = client = alsa.SequencerClient(CLIENT)
        except alsa.Error as error:
            raise PortError(f"no ALSA sequencer: {error}.") from error
        try:
            with contextlib.suppress(alsa.Error):  # what it has by itself will do
                client.set_client_pool_output(POOL)
            self._queue = client.create_queue(CLIENT)
            caps = alsa.PortCaps(0)
            if sends:
                caps |= alsa.READ_PORT
            if listens:
                caps |= alsa.WRITE_PORT
            stamp = {"timestamping": True, "timestamp_real": True, "timestamp_queue": self._queue}
            kind = alsa.PortType.MIDI_GENERIC | alsa.PortType.APPLICATION
            self._port = client.create_port(name, caps, kind, **stamp)
            quiet = alsa.WRITE_PORT | alsa.PortCaps.NO_EXPORT
            self._watch = client.create_port("changes", quiet, kind)
            client.subscribe_port(alsa.SYSTEM_ANNOUNCE, self._address(self._watch))
            self._queue.start()
            client.drain_output()
        except alsa.Error as error:
            client.close()
            raise PortError(f"the ALSA sequencer refuses the port {name!r}: {error}.") from error
        self.descriptor: int = client._fd

    def _address(self, port: Any) -> tuple[int, int]:
        return (self._client.client_id, port.port_id)

    # --- time and what is to be played -------------------------------------------------------------

    def position(self) -> int:
        """The queue's nanosecond now."""
        time = self._client.get_queue_status(self._queue.queue_id).real_time
        return int(time.seconds) * NS_PER_SECOND + int(time.nanoseconds)

    def send(self, number: int, tick: int, data: bytes) -> bool:
        """See `schedule.Sequencer`; a tick is a nanosecond of the queue's. Call `flush` after the last."""
        tag = self._tags.pop() if self._tags else 0
        if tag:
            self._tag_of[number] = tag
        time = self._alsa.RealTime(*divmod(tick, NS_PER_SECOND))
        event = self._alsa.MidiBytesEvent(data, time=time, tag=tag, relative=False)
        self._client.event_output(event, queue=self._queue, port=self._port)
        return tag != 0

    def flush(self) -> None:
        """Gives the kernel what was sent."""
        self._client.drain_output()

    def remove(self, number: int) -> None:
        """See `schedule.Sequencer`."""
        tag = self._tag_of.pop(number, None)
        if tag is not None:
            self._client.remove_events(self._alsa.RemoveCondition.OUTPUT, queue=self._queue, tag=tag)
            self._tags.add(tag)

    def played(self, number: int) -> None:
        """It has been played: its tag is free."""
        tag = self._tag_of.pop(number, None)
        if tag is not None:
            self._tags.add(tag)

    # --- who else is there --------------------------------------------------------------------------

    def others(self, *, sends: bool) -> dict[str, tuple[int, int]]:
        """Ports that can be sent to, or listened to, by their unique names, in the system's order."""
        way = {"output": True} if sends else {"input": True}
        found = [info for info in self._client.list_ports(**way) if info.client_id != self._client.client_id]
        names = told_apart(f"{one.client_name}:{one.name} {one.client_id}:{one.port_id}" for one in found)
        return {name: (one.client_id, one.port_id) for name, one in zip(names, found, strict=True)}

    def connect(self, address: tuple[int, int], *, sends: bool) -> None:
        """Connects our port to another.

        Raises:
            PortError: if that is refused.
        """
        own = self._address(self._port)
        pair = (own, address) if sends else (address, own)
        try:
            self._client.subscribe_port(*pair)
        except self._alsa.Error as error:
            if getattr(error, "errnum", 0) != -errno.EBUSY:  # it is connected already
                raise PortError(f"the ALSA sequencer refuses the connection: {error}.") from error

    def read(self) -> tuple[list[Came], bool]:
        """What has come in since, in order, and whether ports have come or gone."""
        came: list[Came] = []
        changed = False
        kinds = self._alsa.EventType
        while self._client.event_input_pending(True):
            try:
                event = self._client.event_input(prefer_bytes=True)
            except self._alsa.ALSAError:  # more came than was kept: go on with what there is
                continue
            if event.type in (kinds.PORT_START, kinds.PORT_EXIT, kinds.CLIENT_EXIT):
                changed = True
            data = getattr(event, "midi_bytes", b"")
            if data and event.time is not None:
                came.append(Came(event.time.seconds * NS_PER_SECOND + event.time.nanoseconds, bytes(data)))
        return came, changed

    def clear(self) -> None:
        """Takes back all that has not been played."""
        self._client.remove_events(self._alsa.RemoveCondition.OUTPUT)
        self._tags, self._tag_of = set(TAGS), {}

    def close(self) -> None:
        """Gives the client back to the system; what waits is never played."""
        self._client.close()


def load() -> Any:
    """The `alsa_midi` package; importing it loads the system's libasound.

    Raises:
        PortError: if it is not installed, or cannot be used here.
    """
    try:
        import alsa_midi
    except (ImportError, OSError) as error:
        raise PortError(
            "alsa-midi is not installed (`pip install '.[alsa]'` in the program's folder)."
        ) from error
    return alsa_midi


def open_port(
    index: int,
    setup: PortSetup,
    *,
    now: Callable[[], int],
    inbox: Inbox,
    on_change: Callable[[Connections], None] = lambda _: None,
) -> AlsaPort:
    """Opens a client with a port and connects it as the setup says.

    Raises:
        PortError: if there is no sequencer, or a name matches nothing or more than one port.
    """
    client = AlsaClient(setup.name, sends=setup.to is not None, listens=setup.source is not None)
    try:
        return AlsaPort(index, setup, client, now=now, inbox=inbox, on_change=on_change)
    except BaseException:
        client.close()
        raise


def list_ports() -> Listing:
    """Every port that the sequencer knows, or why it could not be asked."""
    try:
        client = AlsaClient("look", sends=True, listens=True)
    except PortError as error:
        return Listing("alsa", reason=str(error).rstrip("."))
    try:
        there = {sends: tuple(labels(list(client.others(sends=sends)))) for sends in (True, False)}
    finally:
        client.close()
    return Listing("alsa", destinations=there[True], sources=there[False], detail="the kernel's sequencer")
