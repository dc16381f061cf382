"""What the player has called for, and what of it is ready to be played."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from introit.live.events import Ready, Refused, Request, Wanted
from introit.live.running_order import RunningOrder
from introit.live.shelf import Shelf
from introit.performance import Performance


class Choice:
    """The tune and key that are called for; the performance that answers, once there is one. Pure.

    What is called for and not there is asked for in `asked`, which whoever holds the choice passes on. Until
    it comes, or is refused, what was ready before stays so.

    Attributes:
        ready: what a start would play; None before the first.
        intro: which of the tune's intros that is, as in `Request`.
        called: what `ready` answers.
        awaited: what has been asked for in its place; None when nothing has.
        asked: to be passed on and emptied.
    """

    def __init__(self, first: Request, tunes: int) -> None:
        """Calls for the first.

        Args:
            first: what is called for.
            tunes: how many the set has.
        """
        self.ready: Performance | None = None
        self.intro = 0
        self.called = first
        self.awaited: Request | None = None
        self.asked: list[Wanted] = []
        self._order = RunningOrder(tunes)
        self._step = 1
        self._shelf = Shelf()
        self._refused: set[int] = set()
        self.call(first)

    @property
    def tune(self) -> int:
        """Index of the tune that is ready or playing."""
        return self.called.tune

    @property
    def latest(self) -> Request:
        """What was called for last."""
        return self.called if self.awaited is None else self.awaited

    @property
    def following(self) -> int:
        """Index of the tune that comes next in the set."""
        return self._order.at(self._order.after(self.tune))

    @property
    def next_position(self) -> int:
        """Where in the set what follows the latest tune stands, from 0; their number behind the last."""
        return self._order.after(self.latest.tune)

    @property
    def previous_position(self) -> int:
        """Where in the set what comes before the latest tune stands; -1 before the first."""
        return self._order.before(self.latest.tune)

    def call(self, request: Request) -> bool:
        """Calls for something; True when it is ready at once."""
        found = self._shelf.find(request)
        if found is None:
            self.awaited = request
            self.asked.append(Wanted(request))
            return False
        self._take(found, request)
        return True

    def in_key(self, tonic: int, minor: bool | None) -> Request:
        """What is called for last, in another key."""
        return replace(self.latest, tonic=tonic, minor=minor)

    def at_tempo(self, tempo: float) -> Request:
        """What is called for last, at another tempo."""
        return replace(self.latest, tempo=tempo)

    def in_another_intro(self) -> Request:
        """What is called for last, with the next of the tune's intros."""
        latest = self.latest
        before = self.intro if latest.intro is None or self.awaited is None else latest.intro
        return replace(latest, intro=before + 1)

    def ask_afresh(self, played: Performance, *, tempo: float | None = None) -> None:
        """Asks for what was played, to be played afresh, and for the next tune where it is not there.

        Args:
            played: what was played.
            tempo: the tempo that it came to have; None for the one that it began with.
        """
        self.asked.append(Wanted(Request(self.tune, played.tonic, played.minor, tempo), afresh=True))
        if self._shelf.find(Request(self.following)) is None:
            self.asked.append(Wanted(Request(self.following)))

    def ask_again(self) -> None:
        """Asks again for what is awaited, or for the tune's own key."""
        self.awaited = self.awaited or Request(self.tune)
        self.asked.append(Wanted(self.awaited))

    def hear(self, event: Ready, *, playing: bool) -> bool:
        """Something has been arranged; True when it is what was awaited, and is ready now."""
        self._shelf.put(event)
        self._refused.discard(event.tune)
        if self.awaited is None:
            if not playing:
                self.renew()
            return False
        found = self._shelf.find(self.awaited)
        if found is None:
            return False
        self._take(found, self.awaited)
        return True

    def renew(self) -> None:
        """What is ready, in the newest arrangement of the same tune and key."""
        if self.ready is not None:
            request = Request(self.tune, self.ready.tonic, self.ready.minor)
            found = self._shelf.find(request)
            if found is not None:
                if found.intro != self.intro:
                    self.called = replace(self.called, intro=found.intro)
                if found.performance.tempo != self.ready.tempo:
                    self.called = replace(self.called, tempo=found.performance.tempo)
                self.ready, self.intro = found.performance, found.intro

    def refuse(self, event: Refused) -> Request | None:
        """What was awaited cannot be arranged.

        Returns:
            What is to be called in its place; None to keep what was ready.
        """
        self.awaited = None
        request = event.request
        if (request.tonic, request.tempo, request.intro) != (None, None, None):
            # The key of a life before: the tune matters more.
            return None if self.ready is not None else Request(event.request.tune)
        self._refused.add(event.request.tune)
        later = self._order.others(event.request.tune, self._step)
        following = next((tune for tune in later if tune not in self._refused), None)
        if following is None:
            self._refused.clear()
        elif self.ready is None or following != self.tune:
            return Request(following)
        return None

    def follow(self, performance: Performance) -> None:
        """Something begins by itself: it is what is called for, and ready, in the place of what there was."""
        self.awaited, self.ready = None, performance
        self.called = replace(self.called, tonic=performance.tonic, minor=performance.minor, tempo=None)
        self._shelf.put(Ready(self.tune, True, performance, self.intro))

    def put_back(self, playing: Performance) -> None:
        """What plays stays as it is; what was called for in its place is forgotten."""
        self.awaited, self.ready = None, playing
        self.called = replace(self.called, tonic=playing.tonic, minor=playing.minor)

    def turn_to(self, position: int) -> Request:
        """Makes a tune of the set what is called for: ready where it is there already, else awaited.

        Args:
            position: where in the set it stands; behind the last comes the first, before the first the last.

        Returns:
            What is to be called.
        """
        # Whatever is refused on the way is passed over.
        self._step = -1 if position <= self.previous_position else 1
        wanted = Request(self._order.at(position))
        if (found := self._shelf.find(wanted)) is not None:
            self.ready, self.intro, self.called = found.performance, found.intro, wanted
        else:  # so that what was ready before is no longer shown as what a press would start
            self.awaited = wanted
        return wanted

    @property
    def tunes(self) -> int:
        """How many tunes the set has."""
        return len(self._order)

    def reorder(self, order: Sequence[int]) -> None:
        """The set is played in another order; what is ready or plays stays so, even where it was taken out.

        Args:
            order: tunes by their index.
        """
        self._order.change(order)
        self._refused.clear()

    def _take(self, found: Ready, request: Request) -> None:
        self.awaited = None
        self.ready, self.intro, self.called = found.performance, found.intro, request
        self._shelf.keep({self.tune, self.following})
