"""Keeps JACK ports connected: where the rig says, and again when the other side comes back.

Its thread does what JACK's notification thread may not do, and what would make the loop wait: it asks the
server. A connection that the user undoes by hand stays undone until the other side is registered anew.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from introit.errors import PortError
from introit.live.ports.finder import find, matches

SETTLE_SECONDS: Final = 0.02
"""A client registers its ports one by one: changes are gathered for so long."""


@dataclass(frozen=True, slots=True)
class _Wish:
    index: int
    own: str
    pattern: str | None
    sends: bool


class Patchbay:
    """The connections of one JACK client.

    Attributes:
        on_change: called from this thread with the destinations that each sending port is connected to, by
            index
            in the setup, whenever that may have changed.
    """

    def __init__(self, client: Any) -> None:
        self._client = client
        self._wishes: list[_Wish] = []
        self._known: dict[bool, list[str]] = {True: [], False: []}
        self._changed = threading.Event()
        self._closed = threading.Event()
        self._thread = threading.Thread(target=self._run, name="patchbay", daemon=True)
        self.on_change: Callable[[dict[int, list[str]]], None] | None = None
        client.set_port_registration_callback(lambda *_: self._changed.set(), only_available=False)
        client.set_port_connect_callback(lambda *_: self._changed.set(), only_available=False)

    def want(self, index: int, own: str, pattern: str | None, *, sends: bool) -> None:
        """Notes what a port of ours is to be connected to.

        Args:
            index: the port's index in the setup.
            own: its full name.
            pattern: name or part of a name; empty for the first there is, or none; None for nothing.
            sends: True if messages leave by it.
        """
        self._wishes.append(_Wish(index, own, pattern, sends))

    def start(self, *, patient: bool = False) -> None:
        """Makes every connection, then keeps them.

        Args:
            patient: True to wait for what is not there yet.

        Raises:
            PortError: if a pattern matches nothing, or more than one port, and that is not to be waited for.
        """
        for sends in (True, False):
            self._known[sends] = self._others(sends)
        for wish in self._wishes:
            names = self._known[wish.sends]
            if wish.pattern is None or not (wish.pattern or names):
                continue
            role = "destination" if wish.sends else "source"
            try:
                self._connect(wish, find(wish.pattern, names, role=role, system="jack"))
            except PortError:
                if not patient:
                    raise
        self._thread.start()
        self._changed.set()

    def connections(self) -> dict[int, list[str]]:
        """What each sending port is connected to, by index in the setup."""
        return {
            wish.index: [port.name for port in self._client.get_all_connections(wish.own)]
            for wish in self._wishes
            if wish.sends
        }

    def close(self) -> None:
        """Ends the thread; must come before the client is closed. Safe to call twice."""
        self._closed.set()
        self._changed.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(timeout=1.0)

    def _run(self) -> None:
        while True:
            self._changed.wait()
            if self._closed.wait(SETTLE_SECONDS):
                return
            self._changed.clear()
            # A server that is going raises anything; its shutdown is told elsewhere.
            with contextlib.suppress(Exception):
                self._follow()

    def _follow(self) -> None:
        for sends in (True, False):
            now = self._others(sends)
            new = set(now) - set(self._known[sends])
            self._known[sends] = now
            for wish in self._wishes:
                if wish.sends == sends and wish.pattern is not None:
                    found = matches(wish.pattern, now)
                    if len(found) == 1 and found[0] in new:
                        self._connect(wish, found[0])
        if self.on_change is not None:
            self.on_change(self.connections())

    def _others(self, sends: bool) -> list[str]:
        """Names of the ports of other clients that could be connected to."""
        ports = self._client.get_ports(is_midi=True, is_input=sends, is_output=not sends)
        own = f"{self._client.name}:"
        return [port.name for port in ports if not port.name.startswith(own)]

    def _connect(self, wish: _Wish, other: str) -> None:
        if any(port.name == other for port in self._client.get_all_connections(wish.own)):
            return
        pair = (wish.own, other) if wish.sends else (other, wish.own)
        try:
            self._client.connect(*pair)
        except Exception as error:  # JackError: the package is not imported here
            raise PortError(f"JACK would not connect {pair[0]!r} to {pair[1]!r}: {error}") from error
