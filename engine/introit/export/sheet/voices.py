"""From notes at ticks to voices of written values: what begins together is a chord, and lasts to the next.

Lengths are written as they are counted, not as they are sounded: a short hit is an eighth, a note that is let
go just before the next one lasts up to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from introit.arrange.score import ScoreNote, Touch
from introit.export.sheet.model import Event, Head, Value
from introit.export.sheet.rhythm import EIGHTH, THIRD, in_thirds, notes, on_grid, rests
from introit.theory.meter import Meter
from introit.theory.pitch import Tone
from introit.units import TICKS_PER_QUARTER as BEAT

_GRACE_ROOM = BEAT
"""Ticks after a grace note within which its note begins."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """What begins together in a voice, on the grid."""

    start: int
    end: int
    notes: tuple[ScoreNote, ...]
    grace: tuple[ScoreNote, ...] = ()


def strokes(played: Iterable[ScoreNote], *, limit: int) -> list[Stroke]:
    """A voice's notes on the grid, each chord up to the next at most.

    Args:
        played: notes of one voice; ornaments among them become grace notes of what follows.
        limit: tick that none goes beyond.
    """
    ordered = sorted(played, key=lambda note: (note.onset, note.pitch))
    graces = [note for note in ordered if note.touch is Touch.ORNAMENT]
    main = [note for note in ordered if note.touch is not Touch.ORNAMENT]
    thirds = frozenset(note.onset // BEAT for note in main if in_thirds(note.onset))
    placed = [(_begun(note, thirds), note) for note in main]
    groups = [
        (start, [note for _, note in group]) for start, group in groupby(placed, key=lambda one: one[0])
    ]
    nexts = [start for start, _ in groups[1:]] + [limit]
    found = []
    for (start, group), following in zip(groups, nexts, strict=False):
        end = min(following, max(_ended(note, start, thirds) for note in group))
        distinct = {note.pitch: note for note in group}
        found.append(
            Stroke(start, end, tuple(distinct[pitch] for pitch in sorted(distinct)), _before(start, graces))
        )
    return [stroke for stroke in found if stroke.end > stroke.start]


def _begun(note: ScoreNote, thirds: frozenset[int]) -> int:
    return on_grid(note.onset, thirds=note.onset // BEAT in thirds)


def _ended(note: ScoreNote, start: int, thirds: frozenset[int]) -> int:
    """The next eighth; in a beat that is divided by three, the next third."""
    step = THIRD if note.end // BEAT in thirds else EIGHTH
    end = -(-(note.end - step // 4) // step) * step
    shortest = THIRD if start // BEAT in thirds else EIGHTH
    return max(start + shortest, end)


def _before(start: int, graces: Sequence[ScoreNote]) -> tuple[ScoreNote, ...]:
    own = [
        note for note in graces if note.onset < start <= note.onset + _GRACE_ROOM and note.end >= start - 30
    ]
    distinct = {note.pitch: note for note in own}
    return tuple(distinct[pitch] for pitch in sorted(distinct))


def triplet_beats(voice: Sequence[Stroke], *, start: int, end: int) -> frozenset[int]:
    """Beats of a bar, from 0, that one of a voice's strokes divides by three."""
    ticks = (tick for stroke in voice for tick in (stroke.start, stroke.end))
    return frozenset((tick - start) // BEAT for tick in ticks if start <= tick < end and in_thirds(tick))


def events(
    voice: Sequence[Stroke],
    spelling: Mapping[ScoreNote, Tone],
    meter: Meter,
    *,
    start: int,
    end: int,
    fermatas: Iterable[int] = (),
) -> tuple[Event, ...]:
    """One bar of a voice, rests and ties in it.

    Args:
        voice: its strokes, of the whole intro.
        spelling: names of its notes.
        meter: the bar's.
        start: tick of the bar's first beat.
        end: tick of its bar line; what goes beyond is tied over.
        fermatas: ticks of the strokes on which time waits.
    """
    triplets = triplet_beats(voice, start=start, end=end)
    waits = frozenset(fermatas)
    found: list[Event] = []
    now = start
    for stroke in voice:
        first, last = max(stroke.start, start), min(stroke.end, end)
        if first >= last:
            continue
        found += _rest(now, first, start, meter, triplets)
        values = list(notes(first - start, last - start, meter, triplets))
        now = first
        for number, value in enumerate(values):
            tied_to = number < len(values) - 1 or last < stroke.end
            heads = _heads(stroke.notes, spelling, tied_from=now > stroke.start, tied_to=tied_to)
            begins = now == stroke.start
            found.append(
                Event(
                    now,
                    value,
                    heads,
                    grace=_heads(stroke.grace, spelling) if begins else (),
                    rolled=begins and any(note.touch is Touch.ROLLED for note in stroke.notes),
                    accent=begins and any(note.accent for note in stroke.notes),
                    fermata=begins and stroke.start in waits,
                )
            )
            now += value.ticks
    found += _rest(now, end, start, meter, triplets)
    return _bracketed(_beamed(found, start), start)


def silence(meter: Meter, start: int) -> tuple[Event, ...]:
    """A bar's rest."""
    return (Event(start, Value("whole", 0, False, meter.ticks_per_bar), whole_bar=True),)


def with_few_rests(voices: Sequence[tuple[Event, ...]]) -> list[tuple[Event, ...]]:
    """The voices of one staff and bar: a rest is shown where nothing else is struck or rings, and once."""
    found = []
    for index, own in enumerate(voices):
        others = [event for number, voice in enumerate(voices) if number != index for event in voice]
        above = {(event.tick, event.end) for voice in voices[:index] for event in voice if not event.heads}
        found.append(
            tuple(
                event._replace(hidden=not event.heads and _is_needless(event, others, above)) for event in own
            )
        )
    return found


def with_one_fermata(voices: Sequence[tuple[Event, ...]]) -> list[tuple[Event, ...]]:
    """The voices of one staff and bar: where several wait together, the uppermost says so for all."""
    waiting: set[int] = set()
    found = []
    for own in voices:
        found.append(
            tuple(event._replace(fermata=event.fermata and event.tick not in waiting) for event in own)
        )
        waiting |= {event.tick for event in own if event.fermata}
    return found


def _is_needless(rest: Event, others: Iterable[Event], above: set[tuple[int, int]]) -> bool:
    if rest.value.triplet:
        return False  # a bracket is read with all that it holds
    if any(begun <= rest.tick and rest.end <= end for begun, end in above):
        return True
    return any(event.heads and event.tick < rest.end and rest.tick < event.end for event in others)


def _rest(now: int, until: int, bar: int, meter: Meter, triplets: frozenset[int]) -> list[Event]:
    if now == bar and until == bar + meter.ticks_per_bar:
        return list(silence(meter, bar))
    found = []
    for value in rests(now - bar, until - bar, meter, triplets):
        found.append(Event(now, value))
        now += value.ticks
    return found


def _heads(
    notes_: Sequence[ScoreNote],
    spelling: Mapping[ScoreNote, Tone],
    *,
    tied_from: bool = False,
    tied_to: bool = False,
) -> tuple[Head, ...]:
    return tuple(
        Head(spelling[note], note.pitch, note.string, note.fret, note.finger, tied_from, tied_to)
        for note in notes_
    )


def _beamed(found: Sequence[Event], bar: int) -> list[Event]:
    """Beams over the shorter values of a beat; over two beats of a half bar where both are plain eighths."""
    runs: list[list[int]] = []
    for index, event in enumerate(found):
        if not event.heads or event.value.ticks >= BEAT or event.value.kind == "quarter":
            continue
        joined = runs and runs[-1][-1] == index - 1 and _same_beat(found[runs[-1][0]], event, bar)
        if joined:
            runs[-1].append(index)
        else:
            runs.append([index])
    out = list(found)
    for run in _doubled(runs, found, bar):
        if len(run) > 1:
            for index in run:
                place = "begin" if index == run[0] else "end" if index == run[-1] else "continue"
                out[index] = out[index]._replace(beam=place)
    return out


def _same_beat(first: Event, other: Event, bar: int) -> bool:
    return (first.tick - bar) // BEAT == (other.tick - bar) // BEAT


def _doubled(runs: Sequence[list[int]], found: Sequence[Event], bar: int) -> list[list[int]]:
    joined: list[list[int]] = []
    for run in runs:
        first = (found[run[0]].tick - bar) // BEAT
        if (
            joined
            and len(joined[-1]) == len(run) == 2
            and first % 2 == 1
            and joined[-1][-1] == run[0] - 1
            and all(found[index].value[:3] == ("eighth", 0, False) for index in (*joined[-1], *run))
        ):
            joined[-1] = [*joined[-1], *run]
        else:
            joined.append(run)
    return joined


def _bracketed(found: Sequence[Event], bar: int) -> tuple[Event, ...]:
    """Where the bracket of each triplet begins and ends."""
    out = list(found)
    for _, group in groupby(
        (index for index, event in enumerate(out) if event.value.triplet),
        key=lambda index: (out[index].tick - bar) // BEAT,
    ):
        indices = list(group)
        out[indices[0]] = out[indices[0]]._replace(group="start")
        out[indices[-1]] = out[indices[-1]]._replace(group="stop")
    return tuple(out)
