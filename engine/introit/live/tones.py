"""How each channel in use is to sound: its program and level, and its controllers set back where asked.

That is the rig's to say, and a tune's that has sounds of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.events import Hand
from introit.live.messages import (
    BEND_CENTRE,
    CHANNEL_VOLUME,
    DAMPER,
    EXPRESSION,
    MODULATION,
    bend,
    control,
    program,
)
from introit.live.rise import Rise
from introit.live.setup import Route
from introit.performance import Sound

USUAL_LEVEL: Final = 100
"""A channel's volume where a reset is asked for and the rig names no level: General MIDI's own at power-on
(from memory)."""


class _Tone(NamedTuple):
    program: int | None
    level: int | None
    reset: bool


_UNTOLD: Final = _Tone(None, None, reset=False)


class Tones:
    """Tells each channel in use how to sound, once, when that changes, and when its port has been away. Pure.

    Args:
        routes: where each part goes; of several on a channel, the first that says something has it.
        sequence: gives the next cue's number.
        gentle: True to have the first sound come softly; see `rise.Rise`.
    """

    def __init__(self, routes: Iterable[Route], sequence: Callable[[], int], *, gentle: bool = False) -> None:
        self._sequence = sequence
        self._rise = Rise() if gentle else None
        self._routes = tuple(routes)
        self._sounds: Sequence[Sound] = ()
        self._wanted = _wanted(self._routes)
        self._told: dict[tuple[int, int], _Tone] = {}

    def want(self, sounds: Sequence[Sound]) -> None:
        """Parts are to sound so, and others as the rig says; on a channel that parts share they come first.

        A level that the rig does not name goes back to the usual one. A program that it does not name is not
        known, and stays.
        """
        self._sounds = sounds
        own = {sound.part: sound for sound in sounds}
        ordered = sorted(self._routes, key=lambda route: route.part not in own)
        self._wanted = _wanted(_sounding(route, own.get(route.part)) for route in ordered)

    def take_routes(self, routes: Iterable[Route]) -> None:
        """Other routes from now on: a part has come in."""
        self._routes = tuple(routes)
        self.want(self._sounds)

    def prepare(self, now: int, *, gone: Collection[int] = ()) -> list[Hand]:
        """What has not been told yet, or otherwise: set back first of all, then level and program.

        Args:
            now: the present.
            gone: ports that cannot be told now.
        """
        cues: dict[int, list[Cue]] = {}
        for (port, channel), tone in self._wanted.items():
            before = self._told.get((port, channel))
            if port in gone or tone == before:
                continue
            self._told[port, channel] = tone
            new = tone if before is None else _changed(before, tone)
            cues.setdefault(port, []).extend(self._cues((port, channel), new, now))
        return [Hand(port, tuple(sorted(here))) for port, here in sorted(cues.items()) if here]

    def forget(self, port: int) -> None:
        """The port knows nothing any more of what it was told."""
        self._told = {place: tone for place, tone in self._told.items() if place[0] != port}

    # --- the first sound of an evening --------------------------------------------------------------

    def begin(self, at: int, parts: Collection[int] | None = None) -> None:
        """Something sounds from a time on, of these parts or of all: what is low rises from there."""
        if self._rise is not None:
            places = [(r.port, r.channel) for r in self._routes if parts is None or r.part in parts]
            self._rise.begin(at, places)

    def fall(self, at: int) -> None:
        """Silenced before all was at its level, so from then on it is low again."""
        if self._rise is not None:
            self._rise.fall(at)

    def end(self, now: int, *, gone: Collection[int] = ()) -> list[Hand]:
        """The last that is told: what was never brought up is left at its level."""
        below = [] if self._rise is None else self._rise.end()
        cues = [(port, self._level((port, channel), now)) for port, channel in below if port not in gone]
        return [Hand(port, (cue,)) for port, cue in cues if cue is not None]

    def take(self, port: int, until: int) -> tuple[Cue, ...]:
        """What is to be told by a time of channels that rise."""
        due = [] if self._rise is None else self._rise.take(port, until)
        return tuple(cue for ns, place in due if (cue := self._level(place, ns)) is not None)

    def next_due(self, port: int) -> int | None:
        """When a port is to be told something next."""
        return None if self._rise is None else self._rise.next_due(port)

    def _level(self, place: tuple[int, int], ns: int) -> Cue | None:
        """A channel's level as it is then; None where nothing has been told of it."""
        tone = self._told.get(place)
        if tone is None:
            return None
        level = tone.level if tone.level is not None or not tone.reset else USUAL_LEVEL
        return None if level is None else self._told_level(place, level, ns)

    def _told_level(self, place: tuple[int, int], level: int, ns: int) -> Cue:
        value = level if self._rise is None else self._rise.level(place, level)
        return Cue(ns, Rank.CONTROL, self._sequence(), control(place[1], CHANNEL_VOLUME, value))

    def _cues(self, place: tuple[int, int], tone: _Tone, now: int) -> Iterable[Cue]:
        channel, level = place[1], tone.level
        if tone.reset:
            for data in set_back(channel):
                yield Cue(now, Rank.CONTROL, self._sequence(), data)
            level = USUAL_LEVEL if level is None else level
        if level is not None:
            yield self._told_level(place, level, now)
        if tone.program is not None:
            yield Cue(now, Rank.PROGRAM, self._sequence(), program(channel, tone.program))


def set_back(channel: int) -> tuple[bytes, ...]:
    """What takes a channel's sound back to rest: no damper, no bend, no modulation, full expression.

    The values are those that RP-015 (the MIDI Manufacturers Association's answer to Reset All Controllers)
    gives, from memory. They are sent one by one: what a synth makes of Reset All Controllers itself differs.
    """
    return (
        control(channel, DAMPER, 0),
        bend(channel, BEND_CENTRE),
        control(channel, MODULATION, 0),
        control(channel, EXPRESSION, 127),
    )


def _sounding(route: Route, sound: Sound | None) -> Route:
    """The route with what a sound says in place of its own."""
    if sound is None:
        return route
    return replace(
        route,
        program=route.program if sound.program is None else sound.program,
        level=route.level if sound.level is None else sound.level,
    )


def _changed(before: _Tone, tone: _Tone) -> _Tone:
    """What is to be told of a tone where another one was told before."""
    level = USUAL_LEVEL if tone.level is None else tone.level
    return _Tone(
        None if tone.program == before.program else tone.program,
        None if tone.level == before.level else level,
        reset=False,
    )


def _capped(route: Route) -> int | None:
    """Its level, under the rig's ceiling: so a channel rises all the way to what it may be."""
    return None if route.level is None else min(route.level, route.level_at_most)


def _wanted(routes: Iterable[Route]) -> dict[tuple[int, int], _Tone]:
    tones: dict[tuple[int, int], _Tone] = {}
    for route in routes:
        if not route.muted:
            first = tones.get((route.port, route.channel), _UNTOLD)
            tones[route.port, route.channel] = _Tone(
                route.program if first.program is None else first.program,
                _capped(route) if first.level is None else first.level,
                reset=route.reset or first.reset,
            )
    return tones
