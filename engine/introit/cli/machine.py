"""What a Linux machine says of itself that matters for time; on others nothing is known."""

from __future__ import annotations

import contextlib
import getpass
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from introit.live.ports.server import JackServer
from introit.live.system import Limits

_GOVERNORS: Final = "sys/devices/system/cpu/cpu*/cpufreq/scaling_governor"
GROUPS: Final = ("audio", "realtime", "pipewire")
"""Groups that distributions give the right to real-time scheduling, by custom (no source)."""


@dataclass(frozen=True, slots=True)
class Machine:
    """One machine, as far as anything could be read.

    Attributes:
        linux: whether it runs Linux: what is to be changed is known there only.
        limits: see `system.limits`.
        groups: names of the user's groups.
        governors: how the cores' speed is governed, each kind once.
        server: the JACK server, where one answers.
    """

    linux: bool
    limits: Limits | None = None
    groups: tuple[str, ...] = ()
    governors: tuple[str, ...] = ()
    server: JackServer | None = None


def groups_of_user() -> tuple[str, ...]:
    """Names of this process's groups; () where there are none."""
    if sys.platform == "win32":
        return ()
    import grp

    names = []
    for number in {os.getegid(), *os.getgroups()}:
        with contextlib.suppress(KeyError):
            names.append(grp.getgrgid(number).gr_name)
    return tuple(sorted(names))


def governors(root: Path = Path("/")) -> tuple[str, ...]:
    """How the cores' speed is governed, each kind once; () where it is not told."""
    found = set()
    for path in root.glob(_GOVERNORS):
        with contextlib.suppress(OSError):
            found.add(path.read_text().strip())
    return tuple(sorted(found))


def user_name() -> str:
    """The user's name as a command takes it."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "$USER"
