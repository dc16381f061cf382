"""How far a follower of MIDI clock is from its leader, beside the last clock heard and a moving average.

    python tests/bench/clock_follower.py [--short] [--json FILE]

Simulated leaders, heard with jitter. Gaussian jitter comes early as well as late; what comes in another order
than it was sent is heard in the order of its times. All three hear the very same clocks, after two bars of
clocks before Start, and are asked between them at times that have nothing to do with the clocks. The error is
in milliseconds of the leader's time, over everything but the settling after a step of tempo, which has a
column of its own: the longest time from a step until the error stays within 10 ms for a beat.

*last clock*: the last clock's number; the interval between the last two runs on from it, for one clock.
*moving average*: the last clock's number; the mean interval of the last 24 runs on from it.
Both reckon a position by the number of clocks heard, as a receiver without a filter does.
"""

from __future__ import annotations

import argparse
import json
import math
import random
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from introit.live.clock_follower import ClockFollower

MS = 1_000_000
MINUTE = 60_000_000_000
CLOCK, START = b"\xf8", b"\xfa"
BASE = 10**15
"""The session clock does not begin at 0."""
IDLE = 2 * 96
SETTLED_MS = 10.0


class Follower(Protocol):
    """What is measured: hears messages, says the position in clocks."""

    def hear(self, data: bytes, ns: int) -> None: ...

    def at(self, ns: int) -> float | None: ...


class Ours:
    """The follower under test."""

    def __init__(self) -> None:
        self.follower = ClockFollower()
        self.hear = self.follower.hear

    def at(self, ns: int) -> float | None:
        position = self.follower.position(ns)
        return None if position is None else position / 40


class Average:
    """Counts clocks, and runs on from the last one at the mean interval of the last so many."""

    def __init__(self, intervals: int, limit: float = math.inf) -> None:
        self.limit = limit
        self.heard: deque[int] = deque(maxlen=intervals + 1)
        self.count: int | None = None

    def hear(self, data: bytes, ns: int) -> None:
        if data == START:
            self.count = -1
        else:
            self.heard.append(ns)
            self.count = None if self.count is None else self.count + 1

    def at(self, ns: int) -> float | None:
        if self.count is None or len(self.heard) < 2:
            return None
        interval = max(1.0, (self.heard[-1] - self.heard[0]) / (len(self.heard) - 1))
        return self.count + min((ns - self.heard[-1]) / interval, self.limit)


FOLLOWERS: dict[str, Callable[[], Follower]] = {
    "ours": Ours,
    "last clock": lambda: Average(1, limit=1.0),
    "moving average": lambda: Average(24),
}


@dataclass(frozen=True)
class Leader:
    """When a leader sends its clocks; `steps` are the times at which its tempo jumped."""

    clocks: Sequence[int]
    steps: Sequence[int] = ()

    def position(self, ns: int) -> float:
        """Clocks from Start, at a time between the first clock and the last."""
        at = bisect_right(self.clocks, ns) - 1
        return at - IDLE + (ns - self.clocks[at]) / (self.clocks[at + 1] - self.clocks[at])

    def time(self, position: float) -> float:
        """When it is at a position; before the first clock and after the last, at their tempo."""
        at = max(0, min(math.floor(position) + IDLE, len(self.clocks) - 2))
        return self.clocks[at] + (position + IDLE - at) * (self.clocks[at + 1] - self.clocks[at])


def leader(tempo: Callable[[int], float], quarters: int) -> Leader:
    """A leader whose tempo is given by the number of the clock from Start."""
    clocks, ns, steps = [], float(BASE), []
    for number in range(-IDLE, 24 * quarters):
        clocks.append(round(ns))
        if abs(tempo(number) / tempo(number - 1) - 1) > 0.02:
            steps.append(round(ns))
        ns += MINUTE / 24 / tempo(number)
    return Leader(clocks, steps)


def heard(
    led: Leader,
    dice: random.Random,
    *,
    jitter: Callable[[random.Random], float],
    lost: float = 0.0,
    doubled: float = 0.0,
    silent: tuple[float, float] | None = None,
) -> list[tuple[int, bytes]]:
    """What comes of a leader's clocks: jitter in ms, shares lost and doubled, none in a span (clocks)."""
    out = []
    for number, ns in enumerate(led.clocks, -IDLE):
        if number == 0:
            out.append((ns - (ns - led.clocks[IDLE - 1]) // 2, START))
        quiet = silent is not None and silent[0] <= number < silent[1]
        times = 0 if quiet or dice.random() < lost else 2 if dice.random() < doubled else 1
        out += [(ns + round(jitter(dice) * MS), CLOCK) for _ in range(times)]
    # A stream keeps its order: Start stays between the clocks that it was sent between.
    start = next(at for at, (_, data) in enumerate(out) if data == START)
    before, after = sorted(out[:start]), sorted(out[start + 1 :])
    ns = max(before[-1][0], min(out[start][0], after[0][0]))
    return [*before, (ns, START), *((max(at, ns), data) for at, data in after)]


@dataclass
class Result:
    """Errors in milliseconds; `settling`: longest in ms after a step, None where it never settles."""

    rms: float
    worst: float
    settling: float | None
    unknown: int


def measure(
    make: Callable[[], Follower], led: Leader, came: list[tuple[int, bytes]], dice: random.Random
) -> Result:
    """Asks a follower every 7 ms or so from two quarters after Start on."""
    follower, at, unknown = make(), 0, 0
    errors: list[tuple[int, float]] = []
    ns = led.clocks[0]
    asked_from, end = led.clocks[IDLE + 48], led.clocks[-2]
    while ns < end:
        while at < len(came) and came[at][0] <= ns:
            follower.hear(came[at][1], came[at][0])
            at += 1
        if ns >= asked_from:
            position = follower.at(ns)
            if position is None:
                unknown += 1
            else:
                errors.append((ns, (led.time(position) - ns) / MS))
        ns += round(dice.uniform(4, 10) * MS)
    settlings = [_settling(errors, step, led) for step in led.steps]
    spans = [
        (step, step + (10**18 if settling is None else round(settling * MS)))
        for step, settling in zip(led.steps, settlings, strict=True)
    ]
    steady = [error for ns, error in errors if not any(begin <= ns < done for begin, done in spans)] or [
        math.inf
    ]
    return Result(
        rms=math.sqrt(sum(error * error for error in steady) / len(steady)),
        worst=max(abs(error) for error in steady),
        settling=None if None in settlings else max((s for s in settlings if s is not None), default=0.0),
        unknown=unknown,
    )


def _settling(errors: list[tuple[int, float]], step: int, led: Leader) -> float | None:
    """Milliseconds from a step until the error stays within 10 ms for a beat."""
    times = [ns for ns, _ in errors]
    settled = step
    for ns, error in errors[bisect_left(times, step) :]:
        if abs(error) > SETTLED_MS:
            settled = ns
        elif ns - settled > led.time(led.position(settled) + 24) - settled:
            return (settled - step) / MS
    return None


def gaussian(ms: float) -> Callable[[random.Random], float]:
    """Jitter of so many milliseconds' standard deviation."""
    return lambda dice: dice.gauss(0, ms)


def scenes(quarters: int) -> dict[str, tuple[Leader, dict[str, Any]]]:
    """Leaders, and how they are heard."""
    end = 24 * quarters

    def steady(_: int) -> float:
        return 120.0

    def ramp(number: int) -> float:  # 100 to 140 and back, over 16 quarters each way
        return 100 + 40 * (1 - abs(1 - (max(0, number) / (24 * 16)) % 2))

    def stepped(*tempos: float) -> Callable[[int], float]:
        return lambda number: tempos[max(0, number * len(tempos) // end)]

    one_second = (end // 2, end // 2 + 48)
    table: dict[str, tuple[Leader, dict[str, Any]]] = {
        f"120, jitter {ms} ms": (leader(steady, quarters), {"jitter": gaussian(ms)}) for ms in (1, 3, 5)
    }
    table |= {
        f"{tempo}, jitter 3 ms": (leader(lambda _, tempo=tempo: tempo, quarters), {"jitter": gaussian(3)})
        for tempo in (40, 240, 320)
    }
    table["120, late by 3 ms on average, never early"] = (
        leader(steady, quarters),
        {"jitter": lambda dice: dice.expovariate(1 / 3)},
    )
    table |= {
        f"ramp 100-140, jitter {ms} ms": (leader(ramp, quarters), {"jitter": gaussian(ms)})
        for ms in (1, 3, 5)
    }
    for lost_ms in (1, 3, 5):
        table[f"120, 5 % lost, jitter {lost_ms} ms"] = (
            leader(steady, quarters),
            {"jitter": gaussian(lost_ms), "lost": 0.05},
        )
    table["120, 5 % doubled, jitter 3 ms"] = (
        leader(steady, quarters),
        {"jitter": gaussian(3), "doubled": 0.05},
    )
    table["ramp 100-140, 5 % lost, jitter 3 ms"] = (
        leader(ramp, quarters),
        {"jitter": gaussian(3), "lost": 0.05},
    )
    for silent_ms in (1, 3, 5):
        table[f"120, a second silent, jitter {silent_ms} ms"] = (
            leader(steady, quarters),
            {"jitter": gaussian(silent_ms), "silent": one_second},
        )
    for tempos in ((120, 126, 120), (120, 140, 120), (120, 180, 120), (120, 60, 120), (120, 240, 120)):
        for ms in (1, 3):
            table[f"steps {'-'.join(map(str, tempos))}, jitter {ms} ms"] = (
                leader(stepped(*tempos), quarters),
                {"jitter": gaussian(ms)},
            )
    return table


def worst_of(results: list[Result]) -> dict[str, float | int | None]:
    """One row of several runs: rms over all, the worst error, the longest settling."""
    settlings = [result.settling for result in results]
    return {
        "rms": math.sqrt(sum(result.rms**2 for result in results) / len(results)),
        "worst": max(result.worst for result in results),
        "settling": None if None in settlings else max(s for s in settlings if s is not None),
        "never": settlings.count(None),
        "unknown": sum(result.unknown for result in results),
    }


def run(quarters: int, seeds: int) -> list[dict[str, Any]]:
    """Every scene, every follower."""
    rows = []
    for scene, (led, how) in scenes(quarters).items():
        for name, make in FOLLOWERS.items():
            results = []
            for seed in range(seeds):
                came = heard(led, random.Random(seed), **how)
                results.append(measure(make, led, came, random.Random(seed + 1000)))
            rows.append({"scene": scene, "follower": name, **worst_of(results)})
    return rows


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--short", action="store_true")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    rows = run(quarters=96, seeds=2 if options.short else 10)
    print(f"{'leader':42} {'follower':15} {'rms ms':>8} {'worst ms':>9} {'settles in ms':>14}")
    for row in rows:
        settling = (
            ""
            if "step" not in row["scene"]
            else "never"
            if row["settling"] is None
            else f"{row['settling']:.0f}"
        )
        print(f"{row['scene']:42} {row['follower']:15} {row['rms']:8.2f} {row['worst']:9.2f} {settling:>14}")
    if options.json:
        options.json.write_text(json.dumps({"bench": "clock_follower", "rows": rows}, indent=2))


if __name__ == "__main__":
    main()
