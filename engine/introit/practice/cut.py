"""A performance as a pass wants it: a passage, rounds, parts left out or faded, bars left to the player."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from introit.arrange.count_off import DEFAULT_LEVEL, count_off
from introit.arrange.legal import ChannelOf, legal, own_channel
from introit.arrange.line_up import ClickSound
from introit.arrange.score import CLICK, COMP, CUE, MELODY, RIDE
from introit.performance import PARTS, ChordMark, Performance, PlayedNote
from introit.practice.passes import FULL, Pass
from introit.practice.stretch import belongs, chords_within, shifted, stretch
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.units import TICKS_PER_QUARTER

TIME_PARTS = frozenset({RIDE, CLICK})
"""What goes on in the bars that are the player's."""
CUE_LENGTH = 3 * TICKS_PER_QUARTER // 2
CUE_VELOCITY = 56
"""Softer than the comp. A judgement, no source."""
_LOWEST = 55
"""G3: the cue's chord lies in close position in the octave and a half from here."""


def cut(
    performance: Performance,
    one: Pass,
    *,
    mistaken: Performance | None = None,
    click: ClickSound = ClickSound.BEATS,
    level: int = DEFAULT_LEVEL,
    channel_of: ChannelOf = own_channel,
) -> Performance:
    """The performance of a pass: its lead-in on negative ticks, its rounds without a gap, then its head.

    Nothing sounds after the rest that follows it.

    Args:
        performance: of the whole intro, in the pass's key and tempo; each part legal by itself. Its own
            count-off is left out.
        one: the pass.
        mistaken: the same with a wrong chord; needed where the pass swaps one.
        click: how the count sounds.
        level: velocity of a plain click, 1 to 127.
        channel_of: part number to (output, channel).

    Raises:
        ValueError: for a performance that time waits in, a passage that it has not, or a swap without a
            mistaken performance.
    """
    start, end = _span(performance, one)
    length = end - start
    notes = _planted(_played(performance, one, start, end), performance, one, mistaken)
    notes = _answered(notes, performance, one, length, click=click, level=level)
    notes = [*_in_reach(notes, one), *_lead_in(performance, one, click=click, level=level)]
    head = length * one.rounds
    sounding = _clipped(notes, head + one.rest * performance.bar_ticks)
    inside = chords_within(performance.chords, start, end)
    chords = [
        ChordMark(chord.tick + number * length, chord.symbol, chord.numeral)
        for number in range(one.rounds)
        for chord in inside
    ]
    made = legal(sounding, channel_of)
    return replace(
        performance,
        start_tick=-one.lead_in * performance.bar_ticks,
        head_tick=head,
        end_tick=max([head, *(note.end for note in made)]),
        notes=made,
        chords=tuple(chords),
        vamp=None,
        once_more=False,
        tapped=False,
        tapped_on=False,
        start_clock="",
    )


def _span(performance: Performance, one: Pass) -> tuple[int, int]:
    """First tick and end of what is played."""
    if performance.waits:
        raise ValueError("time waits in this performance; practice plays in time")
    if one.bars is None:
        return 0, performance.head_tick
    start, end = ((one.bars.first - 1) * performance.bar_ticks, one.bars.last * performance.bar_ticks)
    if not 0 <= start < end <= performance.head_tick:
        there = performance.head_tick // performance.bar_ticks
        raise ValueError(f"there is no passage of {one.bars} in an intro of {there} bars")
    return start, end


def _played(performance: Performance, one: Pass, start: int, end: int) -> list[PlayedNote]:
    """The notes of all rounds, from tick 0; with the landing, where the intro is played to its end."""
    own = [note for note in performance.notes if note.part != CLICK and note.onset >= 0]
    within = shifted(stretch(own, start, end), -start)
    notes = [note for number in range(one.rounds) for note in shifted(within, number * (end - start))]
    if end == performance.head_tick:
        landing = [note for note in own if belongs(note) >= end]
        notes += shifted(landing, (end - start) * one.rounds - end)
    return notes


def _planted(
    notes: list[PlayedNote], performance: Performance, one: Pass, mistaken: Performance | None
) -> list[PlayedNote]:
    """The notes with the comp of one chord left out, or another chord's in its place."""
    planted = one.planted
    if planted is None:
        return notes
    start, end = _span(performance, one)

    def there(note: PlayedNote) -> bool:
        return note.part == COMP and planted.tick <= note.harmony_tick < planted.end

    right = [note for note in notes if not there(note)]
    if planted.instead is None:
        return right
    if mistaken is None:
        raise ValueError("a chord is swapped; what is played in its place is missing")
    return [*right, *(note for note in _played(mistaken, one, start, end) if there(note))]


def _answered(
    notes: list[PlayedNote],
    performance: Performance,
    one: Pass,
    length: int,
    *,
    click: ClickSound,
    level: int,
) -> list[PlayedNote]:
    """The notes, every other few bars left to the player; where no light time goes on there, a click does."""
    if not one.answer:
        return notes
    bar, head = performance.bar_ticks, length * one.rounds
    turn = one.answer * bar
    time = [note for note in notes if note.part in TIME_PARTS]
    tool = [note for note in notes if note.part not in TIME_PARTS]
    kept = [
        note for start in range(0, head, 2 * turn) for note in stretch(tool, start, min(start + turn, head))
    ]
    landing = [note for note in tool if belongs(note) >= head]
    clicks: list[PlayedNote] = []
    if not any(note.part == RIDE for note in time):
        bar_of_clicks = shifted(count_off(Meter(performance.beats), 1, level=level, sound=click), bar)
        for start in range(turn, head, 2 * turn):
            for tick in range(start, min(start + turn, head), bar):
                clicks += shifted(bar_of_clicks, tick)
    return [*kept, *landing, *time, *clicks]


def _in_reach(notes: Iterable[PlayedNote], one: Pass) -> list[PlayedNote]:
    """The notes of the parts that sound, the melody at its level."""
    out = {PARTS.index(part) for part in one.hidden} | ({MELODY} if one.melody <= 0 else set())
    return [_faded(note, one.melody) for note in notes if note.part not in out]


def _faded(note: PlayedNote, percent: int) -> PlayedNote:
    if note.part != MELODY or percent >= FULL:
        return note
    return note._replace(velocity=max(1, round(note.velocity * percent / FULL)))


def _lead_in(performance: Performance, one: Pass, *, click: ClickSound, level: int) -> list[PlayedNote]:
    """The count, and the cue's chord a bar ahead."""
    notes = list(count_off(Meter(performance.beats), one.count, level=level, sound=click))
    if one.cue:
        part = CUE if "comp" in one.hidden else COMP
        onset = -performance.bar_ticks
        notes += [
            PlayedNote(onset, onset + CUE_LENGTH, onset, part, pitch, CUE_VELOCITY)
            for pitch in cue_chord(one.key)
        ]
    return notes


def cue_chord(key: Key) -> tuple[int, ...]:
    """The key's own triad, which tells it at once: MIDI notes in close position about middle C."""
    root = _LOWEST + (key.tonic.pitch_class - _LOWEST) % 12
    return root, root + (3 if key.is_minor else 4), root + 7


def _clipped(notes: Sequence[PlayedNote], end: int) -> list[PlayedNote]:
    return [note._replace(end=min(note.end, end)) for note in notes if note.onset < end]
