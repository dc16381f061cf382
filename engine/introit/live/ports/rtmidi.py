"""RtMidi through python-rtmidi (up to Python 3.12; it has no wheels beyond)."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import Any

from introit.errors import PortError
from introit.live.ports.immediate import Driver


def driver(interface: str = "") -> Driver:
    """The binding.

    Args:
        interface: `alsa`, `jack`, `coremidi` or `windows`; empty for the system's own.

    Raises:
        PortError: if it is not installed, or was built without that interface.
    """
    try:
        import rtmidi
    except ImportError as error:
        raise PortError("python-rtmidi is not installed.") from error
    known = {
        "alsa": rtmidi.API_LINUX_ALSA,
        "jack": rtmidi.API_UNIX_JACK,
        "coremidi": rtmidi.API_MACOSX_CORE,
        "windows": rtmidi.API_WINDOWS_MM,
    }
    chosen = interface or {"linux": "alsa", "darwin": "coremidi", "win32": "windows"}.get(
        sys.platform, "alsa"
    )
    if known[chosen] not in rtmidi.get_compiled_api():
        raise PortError(f"python-rtmidi was built without {chosen}.")

    def make_out(name: str) -> Any:
        return rtmidi.MidiOut(known[chosen], name=name)

    def make_in(name: str, take: Callable[[Sequence[int]], None]) -> Any:
        end = rtmidi.MidiIn(known[chosen], name=name)
        end.ignore_types(sysex=True, timing=True, active_sense=True)
        end.set_callback(lambda heard, _data: take(heard[0]))
        return end

    return Driver("python-rtmidi", chosen, chosen != "windows", make_out, make_in)
