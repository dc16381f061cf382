"""Keeps JACK ports connected: where the rig says, and again when the other side comes back.

Its thread does what JACK's notification thread may not do, and what would make the loop wait: it asks the
server. A connection that the user undoes by hand stays undone until the other side is registered anew.
"""

from __future__ import annotations

import contextlib
import threading
from collections import deque
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from typing import Any, Final

from introit.errors import PortError
from introit.live.events import Plugged, Unplugged
from introit.live.ports.finder import find, is_ours, matches

SETTLE_SECONDS: Final = 0.02
"""A client registers its ports one by one: changes are gathered for so long."""
DOUBT_SECONDS: Final = 0.1
"""A client that leaves disconnects first and goes then: so long a disconnected one is given to be gone."""

Connections = dict[int, tuple[list[str], list[str]]]
"""Full names of the destinations and the sources that a port is connected to, by index in the setup."""


@dataclass(slots=True)
class _Wish:
    """What one end is to be connected to, the full name it was last connected to, and what it is now."""

    index: int
    own: str
    pattern: str | None
    sends: bool
    last: str = ""
    linked: list[str] = field(default_factory=list)

    @property
    def takes_all(self) -> bool:
        """Whether it listens to whatever there is."""
        return self.pattern == "" and not self.sends


class Patchbay:
    """The connections of one JACK client.

    Args:
        client: the client, not active yet.
        on_change: told, from this thread, what each port is connected to whenever that may have changed.
        tell: told, from this thread, each end that lost or found its other side after `start`.
    """

    def __init__(
        self,
        client: Any,
        *,
        on_change: Callable[[Connections], None] = lambda _: None,
        tell: Callable[[Unplugged | Plugged], None] = lambda _: None,
    ) -> None:
        self._client = client
        self._on_change = on_change
        self._tell = tell
        self._wishes: list[_Wish] = []
        self._known: dict[bool, list[str]] = {True: [], False: []}
        self._registered: deque[str] = deque()
        self._changed = threading.Event()
        self._closed = threading.Event()
        self._thread = threading.Thread(target=self._run, name="patchbay", daemon=True)
        client.set_port_registration_callback(self._note, only_available=False)
        client.set_port_connect_callback(lambda *_: self._changed.set(), only_available=False)

    def want(self, index: int, own: str, pattern: str | None, *, sends: bool) -> None:
        """Notes what a port of ours is to be connected to.

        Args:
            index: the port's index in the setup.
            own: its full name.
            pattern: name or part of a name; empty for the first destination there is, or every source; None
                for nothing.
            sends: True if messages leave by it.
        """
        self._wishes.append(_Wish(index, own, pattern, sends))

    def remember(self, former: Patchbay) -> None:
        """Takes over what the patchbay of a client that is no more was connected to."""
        before = {(wish.index, wish.sends): wish for wish in former._wishes}
        for wish in self._wishes:
            if (old := before.get((wish.index, wish.sends))) is not None:
                wish.last, wish.linked = old.last, old.linked

    def start(self, *, patient: bool = False) -> None:
        """Makes every connection, then keeps them.

        Args:
            patient: True to wait for what is not there yet; then what was remembered and is missing is told.

        Raises:
            PortError: if a pattern matches nothing, or more than one port, and that is not to be waited for.
        """
        for sends in (True, False):
            self._known[sends] = self._others(sends)
        for wish in self._wishes:
            try:
                self._connect_first(wish)
            except PortError:
                if not patient:
                    raise
            if not patient:
                wish.linked = self._links(wish)
        self._compare()
        self._thread.start()
        self._changed.set()

    def connections(self) -> Connections:
        """What each port is connected to, by index in the setup."""
        found: Connections = {}
        for wish in self._wishes:
            found.setdefault(wish.index, ([], []))[0 if wish.sends else 1].extend(self._links(wish))
        return found

    def close(self) -> None:
        """Ends the thread; must come before the client is closed. Safe to call twice."""
        self._closed.set()
        self._changed.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(timeout=1.0)

    def _note(self, port: Any, registered: bool) -> None:
        """A port that went and came back within one settling would look as if it had stayed."""
        if registered and port is not None:
            with contextlib.suppress(Exception):
                self._registered.append(port.name)
        self._changed.set()

    def _run(self) -> None:
        while True:
            self._changed.wait()
            if self._closed.wait(SETTLE_SECONDS):
                return
            self._changed.clear()
            # A server that is going raises anything; its shutdown is told elsewhere.
            with contextlib.suppress(Exception):
                if self._doubtful() and self._closed.wait(DOUBT_SECONDS):
                    return
                self._follow()

    def _doubtful(self) -> bool:
        """Whether something was disconnected that is still there: by hand, or because it is leaving."""
        there = {sends: set(self._others(sends)) for sends in (True, False)}
        return any(
            name in there[wish.sends] and name not in self._links(wish)
            for wish in self._wishes
            for name in wish.linked
        )

    def _follow(self) -> None:
        registered = {self._registered.popleft() for _ in range(len(self._registered))}
        for sends in (True, False):
            now = self._others(sends)
            new = [name for name in now if name not in self._known[sends] or name in registered]
            self._known[sends] = now
            for wish in self._wishes:
                if wish.sends == sends and new:
                    for name in self._chosen(wish, new):
                        with contextlib.suppress(PortError):  # gone again; the next change tells
                            self._connect(wish, name)
        self._compare(registered)
        self._on_change(self.connections())

    def _connect_first(self, wish: _Wish) -> None:
        names = self._known[wish.sends]
        if wish.pattern is None:
            return
        if wish.last in names:
            self._connect(wish, wish.last)
        if wish.takes_all:
            for name in _foreign(names):
                with contextlib.suppress(PortError):  # the others serve as well
                    self._connect(wish, name)
        elif (wish.pattern or _foreign(names)) and wish.last not in names:
            among = names if wish.pattern else _foreign(names)
            role = "destination" if wish.sends else "source"
            self._connect(wish, find(wish.pattern, among, role=role, system="jack"))

    def _chosen(self, wish: _Wish, new: list[str]) -> list[str]:
        """Which of the ports that have just appeared a wish means."""
        if wish.pattern is None:
            return []
        if wish.takes_all:
            return _foreign(new)
        if wish.pattern == "" and self._links(wish):
            return []
        if wish.last in new:
            return [wish.last]
        if wish.pattern == "":
            return _foreign(new)[:1]
        found = matches(wish.pattern, self._known[wish.sends])
        return found if len(found) == 1 and found[0] in new else []

    def _compare(self, registered: Collection[str] = ()) -> None:
        """Tells what each end has lost and found since it was last looked at."""
        for wish in self._wishes:
            before, now = wish.linked, self._links(wish)
            wish.linked = now
            # Registered anew: it was another process, however soon it came.
            lost = [name for name in before if name not in now or name in registered]
            found = [name for name in now if name not in before or name in lost]
            kept = [name for name in now if name not in found]
            for place, name in enumerate(lost):
                waited_for = wish.pattern is not None and name not in self._known[wish.sends]
                alone = not kept and place == len(lost) - 1
                self._tell(
                    Unplugged(
                        wish.index,
                        name,
                        wish.sends,
                        alone=alone,
                        waited_for=waited_for or name in registered,
                    )
                )
            for place, name in enumerate(found):
                self._tell(Plugged(wish.index, name, wish.sends, alone=not kept and not place))

    def _links(self, wish: _Wish) -> list[str]:
        return [port.name for port in self._client.get_all_connections(wish.own)]

    def _others(self, sends: bool) -> list[str]:
        """Names of the ports of other clients that could be connected to."""
        ports = self._client.get_ports(is_midi=True, is_input=sends, is_output=not sends)
        own = f"{self._client.name}:"
        return [port.name for port in ports if not port.name.startswith(own)]

    def _connect(self, wish: _Wish, other: str) -> None:
        if other not in self._links(wish):
            pair = (wish.own, other) if wish.sends else (other, wish.own)
            try:
                self._client.connect(*pair)
            except Exception as error:  # JackError: the package is not imported here
                raise PortError(f"JACK would not connect {pair[0]!r} to {pair[1]!r}: {error}") from error
        wish.last = other


def _foreign(names: Collection[str]) -> list[str]:
    """The ports of other programs: `any` never means another Introit, or the one that releases for a dead."""
    return [name for name in names if not is_ours(name)]
