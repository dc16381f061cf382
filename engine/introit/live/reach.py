"""Reach: which ports can be told something now, and what is told again to one that may have forgotten it."""

from __future__ import annotations

from introit.live.choice import Choice
from introit.live.course import Course
from introit.live.display import Display
from introit.live.events import Back, Effect, Gone, Lost, Plugged, Unplugged
from introit.live.feet import Feet
from introit.live.port_news import PortNews
from introit.live.setup import Setup


class Reach:
    """Hears of ports that go and come back. Pure: time comes with each call.

    Args:
        setup: the ports.
        choice: what is ready, and so whether there is anything to tell.
        course: where it goes.
        feet: what is pressed on a port that may go.
        display: the lamps, and the screen.
        effects: what is to be done; more is appended.
    """

    def __init__(
        self,
        setup: Setup,
        choice: Choice,
        course: Course,
        *,
        feet: Feet,
        display: Display,
        effects: list[Effect],
    ) -> None:
        self._ports = range(len(setup.ports))
        self._choice = choice
        self._outputs = course.outputs
        self._feet = feet
        self._display = display
        self._effects = effects
        self._news = PortNews(setup)

    def hear(self, event: Lost | Gone | Back | Unplugged | Plugged, *, time: int, now: int) -> None:
        """A port, or what it is connected to, has gone or is back, or the system skipped a cycle."""
        if isinstance(event, Gone):
            self._outputs.gone(event.port)
            self._feet.unplugged(event.port)
        elif isinstance(event, Unplugged):
            if not event.sends:
                self._feet.unplugged(event.port)
            elif event.alone:
                self._outputs.gone(event.port)
        elif isinstance(event, Back) or (isinstance(event, Plugged) and event.sends):
            self._outputs.back(event.port, now)
            if self._choice.ready is not None:
                self._effects += self._outputs.prepare(now)
            self._effects += self._outputs.levels_again(event.port, now)
            self._display.light_again(event.port, now)
        elif isinstance(event, Lost):
            self._outputs.lose(event.port, event.start, event.end, now)
        what = "lost" if isinstance(event, Lost) else "port"
        self._display.show(what, time, text=self._news.text(event))

    def tell_again(self, now: int) -> None:
        """Every port may have forgotten how it sounds and what is lit: what is there is told all of it."""
        if self._choice.ready is not None:
            self._effects += self._outputs.tell_again(now)
        for port in self._ports:
            self._display.light_again(port, now)
