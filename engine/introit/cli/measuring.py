"""A measurement: the player on a rig's ports for some seconds, with a probe where a session would be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from introit.errors import PlayerError, UsageError
from introit.live.events import Sent, Shown
from introit.live.keeper import Dropped, Keeper, PlayerLeft
from introit.live.messages import ACTIVE_SENSING
from introit.live.setup import Setup
from introit.live.system import Granted
from introit.units import NS_PER_MS, NS_PER_SECOND

_STEP_SECONDS = 0.25


@dataclass(slots=True)
class Measured:
    """What was measured.

    Attributes:
        granted: what the system gave the player.
        destinations: full names of what each port plays into, by its index.
        latencies, lookaheads: as each port has them, in nanoseconds.
        late: milliseconds by which each message left after its time, by port.
        woke: milliseconds by which the loop was late to hand over.
        lost: how often a port told of a skipped cycle.
        dropped: records that did not get through, so that they are in no figure.
    """

    granted: Granted
    destinations: dict[int, list[str]]
    latencies: tuple[int, ...]
    lookaheads: tuple[int, ...]
    late: dict[int, list[float]] = field(default_factory=dict)
    woke: list[float] = field(default_factory=list)
    lost: int = 0
    dropped: int = 0


def silent(setup: Setup, seconds: float) -> Setup:
    """The same destinations for a measurement: nothing is heard, nothing is played, no lamp is lit.

    Raises:
        UsageError: when the rig sends nowhere.
    """
    ports = tuple(replace(port, source=None, timing=False) for port in setup.ports if port.to is not None)
    if not ports:
        raise UsageError("no port of this rig sends anything: there is nothing to measure")
    return Setup(
        ports=ports,
        routes=(),
        tunes=1,
        foot_switch=None,
        active_sensing=False,  # the probe sends it, at its own times
        log=True,
        measure_ns=round(seconds * NS_PER_SECOND),
    )


def measure(setup: Setup, *, meanwhile: Callable[[], object] = lambda: None) -> Measured:
    """Measures; the player is gone when it returns, whatever happens.

    Args:
        setup: see `silent`.
        meanwhile: called now and then.

    Raises:
        PortError: when a port cannot be opened.
        PlayerError: when the player cannot be started, or did not last.
    """
    keeper = Keeper(setup)
    keeper.start()
    try:
        opened = keeper.opened
        assert opened is not None
        found = Measured(
            Granted.from_text(opened.scheduling),
            keeper.destinations,
            opened.latencies,
            opened.lookaheads,
            late={index: [] for index in range(len(setup.ports))},
        )
        while (end := _taken(keeper, found)) is None:
            meanwhile()
    finally:
        keeper.stop("the measurement is over")
    if end != "measured":
        raise PlayerError(f"the measurement was broken off: {end}")
    return found


def _taken(keeper: Keeper, found: Measured) -> str | None:
    """Takes in what the player told; why it left, once it has."""
    end = None
    for told in keeper.receive(_STEP_SECONDS):
        if isinstance(told, Sent) and told.data == ACTIVE_SENSING:
            found.late[told.port].append((told.actual - told.ideal) / NS_PER_MS)
        elif isinstance(told, Shown) and told.what == "woke":
            found.woke.append(int(told.text) / NS_PER_MS)
        elif isinstance(told, Shown) and told.what == "lost":
            found.lost += 1
        elif isinstance(told, Dropped):
            found.dropped += told.count
        elif isinstance(told, PlayerLeft):
            end = told.reason
    return end
