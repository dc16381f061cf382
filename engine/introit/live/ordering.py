"""What an order makes of what is called for and what plays: a second switch, a pedal, a pad, a key."""

from __future__ import annotations

from typing import Final, NamedTuple

from introit.live.choice import Choice
from introit.live.course import Course
from introit.live.events import Effect, Ordered, Request
from introit.live.playing import Playing
from introit.live.sound_check import sound_check
from introit.live.states import Order, State, order_row
from introit.live.tap_tempo import TapTempo
from introit.performance import PARTS
from introit.units import TEMPO_MAX, TEMPO_MIN

NUDGE: Final = 2
"""Quarter notes a minute that a nudge makes it faster or slower."""


class Outcome(NamedTuple):
    """What is left to be done by whoever knows the state.

    Attributes:
        call: what is called for.
        turn_to: where in the set to turn to; before the first and behind the last it goes round.
        enter: the state that begins.
        note: a sentence for the player.
    """

    call: Request | None = None
    turn_to: int | None = None
    enter: State | None = None
    note: str = ""


class Ordering:
    """Obeys orders that may be given. Pure: time comes with each call.

    Args:
        choice: what is called for.
        course: what plays.
        effects: what is to be done; more is appended.
    """

    def __init__(self, choice: Choice, course: Course, effects: list[Effect]) -> None:
        self._choice = choice
        self._course = course
        self._effects = effects
        self._taps = TapTempo()

    def obey(self, event: Ordered, state: State, *, time: int, now: int) -> Outcome:
        """Does what is ordered, in a state in which it may be.

        Args:
            event: the order.
            state: the session's.
            time: when it was ordered.
            now: the present.
        """
        order, choice = Order(event.order), self._choice
        if order in (Order.NEXT, Order.BACK):
            forwards = order is Order.NEXT
            return Outcome(turn_to=choice.next_position if forwards else choice.previous_position)
        if order is Order.TUNE:
            return self._tune(event.value)
        if order is Order.ANOTHER_INTRO:
            return Outcome(call=self._choice.in_another_intro())
        if order in (Order.FASTER, Order.SLOWER):
            return self._nudge(NUDGE if order is Order.FASTER else -NUDGE, now)
        if order is Order.TAP_TEMPO:
            return self._tap_tempo(time, now)
        if order is Order.SOUND_CHECK:
            return self._check(state, now)
        if order is Order.FIRST_NOTE:
            return self._first_note(now)
        if order is Order.SILENCE:
            self._course.silence(now)
            return Outcome(enter=None if state is State.IN_THE_TUNE else State.READY)
        return self._part(order, event, now)  # mute or level

    def _tune(self, number: int) -> Outcome:
        if 0 <= number < self._choice.tunes:
            return Outcome(turn_to=number)
        return Outcome(note=f"there is no tune {number + 1}; the set has {self._choice.tunes}")

    def _part(self, order: Order, event: Ordered, now: int) -> Outcome:
        if not 0 <= event.part < len(PARTS):
            return Outcome()
        outputs = self._course.outputs
        if order is Order.LEVEL:
            self._effects += outputs.level(event.part, min(max(event.value, 0), 127), now)
            self._effects.append(outputs.mix)
            return Outcome()
        muted = event.value > 0 if event.value >= 0 else event.part not in outputs.muted
        self._effects += outputs.mute(event.part, muted, now)
        self._effects.append(outputs.mix)
        return Outcome(note=f"{PARTS[event.part]} {'muted' if muted else 'is heard again'}")

    def _first_note(self, now: int) -> Outcome:
        ready = self._choice.ready
        if ready is None or self._course.aside(ready.first_note, ready, now):
            return Outcome()
        if not ready.first_note:
            return Outcome(note="the tune names no first note")
        muted = _CUE in self._course.outputs.muted
        return Outcome(note="the cue is muted" if muted else "the rig has no cue")

    # --- tempo --------------------------------------------------------------------------------------

    def _nudge(self, by: int, now: int) -> Outcome:
        playing, before = self._course.playing, self._tempo
        if before is None:
            return Outcome()
        tempo = float(min(max(round(before) + by, TEMPO_MIN), TEMPO_MAX))
        if playing is None:
            return Outcome(call=self._choice.at_tempo(tempo))
        if self._course.follows:
            return _LED
        self._course.nudge(playing, tempo, now)
        return Outcome(note=f"{tempo:.0f} a minute")

    def _tap_tempo(self, time: int, now: int) -> Outcome:
        ready, playing, before = self._choice.ready, self._course.playing, self._tempo
        if ready is None or before is None:
            return Outcome()
        if playing is not None and self._course.follows:
            return _LED
        tempo = self._taps.tap(time, ready, before)
        if tempo is None:
            return Outcome()
        return self._in_tempo(tempo, now)

    def at_tempo(self, tempo: float, state: State, *, now: int) -> Outcome:
        """A tempo that is called for, where one may be tapped; it counts from the next bar line on.

        Args:
            tempo: quarter notes a minute; what lies beyond the tempos allowed is the nearest of them.
            state: the session's.
            now: the present.
        """
        if order_row(state, Order.TAP_TEMPO) is None:
            return Outcome(note=f"another tempo: not while {state}")
        if self._tempo is None:
            return Outcome()
        if self._course.playing is not None and self._course.follows:
            return _LED
        return self._in_tempo(float(min(max(tempo, TEMPO_MIN), TEMPO_MAX)), now)

    def _in_tempo(self, tempo: float, now: int) -> Outcome:
        playing = self._course.playing
        if playing is None:
            return Outcome(call=self._choice.at_tempo(tempo))
        if self._course.re_tempo(playing, tempo, now):
            return Outcome(note=f"{tempo:.0f} a minute from the next bar")
        return Outcome(note="too late for another tempo")

    @property
    def _tempo(self) -> float | None:
        """Of what plays, or of what is called for."""
        playing: Playing | None = self._course.playing
        if playing is not None:
            return playing.tempo
        ready = self._choice.ready
        return self._choice.latest.tempo or (None if ready is None else ready.tempo)

    # --- sound check --------------------------------------------------------------------------------

    def _check(self, state: State, now: int) -> Outcome:
        """Begins the sound check, or ends it."""
        if state is State.SOUND_CHECK:
            self._course.silence(now)
            return Outcome(enter=State.READY)
        if self._choice.ready is None:
            return Outcome(note="nothing has been arranged yet")
        self._course.check(sound_check(self._choice.ready), now)
        return Outcome(enter=State.SOUND_CHECK)


_CUE: Final = PARTS.index("cue")
_LED: Final = Outcome(note="the tempo is that of the clock")
