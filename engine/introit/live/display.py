"""What is shown: on the screen the same few facts with everything that is told, and the lamps of the rig."""

from __future__ import annotations

from collections.abc import Callable

from introit.live.choice import Choice
from introit.live.course import Course
from introit.live.events import Effect, Shown
from introit.live.lamps import Lamps, told_in
from introit.live.place import Place
from introit.live.playing import Beat
from introit.live.setup import Setup
from introit.live.steps import Steps


class Display:
    """Tells the front and lights the lamps. Pure.

    Args:
        setup: the lamps.
        choice: what has been called for.
        course: what plays.
        steps: to which chord the foot has stepped.
        place: where the session is.
        effects: what is to be done; more is appended.
        number: gives the next cue's number.
    """

    def __init__(
        self,
        setup: Setup,
        choice: Choice,
        course: Course,
        *,
        steps: Steps,
        place: Place,
        effects: list[Effect],
        number: Callable[[], int],
    ) -> None:
        self._choice = choice
        self._course = course
        self._steps = steps
        self._place = place
        self._effects = effects
        self._lamps = Lamps(setup.lamps, number) if setup.lamps else None

    def light(self, now: int) -> None:
        """Lights what tells the state; `ready` only once there is something to start."""
        if self._lamps is not None and self._choice.ready is not None:
            playing = self._course.playing
            last_bar = playing is not None and playing.in_last_bar(now)
            self._effects += self._lamps.show(told_in(self._place.state, last_bar=last_bar), now)

    def light_again(self, port: int, now: int) -> None:
        """A port is there again."""
        if self._lamps is not None:
            self._effects += self._lamps.again(port, now)

    def show(self, what: str, ns: int, *, text: str = "", beat: Beat | None = None) -> None:
        """Something for the screen, with what is ready or playing.

        Args:
            what: see `events.Shown`.
            ns: when it happened.
            text: a sentence for the player.
            beat: the beat it tells of.
        """
        choice, playing = self._choice, self._course.playing
        latest = choice.latest
        ready = choice.ready if latest.tune == choice.tune else None
        tempo = 0.0 if ready is None else ready.tempo
        first, last = (0, 0) if playing is None else playing.round_bars
        performance = ready if playing is None else playing.performance
        shown = Shown(
            ns,
            self._place.state.value,
            what,
            tune=latest.tune,
            title="" if ready is None else ready.title,
            intro="" if ready is None else ready.intro,
            key="" if ready is None else ready.key,
            tempo=tempo if playing is None or ready is None else playing.tempo,
            bar=0 if beat is None else beat.bar,
            beat=0 if beat is None else beat.beat,
            beats_to_head=0 if beat is None else beat.beats_to_head,
            symbol="" if beat is None else beat.chord.symbol,
            numeral="" if beat is None else beat.chord.numeral,
            text=text,
            tonic=latest.tonic,
            minor=latest.minor,
            step=self._steps.chord,
            first_bar=first,
            last_bar=last,
            muted=sum(1 << part for part in self._course.outputs.muted),
            number=0 if performance is None else performance.number,
        )
        self._effects.append(shown)
