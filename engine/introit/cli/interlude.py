"""A practice within an evening, begun and ended from the page on the stand: who decides what is played."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any, Protocol

from introit.cli.practising import Practising
from introit.errors import IntroitError, NotationError, UsageError
from introit.library.model import Tune
from introit.live.events import (
    Following,
    FrontEvent,
    Ordered,
    Ready,
    Refused,
    Reordered,
    Request,
    Shown,
)
from introit.live.states import Gesture, Order, State
from introit.performance import Performance
from introit.theory.key import Key

Begin = Callable[[Sequence[Tune], str], tuple[Practising, Callable[[], None]]]
"""The tunes and how, in words -> the practice room at work, and what is to be done when it is over."""
_MEMBERS = {"how", "set"}


class Answers(Protocol):
    """The desk: arranges what is wanted, and knows what has been."""

    def answer(self, request: Request, *, afresh: bool = False) -> Iterator[Ready | Refused]:
        """See `Desk.answer`."""

    def arranged(self, number: int, key: str) -> Performance | None:
        """See `Desk.arranged`."""

    def tune(self, number: int) -> Tune | None:
        """See `Desk.tune`."""


class Foot(Protocol):
    """What the foot does in an evening; see `hints.FootLanguage`."""

    def now(self, shown: Shown) -> str:
        """In a few words, while something is shown."""

    def gestures(self, shown: Shown) -> dict[Gesture, str]:
        """What the gestures do."""

    def course(self, shown: Shown) -> list[str]:
        """What will be led by foot."""


class Player(Protocol):
    """The front, as it is needed here."""

    def send(self, event: FrontEvent) -> None:
        """Passes something on to the player."""

    def renew(self, answers: Iterator[Ready | Refused | Reordered]) -> None:
        """Sends these on, one at a time."""


class Interlude:
    """Stands where the desk does, and gives its place to a practice room while one is on.

    A practice begins while the player is ready, with the tune that is; a stop leaves it on, as ever, and
    whoever began it ends it: then the same tune is ready as it was. It ends too when another tune is called.

    Args:
        desk: decides otherwise.
        foot: what the foot does otherwise.
        begin: makes the room.
        tunes: of the set, in playing order.
        say: writes a line.
    """

    untold = (State.PRACTISING, State.RESTING)

    def __init__(
        self,
        desk: Answers,
        foot: Foot,
        *,
        begin: Begin,
        tunes: Callable[[], Sequence[Tune]],
        say: Callable[[str], None],
    ) -> None:
        self._desk = desk
        self._foot = foot
        self._begin = begin
        self._tunes = tunes
        self._say = say
        self._room: Practising | None = None
        self._close: Callable[[], None] = _nothing
        self._shown: Shown | None = None
        self._from = Request(0)
        self._leaving = False

    @property
    def on(self) -> bool:
        """Whether a practice is."""
        return self._room is not None

    # --- in the desk's and the foot's place ---------------------------------------------------------

    def answer(self, request: Request, *, afresh: bool = False) -> Iterator[Ready | Refused]:
        """The present pass for the tune that is practised; all else is the desk's."""
        mine = self._room is not None and request.tune == self._from.tune
        return (self._room if self._room and mine else self._desk).answer(request, afresh=afresh)

    def arranged(self, number: int, key: str) -> Performance | None:
        """See `stand_teller.Arranged`."""
        return self._who(number).arranged(number, key)

    def tune(self, number: int) -> Tune | None:
        """See `stand_teller.Arranged`."""
        return self._who(number).tune(number)

    def hint(self, shown: Shown) -> str:
        """What the foot can do now, in a few words."""
        return self._room.hint(shown) if self._room else self._foot.now(shown)

    def gestures(self, shown: Shown) -> dict[Gesture, str]:
        """See `stand_teller.FootWords`."""
        return (self._room or self._foot).gestures(shown)

    def course(self, shown: Shown) -> list[str]:
        """See `stand_teller.FootWords`."""
        return (self._room or self._foot).course(shown)

    def told(self, shown: Shown) -> Shown:
        """What is shown as a page has it."""
        return self._room.told(shown) if self._room else shown

    def lines(self) -> list[str] | None:
        """What a press and a hold do, while a practice is on; None else."""
        return self._room.lines() if self._room else None

    def _who(self, number: int) -> Answers:
        return self._room if self._room is not None and number == self._from.tune else self._desk

    # --- what is asked for --------------------------------------------------------------------------

    def do(self, told: Mapping[str, Any], front: Player) -> dict[str, Any]:
        """Begins or ends a practice; returns the answer, which never raises.

        Args:
            told: `{"edit": {"practise": {"how": words, "set": whether all its tunes}}}`; with
                `{"practise": false}` it ends.
            front: passes on to the player.
        """
        try:
            self._do(told["edit"]["practise"], front)
        except NotationError as error:
            return {"ok": False, "stale": False, "error": f"{error.reason[:1].upper()}{error.reason[1:]}"}
        except IntroitError as error:
            return {"ok": False, "stale": False, "error": f"{str(error)[:1].upper()}{str(error)[1:]}"}
        return {"ok": True}

    def _do(self, asked: object, front: Player) -> None:
        if asked is False:
            self._end(front)
            return
        if not isinstance(asked, Mapping) or not set(asked) <= _MEMBERS:
            raise UsageError("a practice has 'how', in words, and 'set', true or false")
        how, whole = asked.get("how", ""), asked.get("set", False)
        if not isinstance(how, str) or not isinstance(whole, bool):
            raise UsageError("'how' is a text and 'set' true or false")
        shown = self._shown
        if self._room is not None:
            raise UsageError("a practice is on already; go back to the set first")
        if shown is None or shown.state != State.READY or not shown.key:
            now = shown.state if shown else "not ready yet"
            raise UsageError(f"a practice begins from 'ready'; now it is: {now}")
        tunes = list(self._tunes()) if whole else [self._ready_tune(shown)]
        self._room, self._close = self._begin(tunes, how)
        self._from, self._leaving = Request(shown.tune, shown.tonic, shown.minor), False
        front.send(Following(self._room.arranged(0, ""), 1))
        what = "the set" if whole else f"“{shown.title}”"
        self._say(f"stand page: practice of {what}: {how.strip() or 'loop'}")
        for line in self._room.lines():
            self._say(f"  {line}")

    def _ready_tune(self, shown: Shown) -> Tune:
        """The tune as it is ready: in the key, at the tempo and with the intro that were called."""
        tune = self._desk.tune(shown.tune)
        if tune is None:
            raise UsageError("that tune is not in the set any more")
        with suppress(NotationError):
            tune = replace(tune, key=Key.from_text(shown.key))
        return replace(tune, tempo=shown.tempo or tune.tempo, intro=shown.intro or tune.intro)

    def _end(self, front: Player) -> None:
        if self._room is None:
            raise UsageError("no practice is on")
        if self._shown is not None and self._shown.state == State.READY:
            self._leave(front)
        else:
            self._leaving = True
            front.send(Ordered(str(Order.SILENCE)))

    # --- what the front is told ---------------------------------------------------------------------

    def show(self, shown: Shown, front: Player) -> None:
        """Takes in what is shown."""
        if shown.key:
            self._shown = shown
        elif self._shown is not None:  # of a port, and of no tune
            self._shown = replace(self._shown, state=shown.state)
        room = self._room
        if room is None:
            return
        if shown.state == State.READY and shown.key and shown.tune != self._from.tune:
            self._leave(front, there=False)
            return
        room.show(shown, _Within(self, front))
        if self._leaving and shown.state == State.READY:
            self._leave(front)

    def _leave(self, front: Player, *, there: bool = True) -> None:
        """The practice is over. there: whether its tune is still what is called."""
        self.close()
        number = self._from.tune
        if there:
            first = next(self._desk.answer(self._from))
            if isinstance(first, Ready):
                front.send(Following(first.performance, 0))
            front.send(first)
        front.renew(self._desk.answer(Request(number)))  # whatever of the practice the player still holds
        self._say("stand page: the practice is over, and the set goes on")

    def close(self) -> None:
        """A pass that has landed counts; the log is closed."""
        room, self._room, self._leaving = self._room, None, False
        if room is not None:
            room.close()
            self._close()
            self._close = _nothing


class _Within:
    """The front as a practice room meets it: what ends the practice ends no evening."""

    def __init__(self, interlude: Interlude, front: Player) -> None:
        self._interlude = interlude
        self._front = front

    def send(self, event: FrontEvent) -> None:
        """Passes something on to the player."""
        self._front.send(event)

    def stop(self, _reason: str) -> None:
        """The last pass has been played."""
        self._interlude._leaving = True


def _nothing() -> None:
    """Nothing is to be closed."""
