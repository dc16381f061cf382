"""One pass that keeps repeated pitches legal: on one channel, an off never lands behind the next on.

MIDI has no voices: where a pitch begins again while it still sounds, the first note's late off would cut the
second note short. Parts that share a channel are judged together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable

from introit.performance import PlayedNote

UNISON_TICKS = 60
"""Two onsets of one pitch closer than this are one note: a 64th, 31 ms at 120. A judgement, no source."""

ChannelOf = Callable[[int], tuple[int, int]]
"""Part number to (output, channel)."""


def own_channel(part: int) -> tuple[int, int]:
    """The plainest routing: each part alone on its channel of one output."""
    return 0, part


def legal(notes: Iterable[PlayedNote], channel_of: ChannelOf = own_channel) -> tuple[PlayedNote, ...]:
    """The notes with overlaps of one pitch on one channel taken out, ordered by (onset, part, pitch).

    Unisons are merged (louder level, longer length, the louder note's part); other overlaps end the earlier
    note where the later begins. Nothing is moved later, and nothing sounds longer than its latest off.
    """
    lanes: defaultdict[tuple[tuple[int, int], int], list[PlayedNote]] = defaultdict(list)
    for note in sorted(notes, key=lambda note: (note.onset, note.part)):
        lanes[channel_of(note.part), note.pitch].append(note)
    kept = [note for lane in lanes.values() for note in _lane(lane)]
    return tuple(sorted(kept, key=lambda note: (note.onset, note.part, note.pitch)))


def _lane(notes: Iterable[PlayedNote]) -> list[PlayedNote]:
    """One pitch of one channel, made legal; the notes come and go by onset."""
    kept: list[PlayedNote] = []
    for note in notes:
        if not kept or note.onset >= kept[-1].end:
            kept.append(note)
        elif note.onset - kept[-1].onset < UNISON_TICKS:
            kept[-1] = _merged(kept[-1], note)
        else:
            kept[-1] = kept[-1]._replace(end=note.onset)
            kept.append(note)
    return kept


def _merged(first: PlayedNote, second: PlayedNote) -> PlayedNote:
    louder = second if second.velocity > first.velocity else first
    return louder._replace(onset=first.onset, end=max(first.end, second.end))
