"""RtMidi through supriya-midi: the binding with wheels for Python 3.13 and later, on x86-64 and ARM64.

The others were tried: python-rtmidi has no wheels from 3.13 on; rtmidi2 has none for ARM64 Linux and ends the
process when RtMidi throws; the wheels of pylibremidi 5.4.3 cannot be imported from 3.13 on (an extension
module named and built for 3.12). Its own libjack is refused by other releases' servers ("protocol mismatch"),
which is no loss: JACK has a port of its own here.
"""

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
        import supriya_midi
    except ImportError as error:
        raise PortError("supriya-midi is not installed.") from error
    interfaces = supriya_midi.RtMidiAPI
    known = {
        "alsa": interfaces.LINUX_ALSA,
        "jack": interfaces.UNIX_JACK,
        "coremidi": interfaces.MACOSX_CORE,
        "windows": interfaces.WINDOWS_MM,
    }
    chosen = interface or {"linux": "alsa", "darwin": "coremidi", "win32": "windows"}.get(
        sys.platform, "alsa"
    )
    if known[chosen] not in supriya_midi.get_compiled_apis():
        raise PortError(f"supriya-midi was built without {chosen}.")

    def make_out(name: str) -> Any:
        return supriya_midi.MidiOut(known[chosen], name)

    def make_in(name: str, take: Callable[[Sequence[int]], None]) -> Any:
        end = supriya_midi.MidiIn(known[chosen], name)
        end.ignore_types(sysex=True, timing=True, active_sense=True)
        end.set_callback(lambda message, _seconds, _data: take(list(message)))
        return end

    return Driver("supriya-midi", chosen, chosen != "windows", make_out, make_in)
