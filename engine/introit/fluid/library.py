"""The system's libfluidsynth: where it is, and the calls of it that are made here.

Called directly: the Python packages for it wrap neither the removal of events nor rendering in float.
"""

from __future__ import annotations

import contextlib
import ctypes
import ctypes.util
import itertools
import sys
from collections.abc import Mapping, Sequence
from typing import Any, Final

from introit.errors import PortError

INSTALL: Final[Mapping[str, str]] = {
    "linux": "on Debian and Ubuntu `apt install libfluidsynth3`",
    "darwin": "on macOS `brew install fluid-synth`",
    "win32": "on Windows `choco install fluidsynth`, or the `bin` folder of its release on the PATH",
}
"""What brings the library, by `sys.platform`."""
_NAMES: Final = ("fluidsynth", "fluidsynth-3", "libfluidsynth-3", "libfluidsynth")
_FILES: Final = (
    "libfluidsynth.so.3",
    "libfluidsynth.3.dylib",
    "/opt/homebrew/lib/libfluidsynth.3.dylib",
    "/usr/local/lib/libfluidsynth.3.dylib",
)

_pointer, _text, _int, _double = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int, ctypes.c_double
_short, _unsigned, _float = ctypes.c_short, ctypes.c_uint, ctypes.c_float
_SIGNATURES: Final[Mapping[str, tuple[Any, Sequence[Any]]]] = {
    "fluid_version_str": (_text, ()),
    "fluid_set_log_function": (_pointer, (_int, _pointer, _pointer)),
    "new_fluid_settings": (_pointer, ()),
    "delete_fluid_settings": (None, (_pointer,)),
    "fluid_settings_setnum": (_int, (_pointer, _text, _double)),
    "fluid_settings_setint": (_int, (_pointer, _text, _int)),
    "fluid_settings_setstr": (_int, (_pointer, _text, _text)),
    "fluid_settings_foreach_option": (None, (_pointer, _text, _pointer, _pointer)),
    "new_fluid_synth": (_pointer, (_pointer,)),
    "delete_fluid_synth": (None, (_pointer,)),
    "fluid_synth_sfload": (_int, (_pointer, _text, _int)),
    "fluid_synth_get_internal_bufsize": (_int, (_pointer,)),
    "fluid_synth_all_sounds_off": (_int, (_pointer, _int)),
    "fluid_synth_noteon": (_int, (_pointer, _int, _int, _int)),
    "fluid_synth_noteoff": (_int, (_pointer, _int, _int)),
    "fluid_synth_cc": (_int, (_pointer, _int, _int, _int)),
    "fluid_synth_program_change": (_int, (_pointer, _int, _int)),
    "fluid_synth_set_gen": (_int, (_pointer, _int, _int, _float)),
    "fluid_synth_write_float": (_int, (_pointer, _int, _pointer, _int, _int, _pointer, _int, _int)),
    "new_fluid_audio_driver": (_pointer, (_pointer, _pointer)),
    "delete_fluid_audio_driver": (None, (_pointer,)),
    "new_fluid_sequencer2": (_pointer, (_int,)),
    "delete_fluid_sequencer": (None, (_pointer,)),
    "fluid_sequencer_set_time_scale": (None, (_pointer, _double)),
    "fluid_sequencer_register_fluidsynth": (_short, (_pointer, _pointer)),
    "fluid_sequencer_get_tick": (_unsigned, (_pointer,)),
    "fluid_sequencer_send_at": (_int, (_pointer, _pointer, _unsigned, _int)),
    "fluid_sequencer_remove_events": (None, (_pointer, _short, _short, _int)),
    "new_fluid_event": (_pointer, ()),
    "delete_fluid_event": (None, (_pointer,)),
    "fluid_event_set_source": (None, (_pointer, _short)),
    "fluid_event_set_dest": (None, (_pointer, _short)),
    "fluid_event_noteon": (None, (_pointer, _int, _short, _short)),
    "fluid_event_noteoff": (None, (_pointer, _int, _short)),
    "fluid_event_control_change": (None, (_pointer, _int, _short, _int)),
    "fluid_event_program_change": (None, (_pointer, _int, _int)),
    "fluid_event_pitch_bend": (None, (_pointer, _int, _int)),
}
"""Of fluidsynth.h 2.x; the width of an argument differs among its releases where a register holds either."""
_OPTION = ctypes.CFUNCTYPE(None, _pointer, _text, _text)


def load() -> Any:
    """The library.

    Raises:
        PortError: if it is not there, or too old; says what brings it.
    """
    # Searching takes a tenth of a second and starts programs: only where the usual names are not known.
    searched = (ctypes.util.find_library(name) for name in _NAMES)
    for name in itertools.chain(_FILES, searched):
        with contextlib.suppress(OSError):
            if name is not None:
                library = ctypes.CDLL(name)
                break
    else:
        raise PortError(f"no FluidSynth library on this system ({how_to_install()}).")
    try:
        for call, (result, arguments) in _SIGNATURES.items():
            function = getattr(library, call)
            function.restype, function.argtypes = result, list(arguments)
    except AttributeError as error:
        raise PortError(f"FluidSynth 2.1 or later is needed ({how_to_install()}).") from error
    return library


def how_to_install(platform: str = "") -> str:
    """What brings the library: this system's way, or all of them where it is none of those."""
    return INSTALL.get(platform or sys.platform) or ", ".join(INSTALL.values())


def version(library: Any) -> str:
    """Such as 2.3.1."""
    return str(library.fluid_version_str().decode())


def audio_drivers(library: Any) -> tuple[str, ...]:
    """Names of the audio drivers that this FluidSynth was built with."""
    settings = library.new_fluid_settings()
    try:
        return drivers_of(library, settings)
    finally:
        library.delete_fluid_settings(settings)


def drivers_of(library: Any, settings: Any) -> tuple[str, ...]:
    """The same, asked of settings that are there."""
    names: list[str] = []
    told = _OPTION(lambda _data, _name, option: names.append(option.decode()))
    library.fluid_settings_foreach_option(settings, b"audio.driver", None, ctypes.cast(told, ctypes.c_void_p))
    return tuple(name for name in names if name != "file")  # nobody hears a file, and it keeps no time
