"""Performances behind each other as one: an intro, choruses, the last bar.

What is parted here is one playing for the player: one count-off, no gap at the joins, and nothing that begins
twice at once or is let go after it was struck again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate

from introit.arrange.legal import ChannelOf, legal, own_channel
from introit.performance import ChordMark, Performance, PlayedNote


def starts_of(parts: Sequence[Performance]) -> tuple[int, ...]:
    """The ticks at which the first downbeat of each part falls, and, last, the end of them all."""
    return tuple(accumulate((part.head_tick for part in parts), initial=0))


def joined(
    parts: Sequence[Performance],
    *,
    vamp: tuple[int, int] | None = None,
    exits: Sequence[int] = (),
    channel_of: ChannelOf = own_channel,
) -> Performance:
    """The parts as one performance, each beginning on the downbeat of the head of the one before.

    Names, key, count-off, cue and how it begins are the first part's, how it ends is the last one's. Of the
    others nothing sounds over the downbeat at which they end, and nothing that belongs to it, for the next
    part begins there; nor is there another count-off.

    Args:
        parts: one at least, in one meter and at one tempo; only the first may wait for the player, and only
            where nothing goes round.
        vamp: first tick and end of the bars that go round, on bar lines; whatever went round in a part, or
            could be asked for once more, does so no longer.
        exits: ticks within the vamp at which it may be left, on bar lines and rising.
        channel_of: part number to (output, channel).

    Raises:
        ValueError: when the parts cannot be joined so.
    """
    _check(parts, vamp, exits)
    starts = starts_of(parts)
    notes: list[PlayedNote] = []
    chords: list[ChordMark] = []
    for index, (part, start) in enumerate(zip(parts, starts, strict=False)):
        is_first, is_last = index == 0, index == len(parts) - 1
        for note in part.notes:
            if not is_last and max(note.onset, note.harmony_tick) >= part.head_tick:
                continue
            if note.onset >= 0 or is_first:
                notes.append(_shifted(note, start, part.head_tick if not is_last else note.end))
        chords += [
            mark._replace(tick=mark.tick + start) for mark in part.chords if mark.tick < part.head_tick
        ]
    first, last, end = parts[0], parts[-1], starts[-1]
    return replace(
        first,
        head_tick=end,
        end_tick=end + last.end_tick - last.head_tick,
        notes=legal(notes, channel_of),
        chords=tuple(chords),
        vamp=vamp,
        exits=tuple(exits),
        once_more=False,
        rest=last.rest,
    )


def _shifted(note: PlayedNote, by: int, end: int) -> PlayedNote:
    return note._replace(
        onset=note.onset + by, end=min(note.end, end) + by, harmony_tick=note.harmony_tick + by
    )


def _check(parts: Sequence[Performance], vamp: tuple[int, int] | None, exits: Sequence[int]) -> None:
    """Raises ValueError where the parts cannot be joined so."""
    if not parts:
        raise ValueError("nothing to join: one performance at least is needed")
    first, *others = parts
    for part in others:
        if (part.beats, part.tempo) != (first.beats, first.tempo):
            raise ValueError(
                f"parts differ: {first.beats} beats at {first.tempo:g}, {part.beats} beats at {part.tempo:g}"
            )
        if part.waits:
            raise ValueError("time waits in a part that is not the first")
    if vamp is None and exits:
        raise ValueError("an exit leads out of bars that go round, and none do")
    if vamp is None:
        return
    if first.waits:
        raise ValueError("where time waits nothing goes round")
    start, end = vamp
    ticks, last = [start, *exits, end], starts_of(parts)[-1]
    if not 0 <= start < end <= last or any(tick % first.bar_ticks for tick in ticks):
        raise ValueError(f"the vamp {vamp} does not lie on bar lines between 0 and {last}")
    if any(not start <= tick < end for tick in exits) or sorted(set(exits)) != list(exits):
        raise ValueError(f"exits {tuple(exits)} do not rise within the vamp {vamp}")
