"""The machine that benchmarks run on: its cores kept busy, and its own limit as a C program finds it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from _figures import SHARES, Table

COMPUTES = """
import os
parent = os.getppid()
while os.getppid() == parent:
    for _ in range(100_000):
        pass
"""
"""Does nothing but compute, and ends by itself when whoever started it is no more."""
HISTOGRAM_US = 100_000
PRIORITY = 2
"""The player's own (see `live/system.py`)."""


@contextmanager
def busy(workers: int | None = None) -> Iterator[None]:
    """Keeps every core busy with a program that only computes; or so many of them."""
    count = (os.cpu_count() or 1) if workers is None else workers
    crowd = [subprocess.Popen([sys.executable, "-c", COMPUTES]) for _ in range(count)]
    try:
        yield
    finally:
        for worker in crowd:
            worker.kill()
        for worker in crowd:
            worker.wait()


class NoCyclicTimerError(Exception):
    """Why the machine's limit cannot be measured, in one line."""


def cyclic(seconds: float, *, real_time: bool, interval_us: int = 1000) -> dict[str, float]:
    """How late a C program is woken that sleeps to absolute times: `cyclictest` of Debian's rt-tests.

    Args:
        seconds: for how long.
        real_time: under SCHED_FIFO at the player's priority; otherwise as any program.
        interval_us: microseconds from one time to the next.

    Returns:
        Percentiles and the worst in milliseconds, to the microsecond.

    Raises:
        NoCyclicTimerError: if it is not installed, or may not be scheduled so.
    """
    if shutil.which("cyclictest") is None:
        raise NoCyclicTimerError("cyclictest is not installed (Debian: rt-tests)")
    policy = [f"--priority={PRIORITY}"] if real_time else ["--policy=other"]
    loops = max(100, int(seconds * 1e6 / interval_us))
    command = ["cyclictest", "-q", *policy, f"-i{interval_us}", f"-l{loops}", f"-h{HISTOGRAM_US}"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=seconds * 4 + 60)
    counts = {int(us): int(n) for us, n in re.findall(r"^(\d{6}) (\d+)", done.stdout, re.M) if int(n)}
    worst = re.search(r"# Max Latencies: (\d+)", done.stdout)
    if not counts or worst is None:
        words = (done.stderr or done.stdout).strip().splitlines()
        raise NoCyclicTimerError(words[-1] if words else f"cyclictest ended with {done.returncode}")
    found: dict[str, float] = {}
    for name, share in SHARES:
        rank, passed = int(share * loops), 0
        found[f"{name} ms"] = int(worst[1]) / 1000  # those beyond the histogram are in none of its rows
        for us, number in sorted(counts.items()):
            passed += number
            if passed > rank:
                found[f"{name} ms"] = us / 1000
                break
    return {**found, "worst ms": int(worst[1]) / 1000}


def add_cyclic(table: Table, load: str, seconds: float) -> None:
    """Two rows: the cyclic timer without and with real-time scheduling, or why there is none."""
    for real_time in (False, True):
        what = f"reference: cyclictest{', real-time' if real_time else ''}: {load}"
        try:
            table.add(what, **cyclic(seconds, real_time=real_time))
        except NoCyclicTimerError as error:
            table.missing(what, error)
