"""What the stand's page is told: what is shown, the tunes and their chords as one whole snapshot. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Protocol

from introit.arrange.form import first_chord
from introit.cli.clock_match import ClockMatch
from introit.library.model import Tune
from introit.live.events import Shown
from introit.live.states import Gesture, State
from introit.performance import ChordMark, Performance
from introit.stand.snapshot import Chord, NextChord, Snapshot
from introit.theory.chord import chord_of
from introit.theory.key import Key
from introit.units import TICKS_PER_QUARTER

_GOING = frozenset(state.value for state in State) - {State.READY.value, State.IN_THE_TUNE.value}


class Arranged(Protocol):
    """Whoever knows the tunes and what has been arranged of them."""

    def arranged(self, number: int, key: str) -> Performance | None:
        """What has been arranged of a tune in a key."""

    def tune(self, number: int) -> Tune | None:
        """A tune by its index."""


class FootWords(Protocol):
    """Whoever says what the foot does; see `hints.FootLanguage`."""

    def gestures(self, shown: Shown) -> dict[Gesture, str]:
        """What the gestures that do something do in the state that is shown."""

    def course(self, shown: Shown) -> list[str]:
        """While ready: what will be led by foot, a phrase each."""


class Teller:
    """Makes snapshots.

    Args:
        foot: says what the foot does now.
        desk: knows the tunes.
        order: gives the order in which the tunes are played, by their index.
        intro_name: gives an intro's name by its id.
        latency: gives how many nanoseconds after it is due a note is heard.
    """

    def __init__(
        self,
        foot: FootWords,
        desk: Arranged,
        *,
        order: Callable[[], Sequence[int]],
        intro_name: Callable[[str], str],
        latency: Callable[[], int] = lambda: 0,
    ) -> None:
        self._foot = foot
        self._desk = desk
        self._order = order
        self._intro_name = intro_name
        self._latency = latency
        self._clock = ClockMatch()
        self._number = 0
        self._beat: Shown | None = None

    def forget_clock(self) -> None:
        """Another player is there, whose clock is another one."""
        self._clock.forget()

    def tell(self, shown: Shown, now: int) -> Snapshot:
        """The snapshot of what is shown.

        Args:
            shown: by the player.
            now: when it arrived, by the machine's monotonic clock.
        """
        self._clock.hear(shown.ns, now)
        self._number += 1
        if shown.what == "beat" or shown.state not in _GOING:
            self._beat = shown
        elif self._beat is not None and self._beat.state in _GOING and self._beat.tune == shown.tune:
            last = self._beat  # between beats it is where the last one was
            shown = replace(shown, bar=last.bar, beat=last.beat, beats_to_head=last.beats_to_head)
        tune = self._desk.tune(shown.tune)
        performance = self._desk.arranged(shown.tune, shown.key)
        gestures = self._foot.gestures(shown)
        chord, following = self._chords(shown, tune, performance)
        return Snapshot(
            number=self._number,
            at=self._clock.shared(shown.ns) + self._latency(),
            now=now,
            state=shown.state,
            what=shown.what,
            tune=shown.tune,
            title=shown.title,
            intro=shown.intro,
            intro_name=self._intro_name(shown.intro) if shown.intro else "",
            key=shown.key,
            tempo=float(shown.tempo),
            meter=performance.beats if performance else (tune.meter.beats if tune else 4),
            bar=shown.bar,
            beat=shown.beat,
            beats_to_head=shown.beats_to_head,
            beats_in_all=performance.head_tick / TICKS_PER_QUARTER if performance else 0,
            chord=chord,
            next=following,
            pickup=float(tune.pickup) if tune else 0,
            press=gestures.get(Gesture.PRESS, ""),
            double=gestures.get(Gesture.DOUBLE_PRESS, ""),
            hold=gestures.get(Gesture.HOLD, ""),
            course="; ".join(self._foot.course(shown)),
            text=shown.text,
            up_next=self._up_next(shown.tune),
            step=shown.step,
            first_bar=shown.first_bar,
            last_bar=shown.last_bar,
            muted=shown.muted,
        )

    def tunes(self) -> list[dict[str, Any]]:
        """The set in playing order: index, title, key, tempo, meter, feel, notes of each tune."""
        found = []
        for number in self._order():
            tune = self._desk.tune(number)
            if tune is not None:
                found.append(told_tune(number, tune))
        return found

    def _up_next(self, number: int) -> str:
        order = list(self._order())
        if number not in order or len(order) < 2:
            return ""
        following = self._desk.tune(order[(order.index(number) + 1) % len(order)])
        return following.title if following else ""

    # --- chords -------------------------------------------------------------------------------------

    def _chords(
        self, shown: Shown, tune: Tune | None, performance: Performance | None
    ) -> tuple[Chord | None, NextChord | None]:
        """The present chord and the one after it; before the first beat that is the first."""
        if performance is None or tune is None or not performance.chords:
            return None, None
        if shown.step >= 0:
            tick = performance.chords[min(shown.step, len(performance.chords) - 1)].tick
            return self._at(tick, tune, performance)
        if shown.beat and shown.bar > 0 and shown.state in _GOING:
            beat = (shown.bar - 1) * performance.beats + shown.beat - 1
        elif shown.state in _GOING and shown.beat:
            beat = -shown.beats_to_head + performance.head_tick // TICKS_PER_QUARTER
        else:
            return None, _after(performance.chords[0], 0)
        return self._at(beat * TICKS_PER_QUARTER, tune, performance)

    def _at(self, tick: int, tune: Tune, performance: Performance) -> tuple[Chord | None, NextChord | None]:
        """The chord at a tick and the one after it."""
        begun = [mark for mark in performance.chords if mark.tick <= tick]
        coming = [mark for mark in performance.chords if mark.tick > tick]
        present = Chord(begun[-1].symbol, begun[-1].numeral) if begun else None
        if coming:
            return present, _after(coming[0], tick)
        return present, self._head(tune, performance, tick)

    @staticmethod
    def _head(tune: Tune, performance: Performance, tick: int) -> NextChord:
        """The head's first chord, in the key that sounds."""
        key = Key.from_text(performance.key)
        numeral = first_chord(tune, key.mode)
        return _after(ChordMark(performance.head_tick, chord_of(numeral, key).symbol, str(numeral)), tick)


def told_tune(number: int, tune: Tune) -> dict[str, Any]:
    """A tune of the set, by the index that the player counts it by."""
    return {
        "tune": number,
        "title": tune.title,
        "key": str(tune.key),
        "tempo": float(tune.tempo),
        "meter": tune.meter.beats,
        "feel": tune.feel,
        "intro": tune.intro or "",
        "landing": tune.landing,
        "notes": tune.notes,
    }


def _after(mark: ChordMark, tick: int) -> NextChord:
    return NextChord(mark.symbol, mark.numeral, max(0.0, (mark.tick - tick) / TICKS_PER_QUARTER))
