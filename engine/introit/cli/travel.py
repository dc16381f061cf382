"""What an expression pedal sends between its two ends: judged from what was heard while it moved. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from introit.cli.verdict import LEAST_TRAVEL, Doubt, Voice, voices
from introit.live.events import Heard
from introit.live.messages import DATA_MAX
from introit.units import NS_PER_SECOND

_STILL_NS = NS_PER_SECOND
"""So long nothing more comes from a pedal that has been left where it is."""
_SLACK = 2
"""A pedal does not come to rest at quite the same value each time (no source): what lies so near to an end is
taken for the end, or the part would never be quite silent, or never at its full level."""


@dataclass(frozen=True, slots=True)
class Travel:
    """What a moving controller sends.

    Attributes:
        port: index of whoever sends it.
        channel: 0 to 15.
        number: the controller.
        low, high: 0 to 127, where it ends; `low` lies under `high`.
        inverted: True when it sends `low` where the part is loudest.
    """

    port: int
    channel: int
    number: int
    low: int
    high: int
    inverted: bool


def travel_is_over(heard: Sequence[Heard], still: Iterable[Heard], now: int) -> bool:
    """Whether something has moved by now and come to rest."""
    noise = voices(still)
    for voice, points in voices(heard).items():
        values = [point.value for point in points]
        if voice.message == "control" and voice not in noise and max(values) - min(values) >= LEAST_TRAVEL:
            return now >= points[-1].ns + _STILL_NS
    return False


def judged_travel(still: Sequence[Heard], loud: Sequence[Heard], silent: Sequence[Heard]) -> Travel | Doubt:
    """The pedal that was moved to one end, then to the other.

    Args:
        still: what was heard while nobody touched anything.
        loud: until it was left where the part is loudest.
        silent: until it was left where the part is silent.
    """
    noise, up, down = voices(still), voices(loud), voices(silent)
    ends = {
        voice: (up[voice][-1].value, down[voice][-1].value)
        for voice in up
        if voice in down and voice not in noise and voice.message == "control"
    }
    if not ends:
        return Doubt("no controller moved both times")
    voice = max(ends, key=lambda one: abs(ends[one][0] - ends[one][1]))
    at_loud, at_silent = ends[voice]
    if abs(at_loud - at_silent) < LEAST_TRAVEL:
        return Doubt(f"controller {voice.number} was left at {at_loud}, then at {at_silent}; too near")
    return _between(voice, at_loud, at_silent)


def _between(voice: Voice, at_loud: int, at_silent: int) -> Travel:
    low, high = sorted((at_loud, at_silent))
    return Travel(
        port=voice.port,
        channel=voice.channel,
        number=voice.number or 0,
        low=low + _SLACK if low > 0 else low,
        high=high - _SLACK if high < DATA_MAX else high,
        inverted=at_loud < at_silent,
    )
