"""What a player asks of the system so that it is woken on time, and what it was granted.

Everything here is asked for and quietly done without: a gig must go on without privileges.
"""

from __future__ import annotations

import contextlib
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final

PRIORITY: Final = 2
"""Real-time priority of the loop: above everything ordinary, below JACK's threads (clients 5, server 10)."""
SWITCH_SECONDS: Final = 0.0002
"""How long a thread may keep the interpreter while another waits: 5 ms, as usual, is too long for JACK."""
TIMER_SLACK_NS: Final = 1
_MCL_CURRENT_AND_FUTURE: Final = 3


@dataclass(frozen=True, slots=True)
class Granted:
    """What the system gave.

    Attributes:
        real_time: the loop runs under a real-time scheduler.
        timer_slack: timers end as asked, not gathered with others up to 50 µs later.
        memory_locked: no page of the player can be swapped out.
    """

    real_time: bool
    timer_slack: bool
    memory_locked: bool

    @property
    def text(self) -> str:
        """One line for the user."""
        parts = (
            ("real-time scheduling", self.real_time),
            ("exact timers", self.timer_slack),
            ("locked memory", self.memory_locked),
        )
        given = [name for name, granted in parts if granted]
        missing = [name for name, granted in parts if not granted]
        return "; ".join(
            f"{word}: {', '.join(names)}"
            for word, names in (("granted", given), ("not granted", missing))
            if names
        )


def prepare() -> Granted:
    """Asks for everything, for this process and the threads it will start."""
    sys.setswitchinterval(SWITCH_SECONDS)
    # Locked first: under a real-time scheduler the page faults of it would hold up others.
    locked = _lock_memory()
    return Granted(real_time=_real_time(), timer_slack=_timer_slack(), memory_locked=locked)


def _real_time() -> bool:
    if sys.platform != "linux":
        return False
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(PRIORITY))
    except OSError:
        return False
    return True


def _timer_slack() -> bool:
    if sys.platform != "linux":
        return False
    with contextlib.suppress(OSError):
        Path("/proc/self/timerslack_ns").write_text(str(TIMER_SLACK_NS))
        return True
    return False


def _lock_memory() -> bool:
    if sys.platform != "linux":
        return False
    import resource

    if resource.getrlimit(resource.RLIMIT_MEMLOCK)[0] != resource.RLIM_INFINITY:
        return False  # a limit that is reached later would make allocations fail in mid-bar
    try:
        import ctypes

        return int(ctypes.CDLL(None).mlockall(_MCL_CURRENT_AND_FUTURE)) == 0
    except (ImportError, OSError, AttributeError):
        return False
