"""The system's libfluidsynth, as far as a port needs it: a synth, its sequencer, and sound out of it.

Called directly: the Python packages for it wrap no removal of events. Everything that must be in time happens
in the library's own threads, and no Python runs in them.
"""

from __future__ import annotations

import contextlib
import ctypes
import ctypes.util
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from introit.errors import PortError, did_you_mean
from introit.live.messages import Kind
from introit.live.ports.blocks import TICKS_PER_MS
from introit.live.ports.chatter import hushed

RATE: Final = 48_000
"""Frames a second, where no JACK server says otherwise."""
PERIOD: Final = 128
"""Frames that are rendered at a time, unless a JACK server has its own period."""
PERIODS: Final = 4
"""How many of them a sound card keeps."""
AUTOMATIC: Final = ("jack", "pipewire", "pulseaudio", "alsa", "coreaudio", "wasapi", "dsound")
"""Audio drivers in the order in which they are tried; each FluidSynth has some of them."""
_INSTALL: Final = "on Debian and Ubuntu `apt install libfluidsynth3`, on macOS `brew install fluid-synth`"
_NAMES: Final = ("fluidsynth", "fluidsynth-3", "libfluidsynth-3", "libfluidsynth")
_FILES: Final = ("libfluidsynth.so.3", "libfluidsynth.3.dylib", "/opt/homebrew/lib/libfluidsynth.3.dylib")
_OK: Final = 0
_ANY: Final = -1
_SOURCES: Final = 1 << 15
"""A source is a short, from 0 up."""
_LOG_LEVELS: Final = 5

_pointer, _text, _int, _double = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int, ctypes.c_double
_short, _unsigned = ctypes.c_short, ctypes.c_uint
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
        PortError: if it is not there, or too old.
    """
    found = (ctypes.util.find_library(name) for name in _NAMES)
    for name in (*(name for name in found if name), *_FILES):
        with contextlib.suppress(OSError):
            library = ctypes.CDLL(name)
            break
    else:
        raise PortError(f"no FluidSynth library on this system ({_INSTALL}).")
    try:
        for call, (result, arguments) in _SIGNATURES.items():
            function = getattr(library, call)
            function.restype, function.argtypes = result, list(arguments)
    except AttributeError as error:
        raise PortError(f"FluidSynth 2.1 or later is needed ({_INSTALL}).") from error
    return library


def version(library: Any) -> str:
    """Such as 2.3.1."""
    return str(library.fluid_version_str().decode())


def audio_drivers(library: Any) -> tuple[str, ...]:
    """Names of the audio drivers that this FluidSynth was built with."""
    settings = library.new_fluid_settings()
    try:
        return _drivers(library, settings)
    finally:
        library.delete_fluid_settings(settings)


def _drivers(library: Any, settings: Any) -> tuple[str, ...]:
    names: list[str] = []
    told = _OPTION(lambda _data, _name, option: names.append(option.decode()))
    library.fluid_settings_foreach_option(settings, b"audio.driver", None, ctypes.cast(told, ctypes.c_void_p))
    return tuple(name for name in names if name != "file")  # nobody hears a file, and it keeps no time


class Synth:
    """A synth that plays into an audio driver, and its sequencer. For one thread.

    Attributes:
        rate: frames a second.
        block: frames that are rendered at once, and on whose start events fall.
        driver: the audio driver's name.
        buffered: frames between their rendering and their being heard, at most, as far as is known; 0 where
            that is one period of the driver's, whatever this is.
    """

    def __init__(
        self,
        soundfont: Path,
        *,
        gain: float,
        drivers: Sequence[str],
        name: str = "introit",
        rate: int = RATE,
        period: int = PERIOD,
        settings: Mapping[str, str] | None = None,
    ) -> None:
        """Opens everything; sound is rendered from now on.

        Args:
            soundfont: a file that is there.
            gain: 0 to 1.
            drivers: audio drivers, of which the first that can be opened is taken.
            name: what a sound server calls it.
            rate: frames a second.
            period: frames rendered at a time.
            settings: more of the library's settings.

        Raises:
            PortError: if the library, the soundfont or an audio driver cannot be used.
        """
        self.rate = rate
        self._period = period
        self._library = library = load()
        self._synth: Any = None
        self._sequencer: Any = None
        self._audio: Any = None
        self._event: Any = None
        self._settings: Any = library.new_fluid_settings()
        try:
            with hushed() as lines:
                self._set("synth.sample-rate", float(rate))
                self._set("synth.gain", gain)
                self._set("audio.period-size", period)
                self._set("audio.periods", PERIODS)
                self._set("audio.jack.id", name)
                self._set("audio.jack.autoconnect", 1)
                for key, value in (settings or {}).items():
                    self._set(key, value)
                self._synth = library.new_fluid_synth(self._settings)
                loaded = library.fluid_synth_sfload(self._synth, str(soundfont).encode(), 1)
            _require_loaded(loaded, soundfont, lines)
            self.block = library.fluid_synth_get_internal_bufsize(self._synth)
            self._event = library.new_fluid_event()
            self._start_sequencer()
            self.driver = self._open_audio(drivers)
        except BaseException:
            self.close()
            raise
        self.buffered = 0 if self.driver == "jack" else period * (PERIODS - 1)

    def _set(self, key: str, value: str | float) -> None:
        put, given = {
            str: (self._library.fluid_settings_setstr, str(value).encode()),
            int: (self._library.fluid_settings_setint, value),
            float: (self._library.fluid_settings_setnum, value),
        }[type(value)]
        put(self._settings, key.encode(), given)

    def _start_sequencer(self) -> None:
        self._sequencer = self._library.new_fluid_sequencer2(0)  # the time of what has been rendered
        self._library.fluid_sequencer_set_time_scale(self._sequencer, TICKS_PER_MS * 1000.0)
        self._dest = self._library.fluid_sequencer_register_fluidsynth(self._sequencer, self._synth)

    def _open_audio(self, wanted: Sequence[str]) -> str:
        there = _drivers(self._library, self._settings)
        if len(wanted) == 1 and wanted[0] not in there:
            hint = did_you_mean(wanted[0], there)
            message = f"this FluidSynth has no audio driver {wanted[0]!r}; it has {', '.join(there)}. {hint}"
            raise PortError(message.rstrip())
        tried = [name for name in wanted if name in there]
        for name in tried:
            with hushed():
                self._set("audio.driver", name)
                self._audio = self._library.new_fluid_audio_driver(self._settings, self._synth)
            if self._audio:
                # From now on nothing is printed, from whatever thread.
                for level in range(_LOG_LEVELS):
                    self._library.fluid_set_log_function(level, None, None)
                return name
        raise PortError(
            f"FluidSynth finds no way to a sound card (audio drivers tried: {', '.join(tried) or 'none'});"
            " start a sound server or plug in the card, or name another driver with `audio:` in the rig."
        )

    def reopen_audio(self) -> bool:
        """Tries to get the audio driver back that has stopped; may take long. Whether there is one again."""
        if self._audio:
            self._library.delete_fluid_audio_driver(self._audio)
        with hushed():
            self._audio = self._library.new_fluid_audio_driver(self._settings, self._synth)
        return bool(self._audio)

    def renew(self) -> None:
        """Another sequencer in place of this one, whose tick begins at 0 again; what waits is forgotten."""
        self._library.delete_fluid_sequencer(self._sequencer)
        self._start_sequencer()

    def tick(self) -> int:
        """What the sequencer shows: the millisecond in which the last block began that it reached."""
        return int(self._library.fluid_sequencer_get_tick(self._sequencer))

    def send(self, number: int, tick: int, data: bytes) -> bool:
        """See `schedule.Sequencer`. What no synth has an ear for goes nowhere, and can be taken back."""
        event = self._event
        if self._write(event, data):
            self._library.fluid_event_set_source(event, number % _SOURCES)
            self._library.fluid_event_set_dest(event, self._dest)
            self._library.fluid_sequencer_send_at(self._sequencer, event, tick, 1)
        return True

    def _write(self, event: Any, data: bytes) -> bool:
        library, channel, kind = self._library, data[0] & 0x0F, data[0] & 0xF0
        if kind == Kind.NOTE_ON:  # with velocity 0 the synth takes it for the note-off that it is
            library.fluid_event_noteon(event, channel, data[1], data[2])
        elif kind == Kind.NOTE_OFF:
            library.fluid_event_noteoff(event, channel, data[1])
        elif kind == Kind.CONTROL:
            library.fluid_event_control_change(event, channel, data[1], data[2])
        elif kind == Kind.PROGRAM:
            library.fluid_event_program_change(event, channel, data[1])
        elif kind == Kind.BEND:
            library.fluid_event_pitch_bend(event, channel, data[1] | data[2] << 7)
        else:
            return False
        return True

    def remove(self, number: int) -> None:
        """See `schedule.Sequencer`."""
        self._library.fluid_sequencer_remove_events(self._sequencer, number % _SOURCES, _ANY, _ANY)

    def silence(self) -> None:
        """Forgets what waits, and ends every sound at once, whatever its release."""
        self._library.fluid_sequencer_remove_events(self._sequencer, _ANY, _ANY, _ANY)
        self._library.fluid_synth_all_sounds_off(self._synth, _ANY)

    def close(self) -> None:
        """Ends the sound and frees everything. Safe to call twice."""
        library = self._library
        if self._audio:
            library.delete_fluid_audio_driver(self._audio)
        if self._sequencer:
            library.delete_fluid_sequencer(self._sequencer)
        if self._event:
            library.delete_fluid_event(self._event)
        if self._synth:
            library.delete_fluid_synth(self._synth)
        if self._settings:
            library.delete_fluid_settings(self._settings)
        self._audio = self._sequencer = self._event = self._synth = self._settings = None


def _require_loaded(loaded: int, soundfont: Path, lines: Sequence[str]) -> None:
    if loaded == _ANY:
        words = [line.removeprefix("fluidsynth: error: ").rstrip(".") for line in lines if "error" in line]
        why = f" ({words[0]})" if words else ""
        raise PortError(f"{str(soundfont)!r} is no soundfont that FluidSynth can read{why}.")
