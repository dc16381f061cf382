"""The shelf: performances that have been arranged, so that a key note costs a look-up."""

from __future__ import annotations

from collections.abc import Collection

from introit.live.events import Ready, Request


class Shelf:
    """Performances by tune, tonic and mode. Pure."""

    def __init__(self) -> None:
        self._by_key: dict[tuple[int, int, bool], Ready] = {}
        self._own: dict[int, tuple[int, bool]] = {}

    def put(self, ready: Ready) -> None:
        """Keeps a performance; a newer one of the same tune and key replaces it."""
        performance = ready.performance
        self._by_key[ready.tune, performance.tonic, performance.minor] = ready
        if ready.own:
            self._own[ready.tune] = (performance.tonic, performance.minor)

    def find(self, request: Request) -> Ready | None:
        """What answers a request, if it is there.

        Without a tonic it is the tune's own key; without a mode, the tune's own mode (either, while that is
        unknown); without a tempo or an intro, whatever came last.
        """
        own = self._own.get(request.tune)
        places = [] if own is None else [own]
        if request.tonic is not None:
            modes = (False, True) if own is None else (own[1],)
            wanted = modes if request.minor is None else (request.minor,)
            places = [(request.tonic, minor) for minor in wanted]
        found = (self._by_key.get((request.tune, *place)) for place in places)
        return next((ready for ready in found if ready is not None and _answers(ready, request)), None)

    def keep(self, tunes: Collection[int]) -> None:
        """Lets go of every tune but these."""
        self._by_key = {key: value for key, value in self._by_key.items() if key[0] in tunes}
        self._own = {tune: key for tune, key in self._own.items() if tune in tunes}


def _answers(ready: Ready, request: Request) -> bool:
    """Whether tempo and intro are those that are wanted, if any are."""
    return request.tempo in (None, ready.performance.tempo) and request.intro in (None, ready.intro)
