"""What is called for becomes ready: asked of the front, told to the ports, sounded, or moved to."""

from __future__ import annotations

from typing import Final

from introit.live.choice import Choice
from introit.live.course import Course
from introit.live.display import Display
from introit.live.events import Effect, Ready, Refused, Request
from introit.live.place import Place
from introit.live.playing import Playing
from introit.live.states import State
from introit.units import NS_PER_MS, NS_PER_SECOND

REMEMBERED_NS: Final = 500 * NS_PER_MS
"""How long a start is remembered when what is to be started has not been arranged yet."""
TAPS_REMEMBERED_NS: Final = 2 * NS_PER_SECOND
"""How long a tap is: the next may be as far away."""


class Readying:
    """Calls for tunes and keys, and takes what the front answers. Pure: time comes with each call.

    Args:
        choice: what is called for.
        course: what plays.
        place: where the session is.
        display: what is told.
        effects: what is to be done; more is appended.

    Attributes:
        start_until: until when a start that came too soon is remembered; None for none.
    """

    def __init__(
        self, choice: Choice, course: Course, *, place: Place, display: Display, effects: list[Effect]
    ) -> None:
        self._choice = choice
        self._course = course
        self._place = place
        self._display = display
        self._effects = effects
        self.start_until: int | None = None
        self._presses: list[int] = []
        self._pass_on()

    # --- called for ---------------------------------------------------------------------------------

    def call(self, request: Request, *, time: int, now: int) -> None:
        """Calls for a tune in a key, as it is or at another tempo or with another intro."""
        if self._choice.call(request):
            self._made_ready(time, now)
            self._sound_key(now)
        self._pass_on()

    def remember_start(self, ns: int) -> bool:
        """Whether a start at `ns` must wait for what is not there yet; then it is asked for again."""
        waits = self._choice.awaited is not None or self._choice.ready is None
        if self.start_until is None:
            self._presses.clear()
        self._presses.append(ns)
        ready = self._choice.ready
        lasts = TAPS_REMEMBERED_NS if ready is not None and ready.tapped else REMEMBERED_NS
        self.start_until = ns + lasts if waits else None
        if waits:
            self._choice.ask_again()
            self._pass_on()
        return waits

    def ask_afresh(self, playing: Playing) -> None:
        """What has landed is to be played afresh the next time."""
        self._choice.ask_afresh(playing.performance, tempo=playing.ordered_tempo)
        self._pass_on()

    def _pass_on(self) -> None:
        """Tells the front what is to be arranged."""
        self._effects += self._choice.asked
        self._choice.asked.clear()

    # --- answered -----------------------------------------------------------------------------------

    def hear_ready(self, event: Ready, *, time: int, now: int) -> list[int]:
        """Something has been arranged; when the presses fell that are remembered and act with it."""
        before = self._choice.ready
        if self._choice.hear(event, playing=self._course.playing is not None):
            self._made_ready(time, now)
            if before is not None:
                self._sound_key(now)
            return [] if self.start_until is None else list(self._presses)
        if self._place.state is State.READY and self._choice.ready is not before:
            self._tell_ports(now)
            self._display.show("key", time)  # the same tune and key, written anew
        return []

    def renew(self, now: int) -> None:
        """The same tune again, in its newest arrangement."""
        self._choice.renew()
        self._tell_ports(now)

    def hear_refused(self, event: Refused, *, time: int, now: int) -> None:
        """Something cannot be arranged."""
        if event.request != self._choice.awaited:
            return
        self.start_until = None
        instead = self._choice.refuse(event)
        self._display.show("refused", time, text=event.reason)
        if instead is not None:
            self.call(instead, time=time, now=now)
        elif event.request.tonic is None and self._choice.ready is not None:
            self._display.show("state", time, text="kept what was ready")

    def _made_ready(self, time: int, now: int) -> None:
        """What was called for has become ready."""
        self._tell_ports(now)
        if self._course.playing is not None and self._place.takes_keys:
            self._move(self._course.playing, time, now)
        self._display.show("key", time)
        self._display.light(now)

    def _tell_ports(self, now: int) -> None:
        """What is ready is laid out ahead, and the ports are told how it sounds."""
        if self._choice.ready is not None:
            self._course.outputs.learn(self._choice.ready)
        self._effects += self._course.outputs.prepare(now)

    def _move(self, playing: Playing, time: int, now: int) -> None:
        """Another key is called for what plays."""
        before, wanted = playing.performance, self._choice.ready
        if wanted is None or wanted is before:
            return
        before = self._course.whole or before
        if self._course.re_key(playing, wanted, now):
            self._display.show("note", time, text=f"in {wanted.key} from the next bar")
            return
        self._choice.put_back(before)
        self._course.outputs.learn(before)
        alike = wanted.intro == before.intro
        why = "too late" if alike else f"another intro in {wanted.key}"
        self._display.show("note", time, text=f"{why}; it stays in {before.key}")

    def _sound_key(self, now: int) -> None:
        """Another key or tune is ready: its key is sounded for whoever cannot look."""
        ready = self._choice.ready
        if self._place.state is State.READY and ready is not None and self.start_until is None:
            self._course.aside(ready.cue, ready, now)
