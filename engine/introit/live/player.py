"""The player process: `python -m introit.live.player`. Opens the ports, runs the loop, and nothing else.

It is started by the front (`keeper`), in a session of its own, so that what a terminal sends to the front's
group does not reach it: it leaves when the front asks, when the front is gone, or on SIGTERM or SIGHUP, and
always releases everything first. Its interpreter holds the live core and the port library, no more.
"""

from __future__ import annotations

import contextlib
import faulthandler
import gc
import logging
import signal
import socket
import sys
import traceback
from collections.abc import Callable, Sequence
from types import FrameType

from introit.errors import IntroitError, PlayerError, PortError
from introit.live import system
from introit.live.decides import Decides
from introit.live.events import Event, FrontEvent, Played, Quit
from introit.live.inbox import Inbox
from introit.live.loop import run
from introit.live.mix import Mix
from introit.live.ports.opener import Connections, open_ports
from introit.live.probe import Probe
from introit.live.session import Session
from introit.live.setup import Setup
from introit.live.shared import Shared
from introit.live.states import State
from introit.live.wire import Decoder, Failed, Hello, Left, Message, Opened, Outbox

HELLO_SECONDS = 10.0
"""How long the front may take to say what is to be played."""
GOODBYE_SECONDS = 0.5
"""How long the last frames may take to be read."""


ALONE_SECONDS = 4.0
"""How long a player may take to release everything and leave once its front is gone."""


class FrontLink:
    """The way to the front over a socket: a `loop.Link` that never blocks and never raises.

    Attributes:
        gone: the front can no longer be reached.

    Args:
        connection: the socket.
        inbox: what it wakes.
        on_gone: called once when the front cannot be reached any more.
    """

    def __init__(
        self, connection: socket.socket, inbox: Inbox, *, on_gone: Callable[[], None] = lambda: None
    ) -> None:
        self._on_gone = on_gone
        self._socket = connection
        self._inbox = inbox
        self._decoder = Decoder()
        self._outbox = Outbox(connection.send)
        self._shared: Shared | None = None
        self.gone = False

    def share(self, shared: Shared) -> None:
        """From here on the mix is kept in this memory: its last value outlives whatever ends the player."""
        self._shared = shared

    def hello(self) -> Setup:
        """Waits for the front's first frame and answers it.

        Raises:
            PlayerError: if it does not come, or is not understood.
        """
        self._socket.settimeout(HELLO_SECONDS)
        messages: list[Message] = []
        try:
            while not messages:
                data = self._socket.recv(65536)
                if not data:
                    raise PlayerError("the front left before it said what to play")
                messages = self._decoder.feed(data)
        except TimeoutError as error:
            raise PlayerError("the front did not say what to play") from error
        self._socket.setblocking(False)
        self._outbox.put(Hello())
        self._inbox.watch(self._socket.fileno())
        first, *more = messages
        if not isinstance(first, Hello) or more:
            raise PlayerError("the front went on before it was answered")
        return Setup.from_json(first.setup)

    def send(self, message: Message | Mix) -> None:
        """See `loop.Link.send`."""
        if isinstance(message, Mix):
            if self._shared is not None:
                self._shared.mix.write(message.to_json())
        elif not self.gone:
            try:
                self._outbox.put(message)
            except OSError:
                self._lose()

    def receive(self) -> Sequence[Event | Played]:
        """See `loop.Link.receive`; the front's death and its nonsense are heard as `Quit`."""
        if self.gone:
            return []
        events: list[Event | Played] = []
        try:
            self._outbox.flush()
            while data := self._socket.recv(65536):
                events += [_event(message) for message in self._decoder.feed(data)]
            self._lose()
            events.append(Quit("the front is gone"))
        except BlockingIOError:
            pass
        except OSError:
            self._lose()
            events.append(Quit("the front is gone"))
        except PlayerError as error:
            self._lose()
            events.append(Quit(str(error)))
        return events

    def close(self, last: Message) -> None:
        """Says a last word, waits shortly until it is taken, and hangs up."""
        self.send(last)
        self._socket.settimeout(GOODBYE_SECONDS)
        with contextlib.suppress(OSError):
            self._outbox.flush()
        self._lose()
        self._socket.close()

    def _lose(self) -> None:
        if not self.gone:
            self._on_gone()
        self.gone = True
        if self._socket.fileno() >= 0:
            self._inbox.unwatch(self._socket.fileno())  # at its end it would be readable for ever


def _event(message: Message) -> Event | Played:
    if isinstance(message, FrontEvent):
        return message
    raise PlayerError(f"the front sent {type(message).__name__}, which is not for the player")


class _Collector:
    """When the interpreter may look for garbage: as a tune becomes ready, never while one plays."""

    def __init__(self) -> None:
        gc.disable()
        gc.collect()
        gc.freeze()

    def __call__(self, state: str) -> None:
        if state == State.READY:
            gc.collect(1)
            gc.freeze()


def main(arguments: Sequence[str]) -> int:
    """Plays until told to leave.

    Args:
        arguments: the socket's and the memory's handles, as `keeper` hands them.

    Returns:
        0 when it left in order.
    """
    handle, memory = arguments
    faulthandler.enable()
    logging.basicConfig(level=logging.INFO, format="%(message)s")  # descriptor 2 is the keeper's file
    inbox = Inbox()
    _take_signals(inbox)
    link = FrontLink(_connection(handle), inbox, on_gone=_leave_soon)
    try:
        setup = link.hello()
        reason = _play(setup, memory, inbox=inbox, link=link)
    except IntroitError as error:
        link.close(Failed("port" if isinstance(error, PortError) else "player", str(error)))
        return 1
    except BaseException:
        traceback.print_exc()
        link.close(Failed("player", traceback.format_exc(limit=-1).strip().splitlines()[-1]))
        return 1
    link.close(Left(reason))
    return 0


def _play(setup: Setup, memory: str, *, inbox: Inbox, link: FrontLink) -> str:
    shared = Shared.open(memory, len(setup.ports))
    link.share(shared)
    granted = system.prepare()
    told: Connections = {}

    def tell(connections: Connections) -> None:
        told.update(connections)
        shared.connections.write(connections)

    ports, clock = open_ports(setup, inbox, on_connections=tell)
    lookaheads = [port.lookahead for port in ports]
    session: Decides = Probe(setup, lookaheads) if setup.measure_ns else Session(setup, lookaheads)
    names = tuple(", ".join(told.get(index, ([], []))[0]) for index in range(len(ports)))
    latencies = tuple(port.latency for port in ports)
    link.send(Opened(names, granted.text, latencies, tuple(lookaheads)))
    return run(
        session, clock, inbox=inbox, ports=ports, ledger=shared.ledger, link=link, on_state=_Collector()
    )


def _leave_soon() -> None:
    """Nobody is left to end a player that cannot end by itself, such as one held up by a driver's close.

    The standard library's own watchdog does, which needs no interpreter to run.
    """
    faulthandler.dump_traceback_later(ALONE_SECONDS, exit=True)


def _connection(handle: str) -> socket.socket:
    if sys.platform == "win32":
        return socket.fromshare(sys.stdin.buffer.read())
    return socket.socket(fileno=int(handle))


def _take_signals(inbox: Inbox) -> None:
    """Asked to leave, it leaves in order; what a terminal sends is the front's business."""

    def asked(number: int, _frame: FrameType | None) -> None:
        inbox.put(Quit(signal.Signals(number).name))

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for name in ("SIGTERM", "SIGHUP", "SIGBREAK"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), asked)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
