"""How a stretch of a bar is written: as one value, or several that are tied, so that the beats are seen.

No source but common practice of the trade's copyists: the middle of a bar of four is shown, save by what
begins on the first beat, or a beat after it and is a half or longer; a triplet stays within its beat; rests
have no dots and begin on the beat where they can.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

from introit.export.sheet.model import Value
from introit.theory.meter import Meter
from introit.units import TICKS_PER_QUARTER as BEAT

EIGHTH, SIXTEENTH, THIRD = BEAT // 2, BEAT // 4, BEAT // 3

_PLAIN = {
    SIXTEENTH: ("16th", 0),
    EIGHTH: ("eighth", 0),
    EIGHTH + SIXTEENTH: ("eighth", 1),
    BEAT: ("quarter", 0),
    BEAT + EIGHTH: ("quarter", 1),
    2 * BEAT: ("half", 0),
    3 * BEAT: ("half", 1),
    4 * BEAT: ("whole", 0),
}
Good = Callable[[int, int, Meter], bool]

_THIRDS = {THIRD: "eighth", 2 * THIRD: "quarter"}


def on_grid(tick: int, *, thirds: bool) -> int:
    """The nearest sixteenth of a beat's quarters, or the nearest third of a beat."""
    step = THIRD if thirds else SIXTEENTH
    return (tick + step // 2) // step * step


def in_thirds(tick: int) -> bool:
    """Whether a tick is nearer to a third of its beat than to a quarter of it."""
    place = tick % BEAT
    return min(abs(place - third) for third in (THIRD, 2 * THIRD)) < min(
        abs(place - quarter) for quarter in range(0, BEAT + 1, SIXTEENTH)
    )


def value_of(ticks: int, *, triplet: bool = False) -> Value | None:
    """The one value of that length; None where there is none."""
    if triplet:
        return Value(_THIRDS[ticks], 0, True, ticks) if ticks in _THIRDS else None
    return Value(*_PLAIN[ticks], False, ticks) if ticks in _PLAIN else None


def notes(start: int, end: int, meter: Meter, triplets: frozenset[int]) -> Iterator[Value]:
    """Values of a note or chord, tied in this order.

    Args:
        start: ticks from the bar's first, on the grid.
        end: likewise.
        meter: the bar's.
        triplets: the beats, counted from 0, that are divided by three.
    """
    middle = _middle(meter)
    shown = {middle} if start < middle < end and not _hides_the_middle(start, end, meter) else set()
    for first, last in pairwise(sorted({start, end, *shown, *_borders(start, end, triplets)})):
        yield from _cut(first, last, _reads_well, meter, triplets)


def rests(start: int, end: int, meter: Meter, triplets: frozenset[int]) -> Iterator[Value]:
    """Values of a pause; see `notes`."""
    shown = {_middle(meter)} & set(range(start + 1, end))
    for first, last in pairwise(sorted({start, end, *shown, *_borders(start, end, triplets)})):
        yield from _cut(first, last, _rests_well, meter, triplets)


def _borders(start: int, end: int, triplets: frozenset[int]) -> set[int]:
    """Where beats that are divided by three begin and end: they stand by themselves."""
    return {
        border for beat in triplets for border in (beat * BEAT, beat * BEAT + BEAT) if start < border < end
    }


def _middle(meter: Meter) -> int:
    """Where a bar is divided: 2 + 2 beats, 3 + 2 beats; three beats are not."""
    return {4: 2, 5: 3}.get(meter.beats, meter.beats) * BEAT


def _hides_the_middle(start: int, end: int, meter: Meter) -> bool:
    if start == 0:
        return value_of(end) is not None
    return meter.beats == 4 and start == BEAT and end % BEAT == 0 and end > 2 * BEAT


def _cut(start: int, end: int, good: Good, meter: Meter, triplets: frozenset[int]) -> Iterator[Value]:
    """One value where that reads well; else up to a beat, and so on."""
    while start < end:
        stop = end
        if not good(start, end, meter) or _value(start, end, triplets) is None:
            beats = range((start // BEAT + 1) * BEAT, end, BEAT)
            stops = [*beats, *range(end - EIGHTH, start, -EIGHTH), *range(end - SIXTEENTH, start, -SIXTEENTH)]
            fit = [at for at in stops if good(start, at, meter) and _value(start, at, triplets)]
            on_beats = [at for at in fit if at % BEAT == 0]
            stop = max(on_beats or fit, default=end)
        found = _value(start, stop, triplets)
        if found is None:
            raise ValueError(f"no value is written from tick {start} to {stop} of a bar")
        yield found
        start = stop


def _value(start: int, end: int, triplets: frozenset[int]) -> Value | None:
    return value_of(end - start, triplet=start // BEAT in triplets and end - start < BEAT)


def _reads_well(start: int, end: int, meter: Meter) -> bool:
    """On a beat anything does; off it what ends within the next beat, and is no dotted value there."""
    place, length = start % BEAT, end - start
    if not place or end <= (start // BEAT + 1) * BEAT:
        return True
    return place == EIGHTH and length <= BEAT + EIGHTH * (meter.beats != 3) and end % EIGHTH == 0


def _rests_well(start: int, end: int, meter: Meter) -> bool:
    """No dots, and each as a beat, or two from a half of the bar on, would be counted."""
    place, length = start % BEAT, end - start
    if length > BEAT:
        halves = (0, _middle(meter)) if meter.beats != 3 else ()
        return length in (2 * BEAT, 4 * BEAT) and start in halves
    if length % THIRD == 0 and length < BEAT and length % SIXTEENTH:
        return True
    return length in (SIXTEENTH, EIGHTH, BEAT) and place % length == 0
