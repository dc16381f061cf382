"""From a checked rig to what the player is told. The one place where a system is chosen for a port."""

from __future__ import annotations

from collections.abc import Callable

from introit.errors import PortError, UsageError, did_you_mean
from introit.library.stage import (
    Rig,
    RigClock,
    RigControl,
    RigFootSwitch,
    RigKeyZone,
    RigLamp,
    RigPart,
    RigPort,
)
from introit.live.messages import DATA_MAX
from introit.live.ports.finder import AUTOMATIC, IN_THE_PLAYER, Listing, choose_system, may_sound
from introit.live.ports.opener import ASKED, look
from introit.live.setup import ClockLead, Control, FootSwitch, KeyZone, Lamp, PortSetup, Route, Setup
from introit.live.tones import USUAL_LEVEL
from introit.performance import PARTS
from introit.units import NS_PER_MS

ChooseSystem = Callable[[str], str]
"""`auto` or one of `finder.SYSTEMS` -> one of those, or PortError."""


class Systems:
    """The systems that answer on this machine; each is asked once, when first needed. A `ChooseSystem`."""

    def __init__(self, *, or_memory: bool) -> None:
        self._or_memory = or_memory
        self._there: dict[str, Listing] = {}

    def _reason(self, system: str) -> str:
        """Why a system does not answer; empty where it does."""
        if system not in self._there:
            self._there[system] = look(system)
        return self._there[system].reason

    def _answers(self, wanted: str) -> dict[str, str]:
        """Why each system that matters does not answer: those after the first that does are left alone."""
        answers: dict[str, str] = {}
        for system in AUTOMATIC if wanted == "auto" else ASKED:
            if wanted in ("auto", system) and wanted not in IN_THE_PLAYER and "" not in answers.values():
                answers[system] = self._reason(system)
        return answers

    def __call__(self, wanted: str) -> str:
        """See `ChooseSystem`."""
        try:
            return choose_system(wanted, self._answers(wanted))
        except PortError:
            if self._or_memory:
                return "memory"
            raise

    def with_a_synth(self) -> str | None:
        """The first system of `auto` that has something to play into, were it found at once."""
        for system in AUTOMATIC:
            if not self._reason(system) and any(map(may_sound, self.destinations(system))):
                return system
        return None

    def answering(self) -> str | None:
        """The first system of `auto` that answers."""
        return next((system for system in AUTOMATIC if not self._reason(system)), None)

    def why_not(self) -> str:
        """Why nothing of `auto` has anything to play into, in a few words."""
        return "; ".join(
            f"{system}: {self._reason(system) or 'nothing to play into'}" for system in AUTOMATIC
        )

    def destinations(self, system: str) -> tuple[str, ...]:
        """What could be sent to when the systems were asked."""
        return self._there[system].destinations if system in self._there else ()


def system_there_is(*, or_memory: bool = False) -> Systems:
    """Chooses among the systems that answer on this machine.

    Args:
        or_memory: True to take a port in memory where no system answers, instead of raising.
    """
    return Systems(or_memory=or_memory)


def setup_for(rig: Rig, *, tunes: int, log: bool, choose_system: ChooseSystem) -> Setup:
    """What the player must know to play `tunes` tunes on a rig.

    Raises:
        UsageError: when a part, a control, a lamp or the clock names a port that the rig has not.
        PortError: when no MIDI system can be had.
    """
    names = [port.name for port in rig.ports]
    resets = {port.name for port in rig.ports if port.reset}
    followed = None if rig.clock is None else rig.clock.follow

    def index(name: str) -> int:
        if name not in names:
            raise UsageError(f"rig {rig.id!r} has no port {name!r}. {did_you_mean(name, names)}".rstrip())
        return names.index(name)

    return Setup(
        ports=tuple(_port(port, choose_system, timing=port.name == followed) for port in rig.ports),
        routes=tuple(_route(part, rig, index(part.port), reset=part.port in resets) for part in rig.parts),
        tunes=tunes,
        foot_switch=_foot_switch(rig.foot_switch, index) if rig.foot_switch else None,
        key_zone=_key_zone(rig.key_zone, index) if rig.key_zone else None,
        controls=tuple(_control(control, index) for control in rig.controls),
        lead=_lead(rig.clock, index) if rig.clock else None,
        follow=None if followed is None else index(followed),
        lamps=tuple(_lamp(lamp, index(lamp.port)) for lamp in rig.lamps),
        active_sensing=rig.active_sensing,
        gentle_start=rig.gentle_start,
        log=log,
    )


def _route(part: RigPart, rig: Rig, port: int, *, reset: bool) -> Route:
    """Where a part goes; under a ceiling a level is always told, since nobody knows the synth's own."""
    ceiling = part.ceiling.under(rig.ports[port].ceiling, rig.ceiling)
    level = part.level
    if level is None and ceiling.level < DATA_MAX:
        level = USUAL_LEVEL
    return Route(
        part=PARTS.index(part.part),
        port=port,
        channel=part.channel - 1,
        program=None if part.program is None else part.program - 1,
        level=level,
        muted=part.muted,
        reset=reset,
        velocity_at_most=ceiling.velocity,
        level_at_most=ceiling.level,
    )


def _port(port: RigPort, choose_system: ChooseSystem, *, timing: bool) -> PortSetup:
    return PortSetup(
        name=port.name,
        system=choose_system(port.system),
        to=port.to,
        source=port.source,
        virtual=port.virtual,
        timing=timing,
        offset_ns=port.offset_ms * NS_PER_MS,
        soundfont=port.soundfont,
        gain=port.gain,
        audio=port.audio,
    )


def _wire_channel(channel: int | None) -> int | None:
    return None if channel is None else channel - 1


def _foot_switch(foot: RigFootSwitch, index: Callable[[str], int]) -> FootSwitch:
    return FootSwitch(
        port=None if foot.port is None else index(foot.port),
        message=foot.message,
        number=foot.number,
        channel=_wire_channel(foot.channel),
        action=foot.action,
        inverted=foot.inverted,
        on_at=foot.on_at,
        off_at=foot.off_at,
    )


def _key_zone(zone: RigKeyZone, index: Callable[[str], int]) -> KeyZone:
    return KeyZone(
        port=None if zone.port is None else index(zone.port),
        low=zone.low,
        high=zone.high,
        channel=_wire_channel(zone.channel),
        minor=zone.minor,
        minor_from=zone.minor_from,
        window_ms=zone.window_ms,
        starts=zone.starts,
    )


def _control(control: RigControl, index: Callable[[str], int]) -> Control:
    return Control(
        order=control.do,
        port=None if control.port is None else index(control.port),
        message=control.message,
        number=control.number,
        channel=_wire_channel(control.channel),
        part=0 if control.part is None else PARTS.index(control.part),
        value=_value(control),
        action=control.action,
        inverted=control.inverted,
        on_at=control.on_at,
        off_at=control.off_at,
        low=control.low,
        high=control.high,
    )


def _value(control: RigControl) -> int:
    """What the order carries, as `events.Ordered` has it; -1 where the message or nothing says it."""
    if control.tune is not None:
        return control.tune - 1
    return -1 if control.muted is None else int(control.muted)


def _lead(clock: RigClock, index: Callable[[str], int]) -> ClockLead | None:
    return None if clock.port is None else ClockLead(port=index(clock.port), start=clock.start)


def _lamp(lamp: RigLamp, port: int) -> Lamp:
    return Lamp(
        when=lamp.when,
        port=port,
        message=lamp.message,
        number=lamp.number,
        channel=lamp.channel - 1,
        on=lamp.on,
        off=lamp.off,
    )


def channel_of(setup: Setup) -> Callable[[int], tuple[int, int]]:
    """Part number -> (port, channel); a part with no route gets a place of its own."""
    routes = {route.part: (route.port, route.channel) for route in setup.routes}
    return lambda part: routes.get(part, (-1, part))
