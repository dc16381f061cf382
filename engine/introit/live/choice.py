"""What the player has called for, and what of it is ready to be played."""

from __future__ import annotations

from introit.live.events import Ready, Refused, Request, Wanted
from introit.live.shelf import Shelf
from introit.performance import Performance


class Choice:
    """The tune and key that are called for; the performance that answers, once there is one. Pure.

    What is called for and not there is asked for in `asked`, which whoever holds the choice passes on. Until
    it comes, or is refused, what was ready before stays so.

    Attributes:
        ready: what a start would play; None before the first.
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
        self.called = first
        self.awaited: Request | None = None
        self.asked: list[Wanted] = []
        self._tunes = max(1, tunes)
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
        return (self.tune + 1) % self._tunes

    def call(self, request: Request) -> bool:
        """Calls for something; True when it is ready at once."""
        found = self._shelf.find(request)
        if found is None:
            self.awaited = request
            self.asked.append(Wanted(request))
            return False
        self._take(found, request)
        return True

    def ask_afresh(self, played: Performance) -> None:
        """Asks for what was played, to be played afresh, and for the next tune where it is not there."""
        self.asked.append(Wanted(Request(self.tune, played.tonic, played.minor)))
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
            self.ready = self._shelf.find(request) or self.ready

    def refuse(self, event: Refused) -> Request | None:
        """What was awaited cannot be arranged.

        Returns:
            What is to be called in its place; None to keep what was ready.
        """
        self.awaited = None
        if event.request.tonic is not None:
            # The key of a life before: the tune matters more.
            return None if self.ready is not None else Request(event.request.tune)
        self._refused.add(event.request.tune)
        later = ((event.request.tune + step) % self._tunes for step in range(1, self._tunes))
        following = next((tune for tune in later if tune not in self._refused), None)
        if following is None:
            self._refused.clear()
        elif self.ready is None or following != self.tune:
            return Request(following)
        return None

    def turn_to_next(self) -> tuple[Request, bool]:
        """Makes the next tune what is called for, and ready where it is there already.

        Returns:
            What is to be called, and whether the set begins again with it.
        """
        last, following = self.tune, Request(self.following)
        if (found := self._shelf.find(following)) is not None:
            self.ready, self.called = found, following
        return following, following.tune <= last

    def _take(self, performance: Performance, request: Request) -> None:
        self.awaited = None
        self.ready, self.called = performance, request
        self._shelf.keep({self.tune, self.following})
