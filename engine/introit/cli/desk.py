"""The front's brain: answers what the session wants. Knows no process, no port and no clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from introit.arrange.arranger import ready
from introit.arrange.plan import suits
from introit.errors import IntroitError
from introit.library.model import Intro, Library, Tune
from introit.live.events import Ready, Refused, Request
from introit.performance import Performance
from introit.theory.key import Key, Mode, keys
from introit.theory.numeral import Numeral

ChannelOf = Callable[[int], tuple[int, int]]
"""Part number -> (port index, channel): parts that share one must not cut each other's notes."""


def intro_for(tune: Tune, key: Key, library: Library) -> Intro:
    """The intro to play for a tune in a key: the tune's own where it suits, else the first that does.

    A tune called in the other mode may have no form of its own intro there; a good partner plays another
    one rather than none.

    Raises:
        IntroitError: when none suits, naming why the tune's own (or the last one tried) does not.
    """
    own = library.intros.get(tune.intro) if tune.intro else None
    candidates = ([own] if own else []) + [intro for intro in library.intros.values() if intro is not own]
    reasons = []
    for intro in candidates:
        reason = suits(intro, tune, key)
        if reason is None:
            return intro
        reasons.append(f"{intro.id}: {reason}")
    first = reasons[0] if reasons else "the library holds no intro"
    raise IntroitError(f"no intro suits {tune.title!r} in {key} ({first})")


class Desk:
    """Arranges the tunes of a set as they are wanted, and remembers what it arranged."""

    def __init__(self, tunes: tuple[Tune, ...], library: Library, channel_of: ChannelOf) -> None:
        self._tunes = tunes
        self._library = library
        self._channel_of = channel_of
        self._arranged: dict[tuple[int, str], Performance] = {}

    def answer(self, request: Request) -> Iterator[Ready | Refused]:
        """What was wanted first; for a tune's own key then all other keys of both modes, nearest first.

        Lazy: each step arranges one key, so the caller can look after the screen in between.
        """
        tune = self._tunes[request.tune]
        wanted = self._key(tune, request)
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
            called = replace(tune, key=key, first_chord=first_chord_in(key.mode, tune))
            intro = intro_for(called, key, self._library)
            self._arranged[name] = ready(
                called, key, self._library, intro=intro, channel_of=self._channel_of
            )
        return Ready(tune=number, own=key == tune.key, performance=self._arranged[name])


_FIRST_CHORDS = (("I", "i"), ("ii", "iiø"), ("IV", "iv"), ("vi", "bVI"), ("iii", "bIII"))
"""First chords of a head in major, and what stands there when the same tune is called in minor (common practice)."""


def first_chord_in(mode: Mode, tune: Tune) -> Numeral:
    """The first chord of a tune's head when it is played in `mode`, which may not be the tune's own."""
    if mode is tune.key.mode:
        return tune.first_chord
    written = tune.first_chord
    for pair in _FIRST_CHORDS:
        here, there = (pair[0], pair[1]) if mode is Mode.MINOR else (pair[1], pair[0])
        numeral = Numeral.from_text(here)
        if (numeral.degree, numeral.alter) == (written.degree, written.alter):
            return Numeral.from_text(there)
    return Numeral.from_text("i" if mode is Mode.MINOR else "I")
