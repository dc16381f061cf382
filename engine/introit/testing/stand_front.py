"""A front for the stand page that plays a made-up intro over and over, without music, player or MIDI.

`python -m introit.testing.stand_front` shows the page with it; tests drive it in steps. A press
starts, and one in the tune calls the next.
"""

from __future__ import annotations

import argparse
import contextlib
import select
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from introit.live.states import State
from introit.stand.launch import Launched, start_stand
from introit.stand.link import LinkError
from introit.stand.snapshot import Chord, NextChord, Snapshot
from introit.units import NS_PER_SECOND


@dataclass(frozen=True, slots=True)
class MadeUp:
    """A made-up tune with an intro.

    Attributes:
        title, key: as they are shown.
        tempo: beats a minute.
        meter: beats a bar.
        bars: the intro's chords, a bar each of symbol and numeral pairs, evenly spread.
        pickup: beats of the tune's pickup.
    """

    title: str
    key: str
    tempo: float
    bars: tuple[tuple[tuple[str, str], ...], ...]
    meter: int = 4
    pickup: float = 0

    @property
    def beats(self) -> int:
        """How many beats the intro has."""
        return len(self.bars) * self.meter

    def chord(self, beat: int) -> int:
        """Index into `chords` of what sounds at a beat of the intro, from 0."""
        return max(index for index, (start, _, _) in enumerate(self.chords) if start <= beat)

    @property
    def chords(self) -> list[tuple[float, str, str]]:
        """Where each chord begins, in beats from the intro's, with its symbol and numeral."""
        return [
            (bar * self.meter + place * self.meter / len(chords), symbol, numeral)
            for bar, chords in enumerate(self.bars)
            for place, (symbol, numeral) in enumerate(chords)
        ]


TUNES: Final = (
    MadeUp(
        "Lamp on the Landing",
        "E flat",
        132,
        (
            (("Ebmaj7", "Imaj7"), ("C7(b9)", "VI7(b9)")),
            (("Fm9", "ii9"), ("Bb13", "V13")),
            (("Gm7", "iii7"), ("C7alt", "VI7alt")),
            (("Fm9", "ii9"), ("Bb7sus4", "V7sus4")),
        ),
        pickup=2,
    ),
    MadeUp(
        "Six Ways Round the Reservoir on a Wet Wednesday",
        "G flat",
        176,
        (
            (("Abm11", "ii11"),),
            (("Db7(#11)", "V7(#11)"),),
            (("Gbmaj7(#11)/Bb", "Imaj7(#11)/3"),),
            (("Eb7(b13)", "VI7(b13)"),),
        ),
        meter=3,
    ),
    MadeUp(
        "Five for the Ferry",
        "C sharp minor",
        104,
        tuple(
            (pair,)
            for pair in (("C#m6", "i6"), ("D#m7b5", "iiø7"), ("G#7(b9)", "V7(b9)"), ("C#m6", "i6")) * 3
        ),
        meter=5,
        pickup=1.5,
    ),
)
"""Our own inventions: a plain one, one in three with long names, and one of twelve bars in five."""


class StandFront:
    """The front's side of a link, scripted. Nothing here waits.

    Args:
        stand: the stand's process and the link to it.
        tunes: what the set holds.

    Attributes:
        asked: every line that the stand has sent, in order.
        tune: index of the tune that is called for.
        state: the session's state.
    """

    def __init__(self, stand: Launched, tunes: Sequence[MadeUp] = TUNES) -> None:
        self.stand = stand
        self.tunes = tunes
        self.asked: list[dict[str, Any]] = []
        self.tune = 0
        self.state = State.READY
        self.tempo = tunes[0].tempo
        self.number = 0
        self._down_since: int | None = None
        self._beat = 0
        self._due: int | None = None
        self._text = ""
        self.tell_set()
        self.tell(time.monotonic_ns(), "state")

    def tell_set(self) -> None:
        """Tells what the set holds."""
        tunes = [
            {"index": index, "title": tune.title, "key": tune.key, "tempo": tune.tempo, "intro": "made-up"}
            for index, tune in enumerate(self.tunes)
        ]
        self.stand.end.put({"kind": "set", "revision": "1", "tunes": tunes})

    def tell(self, at: int, what: str, **changed: Any) -> Snapshot:
        """Sends a snapshot of where it is."""
        self.number += 1
        snapshot = replace(self._snapshot(at, what), **changed)
        self.stand.end.put({"kind": "snapshot", **snapshot.to_dict()})
        return snapshot

    def _snapshot(self, at: int, what: str) -> Snapshot:
        tune = self.tunes[self.tune]
        follows = self.tunes[(self.tune + 1) % len(self.tunes)]
        press, double, hold = _GESTURES.get(self.state, ("", "", ""))
        plays = self.state in (State.COUNTING_OFF, State.PLAYING)
        beat = self._beat if plays else 0
        chord, following = self._chords(tune, beat) if plays else (None, None)
        return Snapshot(
            self.number,
            at,
            time.monotonic_ns(),
            self.state.value,
            what,
            tune=self.tune,
            title=tune.title,
            intro="made-up",
            intro_name="Made up",
            key=tune.key,
            tempo=self.tempo,
            meter=tune.meter,
            bar=beat // tune.meter + 1 if plays else 0,
            beat=beat % tune.meter + 1 if plays else 0,
            beats_to_head=0 if self.state == State.IN_THE_TUNE else tune.beats - beat,
            beats_in_all=tune.beats,
            chord=chord,
            next=following,
            pickup=tune.pickup,
            press=press,
            double=double,
            hold=hold,
            text=self._text,
            up_next=follows.title,
        )

    def _chords(self, tune: MadeUp, beat: int) -> tuple[Chord | None, NextChord | None]:
        chords = tune.chords
        here = tune.chord(beat) if beat >= 0 else -1
        now = None if here < 0 else Chord(*chords[here][1:])
        if here + 1 == len(chords):
            return now, None
        start, symbol, numeral = chords[here + 1]
        return now, NextChord(symbol, numeral, start - beat)

    # --- time ---------------------------------------------------------------------------------------

    @property
    def due(self) -> int | None:
        """When the next beat sounds, in nanoseconds of the monotonic clock; None while nothing plays."""
        return self._due

    def beat(self, at: int) -> Snapshot:
        """The next beat, which sounds at `at`; the last leads into the tune."""
        tune = self.tunes[self.tune]
        self._beat += 1
        self._due = at + int(60 * NS_PER_SECOND / self.tempo)
        if self._beat == 0:
            self.state = State.PLAYING
        if self._beat == tune.beats:
            self.state, self._due = State.IN_THE_TUNE, None
            return self.tell(at, "state")
        return self.tell(at, "beat")

    def hold(self) -> None:
        """The foot-switch was held: what plays stops."""
        self._down_since = None
        if self.state in (State.COUNTING_OFF, State.PLAYING):
            self.call(self.tune)

    def press(self, at: int) -> None:
        """The foot-switch went down at `at`."""
        if self.state == State.READY:
            self.state, self._beat, self._due = State.COUNTING_OFF, -self.tunes[self.tune].meter - 1, at
        elif self.state == State.IN_THE_TUNE:
            self.call(self.tune + 1)

    def call(self, tune: int) -> None:
        """Another tune is called for, and ready."""
        self.tune = tune % len(self.tunes)
        self.state, self._due, self.tempo = State.READY, None, self.tunes[self.tune].tempo
        self.tell(time.monotonic_ns(), "state")

    # --- what the stand sends -----------------------------------------------------------------------

    def hear(self) -> list[dict[str, Any]]:
        """Takes what the stand has sent and acts on it; returns it.

        Raises:
            LinkError: if the stand is gone.
        """
        messages = self.stand.end.receive()
        self.asked += messages
        for message in messages:
            self._act(message)
        return messages

    def _act(self, message: dict[str, Any]) -> None:
        does, order = message.get("do"), message.get("order")
        if does == "down":
            self._down_since = time.monotonic_ns()
            self.press(self._down_since)
        elif does == "up":
            self._down_since = None
        elif does == "edit":
            self.stand.end.put(
                {"kind": "answer", "id": message["id"], "ok": False, "error": "Nothing is edited here."}
            )
        elif does == "tempo":
            self.tempo = message["tempo"]
            self.tell(time.monotonic_ns(), "state")
        elif order in ("faster", "slower"):
            self.tempo += 4 if order == "faster" else -4
            self.tell(time.monotonic_ns(), "state")
        elif order == "silence":
            self.state, self._due = State.READY, None
            self.tell(time.monotonic_ns(), "state")
        elif order in ("next", "back", "tune"):
            self.call({"next": self.tune + 1, "back": self.tune - 1}.get(order, message.get("value", 0)))

    def run(self, seconds: float) -> None:
        """Plays in real time for so long, or until the stand is gone."""
        end = time.monotonic_ns() + int(seconds * NS_PER_SECOND)
        with contextlib.suppress(LinkError):
            while (now := time.monotonic_ns()) < end:
                held = None if self._down_since is None else self._down_since + _HOLD_NS
                due = min(when for when in (end, self._due, held) if when is not None)
                writers = [self.stand.end] if self.stand.end.pending else []
                ready, _, _ = select.select([self.stand.end], writers, [], max(0, due - now) / NS_PER_SECOND)
                self.stand.end.flush()
                if ready:
                    self.hear()
                if self._due is not None and time.monotonic_ns() >= self._due:
                    self.beat(self._due)
                if self._down_since is not None and time.monotonic_ns() >= self._down_since + _HOLD_NS:
                    self.hold()


_GESTURES: Final = {
    State.READY: ("start", "", ""),
    State.COUNTING_OFF: ("", "", "stop"),
    State.PLAYING: ("", "", "stop"),
    State.IN_THE_TUNE: ("next tune", "", ""),
}
_HOLD_NS: Final = 600_000_000


@contextlib.contextmanager
def stand_front(**how: Any) -> Iterator[StandFront]:
    """A stand of its own with this front; `how` goes to `start_stand`."""
    stand = start_stand(**how)
    try:
        yield StandFront(stand)
    finally:
        stand.stop()


def main() -> None:
    """Shows the page with this front until it is interrupted."""
    parser = argparse.ArgumentParser(prog="introit.testing.stand_front", description=main.__doc__)
    parser.add_argument("--listen", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=8742)
    parser.add_argument("--tls", action="store_true")
    parser.add_argument("--data", type=Path)
    options = parser.parse_args()
    with stand_front(**vars(options)) as front, contextlib.suppress(KeyboardInterrupt):
        print(front.stand.serving, flush=True)
        if options.listen != "127.0.0.1":
            front.stand.end.put({"kind": "code", "code": "123456", "view": False})
            print("pairing code 123456", flush=True)
        front.run(float(10**6))


if __name__ == "__main__":
    main()
