"""A synth with a soundfont, and nothing yet that takes its sound."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from introit.chatter import hushed
from introit.errors import PortError
from introit.fluid.library import load

USUAL_GAIN: Final = 0.2
"""FluidSynth's own, at which a full band stays far from full blast."""
_FAILED: Final = -1
_REVERB_SEND: Final = 16
_NO_SEND: Final = -1000.0
"""Generator 16 of SoundFont 2.01: what of a sound goes to the reverb, in tenths of a percent. Controller 91
only adds to what a soundfont's own sounds send: taking all of it off is what makes one dry."""


class BareSynth:
    """A synth of the library's. For one thread."""

    def __init__(
        self, soundfont: Path | None, *, gain: float, rate: int, settings: Mapping[str, str | int | float]
    ) -> None:
        """Makes the synth and loads the soundfont.

        Args:
            soundfont: a file that is there; None for a synth that makes no sound.
            gain: 0 to 1.
            rate: frames a second.
            settings: more of the library's settings.

        Raises:
            PortError: if the library or the soundfont cannot be used.
        """
        self.rate = rate
        self._library = library = load()
        self._synth: Any = None
        self._settings: Any = library.new_fluid_settings()
        try:
            with hushed() as lines:
                self._set("synth.sample-rate", float(rate))
                self._set("synth.gain", gain)
                for key, value in settings.items():
                    self._set(key, value)
                self._synth = library.new_fluid_synth(self._settings)
                loaded = 0
                if soundfont is not None:
                    loaded = library.fluid_synth_sfload(self._synth, str(soundfont).encode(), 1)
            _require_loaded(loaded, soundfont, lines)
            self.block = int(library.fluid_synth_get_internal_bufsize(self._synth))
        except BaseException:
            BareSynth.close(self)
            raise

    def _set(self, key: str, value: str | float) -> None:
        put, given = {
            str: (self._library.fluid_settings_setstr, str(value).encode()),
            int: (self._library.fluid_settings_setint, value),
            float: (self._library.fluid_settings_setnum, value),
        }[type(value)]
        put(self._settings, key.encode(), given)

    def dry(self, channels: Iterable[int]) -> None:
        """Takes all reverb off channels, 0 to 15, that of the soundfont's own sounds as well."""
        for channel in channels:
            self._library.fluid_synth_set_gen(self._synth, channel, _REVERB_SEND, _NO_SEND)

    def close(self) -> None:
        """Frees everything. Safe to call twice."""
        if self._synth:
            self._library.delete_fluid_synth(self._synth)
        if self._settings:
            self._library.delete_fluid_settings(self._settings)
        self._synth = self._settings = None


def _require_loaded(loaded: int, soundfont: Path | None, lines: Sequence[str]) -> None:
    if loaded != _FAILED:
        return
    words = [line.removeprefix("fluidsynth: error: ").rstrip(".") for line in lines if "error" in line]
    why = f" ({words[0]})" if words else ""
    raise PortError(f"{str(soundfont)!r} is no soundfont that FluidSynth can read{why}.")
