"""The practice room at work: passes go to the player one ahead, presses come back, passes go into the log."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Protocol

from introit.cli.clock_match import ClockMatch
from introit.library.model import Tune
from introit.live.events import Following, FrontEvent, Ready, Refused, Request, Shown
from introit.live.states import Gesture, State
from introit.performance import Performance
from introit.practice.passes import Outcome, Pass
from introit.practice.room import Room
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER, ns_per_tick

_MARGIN_NS = 100 * NS_PER_MS
"""So long before the player takes what follows it is decided here: time to arrange it and to pass it on."""

_ANOTHER_NS = 5 * NS_PER_SECOND
"""Clocks that differ by so much more than before are not the same two: there is a new player."""
_HOLD_NS = 800 * NS_PER_MS
"""A press so long before a stop was the beginning of what stopped it: a hold, or a double press."""


class Player(Protocol):
    """The front, as it is needed here."""

    def send(self, event: FrontEvent) -> None:
        """Passes something on to the player."""

    def stop(self, reason: str) -> None:
        """Ends the run."""


@dataclass(frozen=True, slots=True)
class Ended:
    """A pass that was played to its end.

    Attributes:
        one: the pass.
        began: when its first downbeat was.
        seconds: how long it took, without its rest.
        clean: whether it was clean; None where nobody has said.
    """

    one: Pass
    began: datetime
    seconds: float
    clean: bool | None


@dataclass(slots=True)
class _Take:
    """The pass that plays, or has landed and rests.

    Attributes:
        one: the pass.
        downbeat: nanosecond of its first downbeat.
        began: the time of day then.
        landed: nanosecond of its end; None while it plays.
        marks: nanoseconds of the presses that count for it.
        room: the room after it, which has given what follows.
        following: the pass that follows, once it has landed; None where nothing does.
        performance: of that pass.
        told: whether what came of it has been said.
    """

    one: Pass
    downbeat: int
    began: datetime
    landed: int | None = None
    marks: list[int] = field(default_factory=list)
    room: Room | None = None
    following: Pass | None = None
    performance: Performance | None = None
    told: bool = False


class Practising:
    """Keeps the player one pass ahead; is the desk that the front asks, and is told of everything shown.

    What follows is given as soon as a pass has landed, and given anew with each press in its rest, so that a
    press still counts. Which pass has begun is what the player says: the room is copied and asked until then.
    A stop in the rest ends the pass that has landed, and what follows is ready.

    Args:
        room: what is practised.
        make: arranges a pass.
        say: writes a line.
        keep: told of each pass that has ended, once nothing can change in it any more.
        ahead: nanoseconds that the ports look ahead, as far as is known.
        press: what a press means, in a word or two; it is told at the start.
        tunes: those that are practised, as the passes number them.
        clock: this process's clock; the player's is another one.
        wall: the time of day, with its zone.

    Attributes:
        untold: states that are told here, with the pass, and not by their names.
    """

    untold = (State.PRACTISING, State.RESTING)

    def __init__(
        self,
        room: Room,
        make: Callable[[Pass], Performance],
        *,
        say: Callable[[str], None],
        keep: Callable[[Ended], None],
        ahead: Callable[[], int],
        press: str,
        tunes: Sequence[Tune],
        clock: Callable[[], int] = time.monotonic_ns,
        wall: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._room = room
        self._make = make
        self._say = say
        self._keep = keep
        self._ahead = ahead
        self._press = press
        self._tunes = tuple(tunes)
        self._clock = clock
        self._match = ClockMatch()
        self._wall = wall
        self._take: _Take | None = None
        self._one = room.first()
        self._performance = self._made(self._one)
        self._text = ""
        self._resting = self._leads_in = False

    # --- what the front asks ------------------------------------------------------------------------

    def answer(self, request: Request, *, afresh: bool = False) -> Iterator[Ready | Refused]:
        """The present pass; what else is asked for is refused: here the room decides."""
        performance = self._performance
        key = (performance.tonic, performance.minor)
        asked = (request.tonic, performance.minor if request.minor is None else request.minor)
        if request.tonic is not None and asked != key:
            yield Refused(request, "the practice room has keys of its own; `keys` says which")
            return
        if request.tempo not in (None, performance.tempo):
            yield Refused(request, "the practice room has a tempo of its own; `at 120` says which")
            return
        if request.intro:
            yield Refused(request, "one intro is practised here")
            return
        yield Ready(request.tune, True, performance)

    def hint(self, shown: Shown) -> str:
        """What the foot can do now."""
        hints = {State.READY: "press: begin", State.COUNTING_OFF: "press: cancel"}
        return next((hint for state, hint in hints.items() if shown.state == state), "")

    def lines(self) -> list[str]:
        """What a press and a hold do, for whoever asks."""
        return [
            f"press: {self._press}, while a pass plays and in its rest up to the last beat",
            "hold: stop; a press goes on: with the same pass, or from a rest with the next",
        ]

    # --- what the stand's page asks -----------------------------------------------------------------

    def told(self, shown: Shown) -> Shown:
        """What is shown in the words of an evening, but for the rest: a page knows no more of practice."""
        if shown.state == State.PRACTISING:
            return replace(shown, state=State.PLAYING.value, text=shown.text or self._text)
        if shown.state == State.RESTING and self._leads_in:
            return replace(shown, state=State.COUNTING_OFF.value)
        return replace(shown, text=shown.text or self._text) if shown.state == State.RESTING else shown

    def gestures(self, shown: Shown) -> dict[Gesture, str]:
        """See `hints.FootLanguage.gestures`; of what `told` gives."""
        if shown.state == State.READY:
            return {Gesture.PRESS: "begin"}
        if self._leads_in:
            return {Gesture.HOLD: "stop"}
        if shown.state == State.COUNTING_OFF:
            return {Gesture.PRESS: "cancel"}
        return {Gesture.PRESS: self._press, Gesture.HOLD: "stop"}

    def course(self, shown: Shown) -> list[str]:
        """See `hints.FootLanguage.course`."""
        return [self._room.sentence(self._one)] if shown.state == State.READY else []

    def arranged(self, _number: int, _key: str) -> Performance:
        """What has been arranged: the present pass, or the one that is counted in."""
        coming = self._take.performance if self._leads_in and self._take else None
        return coming or self._performance

    def tune(self, _number: int) -> Tune:
        """The present pass's tune, or that of the one that is counted in; the player knows one place only."""
        coming = self._take.following if self._leads_in and self._take else None
        return self._tunes[(coming or self._one).tune]

    # --- what the front is told ---------------------------------------------------------------------

    def show(self, shown: Shown, front: Player) -> None:
        """Takes in what is shown."""
        now = self._clock()
        anew = abs(self._match.shared(shown.ns) - now) > _ANOTHER_NS
        if anew:
            self._match.forget()
        self._match.hear(shown.ns, now)
        if shown.state == State.READY:  # a new player tells no state, but a key
            self._ready(None if anew else shown.ns, front)
            self._resting = self._leads_in = False
            return
        if shown.what == "mark":
            self._mark(shown, front)
        elif shown.what == "state":
            if shown.state == State.PRACTISING:
                self._begins(shown)
            elif shown.state == State.RESTING:
                self._lands(shown.ns, front)
            self._resting = shown.state == State.RESTING
            self._leads_in = False
        elif shown.what == "beat" and shown.state == State.RESTING:
            if not self._leads_in and self._take is not None:
                self._tell_what_came(self._take)
            self._leads_in = True

    def _begins(self, shown: Shown) -> None:
        take = self._take
        if take is not None and take.landed is not None:
            self._end()
            if take.following is not None and take.following.number == shown.number:
                self._go_on(take)
        ago = timedelta(microseconds=(self._clock() - self._match.shared(shown.ns)) // 1_000)
        self._take = _Take(self._one, shown.ns, self._wall() - ago)
        press = f" - press: {self._press}; hold: stop" if self._one.number == 1 else ""
        self._text = self._room.sentence(self._one)
        self._say(f"{self._one.number}: {self._text}{press}")

    def _lands(self, ns: int, front: Player) -> None:
        if self._take is None:
            return
        self._take.landed = ns
        self._decide(self._take, front)
        coming = self._one.coming
        self._text = coming.text if coming is not None else ""
        if self._text:
            self._say(f"  {self._text}")

    def _mark(self, shown: Shown, front: Player) -> None:
        take = self._take
        if take is None:
            return
        if take.landed is None:
            take.marks.append(shown.ns)
            self._say(f"  {self._press}")
        elif self._clock() < self._match.shared(self._decided_at(take)):
            take.marks.append(shown.ns)
            self._say(f"  {self._press}")
            self._decide(take, front)
        else:
            self._say(f"  too late for pass {take.one.number}")

    def _ready(self, ns: int | None, front: Player) -> None:
        """The foot has stopped it, or nothing followed. ns: when; None by the clock of another player."""
        take = self._take
        if take is None:
            return
        if take.landed is None:
            self._take = None
            self._say("stopped; press: the same again")
            return
        marked = len(take.marks)
        if ns is not None and ns < self._decided_at(take):  # the hold's own press says nothing
            take.marks = [mark for mark in take.marks if mark < ns - _HOLD_NS]
        taken_back = len(take.marks) < marked
        if taken_back:
            self._decide(take, front)
        over = take.following is None
        take.told = not over
        self._end()
        if over and self._resting:
            front.stop("the practice is over")
            return
        self._go_on(take)
        if ns is None and take.performance is not None:  # a new player has been given the pass before
            front.send(Following(take.performance, self._one.number))
        back = f', "{self._press}" taken back' if taken_back else ""
        self._say(f"stopped{back}; press: {self._room.sentence(self._one)}")

    def _go_on(self, take: _Take) -> None:
        """What was to follow is the present pass."""
        if take.room is not None and take.following is not None and take.performance is not None:
            self._room, self._one, self._performance = take.room, take.following, take.performance

    def _decide(self, take: _Take, front: Player) -> None:
        """Asks for what follows, as things stand, and passes it on."""
        take.room = self._room.twin()
        take.following = take.room.next(self._outcome(take))
        take.performance = None if take.following is None else self._made(take.following)
        front.send(Following(take.performance, take.one.number + 1))

    def _made(self, one: Pass) -> Performance:
        return replace(self._make(one), number=one.number)

    def _outcome(self, take: _Take) -> Outcome:
        pace = ns_per_tick(take.one.tempo)
        return Outcome(tuple(round((ns - take.downbeat) / pace) for ns in take.marks))

    def _decided_at(self, take: _Take) -> int:
        """Until when a press in the rest still counts, by the player's clock."""
        assert take.landed is not None
        beat = round(TICKS_PER_QUARTER * ns_per_tick(take.one.tempo))
        rest = round(self._performance.bar_ticks * take.one.rest * ns_per_tick(take.one.tempo))
        return take.landed + rest - beat - self._ahead() - _MARGIN_NS

    def _end(self) -> None:
        """The pass that has landed has ended for good."""
        take = self._take
        if take is None or take.landed is None or take.room is None:
            return
        self._take = None
        seconds = (take.landed - take.downbeat) / NS_PER_SECOND
        self._keep(Ended(take.one, take.began, seconds, self._room.clean(self._outcome(take))))
        self._tell_what_came(take)

    def _tell_what_came(self, take: _Take) -> None:
        """What came of a pass, once: in the lead-in of the next, where that has one."""
        said = "" if take.told or take.room is None else take.room.said()
        take.told = True
        if said:
            self._say(f"  {said}")

    def close(self) -> None:
        """The run ends: a pass that has landed counts."""
        self._end()
