"""What a player asks of the system so that it is woken on time, and what it was granted.

Everything here is asked for and quietly done without: a gig must go on without privileges.
"""

from __future__ import annotations

import contextlib
import os
import struct
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

PRIORITY: Final = 2
"""Real-time priority of the loop: above everything ordinary, below JACK's threads (clients 5, server 10)."""
SWITCH_SECONDS: Final = 0.0002
"""How long a thread may keep the interpreter while another waits: 5 ms, as usual, is too long for JACK."""
TIMER_SLACK_NS: Final = 1
CORES_AWAKE_US: Final = 20
"""How long a core may take to wake up, in microseconds: it may doze, and no battery is emptied for it."""
CORES_FILE: Final = Path("/dev/cpu_dma_latency")
"""Linux: so long as it is open, no core sleeps more deeply than what was written into it allows."""
_MCL_CURRENT_AND_FUTURE: Final = 3


_GRANTED, _NOT_GRANTED = "granted", "not granted"


@dataclass(frozen=True, slots=True)
class Granted:
    """What the system gave.

    Attributes:
        real_time: the loop runs under a real-time scheduler.
        timer_slack: timers end as asked, not gathered with others up to 50 µs later.
        memory_locked: no page of the player can be swapped out.
        cores_awake: no core sleeps so deeply that waking it takes long, while the player runs.
    """

    real_time: bool
    timer_slack: bool
    memory_locked: bool
    cores_awake: bool = False

    @property
    def text(self) -> str:
        """One line for the user; `from_text` reads it."""
        given = [name for name, granted in self.named().items() if granted]
        missing = [name for name, granted in self.named().items() if not granted]
        return "; ".join(
            f"{word}: {', '.join(names)}"
            for word, names in ((_GRANTED, given), (_NOT_GRANTED, missing))
            if names
        )

    def named(self) -> dict[str, bool]:
        """Each privilege by what a user calls it."""
        return {
            "real-time scheduling": self.real_time,
            "exact timers": self.timer_slack,
            "locked memory": self.memory_locked,
            "cores kept awake": self.cores_awake,
        }

    @classmethod
    def from_text(cls, text: str) -> Granted:
        """Reads what `text` wrote; whatever it doesn't name was not granted."""
        given = next((part for part in text.split("; ") if part.startswith(f"{_GRANTED}: ")), "")
        names = given.removeprefix(f"{_GRANTED}: ").split(", ")
        return cls(*(name in names for name in cls(False, False, False).named()))


@dataclass(frozen=True, slots=True)
class Limits:
    """What a process of this user may ask for.

    Attributes:
        priority: highest real-time priority; 0 for none.
        memory: bytes that may be locked; None for any number.
    """

    priority: int
    memory: int | None


def limits() -> Limits | None:
    """This process's limits; None where the system has none of the kind."""
    if sys.platform != "linux":
        return None
    import resource

    memory = resource.getrlimit(resource.RLIMIT_MEMLOCK)[0]
    return Limits(
        priority=resource.getrlimit(resource.RLIMIT_RTPRIO)[0],
        memory=None if memory == resource.RLIM_INFINITY else memory,
    )


def prepare() -> Granted:
    """Asks for everything, for this process and the threads it will start."""
    sys.setswitchinterval(SWITCH_SECONDS)
    # Locked first: under a real-time scheduler the page faults of it would hold up others.
    locked = _lock_memory()
    return Granted(
        real_time=_real_time(),
        timer_slack=_timer_slack(),
        memory_locked=locked,
        cores_awake=_keep_cores_awake(),
    )


@contextlib.contextmanager
def hurry() -> Iterator[None]:
    """Has this process go before all others, and its threads take turns quickly, as long as that lasts.

    All of its threads: the calling one needs the interpreter, and whoever holds that must not be held up by
    other programs, nor keep it for the usual 5 ms.
    """
    usual = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH_SECONDS)
    hurried = _hurried()
    try:
        yield
    finally:
        for thread in hurried:
            with contextlib.suppress(OSError):  # it has ended
                os.sched_setscheduler(thread, os.SCHED_OTHER, os.sched_param(0))
        sys.setswitchinterval(usual)


def _hurried() -> list[int]:
    """The ordinary threads that run under a real-time scheduler from now on."""
    if sys.platform != "linux":
        return []
    hurried = []
    for task in Path("/proc/self/task").iterdir():
        thread = int(task.name)
        with contextlib.suppress(OSError):
            if os.sched_getscheduler(thread) == os.SCHED_OTHER:
                policy = os.SCHED_FIFO | os.SCHED_RESET_ON_FORK  # whoever is started meanwhile asks itself
                os.sched_setscheduler(thread, policy, os.sched_param(PRIORITY))
                hurried.append(thread)
    return hurried


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


def _keep_cores_awake() -> bool:
    """Opens the file for good: the wish ends with the process."""
    if sys.platform != "linux":
        return False
    try:
        descriptor = os.open(CORES_FILE, os.O_WRONLY | os.O_CLOEXEC)
    except OSError:
        return False
    try:
        os.write(descriptor, struct.pack("=i", CORES_AWAKE_US))
    except OSError:
        os.close(descriptor)
        return False
    return True


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
