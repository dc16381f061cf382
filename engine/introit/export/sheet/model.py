"""What stands on a sheet: parts with staves, bars of voices, notes that are spelled and have a value."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from introit.arrange.plan import PlannedChord
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.pitch import NATURALS, Tone

BARS_A_LINE = 4
"""As a lead sheet has them (common practice, no source)."""


class Clef(StrEnum):
    """The clef of a staff; all pitches are written as they sound, so the clef says the octave."""

    TREBLE = "treble"
    GUITAR = "guitar"
    """Treble, sounding an octave lower."""
    BASS = "bass"
    DOUBLE_BASS = "double bass"
    """Bass, sounding an octave lower."""
    TAB = "tab"


class Value(NamedTuple):
    """A written value.

    Attributes:
        kind: `16th`, `eighth`, `quarter`, `half` or `whole`.
        dots: 0 or 1.
        triplet: whether three of them have the time of two.
        ticks: how long it is.
    """

    kind: str
    dots: int
    triplet: bool
    ticks: int


class Head(NamedTuple):
    """One notehead.

    Attributes:
        tone: its spelling.
        pitch: MIDI note number.
        string, fret, finger: where it lies on the neck; None where it does not.
        tied_from, tied_to: whether a tie comes to it, or goes from it.
        shown: whether its accidental is shown.
    """

    tone: Tone
    pitch: int
    string: int | None = None
    fret: int | None = None
    finger: int | None = None
    tied_from: bool = False
    tied_to: bool = False
    shown: bool = False

    @property
    def octave(self) -> int:
        """The octave of its spelling; middle C is C4, and B#3 is the same key as it."""
        return (self.pitch - self.tone.alter - NATURALS[self.tone.letter]) // 12 - 1


class Event(NamedTuple):
    """Noteheads that begin together in one voice, or a rest.

    Attributes:
        tick: from the intro's first downbeat.
        value: how long it is; for a rest of a whole bar its `kind` is `whole` in every meter.
        heads: from the lowest; empty for a rest.
        grace: noteheads before it, from the lowest; empty for none.
        rolled: whether it is rolled from the lowest up.
        accent: whether it is played harder.
        fermata: whether time waits on it.
        beam: `begin`, `continue` or `end`; empty for none.
        group: `start` or `stop` where a triplet's bracket begins or ends; empty elsewhere.
        whole_bar: whether it is a rest that fills its bar.
        hidden: whether it is a rest that is not shown, since others sound through it.
    """

    tick: int
    value: Value
    heads: tuple[Head, ...] = ()
    grace: tuple[Head, ...] = ()
    rolled: bool = False
    accent: bool = False
    fermata: bool = False
    beam: str = ""
    group: str = ""
    whole_bar: bool = False
    hidden: bool = False

    @property
    def end(self) -> int:
        """Tick at which the next one begins."""
        return self.tick + self.value.ticks


class Voice(NamedTuple):
    """One voice in one bar.

    Attributes:
        number: from 1; the same one from bar to bar.
        staff: number of its staff in the part, from 1.
        stem: `up`, `down`, or empty where the reader decides.
        events: without gaps from the bar's first tick to its last; empty where the voice is silent.
    """

    number: int
    staff: int
    stem: str
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class SheetPart:
    """One player.

    Attributes:
        name: as it stands before the first staff.
        program: General MIDI program of its sound, 1 to 128.
        clefs: of its staves, from the top.
        tuning: MIDI pitches of the open strings, lowest first, where it has tab; behind the capo.
        capo: the fret at which it lies, 0 for none.
        bars: voices by bar.
    """

    name: str
    program: int
    clefs: tuple[Clef, ...]
    tuning: tuple[int, ...]
    capo: int
    bars: tuple[tuple[Voice, ...], ...]

    @property
    def has_two_voices(self) -> bool:
        """Whether two voices share its first staff anywhere."""
        return any(sum(voice.staff == 1 for voice in voices) > 1 for voices in self.bars)

    @property
    def highest_fret(self) -> int:
        """Of what stands in the tab, counted from the capo; 0 where nothing does."""
        return max((head.fret or 0 for event in self._on_tab(self.bars) for head in event.heads), default=0)

    def is_off_the_neck(self, bars: slice) -> bool:
        """Whether its tab is empty in these bars."""
        return Clef.TAB in self.clefs and not any(event.heads for event in self._on_tab(self.bars[bars]))

    def without_tab(self) -> SheetPart:
        """The same with no tab, which is the last staff where there is one."""
        if Clef.TAB not in self.clefs:
            return self
        bars = tuple(
            tuple(voice for voice in voices if self.clefs[voice.staff - 1] is not Clef.TAB)
            for voices in self.bars
        )
        return replace(self, clefs=self.clefs[:-1], tuning=(), capo=0, bars=bars)

    def _on_tab(self, bars: Iterable[tuple[Voice, ...]]) -> Iterator[Event]:
        return (
            event
            for voices in bars
            for voice in voices
            if self.clefs[voice.staff - 1] is Clef.TAB
            for event in voice.events
        )


@dataclass(frozen=True, slots=True)
class Sheet:
    """An intro as a page has it.

    Attributes:
        title: the intro's name.
        tune: the tune's title; empty where the intro stands for itself.
        key, meter, tempo: as called; tempo in quarter notes a minute.
        feel: the feel's name.
        swing: long eighth to short eighth of the comp at this tempo; 1 is even.
        line_up: who plays.
        bars: before the head.
        chords: with their ticks, numerals and pedal points.
        head: the head's first chord, where its first bar is written too; else None.
        vamp: first and last bar that go round, counted from 0; None where none do.
        free_until: tick to which it is played out of time; 0 for none.
        let_ring: ticks at which bars begin whose notes ring on.
        parts: the players, from the top.
        why: the teacher's note.
    """

    title: str
    tune: str
    key: Key
    meter: Meter
    tempo: float
    feel: str
    swing: Fraction
    line_up: str
    bars: int
    chords: tuple[PlannedChord, ...]
    head: PlannedChord | None
    vamp: tuple[int, int] | None
    free_until: int
    let_ring: frozenset[int]
    parts: tuple[SheetPart, ...]
    why: str

    @property
    def bar_ticks(self) -> int:
        """Ticks in a bar."""
        return self.meter.ticks_per_bar

    @property
    def named(self) -> tuple[PlannedChord, ...]:
        """The chords whose names stand over the music: the intro's, and the head's where it is written."""
        return self.chords if self.head is None else (*self.chords, self.head)
