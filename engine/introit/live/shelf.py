"""The shelf: performances that have been arranged, so that a key note costs a look-up."""

from __future__ import annotations

from collections.abc import Collection

from introit.live.events import Ready, Request
from introit.performance import Performance


class Shelf:
    """Performances by tune, tonic and mode. Pure."""

    def __init__(self) -> None:
        self._by_key: dict[tuple[int, int, bool], Performance] = {}
        self._own: dict[int, tuple[int, bool]] = {}

    def put(self, ready: Ready) -> None:
        """Keeps a performance; a newer one of the same tune and key replaces it."""
        performance = ready.performance
        self._by_key[ready.tune, performance.tonic, performance.minor] = performance
        if ready.own:
            self._own[ready.tune] = (performance.tonic, performance.minor)

    def find(self, request: Request) -> Performance | None:
        """The performance that answers a request, if it is there.

        Without a tonic it is the tune's own key; without a mode, the tune's own mode (either, while that is
        unknown).
        """
        own = self._own.get(request.tune)
        if request.tonic is None:
            return None if own is None else self._by_key.get((request.tune, *own))
        if request.minor is not None:
            modes: tuple[bool, ...] = (request.minor,)
        else:
            modes = (False, True) if own is None else (own[1],)
        found = (self._by_key.get((request.tune, request.tonic, minor)) for minor in modes)
        return next((performance for performance in found if performance is not None), None)

    def keep(self, tunes: Collection[int]) -> None:
        """Lets go of every tune but these."""
        self._by_key = {key: value for key, value in self._by_key.items() if key[0] in tunes}
        self._own = {tune: key for tune, key in self._own.items() if tune in tunes}
