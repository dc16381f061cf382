"""Notes that name the key: which tonic, whether minor, and when it also starts the intro."""

from __future__ import annotations

from typing import NamedTuple

from introit.live.messages import ChannelMessage, Kind
from introit.live.setup import KeyZone
from introit.units import NS_PER_MS

MINOR_THIRD = 3
OCTAVE = 12


class Named(NamedTuple):
    """A key that was named.

    Attributes:
        tonic: pitch class, 0 (C) to 11.
        minor: True for minor, None for the tune's own mode.
        starts: True when the intro starts with it.
    """

    tonic: int
    minor: bool | None
    starts: bool


class KeyNamer:
    """Reads key notes while the session is ready. Pure: time comes with each note.

    With `third`, the first note names the tonic and the tune's own mode at once, so that it can be readied;
    its minor third, in any octave of the zone, makes it minor when it comes within the window; any other note
    is a new first note. If the rig lets the key note start the intro, the start waits for the third or the
    end of the window.
    """

    def __init__(self, zone: KeyZone) -> None:
        self._zone = zone
        self.reset()

    def reset(self) -> None:
        """Forgets a first note that was waiting for its third."""
        self._tonic: int | None = None
        self._closes = 0

    def matches(self, port: int, message: ChannelMessage) -> bool:
        """Whether a message is a note-on in the zone, on its port and channel."""
        zone = self._zone
        return (
            message.kind is Kind.NOTE_ON
            and zone.port in (None, port)
            and zone.channel in (None, message.channel)
            and zone.low <= message.first <= zone.high
        )

    def read(self, pitch: int, ns: int) -> Named:
        """The key that a note in the zone names. Ask `close` for everything due before `ns` first."""
        zone, tonic = self._zone, pitch % OCTAVE
        if zone.minor == "half":
            return Named(tonic, True if pitch >= zone.minor_from else None, zone.starts)
        if zone.minor != "third":
            return Named(tonic, None, zone.starts)
        if self._tonic is not None and tonic == (self._tonic + MINOR_THIRD) % OCTAVE:
            named = Named(self._tonic, True, zone.starts)
            self.reset()
            return named
        self._tonic, self._closes = tonic, ns + zone.window_ms * NS_PER_MS
        return Named(tonic, None, False)

    @property
    def next_due(self) -> int | None:
        """When the window for a minor third closes."""
        return None if self._tonic is None else self._closes

    def close(self, until: int) -> bool:
        """Closes the window if it ends by `until`; True when the intro starts with that."""
        if self._tonic is None or until < self._closes:
            return False
        self.reset()
        return self._zone.starts
