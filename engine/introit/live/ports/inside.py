"""A synth inside that is heard: an audio driver takes its sound, a sequencer keeps its time.

Everything that must be in time happens in the library's own threads, and no Python runs in them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from introit.chatter import hushed
from introit.errors import PortError, did_you_mean
from introit.fluid.library import drivers_of
from introit.fluid.synth import BareSynth
from introit.live.messages import Kind
from introit.live.ports.blocks import TICKS_PER_MS

RATE: Final = 48_000
"""Frames a second, where no JACK server says otherwise."""
PERIOD: Final = 128
"""Frames that are rendered at a time, unless a JACK server has its own period."""
PERIODS: Final = 4
"""How many of them a sound card keeps."""
AUTOMATIC: Final = ("jack", "pipewire", "pulseaudio", "alsa", "coreaudio", "wasapi", "dsound")
"""Audio drivers in the order in which they are tried; each FluidSynth has some of them."""
_ANY: Final = -1
_SOURCES: Final = 1 << 15
"""A source is a short, from 0 up."""
_LOG_LEVELS: Final = 5


class Synth(BareSynth):
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
        soundfont: Path | None,
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
            soundfont: a file that is there; None for a synth that makes no sound.
            gain: 0 to 1.
            drivers: audio drivers, of which the first that can be opened is taken.
            name: what a sound server calls it.
            rate: frames a second.
            period: frames rendered at a time.
            settings: more of the library's settings.

        Raises:
            PortError: if the library, the soundfont or an audio driver cannot be used.
        """
        self._period = period
        self._sequencer: Any = None
        self._audio: Any = None
        self._event: Any = None
        super().__init__(
            soundfont,
            gain=gain,
            rate=rate,
            settings={
                "audio.period-size": period,
                "audio.periods": PERIODS,
                "audio.jack.id": name,
                "audio.jack.autoconnect": 1,
                **(settings or {}),
            },
        )
        try:
            self._event = self._library.new_fluid_event()
            self._start_sequencer()
            self.driver = self._open_audio(drivers)
        except BaseException:
            self.close()
            raise
        self.buffered = 0 if self.driver == "jack" else period * (PERIODS - 1)

    def _start_sequencer(self) -> None:
        self._sequencer = self._library.new_fluid_sequencer2(0)  # the time of what has been rendered
        self._library.fluid_sequencer_set_time_scale(self._sequencer, TICKS_PER_MS * 1000.0)
        self._dest = self._library.fluid_sequencer_register_fluidsynth(self._sequencer, self._synth)

    def _open_audio(self, wanted: Sequence[str]) -> str:
        there = drivers_of(self._library, self._settings)
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
        self._audio = self._sequencer = self._event = None
        super().close()
