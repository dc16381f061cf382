"""The ports' contract as a check that runs on every kind of port, in memory or real.

Each promise is tried on a fresh bench. A broken one raises `AssertionError` that says which.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from introit.live.cue import Cue, Rank
from introit.live.events import Gone, Sent
from introit.live.messages import control, note_off, note_on
from introit.live.port import Port
from introit.units import NS_PER_MS

_PITCH = 60


@dataclass
class PortBench:
    """A port under test, and the means to watch it from outside.

    Attributes:
        port: fresh and open.
        now: reads the clock that the port uses.
        wait: lets so many nanoseconds pass.
        received: the messages that reached the far end so far, in order.
        vanish: takes the far end away; None where that cannot be done.
        tolerance: nanoseconds by which a message's actual time may differ from the ideal on this bench.
    """

    port: Port
    now: Callable[[], int]
    wait: Callable[[int], None]
    received: Callable[[], Sequence[bytes]]
    vanish: Callable[[], None] | None = None
    tolerance: int = 0


def check_port(bench: Callable[[], PortBench]) -> None:
    """Tries every promise of `Port`.

    Args:
        bench: sets up a fresh bench for each promise.

    Raises:
        AssertionError: if a promise is broken.
    """
    for promise in (
        _keeps_order,
        _lets_an_earlier_time_pass,
        _sends_at_once_what_is_late,
        _places_in_time,
        _tells_each_once,
        _withdraws_exactly,
        _never_withdraws_an_off_alone,
        _never_withdraws_a_lamp,
        _keeps_an_off_behind_its_on,
        _tells_gone_once,
        _closes_twice,
    ):
        ready = bench()
        try:
            promise(ready)
        finally:
            ready.port.close()


class _Maker:
    """Makes cues in a session's manner: ordered, each with its own number."""

    def __init__(self) -> None:
        self._sequence = 0

    def on(self, ns: int, pitch: int = _PITCH) -> Cue:
        return self._cue(ns, Rank.ON, note_on(0, pitch, 80))

    def off(self, ns: int, pitch: int = _PITCH) -> Cue:
        return self._cue(ns, Rank.OFF, note_off(0, pitch))

    def control(self, ns: int, value: int) -> Cue:
        return self._cue(ns, Rank.CONTROL, control(0, 7, value))

    def lamp(self, ns: int, velocity: int) -> Cue:
        return self._cue(ns, Rank.LAMP, bytes((0x90, _PITCH, velocity)))

    def _cue(self, ns: int, rank: Rank, data: bytes) -> Cue:
        self._sequence += 1
        return Cue(ns, rank, self._sequence, data)


def _require(kept: bool, promise: str) -> None:
    if not kept:
        raise AssertionError(f"the port broke its promise: {promise}")


def _hand(bench: PortBench, cues: Sequence[Cue]) -> None:
    """Hands cues as the loop does: no earlier than the port's lookahead before each."""
    for cue in cues:
        early = cue.ns - bench.port.lookahead - bench.now()
        if early > 0:
            bench.wait(early)
        bench.port.hand([cue])


def _finish(bench: PortBench) -> list[Sent]:
    bench.wait(bench.port.lookahead + bench.port.latency + bench.tolerance + 50 * NS_PER_MS)
    return bench.port.sent()


def _keeps_order(bench: PortBench) -> None:
    make, now = _Maker(), bench.now()
    at = now + bench.port.lookahead
    cues = [make.on(at), make.off(at + 1), make.control(at + 1, 3), make.on(at + 1), make.off(at + 2)]
    _hand(bench, cues)
    sent = _finish(bench)
    expected = [cue.data for cue in cues]
    _require([one.data for one in sent] == expected, "messages are told as sent in the order handed")
    _require(list(bench.received()) == expected, "messages arrive in the order handed, offs before ons")
    actual = [one.actual for one in sent]
    _require(actual == sorted(actual), "actual times never go back")


def _lets_an_earlier_time_pass(bench: PortBench) -> None:
    if not bench.port.lookahead:
        return
    make, now = _Maker(), bench.now()
    later, at_once = make.on(now + bench.port.lookahead), make.off(now, 61)
    bench.port.hand([later])
    bench.port.hand([at_once])
    _finish(bench)
    expected = [at_once.data, later.data]
    _require(
        list(bench.received()) == expected, "what is due sooner does not wait for what was handed sooner"
    )


def _sends_at_once_what_is_late(bench: PortBench) -> None:
    make, now = _Maker(), bench.now()
    bench.port.hand([make.on(now - 200 * NS_PER_MS), make.off(now - 100 * NS_PER_MS)])
    sent = _finish(bench)
    _require(len(bench.received()) == 2, "what comes late still sounds")
    limit = now + bench.port.lookahead + bench.port.latency + bench.tolerance
    soon = all(now - bench.tolerance <= one.actual <= limit for one in sent)
    _require(soon, "what comes late sounds as soon as possible")


def _places_in_time(bench: PortBench) -> None:
    make, now = _Maker(), bench.now()
    beats = [now + bench.port.lookahead + step * 20 * NS_PER_MS for step in range(1, 6)]
    cues = [cue for at in beats for cue in (make.on(at), make.off(at + 10 * NS_PER_MS))]
    _hand(bench, cues)
    sent = _finish(bench)
    _require(
        [one.ideal for one in sent] == [cue.ns for cue in cues], "the ideal time is told with each message"
    )
    off = [abs(one.actual - one.ideal) for one in sent]
    _require(
        max(off) <= bench.tolerance + bench.port.latency, f"messages sound in time (off by {max(off)} ns)"
    )


def _tells_each_once(bench: PortBench) -> None:
    make = _Maker()
    bench.port.hand([make.on(bench.now()), make.off(bench.now())])
    first = _finish(bench)
    _require(len(first) == 2 and bench.port.sent() == [], "each message is told as sent once")
    bench.wait(50 * NS_PER_MS)
    _require(bench.port.sent() == [] and len(bench.received()) == 2, "and sent once")


def _withdraws_exactly(bench: PortBench) -> None:
    make, now = _Maker(), bench.now()
    at = now + bench.port.lookahead
    early = [make.on(now), make.off(at - 1 if bench.port.lookahead else now)]
    late = [make.on(at, 61), make.off(at, 61)] if bench.port.lookahead else []
    bench.port.hand(sorted([*early, *late]))
    withdrawn = bench.port.withdraw(at - 1)
    sent = _finish(bench)
    _require(
        {cue.sequence for cue in withdrawn} <= {cue.sequence for cue in late},
        "only what is due later goes back",
    )
    handed = {cue.data for cue in (*early, *late)}
    gone = {cue.data for cue in withdrawn}
    _require(not gone & set(bench.received()), "what was withdrawn never sounds")
    _require({one.data for one in sent} == handed - gone, "what was not withdrawn sounds")
    _require(bool(bench.port.lookahead) or not withdrawn, "an immediate port withdraws nothing")


def _never_withdraws_an_off_alone(bench: PortBench) -> None:
    make, now = _Maker(), bench.now()
    bench.port.hand([make.on(now)])
    bench.wait(bench.port.latency + bench.port.lookahead + bench.tolerance + 20 * NS_PER_MS)  # it sounds now
    off = make.off(bench.now() + bench.port.lookahead)
    bench.port.hand([off])
    _require(bench.port.withdraw(-1) == [], "an off is never withdrawn without its on")
    _finish(bench)
    _require(list(bench.received()).count(off.data) == 1, "an off whose on has sounded sounds")


def _never_withdraws_a_lamp(bench: PortBench) -> None:
    make, now = _Maker(), bench.now()
    lit, out = (make.lamp(now + bench.port.lookahead, value) for value in (127, 0))
    bench.port.hand([lit, out])
    _require(bench.port.withdraw(-1) == [], "a lamp is never withdrawn")
    _finish(bench)
    _require(list(bench.received()) == [lit.data, out.data], "and lights in the order handed")


def _keeps_an_off_behind_its_on(bench: PortBench) -> None:
    make, now = _Maker(), bench.now()
    on = make.on(now + bench.port.lookahead // 2)
    bench.port.hand([on])
    withdrawn = bench.port.withdraw(-1)
    off = make.off(now)
    bench.port.hand([off])
    _finish(bench)
    expected = [off.data] if on in withdrawn else [on.data, off.data]
    _require(
        list(bench.received()) == expected,
        "an off handed later sounds behind an on that could not be withdrawn",
    )


def _tells_gone_once(bench: PortBench) -> None:
    if bench.vanish is None:
        return
    make = _Maker()
    bench.vanish()
    bench.wait(bench.tolerance + 50 * NS_PER_MS)
    gone = [event for event in bench.port.heard() if isinstance(event, Gone)]
    bench.port.hand([make.on(bench.now()), make.off(bench.now())])
    bench.port.withdraw(-1)
    _finish(bench)
    gone += [event for event in bench.port.heard() if isinstance(event, Gone)]
    _require(len(gone) == 1, f"a port that has gone says so once (said {len(gone)} times)")
    _require(bench.port.sent() == [], "a port that has gone tells nothing as sent")


def _closes_twice(bench: PortBench) -> None:
    make = _Maker()
    bench.port.close()
    bench.port.close()
    bench.port.hand([make.on(bench.now())])
    bench.wait(20 * NS_PER_MS)
    _require(bench.port.sent() == [] and list(bench.received()) == [], "a closed port sends nothing")
