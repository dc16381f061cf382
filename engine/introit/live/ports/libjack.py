"""The system's libjack, as a Python program can live with it.

libjack ends its threads by cancelling them (`pthread_cancel`), wherever they are. One that was cancelled
while it waited for the interpreter's lock takes the lock's mutex with it, and the whole process stands still
for good. So no Python runs in libjack's threads that needn't: its messages go to a native function, and a
callback after which the client is closed outlasts the cancelling.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import sys
from collections.abc import Callable
from typing import Any, Final, NamedTuple

from introit.errors import PortError

USUAL_NAME: Final = "libjack.so.0"
"""What libjack is called on Linux, PipeWire's too."""
CANCEL_DISABLE: Final = 0 if sys.platform == "darwin" else 1
"""PTHREAD_CANCEL_DISABLE in glibc's pthread.h; in macOS's, from memory. Windows has no cancelling."""


def load() -> Any:
    """The `jack` package; importing it loads the system's libjack.

    Raises:
        PortError: if it, or the system's libjack, is not there.
    """
    try:
        import jack  # the one place that loads libjack
    except ImportError as error:
        raise PortError("JACK-Client is not installed.") from error
    except OSError as error:
        raise PortError("no JACK library on this system.") from error
    _silence(jack)
    return jack


def open_client(name: str) -> Any:
    """A JACK client that is not active yet.

    Raises:
        PortError: if no server answers.
    """
    jack = load()
    try:
        return jack.Client(name, no_start_server=True)
    except jack.JackOpenError as error:
        raise PortError("no JACK server answers.") from error


class EachCycle(NamedTuple):
    """What is asked of libjack in every cycle, played or not: forty-seven times a second at 1,024 frames.

    Attributes:
        frame: a client's handle -> the frame at which this cycle begins, modulo 2**32.
        buffer: a port's handle and the cycle's frames -> its buffer.
        clear: empties a buffer that is to be written into.
        count: a buffer that was written into by others -> how many events it may hold.
        handle: a client, or one of its ports -> its handle.
    """

    frame: Callable[[Any], int]
    buffer: Callable[[Any, int], Any]
    clear: Callable[[Any], object]
    count: Callable[[Any], int]
    handle: Callable[[Any], Any]


def each_cycle(jack: Any, client: Any) -> EachCycle:
    """Libjack's own functions, as the `jack` package has them inside; where it hasn't, what it has outside.

    The package's methods ask libjack for the length of a period each time, and a reader that finds nothing
    costs a generator: without them a cycle in which nothing is played takes a quarter less.

    Args:
        jack: the package.
        client: a client of its own.
    """
    try:
        inside, _ = jack._lib, client._ptr
        return EachCycle(
            inside.jack_last_frame_time,
            inside.jack_port_get_buffer,
            inside.jack_midi_clear_buffer,
            inside.jack_midi_get_event_count,
            lambda one: one._ptr,
        )
    except AttributeError:
        return EachCycle(
            lambda client: int(client.last_frame_time),
            lambda port, _frames: port,
            lambda port: port.clear_buffer(),
            lambda _port: 1,
            lambda one: one,
        )


def outlast_cancelling() -> None:
    """The calling thread isn't cancelled any more. For a callback whose thread ends by itself after it."""
    if sys.platform != "win32":
        # PyDLL keeps the interpreter's lock: giving it up is what must not be interrupted.
        ctypes.PyDLL(None).pthread_setcancelstate(CANCEL_DISABLE, None)


def _silence(jack: Any) -> None:
    """No message of libjack's is printed: its default prints to descriptor 2, from any thread at any time."""
    native = _native()
    if native is None:
        jack.set_error_function(_ignore)
        jack.set_info_function(_ignore)
        return
    # Takes one text and does nothing to it; a Python function would be entered from libjack's threads.
    silent = ctypes.cast(ctypes.CDLL(None).strlen, ctypes.c_void_p)
    native.jack_set_error_function(silent)
    native.jack_set_info_function(silent)


def _native() -> ctypes.CDLL | None:
    """Libjack itself, which is loaded by now; None where it cannot be called so."""
    if sys.platform == "win32":
        return None
    try:
        return ctypes.CDLL(USUAL_NAME)  # to look for it takes another process on Linux, and that its time
    except OSError:
        found = ctypes.util.find_library("jack")
        return None if found is None else ctypes.CDLL(found)


def _ignore(_: str) -> None:
    pass
