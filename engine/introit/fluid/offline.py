"""A synth whose sound nobody waits for: it is rendered as fast as the machine can, into memory."""

from __future__ import annotations

import ctypes
from pathlib import Path
from typing import Final

from introit.fluid.synth import USUAL_GAIN, BareSynth

CHANNELS: Final = 2
"""Left and right."""
BYTES: Final = 4
"""Of a sample: a float of 32 bits, full scale at 1.0, and more than that is not cut."""


class OfflineSynth(BareSynth):
    """Played by calls, each of which is heard from the start of the next block on. For one thread.

    Attributes:
        block: frames that are rendered at once.
        rate: frames a second.
    """

    def __init__(self, soundfont: Path, *, rate: int) -> None:
        """Loads what the sounds that are played need.

        Args:
            soundfont: a file that is there.
            rate: frames a second, 8,000 to 96,000.

        Raises:
            PortError: if the library or the soundfont cannot be used.
        """
        # A soundfont may have hundreds of megabytes, of which an intro wants three instruments.
        settings = {"synth.dynamic-sample-loading": 1}
        super().__init__(soundfont, gain=USUAL_GAIN, rate=rate, settings=settings)

    def note_on(self, channel: int, pitch: int, velocity: int) -> None:
        """Begins a note; channel 0 to 15, the others 0 to 127."""
        self._library.fluid_synth_noteon(self._synth, channel, pitch, velocity)

    def note_off(self, channel: int, pitch: int) -> None:
        """Ends a note; nothing happens where it does not sound."""
        self._library.fluid_synth_noteoff(self._synth, channel, pitch)

    def control(self, channel: int, number: int, value: int) -> None:
        """Sets a controller."""
        self._library.fluid_synth_cc(self._synth, channel, number, value)

    def program(self, channel: int, number: int) -> None:
        """Chooses a sound, 0 to 127; on channel 9 a drum kit."""
        self._library.fluid_synth_program_change(self._synth, channel, number)

    def render(self, blocks: int) -> bytearray:
        """The next blocks: left and right in turn, a pair of floats a frame, as this machine writes them."""
        frames = blocks * self.block
        sound = bytearray(frames * CHANNELS * BYTES)
        here = (ctypes.c_float * (frames * CHANNELS)).from_buffer(sound)
        self._library.fluid_synth_write_float(self._synth, frames, here, 0, CHANNELS, here, 1, CHANNELS)
        return sound
