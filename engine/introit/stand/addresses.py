"""What this machine is called by whoever looks for it."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
from typing import Final

_ELSEWHERE: Final = {socket.AF_INET: "192.0.2.1", socket.AF_INET6: "2001:db8::1"}
"""Addresses for documentation (RFC 5737, RFC 3849): the way there is looked up, and nothing is sent."""


def shown_address(listening: str) -> str:
    """The address to type: the one where we listen; where that is every one, the one that leads outside."""
    address = ipaddress.ip_address(listening.partition("%")[0])
    if not address.is_unspecified:
        return listening
    family = socket.AF_INET if address.version == 4 else socket.AF_INET6
    with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as asked:
        asked.connect((_ELSEWHERE[family], 9))
        return str(asked.getsockname()[0])
    return "127.0.0.1" if address.version == 4 else "::1"


def names_for(listening: str) -> list[str]:
    """Names by which others find us: this machine's own, and the same as multicast DNS has it (RFC 6762).

    By loopback there is only `localhost`, which the gate knows.
    """
    if ipaddress.ip_address(listening.partition("%")[0]).is_loopback:
        return []
    name = socket.gethostname()
    return [name] if "." in name else [name, f"{name}.local"]
