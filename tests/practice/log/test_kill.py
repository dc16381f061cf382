"""SIGKILL at random moments: no pass is lost that was told to be finished, and the log opens every time."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from introit.practice.log.store import Store

CHILD = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from introit.practice.log.played import Played
from introit.practice.log.store import Store
from introit.theory.key import Key
store = Store.open(Path(sys.argv[1]), print)
number = int(sys.argv[2])
print("begun", flush=True)
while True:
    store.add([Played(datetime.now(UTC), number, "plain", Key.from_text("C"), 120, clean=True)])
    print("finished", number, flush=True)
    number += 1
"""
SECONDS = 60.0


def killed(path: Path, first: int, after: float) -> int:
    """Lets a process write until it is killed; the number of the last pass that it told to be finished."""
    process = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(path), str(first)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "begun\n"
    time.sleep(after)
    os.kill(process.pid, signal.SIGKILL)
    told = process.stdout.read()  # not `communicate`, which would forget what `readline` had read ahead
    process.stdout.close()
    assert process.wait(SECONDS) == -signal.SIGKILL
    finished = [int(line.split()[1]) for line in told.splitlines(keepends=True) if line.endswith("\n")]
    return max(finished, default=first - 1)


def kill_so_often(path: Path, times: int, seed: int) -> int:
    dice = random.Random(seed)
    first = told = 0
    for _ in range(times):
        last = killed(path, first, dice.uniform(0, 0.2))
        told += last - first + 1
        store = Store.open(path, lambda message: pytest.fail(message))
        numbers = [int(one.seconds) for one in store.passes()]
        store.close()
        assert numbers == list(range(len(numbers)))  # none is lost, none is there twice or by halves
        assert len(numbers) in {last + 1, last + 2}  # one may have been on the disk and not told any more
        first = len(numbers)
    return told


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="there is no SIGKILL on this system")
def test_killed_ten_times_it_has_lost_no_finished_pass(path: Path) -> None:
    assert kill_so_often(path, 10, seed=1) > 0


@pytest.mark.long
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="there is no SIGKILL on this system")
def test_killed_a_hundred_times_it_has_lost_no_finished_pass(path: Path) -> None:
    assert kill_so_often(path, 100, seed=2) > 50
