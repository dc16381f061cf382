"""A score as the rules hear it: its parts, the comp's hits, the melody's phrases, what sounds together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from introit.arrange.plan import Plan, PlannedChord
from introit.arrange.review.breach import Breach
from introit.arrange.scene import Scene
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, Score, ScoreNote, Touch
from introit.library.measures import Measures
from introit.performance import Performance
from introit.theory.chord import Chord
from introit.theory.limits import LOW_INTERVAL_LIMITS
from introit.units import TICKS_PER_QUARTER

REST = TICKS_PER_QUARTER
"""A rest of a beat parts two phrases."""


class Hit(NamedTuple):
    """Notes of the comp that begin together.

    Attributes:
        onset: tick.
        end: tick at which the last of them ends.
        notes: by pitch, rising.
        texture: of the passage it lies in.
    """

    onset: int
    end: int
    notes: tuple[ScoreNote, ...]
    texture: str

    @property
    def top(self) -> int:
        """Its highest pitch."""
        return self.notes[-1].pitch


class Pair(NamedTuple):
    """Two notes that sound together.

    Attributes:
        tick: where the later one begins.
        low, high: by pitch.
    """

    tick: int
    low: ScoreNote
    high: ScoreNote


class Hearing:
    """One score, with its performance where there is one, and the measures it is held to.

    Attributes:
        score, performance, measures: as given.
        notes: the score's pitched notes; ride and click are no business of harmony.
    """

    def __init__(self, score: Score, performance: Performance | None, measures: Measures) -> None:
        self.score = score
        self.performance = performance
        self.measures = measures
        self.plan: Plan = score.plan
        self.scene: Scene = score.scene
        self.bar_ticks = self.plan.bar_ticks
        self.notes = [note for note in score.notes if note.part in (MELODY, COMP, BASS, PEDAL)]
        self._chords = {planned.onset: planned for planned in self.plan.chords}

    def breach(self, rule: str, tick: int, text: str) -> Breach:
        """A breach at a tick of the intro."""
        bar, within = divmod(tick, self.bar_ticks)
        return Breach(rule, bar + 1, within / TICKS_PER_QUARTER + 1, text)

    @cached_property
    def parts(self) -> dict[int, list[ScoreNote]]:
        """The notes of each part, by onset."""
        found: dict[int, list[ScoreNote]] = {MELODY: [], COMP: [], BASS: [], PEDAL: []}
        for note in self.notes:
            found[note.part].append(note)
        return found

    @cached_property
    def melody(self) -> list[ScoreNote]:
        """The melody without its grace notes."""
        return [note for note in self.parts[MELODY] if note.touch is not Touch.ORNAMENT]

    @cached_property
    def comp(self) -> list[ScoreNote]:
        """The comp without what only leads into its grips."""
        return [note for note in self.parts[COMP] if note.touch is not Touch.ORNAMENT]

    @cached_property
    def low_notes(self) -> list[ScoreNote]:
        """Bass and pedal point, by onset."""
        return sorted(self.parts[BASS] + self.parts[PEDAL])

    @cached_property
    def onsets(self) -> list[Hit]:
        """All notes of the comp by onset, in every texture."""
        found = []
        for onset, group in groupby(self.comp, key=_onset):
            notes = tuple(sorted(group, key=_pitch))
            found.append(Hit(onset, max(note.end for note in notes), notes, self.texture_at(onset)))
        return found

    @cached_property
    def hits(self) -> list[Hit]:
        """The comp's hits: what it plays in textures that have no rhythm of their own, before the head."""
        own = self.measures.own_rhythm
        head = self.plan.head_tick  # a landing's chord belongs to it, pushed or not
        return [hit for hit in self.onsets if hit.texture not in own and hit.notes[0].harmony_tick < head]

    @cached_property
    def hits_by_bar(self) -> dict[int, list[Hit]]:
        """The hits of each bar, from 0; of the bars without hits, none."""
        found: dict[int, list[Hit]] = defaultdict(list)
        for hit in self.hits:
            found[hit.onset // self.bar_ticks].append(hit)
        return found

    @cached_property
    def phrases(self) -> list[list[ScoreNote]]:
        """The melody's phrases; a rest of a beat parts two of them."""
        found: list[list[ScoreNote]] = []
        end = -REST
        for note in self.melody:
            if note.onset - end >= REST or not found:
                found.append([])
            found[-1].append(note)
            end = max(end, note.end)
        return found

    @cached_property
    def swings(self) -> bool:
        """Whether the feel is one whose comping is measured as swing."""
        return self.plan.tune.feel in self.measures.swing

    @cached_property
    def struck_bars(self) -> list[int]:
        """Bars, from 0, in a texture with hits and without a pattern that comes back on purpose."""
        return [bar for bar in range(self.plan.bars) if self.is_struck(bar)]

    def is_struck(self, bar: int) -> bool:
        """Whether a bar, from 0, is comped freely: see `struck_bars`."""
        passage = self.scene.passage_at(bar * self.bar_ticks)
        return passage.texture not in self.measures.own_rhythm and not passage.steady

    @cached_property
    def changes(self) -> list[PlannedChord]:
        """The chords that differ from the one before them, the first among them."""
        chords = self.plan.chords
        again = [later.chord == now.chord and later.pedal == now.pedal for now, later in pairwise(chords)]
        return [chord for chord, is_again in zip(chords, [False, *again], strict=True) if not is_again]

    def texture_at(self, tick: int) -> str:
        """The texture of the passage that holds a tick."""
        return self.scene.passage_at(tick).texture

    def planned(self, note: ScoreNote) -> PlannedChord | None:
        """The planned chord that a note belongs to; None for the head's own, or for none."""
        return self._chords.get(note.harmony_tick)

    def chord(self, note: ScoreNote) -> Chord:
        """The chord that a note belongs to; from the head on, the head's first."""
        planned = self._chords.get(note.harmony_tick)
        if planned is not None:
            return planned.chord
        if note.harmony_tick >= self.plan.head_tick:
            return self.plan.head
        return self.plan.chords[self.plan.at(note.onset)].chord

    @cached_property
    def pairs(self) -> list[Pair]:
        """Notes that sound together a minor second or ninth apart, below a limit, or as comp and melody.

        Only pairs that some rule asks about, found at once: a score has thousands of others.
        """
        return list(_pairs(self.notes))


_LIMITS = np.array([LOW_INTERVAL_LIMITS.get(interval, 0) for interval in range(128)])
"""Lowest lower note of each interval, by semitones."""
_RUBS = np.zeros(128, dtype=bool)
_RUBS[[1, 13, 25, 37]] = True


def _pairs(notes: Sequence[ScoreNote]) -> Iterator[Pair]:
    if not notes:
        return
    table = np.array([(note.onset, note.onset + note.length, note.pitch, note.part) for note in notes])
    onset, end, pitch, part = table.T
    together = np.triu((onset[:, None] < end[None]) & (onset[None] < end[:, None]), 1)
    apart = np.abs(pitch[:, None] - pitch[None])
    low = np.minimum(pitch[:, None], pitch[None])
    sings = (part == MELODY)[:, None] & (part == COMP)[None] | (part == COMP)[:, None] & (part == MELODY)[
        None
    ]
    asked = together & ((low < _LIMITS[apart]) | _RUBS[apart] | sings)
    for first, second in zip(*np.nonzero(asked), strict=True):
        one, other = notes[first], notes[second]
        low_note, high_note = (one, other) if one.pitch <= other.pitch else (other, one)
        yield Pair(max(one.onset, other.onset), low_note, high_note)


def _onset(note: ScoreNote) -> int:
    return note.onset


def _pitch(note: ScoreNote) -> int:
    return note.pitch
