"""How far a tapped count-off leads astray: our reader beside the average of intervals, on the same taps.

    python tests/bench/tapping.py [--short] [--json FILE]

Simulated players tap counts in the two-level model of Wing and Kristofferson, Perception & Psychophysics 14
(1973), 5-12: a tap is a tick of an inner clock, whose errors add up, plus a delay of the limb, whose errors
do not. So the variance of an interval is that of the clock plus twice that of the limb, and neighbouring
intervals are correlated by minus the limb's share, between 0 and -0.5 (as restated by Doumas and Wing 2007,
Journal of Experimental Psychology: Human Perception and Performance 33(2), 442; read at
paperzz.com/doc/8674261).

How uneven players are, as the standard deviation of an interval over its mean: 0.5 to 2 % for skilled
musicians, 2 to 6 % for most people (from memory, of Repp and Su 2013, Psychonomic Bulletin & Review 20,
403-452). One person's own measurement is 30 ms about clicks 600 ms apart, 5 %
(mazurka.org.uk/experiments/eventap). A correlation of -0.2 is a value within the model's bounds (from
memory). How many taps are missed, doubled or halved, how far a flam is from its tap and how a player corrects
the tempo while tapping is ours: no source.

The average is told more than we are: that the count is over. It takes the mean of all intervals, and enters
that much after the last tap; a count that is not whole, or more than whole, it cannot tell from a whole one.
The truth is the clock's next tick. For players who keep one tempo the mean is close to the best there is;
weighing the last interval most costs a little there, and gains where a tempo is found. An entry half a beat
off or more, or none, is lost; the errors are those of the others.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from itertools import pairwise
from math import exp, log
from pathlib import Path
from random import Random
from statistics import fmean
from typing import NamedTuple

from introit.live.tapping import Entry, Tapping

CORRELATION = -0.2
SKILLED, MUSICAL, UNEVEN = 0.015, 0.03, 0.05
ORIGIN_NS = 10**15


class Count(NamedTuple):
    """What is to be tapped: a tune's tempo and meter, and what each tap stands for."""

    tempo: float
    beats: int
    unit: float
    taps: int


class Tapped(NamedTuple):
    """Taps in seconds, and where they were meant to lead."""

    taps: list[float]
    downbeat: float
    tempo: float


class Guess(NamedTuple):
    """A method's answer: seconds and quarter notes a minute."""

    downbeat: float
    tempo: float


FOUR, THREE, FIVE = Count(132, 4, 1, 4), Count(150, 3, 1, 3), Count(160, 5, 1, 5)
HALVES, BARS, EIGHTHS = Count(220, 4, 2, 2), Count(190, 3, 3, 2), Count(56, 4, 0.5, 8)


def tap(rng: Random, count: Count, cv: float, *, away: float = 0.0, ease: tuple[float, ...] = ()) -> Tapped:
    """One player's count.

    Args:
        rng: the player's dice.
        count: what is tapped.
        cv: standard deviation of an interval over its mean.
        away: how far the tempo meant lies from the tune's, in natural logarithm, at most.
        ease: by how much the first intervals are too long (1 is none): a tempo found while tapping.
    """
    tempo = count.tempo * exp(rng.uniform(-away, away))
    interval = 60 * count.unit / tempo
    limb = (-CORRELATION * (cv * interval) ** 2) ** 0.5
    clock = ((cv * interval) ** 2 - 2 * limb**2) ** 0.5
    at, taps = 0.0, []
    for place in range(count.taps):
        taps.append(at + rng.gauss(0, limb))
        last = at
        at += (interval + rng.gauss(0, clock)) * (ease[place] if place < len(ease) else 1)
    bars = -(-count.unit * count.taps // count.beats)
    left = (bars * count.beats - count.unit * (count.taps - 1)) / count.unit
    return Tapped(taps, last + left * interval, tempo)


def missed(rng: Random, tapped: Tapped) -> Tapped:
    """Without one of the taps between the first and the last."""
    at = rng.randrange(1, len(tapped.taps) - 1)
    return tapped._replace(taps=tapped.taps[:at] + tapped.taps[at + 1 :])


def doubled(rng: Random, tapped: Tapped) -> Tapped:
    """With a bounce or a flam: a tap 40 to 110 ms after one."""
    at = rng.choice(tapped.taps)
    return tapped._replace(taps=sorted([*tapped.taps, at + rng.uniform(0.04, 0.11)]))


def halved(rng: Random, tapped: Tapped) -> Tapped:
    """With a tap half-way between two."""
    one, two = rng.choice(list(pairwise(tapped.taps)))
    return tapped._replace(taps=sorted([*tapped.taps, (one + two) / 2 + rng.gauss(0, 0.03) * (two - one)]))


def one_more(_: Random, tapped: Tapped) -> Tapped:
    """With a tap on the downbeat."""
    return tapped._replace(taps=[*tapped.taps, tapped.downbeat])


def last_left_out(_: Random, tapped: Tapped) -> Tapped:
    """Without the last tap."""
    return tapped._replace(taps=tapped.taps[:-1])


def read(count: Count, taps: list[float]) -> Entry | None:
    """Our reader's entry, in nanoseconds since `ORIGIN_NS`."""
    tapping = Tapping(count.tempo, count.beats)
    for at in taps:
        tapping.tap(ORIGIN_NS + round(at * 1e9))
    entry = tapping.entry
    return None if entry is None else entry._replace(downbeat=entry.downbeat - ORIGIN_NS)


def ours(count: Count, taps: list[float]) -> Guess | None:
    """Our reader's answer."""
    entry = read(count, taps)
    return None if entry is None else Guess(entry.downbeat / 1e9, entry.tempo)


def average(count: Count, taps: list[float]) -> Guess:
    """The mean of the intervals, in the unit nearest to the tune's tempo; that much after the last tap."""
    mean = fmean(two - one for one, two in pairwise(taps))
    units = {3: (0.5, 1, 3), 4: (0.5, 1, 2), 5: (0.5, 1)}[count.beats]
    unit = min(units, key=lambda unit: abs(log(60 * unit / mean / count.tempo)))
    return Guess(taps[-1] + mean, 60 * unit / mean)


class Errors(NamedTuple):
    """Of many counts: the share lost; of the others, tempo in percent and entry in ms: mean, 95 of 100."""

    lost: float
    tempo: float
    tempo_95: float
    entry: float
    entry_95: float


Method = Callable[[Count, list[float]], Guess | None]


def errors(method: Method, counts: list[tuple[Count, Tapped]]) -> Errors:
    """What a method makes of counts."""
    tempos, entries = [], []
    for count, tapped in counts:
        guess = method(count, tapped.taps)
        if guess is not None and abs(guess.downbeat - tapped.downbeat) < 30 / tapped.tempo:
            tempos.append(100 * abs(guess.tempo / tapped.tempo - 1))
            entries.append(1000 * abs(guess.downbeat - tapped.downbeat))
    if not tempos:
        return Errors(1, *[float("nan")] * 4)
    tail = int(0.95 * len(tempos))
    lost = 1 - len(tempos) / len(counts)
    return Errors(lost, fmean(tempos), sorted(tempos)[tail], fmean(entries), sorted(entries)[tail])


Harm = Callable[[Random, Tapped], Tapped]
FOUND = (1.10, 1.04)
CASES: dict[str, tuple[Count, float, tuple[float, ...], Harm | None]] = {
    "four, skilled": (FOUR, SKILLED, (), None),
    "four": (FOUR, MUSICAL, (), None),
    "four, uneven": (FOUR, UNEVEN, (), None),
    "four, tempo found while tapping": (FOUR, MUSICAL, FOUND, None),
    "three in 3/4": (THREE, MUSICAL, (), None),
    "five in 5/4": (FIVE, MUSICAL, (), None),
    "halves in 4/4": (HALVES, MUSICAL, (), None),
    "bars of a waltz": (BARS, MUSICAL, (), None),
    "eighths of a ballad": (EIGHTHS, MUSICAL, (), None),
    "four, last left out": (FOUR, MUSICAL, (), last_left_out),
    "four, one more": (FOUR, MUSICAL, (), one_more),
    "four, one missed": (FOUR, MUSICAL, (), missed),
    "four, one doubled": (FOUR, MUSICAL, (), doubled),
    "four, one halved": (FOUR, MUSICAL, (), halved),
    "five, one missed": (FIVE, MUSICAL, (), missed),
    "eighths, one doubled": (EIGHTHS, MUSICAL, (), doubled),
}


def players(case: str, number: int, *, seed: int = 1973) -> list[tuple[Count, Tapped]]:
    """So many counts of a case, each by a player of its own; the tempo meant is within 15 % of the tune's."""
    count, cv, ease, harm = CASES[case]
    rng = Random(f"{case} {seed}")
    counts = [tap(rng, count, cv, away=0.15, ease=ease) for _ in range(number)]
    return [(count, harm(rng, tapped) if harm else tapped) for tapped in counts]


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--short", action="store_true")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    number = 300 if options.short else 2000
    print(f"{number} players a case; tempo in %, entry in ms: mean error (95 of 100 below); lost")
    rows = []
    for case in CASES:
        counts = players(case, number)
        for name, method in (("introit", ours), ("average of intervals", average)):
            found = errors(method, counts)
            rows.append({"case": case, "method": name, **found._asdict()})
            print(
                f"{case:32} {name:21} tempo {found.tempo:5.2f} ({found.tempo_95:5.2f})  "
                f"entry {found.entry:5.1f} ({found.entry_95:5.1f})  lost {100 * found.lost:5.1f} %"
            )
    if options.json:
        known = [{name: None if value != value else value for name, value in row.items()} for row in rows]
        options.json.write_text(json.dumps({"bench": "tapping", "rows": known}, indent=2))


if __name__ == "__main__":
    main()
