"""The front's brain: answers what the session wants. Knows no process, no port and no clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from introit.arrange.arranger import ready
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


class Desk:
    """Arranges the tunes of a set as they are wanted, and remembers what it arranged.

    A tune that comes up again is played afresh: harmony and motif stay, voicings and comping differ.

    Args:
        tunes: of the set.
        library: all content.
        channel_of: where each part goes.
        stage_of: who plays a tune.
        seed: of the evening; the same one brings back the same playings.
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
        self._tunes = tunes
        self._library = library
        self._channel_of = channel_of
        self._stage_of = stage_of
        self._seed = seed
        self._arranged: dict[tuple[int, str], Performance] = {}
        self._playings: dict[tuple[int, str], int] = {}

    def answer(self, request: Request) -> Iterator[Ready | Refused]:
        """What was wanted first; for a tune's own key then all other keys of both modes, nearest first.

        Lazy: each step arranges one key, so the caller can look after the screen in between.
        """
        tune = self._tunes[request.tune]
        wanted = self._key(tune, request)
        self._arranged.pop((request.tune, str(wanted)), None)  # asked for again, it is played afresh
        try:
            yield self._ready(request.tune, wanted)
        except IntroitError as error:
            yield Refused(request, str(error))
            return
        if request.tonic is None:
            yield from self._other_keys(request.tune, wanted)

    def _key(self, tune: Tune, request: Request) -> Key:
        if request.tonic is None:
            return tune.key
        mode = tune.key.mode if request.minor is None else (Mode.MINOR if request.minor else Mode.MAJOR)
        if mode is tune.key.mode and request.tonic == tune.key.tonic.pitch_class:
            return tune.key  # F# stays F# where the player wrote it so
        return Key.from_pitch_class(request.tonic, mode)

    def _other_keys(self, number: int, own: Key) -> Iterator[Ready]:
        other = Mode.MINOR if own.mode is Mode.MAJOR else Mode.MAJOR
        for mode in (own.mode, other):
            for key in keys(mode):
                if (key.tonic.pitch_class, mode) == (own.tonic.pitch_class, own.mode):
                    continue
                try:
                    yield self._ready(number, key)
                except IntroitError:
                    continue  # told when that key is asked for

    def _ready(self, number: int, key: Key) -> Ready:
        tune = self._tunes[number]
        name = (number, str(key))
        if name not in self._arranged:
            playing = self._playings.get(name, 0)
            self._playings[name] = playing + 1
            self._arranged[name] = ready(
                self._playable(tune, key),
                key,
                self._library,
                channel_of=self._channel_of,
                stage=self._stage_of(tune) if self._stage_of else None,
                seed=self._seed + number * _SEEDS_A_TUNE + playing,
            )
        return Ready(tune=number, own=key == tune.key, performance=self._arranged[name])

    def _playable(self, tune: Tune, key: Key) -> Tune:
        """The tune with its own intro where that can be played in the key, else open to any that suits.

        A tune called in the other mode may have no form of its own intro there; a good partner plays another
        one rather than none.
        """
        own = self._library.intros.get(tune.intro) if tune.intro else None
        if own is not None and suits(own, tune, key) is None:
            return tune
        return replace(tune, intro=None)
