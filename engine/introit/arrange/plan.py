"""An intro's chords, in the called key, at exact ticks of the tune's meter: what the arranger works from."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field, replace
from fractions import Fraction

from introit.arrange.form import ArrangeError, choose_form, first_chord, head_name, leads_there, suits
from introit.arrange.grid import Grid, GridChord, lay_out
from introit.library.model import Form, HeadDominant, Intro, PedalPoint, Tune
from introit.theory.chord import Chord, chord_of
from introit.theory.function import head_dominant
from introit.theory.key import Key, Mode
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone
from introit.theory.target import FIFTH_DOWN, root_of
from introit.units import TICKS_PER_QUARTER, ticks

__all__ = ["LEAD_IN", "ArrangeError", "Plan", "PlannedChord", "plan_intro", "suits"]

LEAD_IN = 3 * TICKS_PER_QUARTER // 2
"""Ticks before the tune's first note at which a melody begins to lead to it."""


@dataclass(frozen=True, slots=True)
class PlannedChord:
    """One chord on the grid.

    Attributes:
        onset: tick of its first beat, from the intro's first downbeat.
        length: ticks, whole beats.
        numeral: as the intro has it, with `H` resolved.
        chord: the chord in the key.
        pedal: the pedal point's note under it, or None where the bass is free.
    """

    onset: int
    length: int
    numeral: Numeral
    chord: Chord
    pedal: Tone | None

    @property
    def end(self) -> int:
        """Tick at which the next chord, or the head, begins."""
        return self.onset + self.length


@dataclass(frozen=True, slots=True)
class Plan:
    """An intro for one tune in one key, before any note is chosen.

    Attributes:
        intro, tune: what was planned.
        key: the key that was called; its mode may differ from the tune's own.
        meter: the tune's.
        tempo: quarter notes a minute.
        bars: number of bars before the head.
        chords: in order, without gaps, from tick 0 to `head_tick`.
        head: the head's first chord.
        scale: how many times longer a bar of the form lasts than written: 1, 2 or 1/2.
        bar_ticks: ticks in a bar.
        head_tick: the head's downbeat: bars x beats x 960.
        pickup_tick: where the tune's pickup begins, the head where it has none; at least half of the intro is
            heard. Bars that go round are played to their end: a break in each round would tell the singer to
            come in.
    """

    intro: Intro
    tune: Tune
    key: Key
    meter: Meter
    tempo: float
    bars: int
    chords: tuple[PlannedChord, ...]
    head: Chord
    scale: Fraction = Fraction(1)
    bar_ticks: int = field(init=False, repr=False, compare=False)
    head_tick: int = field(init=False, repr=False, compare=False)
    pickup_tick: int = field(init=False, repr=False, compare=False)
    _onsets: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Works out the ticks that every part asks for, again and again."""
        bar_ticks = self.meter.beats * TICKS_PER_QUARTER
        object.__setattr__(self, "bar_ticks", bar_ticks)
        object.__setattr__(self, "head_tick", self.bars * bar_ticks)
        object.__setattr__(self, "pickup_tick", self._pickup_tick())
        object.__setattr__(self, "_onsets", tuple([chord.onset for chord in self.chords]))

    def _pickup_tick(self) -> int:
        tick, leading = max(self.head_tick // 2, self.head_tick - ticks(self.tune.pickup)), self.tune.leading
        if not leading.vamp:
            return tick
        bars = self.bars if leading.vamp_bars is None else leading.vamp_bars.last
        return max(tick, bars * self.bar_ticks)

    @property
    def late_tick(self) -> int | None:
        """Where the last chord begins, if only in the pickup: it is struck there once, for it leads home."""
        last = self.chords[-1].onset
        return last if last >= self.pickup_tick else None

    @property
    def quiet_tick(self) -> int:
        """Where the players leave the pickup to the tune: with it, or a beat into a late last chord."""
        late = self.late_tick
        return self.pickup_tick if late is None else late + TICKS_PER_QUARTER

    @property
    def arc_tick(self) -> int:
        """Where the intro's own arc is over: with the pickup, or where its melody leads to the tune's."""
        return self.pickup_tick - LEAD_IN * self.leads_in

    @property
    def leads_in(self) -> bool:
        """Whether the melody leads to the tune's first note: where it is named, and there is room.

        That is so from an eighth before the last bar on.
        """
        room = self.pickup_tick - LEAD_IN >= self.head_tick - self.bar_ticks - TICKS_PER_QUARTER // 2
        return self.tune.first_note is not None and room

    def strikes(self, chord: PlannedChord) -> bool:
        """Whether a chord is struck: before the pickup, or as the last one."""
        return chord.onset < self.pickup_tick or chord.onset == self.late_tick

    def at(self, tick: int) -> int:
        """Index of the chord that sounds at a tick, 0 to `len(chords)` - 1."""
        return max(0, bisect_right(self._onsets, tick) - 1)


def plan_intro(intro: Intro, tune: Tune, key: Key) -> Plan:
    """Plans an intro for a tune in a key.

    Raises:
        ArrangeError: when the intro has no form for the meter, the key's mode or the head's first chord.
    """
    form = choose_form(intro, tune, key)
    head = first_chord(tune, key.mode)
    laid_out = lay_out(intro, form, meter=tune.meter, tempo=tune.tempo)
    grid = _lead_to(laid_out, form, head=head, mode=key.mode)
    return Plan(
        intro=intro,
        tune=tune,
        key=key,
        meter=tune.meter,
        tempo=tune.tempo,
        bars=grid.bars,
        chords=_chords(grid, key, head=head, pedal=_pedal_tone(intro.pedal, key)),
        head=chord_of(head, key),
        scale=grid.scale,
    )


def _lead_to(grid: Grid, form: Form, *, head: Numeral, mode: Mode) -> Grid:
    """The grid whose last chord gives way to the head's dominant where it would lead elsewhere.

    The chord before it, in the same bar of the form, becomes that dominant's related two where it was the
    related two of the chord that gave way, or where it has the head's own root and would give the head away.
    """
    *before, last = grid.chords
    if leads_there(form, head_name(head)):
        return grid
    if before and len(form.bars[-1].slots) > 1 and _gives_way_too(before[-1], last, head):
        before[-1] = before[-1]._replace(chord=_related_two(head, mode))
    return grid._replace(chords=(*before, GridChord(HeadDominant("H"), last.beats)))


def _gives_way_too(entry: GridChord, last: GridChord, head: Numeral) -> bool:
    """Whether the chord before the last is the last one's related two, or stands on the head's root."""
    two, five = entry.chord, last.chord
    if isinstance(two, HeadDominant) or isinstance(five, HeadDominant):
        return False
    key = Key.from_pitch_class(0, Mode.MAJOR)
    root, target = root_of(two, key).pitch_class, root_of(five, key).pitch_class
    return (two.is_minor and (target - root) % 12 == FIFTH_DOWN) or root == root_of(head, key).pitch_class


def _related_two(head: Numeral, mode: Mode) -> Numeral:
    """The two of the two-five into the head: a fifth above its dominant, half-diminished to a minor head."""
    above = head_dominant(head_dominant(head, mode), mode)
    return replace(above, upper=False, quality="m7b5" if head.is_minor else "m7", alterations=())


def _chords(grid: Grid, key: Key, *, head: Numeral, pedal: Tone | None) -> tuple[PlannedChord, ...]:
    numerals = [_resolved(entry.chord, head, key.mode) for entry in grid.chords]
    planned: list[PlannedChord] = []
    onset = 0
    for entry, numeral, following in zip(grid.chords, numerals, [*numerals[1:], head], strict=True):
        chord = chord_of(numeral, key, following=following)
        freed = isinstance(entry.chord, HeadDominant) and not _stands_over(chord, pedal)
        length = entry.beats * TICKS_PER_QUARTER
        planned.append(PlannedChord(onset, length, numeral, chord, None if freed else pedal))
        onset += length
    return tuple(planned)


def _resolved(chord: Numeral | HeadDominant, head: Numeral, mode: Mode) -> Numeral:
    if isinstance(chord, HeadDominant):
        return head_dominant(head, mode, sus=chord.text == "Hsus")
    return chord


def _stands_over(chord: Chord, pedal: Tone | None) -> bool:
    """Whether a dominant keeps its force over a pedal point: the note is its root, or a fifth that it has."""
    fifth = chord.tone("5")
    own = {chord.root.pitch_class} | ({fifth.pitch_class} if fifth else set())
    return pedal is None or pedal.pitch_class in own


def _pedal_tone(pedal: PedalPoint | None, key: Key) -> Tone | None:
    if pedal is None:
        return None
    number = pedal.degree.lstrip("b#")
    if not (number.isdigit() and 1 <= int(number) <= 7):
        raise ArrangeError(
            f"pedal point is {pedal.degree!r}; allowed is a degree of the key, 1 to 7, as in '5'"
        )
    return key.degree(int(number), pedal.degree.count("#") - pedal.degree.count("b"))
