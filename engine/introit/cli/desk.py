"""The front's brain: answers what the session wants. Knows no process, no port and no clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from introit.arrange.afresh import Comp, comp_of, written_afresh
from introit.arrange.arranger import handed_over, written
from introit.arrange.line_up import Stage
from introit.arrange.plan import suits
from introit.errors import IntroitError
from introit.library.model import Library, Tune
from introit.live.events import Ready, Refused, Request
from introit.performance import Performance
from introit.theory.key import Key, Mode, keys

ChannelOf = Callable[[int], tuple[int, int]]
"""Part number -> (port index, channel): parts that share one must not cut each other's notes."""


_SEEDS_A_TUNE = 1009
"""The first tune's first playing has the evening's own seed; a tune is hardly played oftener than this."""


class _Place(NamedTuple):
    """A tune of the set, with the content that it could be arranged from when it was last looked at."""

    tune: Tune
    library: Library

    def plays_as(self, other: _Place | None) -> bool:
        """Whether the other one would be arranged alike: the same tune from the same music."""
        return other is not None and self.tune == other.tune and same_music(self.library, other.library)


def same_music(one: Library, other: Library) -> bool:
    """Whether two libraries hold the same of all that a tune is arranged from."""
    return one is other or (one.intros, one.comping, one.bass, one.feels) == (
        other.intros,
        other.comping,
        other.bass,
        other.feels,
    )


class Desk:
    """Arranges the tunes of a set as they are wanted, and remembers what it arranged.

    A tune that comes up again is played afresh: harmony and motif stay, voicings and comping differ. Where
    the dice fall as they did the time before, they are thrown again.

    Args:
        tunes: of the set.
        library: all content.
        channel_of: where each part goes.
        stage_of: who plays a tune.
        seed: of the evening; the same one brings back the same playings, called in the same order.
    """

    def __init__(
        self,
        tunes: tuple[Tune, ...],
        library: Library,
        channel_of: ChannelOf,
        *,
        stage_of: Callable[[Tune], Stage] | None = None,
        seed: int = 0,
    ) -> None:
        self._places: list[_Place | None] = [_Place(tune, library) for tune in tunes]
        self._channel_of = channel_of
        self._stage_of = stage_of
        self._seed = seed
        self._arranged: dict[tuple[int, str], Performance] = {}
        self._playings: dict[tuple[int, str], int] = {}
        self._comps: dict[tuple[int, str], Comp] = {}

    def answer(self, request: Request) -> Iterator[Ready | Refused]:
        """What was wanted first; for a tune's own key then all other keys of both modes, nearest first.

        Lazy: each step arranges one key, so the caller can look after the screen in between.
        """
        place = self._places[request.tune]
        if place is None:
            yield Refused(request, "that tune has been taken out of the set")
            return
        wanted = self._key(place.tune, request)
        self._arranged.pop((request.tune, str(wanted)), None)  # asked for again, it is played afresh
        try:
            yield self._ready(request.tune, place, wanted)
        except IntroitError as error:
            yield Refused(request, str(error))
            return
        if request.tonic is None:
            yield from self._other_keys(request.tune, place, wanted)

    def take(
        self, tunes: Sequence[Tune | None], library: Library, *, say: Callable[[str], None]
    ) -> Iterator[Ready]:
        """Takes other tunes in the places of those it has; arranges anew what had been arranged and changed.

        Lazy, as `answer`. A tune that cannot be arranged is told, and the one in its place is kept.

        Args:
            tunes: as many as the set had; None for one that was taken out of it.
            library: all content.
            say: told why a tune is not taken.
        """
        for number, tune in enumerate(tunes):
            if tune is None:
                self._places[number] = None
                self._forget(number)
                continue
            place, before = _Place(tune, library), self._places[number]
            if place.plays_as(before):
                continue
            known = any(name[0] == number for name in self._arranged)
            if not known and before is not None and tune == before.tune:
                self._places[number] = place  # only what it is arranged from has changed, and it was not yet
                continue
            try:
                performance = self._arrange(number, place, tune.key)
            except IntroitError as error:
                say(f"{tune.title}: {error}; kept as it was")
                continue
            self._forget(number)
            self._places[number] = place
            self._arranged[number, str(tune.key)] = performance
            if known:  # the player may hold it in any key
                yield self._ready(number, place, tune.key)
                yield from self._other_keys(number, place, tune.key)

    def _forget(self, number: int) -> None:
        """Forgets what was arranged for a place."""
        for name in [name for name in self._arranged if name[0] == number]:
            del self._arranged[name]

    def _key(self, tune: Tune, request: Request) -> Key:
        if request.tonic is None:
            return tune.key
        mode = tune.key.mode if request.minor is None else (Mode.MINOR if request.minor else Mode.MAJOR)
        if mode is tune.key.mode and request.tonic == tune.key.tonic.pitch_class:
            return tune.key  # F# stays F# where the player wrote it so
        return Key.from_pitch_class(request.tonic, mode)

    def _other_keys(self, number: int, place: _Place, own: Key) -> Iterator[Ready]:
        other = Mode.MINOR if own.mode is Mode.MAJOR else Mode.MAJOR
        for mode in (own.mode, other):
            for key in keys(mode):
                if (key.tonic.pitch_class, mode) == (own.tonic.pitch_class, own.mode):
                    continue
                if self._places[number] is not place:
                    return  # another tune has taken its place meanwhile
                try:
                    yield self._ready(number, place, key)
                except IntroitError:
                    continue  # told when that key is asked for

    def _ready(self, number: int, place: _Place, key: Key) -> Ready:
        name = (number, str(key))
        if name not in self._arranged:
            self._arranged[name] = self._arrange(number, place, key)
        return Ready(tune=number, own=key == place.tune.key, performance=self._arranged[name])

    def _arrange(self, number: int, place: _Place, key: Key) -> Performance:
        name = (number, str(key))
        playing = self._playings.get(name, 0)
        self._playings[name] = playing + 1
        tune, library = self._playable(place, key), place.library
        stage = self._stage_of(place.tune) if self._stage_of else None
        score = written_afresh(
            lambda seed: written(tune, key, library, stage=stage, seed=seed),
            self._seed + number * _SEEDS_A_TUNE + playing,
            before=self._comps.get(name),
        )
        self._comps[name] = comp_of(score)
        return handed_over(score, library, channel_of=self._channel_of)

    def _playable(self, place: _Place, key: Key) -> Tune:
        """The tune with its own intro where that can be played in the key, else open to any that suits.

        A tune called in the other mode may have no form of its own intro there; a good partner plays another
        one rather than none.
        """
        tune = place.tune
        own = place.library.intros.get(tune.intro) if tune.intro else None
        if own is not None and suits(own, tune, key) is None:
            return tune
        return replace(tune, intro=None)
