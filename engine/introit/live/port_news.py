"""What is said when a port, or what it is connected to, goes or comes back."""

from __future__ import annotations

from introit.live.events import Back, Gone, Lost, Plugged, Unplugged
from introit.live.setup import Setup


class PortNews:
    """Words such events in one line, beginning with the rig's name of the port.

    Args:
        setup: the ports, and where the foot-switch is.
    """

    def __init__(self, setup: Setup) -> None:
        self._setup = setup
        self._missed: set[tuple[int, str]] = set()

    def text(self, event: Lost | Gone | Back | Unplugged | Plugged) -> str:
        """The line for an event; they must come in order, so that what returns is known."""
        return f"{self._setup.ports[event.port].name}: {self._what(event)}"

    def _what(self, event: Lost | Gone | Back | Unplugged | Plugged) -> str:
        if isinstance(event, Lost):
            return "the system skipped a cycle"
        if isinstance(event, Gone):
            return f"{event.reason}; {self._outlook(event.port)}"
        if isinstance(event, Back):
            return "back, plays and listens again"
        place = (event.port, event.name)
        if isinstance(event, Unplugged):
            self._missed.add(place)
            what = "has gone; waiting for it" if event.waited_for else "is not connected any more"
            return f"{event.name} {what}"
        again = place in self._missed
        self._missed.discard(place)
        return f"{event.name} is {'back' if again else 'connected'}"

    def _outlook(self, port: int) -> str:
        foot, listens = self._setup.foot_switch, self._setup.ports[port].source is not None
        if foot is not None and listens and foot.port in (None, port):
            return "waiting for it; the foot-switch works again when it is back"
        return "waiting for it"
