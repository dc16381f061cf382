"""Whether a request was meant for us: its Host, its Origin, and where the browser says it began. Pure.

A page of another site can make a browser send requests here, and can have its own name lead to this address
(DNS rebinding). It cannot make the browser leave out or forge these three headers.
"""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

_DEFAULT_PORTS: Final = {"http": 80, "https": 443}
_HOST: Final = re.compile(r"(?P<name>\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(?::(?P<port>[0-9]{1,5}))?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Hosts:
    """What we are called.

    An address is ours where the request came to it: whoever rebinds a name sends that name. So no list of
    this machine's addresses is needed, which may change while we listen.

    Attributes:
        scheme: `http` or `https`.
        port: where we listen.
        names: the names that lead here, without a port; `localhost` is one where we are asked by loopback.
    """

    scheme: str
    port: int
    names: frozenset[str] = frozenset()

    def is_ours(self, host: str | None, asked_at: str) -> bool:
        """Whether a Host header names us.

        Args:
            host: the header's value; None where there is none.
            asked_at: our own address of the connection.
        """
        found = None if host is None else _HOST.fullmatch(host)
        if found is None:
            return False
        port = int(found["port"]) if found["port"] else _DEFAULT_PORTS[self.scheme]
        return port == self.port and self._is_our_name(found["name"].lower(), asked_at)

    def _is_our_name(self, name: str, asked_at: str) -> bool:
        here = _address(asked_at)
        if here is None:
            return False
        there = _address(name.strip("[]"))
        if there is not None:
            return there == here
        return name in self.names or (name == "localhost" and here.is_loopback)

    def is_same_site(self, host: str, origin: str | None, fetch_site: str | None, *, writes: bool) -> bool:
        """Whether a request began on our own page, or in the user's own hand where it only reads.

        Args:
            host: the Host header's value, which must be ours.
            origin: the Origin header's value; None where there is none.
            fetch_site: Sec-Fetch-Site's value; None where there is none, as over HTTP beyond loopback.
            writes: True for what changes something: then one of the two must say that it began here.
        """
        if origin is not None and origin.lower() != f"{self.scheme}://{host}".lower():
            return False
        if fetch_site is not None and fetch_site != "same-origin" and (writes or fetch_site != "none"):
            return False
        return not writes or origin is not None or fetch_site == "same-origin"


def is_loopback(address: str) -> bool:
    """Whether an address is this machine's own inner one; False for what is no address."""
    found = _address(address)
    return found is not None and found.is_loopback


def url(scheme: str, address: str, port: int) -> str:
    """Where an address is opened in a browser."""
    found = _address(address)
    name = f"[{address}]" if isinstance(found, ipaddress.IPv6Address) else address
    return f"{scheme}://{name}/" if port == _DEFAULT_PORTS[scheme] else f"{scheme}://{name}:{port}/"


def plain_names(names: Collection[str]) -> frozenset[str]:
    """Names as they are compared: small letters, no full stop behind."""
    return frozenset(name.lower().rstrip(".") for name in names)


def _address(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        address = ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return None
    mapped = address.ipv4_mapped if isinstance(address, ipaddress.IPv6Address) else None
    return address if mapped is None else mapped
