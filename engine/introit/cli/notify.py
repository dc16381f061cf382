"""What a service manager is told: a few words over its datagram socket (`sd_notify(3)`).

Standard library only. Nobody waits for an answer, and no failure to tell ends the music.
"""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import MutableMapping
from typing import Final

from introit.units import NS_PER_SECOND

_SOCKET, _PERIOD, _WHO = "NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"
_NS_PER_US: Final = 1000


def datagram(**fields: object) -> bytes:
    """One message: `NAME=value` a line, names in capitals. A value keeps to its line."""
    return "\n".join(
        f"{name.upper()}={' '.join(str(value).split())}" for name, value in fields.items()
    ).encode()


def socket_address(text: str) -> str:
    """The socket's address as Python takes it: one that begins with @ has no place among the files."""
    return f"\0{text[1:]}" if text.startswith("@") else text


class Notifier:
    """The way to the service manager.

    Args:
        address: as NOTIFY_SOCKET has it.
        watchdog_ns: how often the manager wants to hear from us, in nanoseconds; None for never.
    """

    def __init__(self, address: str, watchdog_ns: int | None = None) -> None:
        self._address = socket_address(address)
        self._every = None if watchdog_ns is None else watchdog_ns // 2  # as sd_watchdog_enabled(3) advises
        self._next = 0

    @classmethod
    def of(cls, environ: MutableMapping[str, str], pid: int | None = None) -> Notifier | None:
        """The one that the environment names, which is taken out of it: it is no child's business.

        Args:
            environ: the environment.
            pid: this process; asked for when left out.

        Returns:
            None where no manager listens.
        """
        address, period, who = (environ.pop(name, "") for name in (_SOCKET, _PERIOD, _WHO))
        if not address or not hasattr(socket, "AF_UNIX"):
            return None
        ours = who in ("", str(os.getpid() if pid is None else pid))
        watchdog = int(period) * _NS_PER_US if period.isdigit() and int(period) and ours else None
        return cls(address, watchdog)

    @property
    def every_ns(self) -> int | None:
        """How often `alive` tells; None for never."""
        return self._every

    def tell(self, **fields: object) -> None:
        """Sends one message, such as `ready=1, status="ready: Slow Water"`."""
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as end:
            end.setblocking(False)
            end.sendto(datagram(**fields), self._address)

    def alive(self, now: int) -> None:
        """Feeds the watchdog, no more often than it wants.

        Args:
            now: nanoseconds, such as of the monotonic clock.
        """
        if self._every is not None and now >= self._next:
            self._next = now + min(self._every, NS_PER_SECOND * 10)
            self.tell(watchdog=1)
