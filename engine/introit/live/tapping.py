"""A count-off that is tapped: which beat each tap was, and when the bar after it begins.

What is a judgement, and not known: the leaning to one tap a beat (`LEANING`), how far from the tune's own
tempo a count may lie (`WIDE`), what a missed or a stray tap costs a reading (`MISSED`, `STRAY`,
`STRAY_FIRST`), how uneven a tap may be (`LOOSE`), how much a player changes the tempo while tapping
(`CHANGE`), that two taps on half notes, or on the bars of a waltz, are a whole count, and that a count of two
bars is not read: it ends with the first bar that is enough to know it. The unevenness of human tapping
(`CLOCK`, `MOTOR`) is split as in the two-level model of Wing and Kristofferson, Perception & Psychophysics 14
(1973), 5-12: each tap is a tick of an inner clock, whose errors add up, plus a delay of the limb, whose
errors do not.

The first tap is beat 1. A first tap that was never heard cannot be known; the entry then is a beat late.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import log
from typing import Final, NamedTuple

from introit.units import NS_PER_MINUTE, TEMPO_MAX, TEMPO_MIN, exact_tempo

UNITS: Final[dict[int, tuple[float, ...]]] = {3: (0.5, 1.0, 3.0), 4: (0.5, 1.0, 2.0), 5: (0.5, 1.0)}
"""Beats a bar: the quarter notes that a tap may stand for (eighths, beats, halves, bars of a waltz)."""
LEANING: Final = 0.1
"""One tap a beat is taken although another unit is nearer to the tune's tempo by so much (in log tempo)."""
WIDE: Final = 1.6
"""A count is at most so many times faster or slower than the tune."""
MISSED: Final = 0.3
"""What each tap left out costs a reading, on the scale of the logarithm of tempo."""
STRAY: Final = 0.3
"""What each tap too many costs."""
STRAY_FIRST: Final = 0.5
"""What it costs to take the first tap for one too many: it would move beat 1."""
UNEVEN: Final = 5.0
"""What the squares of the taps' distances from the beat cost, in tap intervals."""
LOOSE: Final = 0.3
"""A tap further from the beat than so many tap intervals is a stray one."""
CLOCK: Final = 0.02
MOTOR: Final = 0.015
CHANGE: Final = 0.03
"""Standard deviations, in tap intervals: of the inner clock, of the limb, and of the first change of tempo.
Who corrects the tempo does so early: the variance of the change falls as one over the place."""
TAPS_MAX: Final = 16
"""After so many taps that made no count, the next one begins a new count."""


class Entry(NamedTuple):
    """Where a tapped count leads.

    Attributes:
        downbeat: nanoseconds on which bar 1 falls.
        tempo: quarter notes a minute, 30 to 400.
        unit: quarter notes that a tap stood for: 0.5, 1, 2 or 3.
        taps: how many taps were used; those too many are not.
    """

    downbeat: int
    tempo: float
    unit: float
    taps: int


class _Used(NamedTuple):
    """A tap that fell on a beat: how many tap intervals from the first; when, in quarters of the tune."""

    place: int
    at: float


class _Reading(NamedTuple):
    cost: float
    unit: float
    interval: float
    used: tuple[_Used, ...]


class Tapping:
    """Reads a tapped count-off. Pure: time comes with each call, in integer nanoseconds.

    Args:
        tempo: the tune's own, in quarter notes a minute, 30 to 400.
        beats: quarter notes a bar: 3, 4 or 5.

    Raises:
        ValueError: if the tempo or the beats are none of these.
    """

    def __init__(self, tempo: float, beats: int) -> None:
        if beats not in UNITS:
            raise ValueError(f"beats a bar is {beats!r}; allowed is {', '.join(map(str, UNITS))}")
        self._quarter = float(NS_PER_MINUTE / exact_tempo(tempo))
        self._beats = beats
        self._taps: list[int] = []
        self._entry: Entry | None = None

    @property
    def entry(self) -> Entry | None:
        """Where the count leads, as soon as that is known; later taps refine it by less than half a beat."""
        return self._entry

    @property
    def next_due(self) -> int | None:
        """When to look again if no tap comes: the entry's downbeat, or when the count is forgotten."""
        if self._entry is not None:
            return self._entry.downbeat
        return self._taps[-1] + self._patience if self._taps else None

    def forgotten(self, ns: int) -> bool:
        """Whether the count was broken off: it led nowhere, and a tap at `ns` would begin another."""
        return self._entry is None and bool(self._taps) and ns >= self._taps[-1] + self._patience

    def tap(self, ns: int) -> None:
        """A tap at `ns`; one no later than the one before, or on or after the downbeat, changes nothing."""
        if self._taps and ns <= self._taps[-1]:
            return
        if self.forgotten(ns) or (self._entry is None and len(self._taps) >= TAPS_MAX):
            self._taps = []
        if self._entry is not None and ns >= self._entry.downbeat:
            return
        self._taps.append(ns)
        self._enter(ns)

    @property
    def _patience(self) -> int:
        """Nanoseconds after which no tap can belong to the count: a missed beat or the longest unit, slow."""
        return round(self._quarter * WIDE * max(2, *UNITS[self._beats]))

    def _enter(self, ns: int) -> None:
        """Tells the entry or refines it; an entry once told neither jumps nor falls before the last tap.

        A tap too many that comes a little early would be beat 1 already, and its entry a bar late: a jump.
        """
        entry = self._read()
        if entry is None or entry.downbeat < ns:
            return
        told = self._entry
        if told is None or abs(entry.downbeat - told.downbeat) * 2 * told.tempo < NS_PER_MINUTE:
            self._entry = entry

    def _read(self) -> Entry | None:
        """The entry that the likeliest reading of all taps leads to; None while that is too little."""
        first = self._taps[0]
        taps = [(ns - first) / self._quarter for ns in self._taps]
        limits = (self._quarter * TEMPO_MIN / NS_PER_MINUTE, self._quarter * TEMPO_MAX / NS_PER_MINUTE)
        reading = min(_readings(taps, UNITS[self._beats], limits), default=None)
        if reading is None:
            return None
        place = reading.used[-1].place * reading.unit
        if place < max(2, self._beats - 2):
            return None
        at, interval = _follow(reading)
        if reading.unit > 1 and interval <= WIDE:
            return None  # two taps that may as well be the first beats of somebody who takes it slower
        left = (self._beats - place % self._beats) / reading.unit
        tempo = NS_PER_MINUTE * reading.unit / (interval * self._quarter)
        return Entry(
            downbeat=first + round((at + left * interval) * self._quarter),
            tempo=min(max(tempo, TEMPO_MIN), TEMPO_MAX),
            unit=reading.unit,
            taps=len(reading.used),
        )


def _readings(taps: list[float], units: tuple[float, ...], limits: tuple[float, float]) -> Iterator[_Reading]:
    """Every reading of taps (in quarters of the tune) that is within reach of its tempo and of the limits."""
    slowest, fastest = max(1 / WIDE, limits[0]), min(WIDE, limits[1])
    for interval, unit in product(_intervals(taps), units):
        tempo = unit / interval
        if not slowest <= tempo <= fastest:
            continue
        distance = abs(log(tempo)) - LEANING * (unit == 1)
        for start in (0, 1):
            walked = _walk(taps[start:], interval)
            if walked is not None:
                cost, used = walked
                if unit > 1 and used[-1].place > 1:
                    continue  # the second is the last before the downbeat
                yield _Reading(distance + cost + start * _skipping(taps, interval), unit, interval, used)


def _skipping(taps: list[float], interval: float) -> float:
    """What it costs to leave out the first tap: less where it is one of two on the same beat."""
    return STRAY if taps[1] - taps[0] < LOOSE * interval else STRAY_FIRST


def _intervals(taps: list[float]) -> set[float]:
    """What the tap interval may be: the distance of taps with up to two strays or one missed tap between."""
    pairs = (later - earlier for at, later in enumerate(taps) for earlier in taps[max(0, at - 3) : at])
    return {distance / steps for distance in pairs for steps in (1, 2)}


def _walk(taps: list[float], interval: float) -> tuple[float, tuple[_Used, ...]] | None:
    """Goes from tap to tap by whole intervals, at most two at a time; None when that cannot be done.

    Of two taps on one beat the more even one is used.
    """
    used, cost, uneven = [_Used(0, taps[0])], 0.0, [0.0]
    for at in taps[1:]:
        step, error = _step(at - used[-1].at, interval)
        if step == 0 and len(used) > 1:  # doubled: is this one better than the one before?
            step, error = _step(at - used[-2].at, interval)
            cost += STRAY
            if step == used[-1].place - used[-2].place and abs(error) < abs(uneven[-1]):
                used[-1], uneven[-1] = _Used(used[-1].place, at), error
        elif step == 0 or abs(error) > LOOSE:
            cost += STRAY
        elif step > 2:
            return None
        else:
            cost += MISSED * (step - 1)
            used.append(_Used(used[-1].place + step, at))
            uneven.append(error)
    if len(used) < 2:
        return None
    return cost + UNEVEN * sum(error * error for error in uneven), tuple(used)


def _step(distance: float, interval: float) -> tuple[int, float]:
    """The nearest whole number of intervals, and what is left over, in intervals."""
    step = round(distance / interval)
    return step, distance / interval - step


def _follow(reading: _Reading) -> tuple[float, float]:
    """When the last used tap was meant, and the tap interval by then, in quarters of the tune.

    A Kalman filter on both: the taps are the clock's ticks plus an error of the limb, and the interval may
    change from tap to tap, so that the last ones count most.
    """
    scale = reading.interval**2
    clock, motor, change = (deviation**2 * scale for deviation in (CLOCK, MOTOR, CHANGE))
    place, at = reading.used[0]
    interval = reading.interval
    var_at, both, var_interval = motor, 0.0, scale / 4  # of the interval nothing is known yet
    for used in reading.used[1:]:
        for _ in range(used.place - place):
            at += interval
            var_at += 2 * both + var_interval + clock
            both += var_interval
            var_interval += change / used.place
        gain_at, gain_interval = var_at / (var_at + motor), both / (var_at + motor)
        error = used.at - at
        at, interval = at + gain_at * error, interval + gain_interval * error
        var_interval -= gain_interval * both
        var_at, both = (1 - gain_at) * var_at, (1 - gain_at) * both
        place = used.place
    return at, interval
