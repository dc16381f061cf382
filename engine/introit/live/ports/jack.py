"""JACK: every event on its frame. One JACK client a player, for all its ports in and out.

The process callback runs in a thread of JACK's own and belongs to it alone; it catches everything, since an
exception would end it for good with the client still registered. What it shares with the loop's thread are
deques and one dictionary whose operations are atomic.
"""

from __future__ import annotations

import contextlib
import random
import threading
import time
from collections.abc import Callable
from typing import Any, Final

from introit.errors import PortError
from introit.live.events import Back, Gone, Lost, Plugged, Unplugged
from introit.live.inbox import Inbox
from introit.live.ports.finder import Listing
from introit.live.ports.frames import WRAP, FrameScale, Unwrapper
from introit.live.ports.jack_port import JackClock, JackPort
from introit.live.ports.libjack import each_cycle, load, open_client, outlast_cancelling
from introit.live.ports.patchbay import Connections, Patchbay
from introit.live.setup import PortSetup
from introit.units import NS_PER_SECOND

RETRY_SECONDS: Final = 0.5
"""How often a server that has gone is looked for."""
FIRST_CYCLE_SECONDS: Final = 2.0
"""How long a server may take to run a cycle."""
CALLBACKS_END_SECONDS: Final = 0.01
"""How long the callbacks of a client that is not active any more may still take."""


def list_ports(name: str = "introit-look") -> Listing:
    """Every MIDI port that the JACK server knows, or why it could not be asked."""
    try:
        client = open_client(name)
    except PortError as error:
        return Listing("jack", reason=str(error).rstrip("."))
    try:
        inputs = tuple(port.name for port in client.get_ports(is_midi=True, is_input=True))
        outputs = tuple(port.name for port in client.get_ports(is_midi=True, is_output=True))
        detail = f"{client.samplerate} frames a second, {client.blocksize} a period"
        return Listing("jack", destinations=inputs, sources=outputs, detail=detail)
    finally:
        client.close()


class JackClient:
    """One client with all its ports, and the time they share.

    Add the ports, then `start`. Ports are matched to the setup's patterns by a `Patchbay` with a thread of
    its own. When the server goes, another thread waits for one to come back and opens everything again.

    Attributes:
        scale: frames to the session clock's nanoseconds; known once started.
        alive: False while there is no server.
        faults: what went wrong inside the callback, the first few; empty in a sound program.
        used: something has been written; before that nothing can have been lost.
        clock: the session clock.
        on_change: told, from a thread of ours, what each port is connected to whenever that may have changed.
    """

    def __init__(
        self, name: str, inbox: Inbox, *, on_change: Callable[[Connections], None] = lambda _: None
    ) -> None:
        """Opens the client.

        Raises:
            PortError: if no server answers.
        """
        self._name = name
        self._inbox = inbox
        self.on_change = on_change
        self.alive = False
        self._turning = threading.Lock()  # between a server's end and our taking it for alive
        self.faults: list[str] = []
        self._ports: list[JackPort] = []
        self._closed: set[int] = set()
        self._down = threading.Event()
        self._ending = threading.Event()
        self._reviver = threading.Thread(target=self._revive, name="jack", daemon=True)
        self._adopt(open_client(name))
        self.clock = JackClock(self)

    def _adopt(self, client: Any) -> None:
        """Takes over a client that is not active yet. While there is no server."""
        self._down.clear()
        if self._ending.is_set():
            self._down.set()
        self.used = False
        self.scale = FrameScale(client.samplerate, 0)
        self._each = each = each_cycle(load(), client)
        self._frame, self._buffer, self._clear, self._count = each.frame, each.buffer, each.clear, each.count
        self._handle = each.handle(client)
        self._outs: list[tuple[JackPort, Any]] = []
        self._ins: list[tuple[JackPort, Any]] = []
        self._expected: int | None = None
        self._period: int = client.blocksize
        self._xruns = self._seen_xruns = 0
        self._turned = threading.Event()
        self._anchored = False
        self.patchbay = Patchbay(client, on_change=lambda new: self.on_change(new), tell=self._tell_end)
        client.set_process_callback(self._process)
        client.set_xrun_callback(self._on_xrun)
        client.set_blocksize_callback(self._on_period)
        client.set_shutdown_callback(self._on_shutdown)
        self._client = client

    def _begin(self, present: int) -> None:
        """Activates the client, and has the clock show `present` at the frame that is played then.

        Raises:
            PortError: if the server runs no cycle: what it says of its frames before its first is nonsense.
        """
        self._client.activate()
        if not self._turned.wait(FIRST_CYCLE_SECONDS):
            raise PortError("the JACK server does not run.")
        first: int = self._client.frame_time
        self.scale = FrameScale(self.scale.rate, present - self.scale.ns(first))
        self._loop_frames = Unwrapper(first)
        self._first = first
        self._anchored = True

    @property
    def name(self) -> str:
        """The client's name, as the server made it unique."""
        return str(self._client.name)

    @property
    def period_ns(self) -> int:
        """One period in nanoseconds."""
        return self._period * NS_PER_SECOND // self.scale.rate

    @property
    def frame_time(self) -> int:
        """The frame that is being played now, unwrapped. For the loop's thread."""
        return self._loop_frames(int(self._client.frame_time))

    def add(self, index: int, setup: PortSetup) -> JackPort:
        """Registers one port's ends; connections are made by `start`.

        Raises:
            PortError: if JACK refuses the name.
        """
        port = JackPort(index, setup, self)
        self._register(port)
        self._ports.append(port)
        return port

    def _register(self, port: JackPort) -> None:
        setup, client = port.setup, self._client
        try:
            if setup.to is not None:
                port.out = client.midi_outports.register(setup.name)
                self._outs.append((port, self._each.handle(port.out)))
                pattern = None if setup.virtual else setup.to
                self.patchbay.want(port.index, port.out.name, pattern, sends=True)
            if setup.source is not None:
                port.into = client.midi_inports.register(f"{setup.name} in")
                self._ins.append((port, self._each.handle(port.into)))
                pattern = None if setup.virtual else setup.source
                self.patchbay.want(port.index, port.into.name, pattern, sends=False)
        except load().JackError as error:
            raise PortError(f"JACK refuses the port {setup.name!r}: {error}") from error

    def start(self) -> None:
        """Begins to play and connects every port.

        Raises:
            PortError: if a pattern matches nothing, or more than one port, or the server does not run.
        """
        try:
            # The offset is large and random, so that mixing clocks shows at once.
            self._begin(random.randrange(10**8) * NS_PER_SECOND)
            self.patchbay.start()
            self._rise()
        except load().JackError as error:
            self.close()
            raise PortError(f"JACK does not answer any more: {error}") from error
        except BaseException:
            self.close()
            raise
        self._reviver.start()

    def _rise(self) -> None:
        """From now on the server counts as there, unless it has died since the client was opened.

        Raises:
            PortError: if it has.
        """
        with self._turning:
            if self._down.is_set():
                raise PortError("the JACK server has gone.")
            self.alive = True
            self._former = self.patchbay

    def release(self, index: int) -> None:
        """One port will not be used any more; the last one closes the client. Safe to call twice."""
        self._closed.add(index)
        if len(self._closed) == len(self._ports):
            self.close()

    def close(self) -> None:
        """Gives the client back to the server. Safe to call twice."""
        if not self._ending.is_set():
            self._ending.set()
            self._down.set()
            if self._reviver.is_alive():
                self._reviver.join(RETRY_SECONDS + 1.0)
            self.alive = False
            self._let_go()

    def _let_go(self) -> None:
        """Whatever a dead server answers, the next one is to be looked for."""
        for step in (self.patchbay.close, self._client.deactivate, _wait_for_callbacks, self._client.close):
            with contextlib.suppress(Exception):
                step()

    # --- a server that goes and comes ---------------------------------------------------------------

    def _revive(self) -> None:
        """Waits for the server to go, then for one to come back; again and again."""
        while True:
            self._down.wait()
            if self._ending.is_set():
                return
            self._let_go()
            while not self._ending.wait(RETRY_SECONDS):
                if self._reopened():
                    break

    def _reopened(self) -> bool:
        """One try; JACK's errors have no family in common, and none may end the tries."""
        try:
            client = open_client(self._name)
        except Exception:
            return False
        try:
            self._reopen(client)
        except Exception:
            self._let_go()
            return False
        return True

    def _reopen(self, client: Any) -> None:
        self._client = client
        self._adopt(client)
        for port in self._ports:
            port.begin_anew()
            self._register(port)
        self.patchbay.remember(self._former)
        self._begin(self.clock.unled())
        self.patchbay.start(patient=True)
        self._rise()
        for port in self._ports:
            port.incoming.tell(Back(port.index))
        self._inbox.wake()

    def _tell_end(self, event: Unplugged | Plugged) -> None:
        """From the patchbay's thread, or the reviver's; a server's own end is told as `Gone` alone."""
        if self._down.is_set():
            return
        for port in self._ports:
            if port.index == event.port:
                port.incoming.tell(event)
        self._inbox.wake()

    # --- callbacks ----------------------------------------------------------------------------------

    def _process(self, frames: int) -> None:
        try:
            self._cycle(frames)
        except BaseException as error:  # an exception would end the callback for good
            if len(self.faults) < 10:
                self.faults.append(f"{type(error).__name__}: {error}")

    def _cycle(self, frames: int) -> None:
        """One cycle. What is at rest must cost as little as can be: an evening has some 600,000 of them."""
        buffer, clear, count = self._buffer, self._clear, self._count
        for _, handle in self._outs:  # first of all: what a buffer held would sound again
            clear(buffer(handle, frames))
        if not self._anchored:
            self._turned.set()
            return
        start, told = self._expected, False
        counter = self._frame(self._handle)
        if start is None or counter != start % WRAP or self._xruns != self._seen_xruns:
            start, told = self._out_of_step(counter, frames)
        self._expected = start + frames
        for port, _ in self._outs:
            port.write(start, frames)
        for port, handle in self._ins:
            if count(buffer(handle, frames)):
                told |= port.read(start)
        if told:
            self._inbox.wake()

    def _out_of_step(self, counter: int, frames: int) -> tuple[int, bool]:
        """This cycle's first frame, where it is not the expected one, and whether that was told as a loss."""
        expected, self._seen_xruns = self._expected, self._xruns
        start = Unwrapper(self._first if expected is None else expected)(counter)
        if expected is None or not self.used:
            return start, False
        # What was written in the cycle before may not have been passed on either.
        before, after = self.scale.ns(min(expected, start) - frames), self.scale.ns(start)
        for port in self._ports:
            port.incoming.tell(Lost(port.index, before, after))
        return start, True

    def _on_xrun(self, _delayed_microseconds: float) -> None:
        self._xruns += 1

    def _on_period(self, frames: int) -> None:
        self._period = frames

    def _on_shutdown(self, _status: object, _reason: str) -> None:
        outlast_cancelling()  # the reviver, once told, closes the client; this thread ends by itself
        with self._turning:
            self._down.set()
            was, self.alive = self.alive, False
        if was:
            for port in self._ports:
                port.incoming.tell(Gone(port.index, "the JACK server has gone"))
            self._inbox.wake()


def _wait_for_callbacks() -> None:
    """Closing a client cancels its thread, which must not be in one of our callbacks then (see `libjack`)."""
    time.sleep(CALLBACKS_END_SECONDS)
