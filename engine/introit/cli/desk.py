"""The front's brain: answers what the session wants. Knows no process, no port and no clock."""

from __future__ import annotations

import contextlib
import itertools
import struct
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from introit.arrange.afresh import Comp, comp_of, written_afresh
from introit.arrange.arranger import handed_over, written
from introit.arrange.line_up import Stage
from introit.arrange.score import Score
from introit.cli.entry import Entry
from introit.errors import IntroitError
from introit.library.model import Library, Tune
from introit.live.events import Ready, Refused, Request
from introit.performance import Performance
from introit.theory.key import Key, Mode, keys

ChannelOf = Callable[[int], tuple[int, int]]
"""Part number -> (port index, channel): parts that share one must not cut each other's notes."""

Behind = Callable[[Performance, Tune, Key, Library, Stage | None, int], Performance]
"""An intro, its tune, the key, content, who plays, the playing's seed -> the same with the tune behind."""

_SEEDS_A_TUNE = 1009
"""The first tune's first playing has the evening's own seed; a tune is hardly played oftener than this."""


KEPT_TUNES = 4
"""Of so many tunes, those asked for last, what was arranged is kept: two dozen keys of one take 0.3 MB."""
_COMP_NOTE = struct.Struct("<iB")


def _packed(comp: Comp) -> bytes:
    """A comp in a fiftieth of the room: every tune of the evening leaves two dozen."""
    return b"".join(_COMP_NOTE.pack(tick, pitch) for tick, pitch in comp)


def _unpacked(data: bytes | None) -> Comp | None:
    return None if data is None else tuple(_COMP_NOTE.iter_unpack(data))


class Desk:
    """Arranges the tunes of a set as they are wanted, and remembers what it arranged.

    A tune that comes up again is played afresh: harmony and motif stay, voicings and comping differ. Where
    the dice fall as they did the time before, they are thrown again.

    Args:
        tunes: of the set.
        library: all content.
        channel_of: where each part goes.
        stage_of: who plays a tune.
        on_score: told of each score, with the tune's index and the key's name, as it is arranged.
        behind: puts the tune behind its intro, as `after_intro.followed` does; None for intros alone.
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
        on_score: Callable[[int, str, Score], None] | None = None,
        behind: Behind | None = None,
    ) -> None:
        self._channel_of = channel_of
        self._behind = behind
        self._on_score = on_score
        self._stage_of = stage_of
        self._entries: list[Entry | None] = [Entry.of(tune, library, self._line_up(tune)) for tune in tunes]
        self._seed = seed
        self._arranged: dict[tuple[int, str], Performance] = {}
        self._recent: list[int] = []
        self._handed: set[int] = set()
        self._playings: dict[tuple[int, str], int] = {}
        self._comps: dict[tuple[int, str], bytes] = {}
        self._begun: tuple[Request, Iterator[Ready | Refused]] | None = None

    def begin(self, request: Request) -> None:
        """Arranges what will be wanted first, while nobody waits for it yet."""
        answers = self._answer(request, afresh=False)
        self._begun = request, itertools.chain([next(answers)], answers)

    def answer(self, request: Request, *, afresh: bool = False) -> Iterator[Ready | Refused]:
        """What was wanted first; for a tune's own key then all other keys of both modes.

        A tempo or an intro that is wanted is that of the tune from now on, in every key; so then, too, the
        other keys follow. Lazy: each step arranges one key, so the caller can look after the screen.

        Args:
            request: what is wanted.
            afresh: as in `Wanted`.
        """
        begun, self._begun = self._begun, None
        if begun is not None and begun[0] == request and not afresh:
            return begun[1]
        return self._answer(request, afresh=afresh)

    def _answer(self, request: Request, *, afresh: bool) -> Iterator[Ready | Refused]:
        number = request.tune
        before = self._entries[number] if 0 <= number < len(self._entries) else None
        if before is None:
            yield Refused(request, "that tune has been taken out of the set")
            return
        key = before.key(request)
        try:
            entry = before.asked(request, afresh=afresh)
            performance = self._arrange(number, entry, key)  # asked for again, it is played afresh
        except IntroitError as error:
            yield Refused(request, str(error))
            return
        if entry is not before:
            self._forget(number)
            self._entries[number] = entry
        self._recent = [*(one for one in self._recent if one != number), number][-KEPT_TUNES:]
        for name in [name for name in self._arranged if name[0] not in self._recent]:
            del self._arranged[name]
        yield self._handed_over(number, entry, key, performance)
        if request.tonic is None or entry is not before:
            yield from self._other_keys(number, entry, key)

    def take(
        self, tunes: Sequence[Tune | None], library: Library, *, say: Callable[[str], None]
    ) -> Iterator[Ready]:
        """Takes other tunes in the places of those it has; arranges anew what had been arranged and changed.

        Lazy, as `answer`; but how many there are is known with the first step. A tune that cannot be arranged
        is told, and the one in its place is kept.

        Args:
            tunes: of the set; None for one that was taken out of it.
            library: all content.
            say: told why a tune is not taken.
        """
        self._begun = None
        self._entries += [None] * (len(tunes) - len(self._entries))
        for number, tune in enumerate([*tunes, *[None] * (len(self._entries) - len(tunes))]):
            before = self._entries[number]
            if tune is None:
                self._entries[number] = None
                self._forget(number)
                continue
            line_up = self._line_up(tune)
            entry = before.saved(tune, library, line_up) if before else Entry.of(tune, library, line_up)
            if entry.plays_as(before):
                continue
            known = number in self._handed
            if not known and before is not None and tune == before.tune:
                self._entries[number] = entry  # only what it is arranged from has changed, and it was not yet
                continue
            try:
                performance = self._arrange(number, entry, tune.key)
            except IntroitError as error:
                say(f"{tune.title}: {error}{'; kept as it was' if before else ''}")
                self._entries[number] = before or entry  # which then says so itself when it is wanted
                continue
            self._forget(number)
            self._entries[number] = entry
            answer = self._handed_over(number, entry, tune.key, performance)
            if known:  # the player may hold it in any key
                yield answer
                yield from self._other_keys(number, entry, tune.key)

    def arranged(self, number: int, key: str) -> Performance | None:
        """What has been arranged of a tune, by the key's name; None where that has not been yet."""
        return self._arranged.get((number, key))

    def tune(self, number: int) -> Tune | None:
        """A tune by its index, as its file says it; None where it was taken out of the set."""
        entry = self._entries[number] if 0 <= number < len(self._entries) else None
        return None if entry is None else entry.tune

    def _forget(self, number: int) -> None:
        """Forgets what was arranged for an entry."""
        self._handed.discard(number)
        for name in [name for name in self._arranged if name[0] == number]:
            del self._arranged[name]

    def _handed_over(self, number: int, entry: Entry, key: Key, performance: Performance) -> Ready:
        """The answer; what was arranged of the last few tunes is remembered: the player holds no more."""
        self._handed.add(number)
        if number in self._recent:
            self._arranged[number, str(key)] = performance
        return Ready(number, key == entry.tune.key, performance, entry.number)

    def _other_keys(self, number: int, entry: Entry, but: Key) -> Iterator[Ready]:
        """Every key but one: the tune's own, then those of its mode, then those of the other."""
        own = entry.tune.key
        other = Mode.MINOR if own.mode is Mode.MAJOR else Mode.MAJOR
        told = {(but.tonic.pitch_class, but.mode)}
        for key in (own, *keys(own.mode), *keys(other)):
            if (key.tonic.pitch_class, key.mode) in told:
                continue
            told.add((key.tonic.pitch_class, key.mode))
            if self._entries[number] is not entry:
                return  # another tune has taken its place meanwhile, or it is wanted in another way
            with contextlib.suppress(IntroitError):  # told when that key is asked for
                yield self._ready(number, entry, key)

    def _ready(self, number: int, entry: Entry, key: Key) -> Ready:
        name = (number, str(key))
        performance = self._arranged.get(name) or self._arrange(number, entry, key)
        return self._handed_over(number, entry, key, performance)

    def _arrange(self, number: int, entry: Entry, key: Key) -> Performance:
        name = (number, str(key))
        playing = self._playings.get(name, 0)
        self._playings[name] = playing + 1
        tune, library = entry.playable(key), entry.library
        stage = self._stage_of(entry.tune) if self._stage_of else None
        score = written_afresh(
            lambda seed: written(tune, key, library, stage=stage, seed=seed),
            self._seed + number * _SEEDS_A_TUNE + playing,
            before=_unpacked(self._comps.get(name)),
        )
        self._comps[name] = _packed(comp_of(score))
        if self._on_score is not None:
            self._on_score(number, str(key), score)
        performance = handed_over(score, library, channel_of=self._channel_of)
        if self._behind is not None:
            performance = self._behind(performance, tune, key, library, stage, self._seed + playing)
        return replace(performance, sounds=entry.sounds)

    def _line_up(self, tune: Tune) -> str | None:
        return self._stage_of(tune).line_up if self._stage_of else tune.line_up
