"""Sketches for tests of the live core: performances and a setup made by rule, without library or arranger."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from introit.live.events import Ready, Refused, Request, Wanted
from introit.live.setup import PortSetup, Route, Setup
from introit.performance import PARTS, ChordMark, Performance, PlayedNote
from introit.units import TEMPO_MAX, TEMPO_MIN, TICKS_PER_QUARTER

MELODY, COMP, BASS, CLICK = (PARTS.index(part) for part in ("melody", "comp", "bass", "click"))
KEYS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def sketch(
    tonic: int = 0,
    *,
    minor: bool = False,
    tempo: float = 120,
    beats: int = 4,
    bars: int = 2,
    count_off: int = 0,
) -> Performance:
    """A performance with a chord a bar, a bass note a beat, a melody on the off-beats, clicks to count off.

    The last note of each part ends on the head's downbeat; a bass note is struck again where the last ends.

    Args:
        tonic: pitch class, 0 to 11; every pitch moves with it.
        minor: lowers the third.
        tempo: quarter notes a minute.
        beats: quarter notes a bar.
        bars: bars before the head.
        count_off: beats of count-off.
    """
    quarter, bar = TICKS_PER_QUARTER, TICKS_PER_QUARTER * beats
    head = bar * bars
    notes = [
        PlayedNote(-at * quarter, -at * quarter + 240, 0, CLICK, 76, 90) for at in range(1, count_off + 1)
    ]
    for first in range(0, head, bar):
        pitches = (48 + tonic + interval for interval in (3 if minor else 4, 7, 11))
        notes += (PlayedNote(first, first + bar, first, COMP, pitch, 64) for pitch in pitches)
        for tick in range(first, first + bar, quarter):
            notes.append(PlayedNote(tick, tick + quarter, first, BASS, 36 + tonic, 80))
            notes.append(PlayedNote(tick + quarter // 2, tick + quarter, first, MELODY, 72 + tonic, 70))
    key = KEYS[tonic] + (" minor" if minor else "")
    return Performance(
        intro="sketch",
        title="A Sketch",
        key=key,
        tonic=tonic,
        minor=minor,
        tempo=tempo,
        beats=beats,
        start_tick=-count_off * quarter,
        head_tick=head,
        end_tick=head,
        notes=tuple(sorted(notes, key=lambda note: (note.onset, note.part, note.pitch))),
        chords=tuple(ChordMark(first, key.split()[0], "I") for first in range(0, head, bar)),
    )


def sketch_setup(*, ports: int = 1, tunes: int = 2, **changes: object) -> Setup:
    """A setup with ports in memory; melody and comp go to the first, bass to the last; no click.

    Args:
        ports: how many.
        tunes: how many tunes the set has.
        changes: other fields of `Setup`.
    """
    fields: dict[str, object] = {
        "ports": tuple(
            PortSetup(f"synth {number}", "memory", to="", source="") for number in range(1, ports + 1)
        ),
        "routes": (
            Route(MELODY, 0, 0, program=26, level=100),
            Route(COMP, 0, 1, program=26, level=90),
            Route(BASS, ports - 1, 2, program=32, level=100),
            Route(CLICK, 0, 9, muted=True),
        ),
        "tunes": tunes,
        "active_sensing": False,
        "log": True,
    }
    return Setup(**(fields | changes))  # type: ignore[arg-type]


@dataclass
class SketchFront:
    """A front that answers every `Wanted` with a sketch; the tunes' own keys rise by a fourth.

    What is ordered for a tune, a tempo or an intro, stays; the next playing has the next intro.

    Attributes:
        refuse: tunes that cannot be arranged in any key.
        refuse_tonics: pitch classes that no tune can be put into.
        tempo, bars, count_off, minor: of every tune; `minor` is the tunes' own mode.
        tempi: the slowest and the fastest that can be ordered.
        intros: names of every tune's intros.
        changes: other fields of every `Performance`.
    """

    refuse: Collection[int] = ()
    refuse_tonics: Collection[int] = ()
    tempo: float = 120
    bars: int = 2
    count_off: int = 0
    minor: bool = False
    tempi: tuple[float, float] = (TEMPO_MIN, TEMPO_MAX)
    intros: Sequence[str] = ("sketch",)
    changes: dict[str, Any] = field(default_factory=dict)
    _ordered: dict[int, tuple[float, int]] = field(default_factory=dict, init=False, repr=False)

    def __call__(self, wanted: Wanted) -> Sequence[Ready | Refused]:
        """Answers a `Wanted`."""
        request = wanted.request
        if request.tune in self.refuse or request.tonic in self.refuse_tonics:
            return [Refused(request, "it cannot be arranged there")]
        tempo, intro = self._ordered.get(request.tune, (self.tempo, 0))
        if request.tempo is not None:
            tempo = request.tempo
            if not self.tempi[0] <= tempo <= self.tempi[1]:
                return [Refused(request, f"it cannot be played at {tempo:g}")]
        if request.intro is not None:
            intro = request.intro
        elif wanted.afresh:
            intro = (intro + 1) % len(self.intros)
        self._ordered[request.tune] = (tempo, intro)
        return [Ready(request.tune, request.tonic is None, self.performance(request), intro)]

    def performance(self, request: Request) -> Performance:
        """The sketch that answers a request, in the tempo and with the intro that were ordered last."""
        tonic = request.tune * 5 % 12 if request.tonic is None else request.tonic
        minor = self.minor if request.minor is None else request.minor
        tempo, intro = self._ordered.get(request.tune, (self.tempo, 0))
        made = sketch(tonic, minor=minor, tempo=tempo, bars=self.bars, count_off=self.count_off)
        made = replace(made, intro=self.intros[intro % len(self.intros)])
        return said_before_waiting(replace(made, **self.changes))


def said_before_waiting(performance: Performance) -> Performance:
    """The performance without what begins while time waits."""
    notes = tuple(
        note
        for note in performance.notes
        if not any(wait.tick <= note.onset < wait.to for wait in performance.waits)
    )
    return replace(performance, notes=notes)
