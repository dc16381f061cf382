"""The melody as a plain line over the comp."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.score import MELODY, ScoreNote
from introit.arrange.tones import is_tonic_minor, offered
from introit.theory.chord import Chord
from introit.units import TICKS_PER_QUARTER, ticks

LOWEST, HIGHEST = 64, 81
"""E4 to A5."""

# Two-bar phrases by meter, in turn: (beat from the phrase's start, most beats it sounds). Entered off the
# downbeat, with air after the last note; no chord gets more than one note. Judgement, no source.
_PHRASES: dict[int, tuple[tuple[tuple[float, float], ...], ...]] = {
    3: (
        ((1, 1), (2, 1), (3.5, 1)),
        ((0.5, 1.5), (2, 1), (3, 1)),
    ),
    4: (
        ((1, 1), (2, 2), (4.5, 1.5), (6, 1)),
        ((0.5, 1.5), (2, 1), (4, 2), (6.5, 0.5)),
    ),
    5: (
        ((1, 2), (3, 2), (5.5, 1.5), (8, 1)),
        ((0.5, 1.5), (3, 2), (5, 2), (8.5, 0.5)),
    ),
}

# Weights of the line. Judgement, no source.
_TONE_PRICE = {1: 2.0, 3: 0.0, 5: 1.0, 7: 0.0, 9: 0.0, 13: 0.1, 6: 0.2, 11: 0.4, 4: 0.4}
_OPTIONAL = 0.3
_ELEVENTH_OF_TONIC_MINOR = 1.5
_CENTRE = 72
_REPEATED = 1.1
_SHORTEST = TICKS_PER_QUARTER // 2


class _Entry(NamedTuple):
    onset: int
    longest: int
    chord: int


def melody_limit(plan: Plan) -> int:
    """Tick by which the melody is out: beat 3 of the last bar (4 in 5/4), and before the tune's pickup."""
    beats = 3 if plan.meter.beats == 5 else 2
    last_bar = plan.head_tick - plan.bar_ticks
    return min(last_bar + beats * TICKS_PER_QUARTER, plan.head_tick - ticks(plan.tune.pickup))


def line_notes(scene: Scene) -> list[ScoreNote]:
    """One melody note for most chords: guide tones and tensions, by step where it can."""
    plan = scene.plan
    entries = _entries(plan)
    pitches = _smoothest([_choices(plan.chords[entry.chord].chord) for entry in entries])
    ends = [*(entry.onset for entry in entries[1:]), melody_limit(plan)][: len(entries)]
    return [
        ScoreNote(
            onset=entry.onset,
            length=min(entry.longest, end - entry.onset, plan.chords[entry.chord].end - entry.onset),
            harmony_tick=plan.chords[entry.chord].onset,
            part=MELODY,
            pitch=pitch,
        )
        for entry, end, pitch in zip(entries, ends, pitches, strict=True)
    ]


def _entries(plan: Plan) -> list[_Entry]:
    phrases = _PHRASES[plan.meter.beats]
    limit = melody_limit(plan)
    entries: dict[int, _Entry] = {}
    for number, start in enumerate(range(0, plan.head_tick, 2 * plan.bar_ticks)):
        for position, longest in phrases[number % len(phrases)]:
            onset = start + round(position * TICKS_PER_QUARTER)
            if onset + _SHORTEST > limit:
                break
            chord = plan.at(onset)
            entries.setdefault(chord, _Entry(onset, round(longest * TICKS_PER_QUARTER), chord))
    return list(entries.values())


def _choices(chord: Chord) -> list[tuple[int, float]]:
    """(pitch, price) of every chord tone in range."""
    prices = {
        tone.pitch_class: _TONE_PRICE.get(tone.degree, 1.0)
        + _OPTIONAL
        + _ELEVENTH_OF_TONIC_MINOR * (tone.degree == 11 and is_tonic_minor(chord))
        for tone in offered(chord)
    }
    prices |= {tone.pitch_class: _TONE_PRICE.get(tone.degree, 1.0) for tone in chord.required}
    return [
        (pitch, prices[pitch % 12] + 0.08 * abs(pitch - _CENTRE))
        for pitch in range(LOWEST, HIGHEST + 1)
        if pitch % 12 in prices
    ]


def _smoothest(choices: Sequence[list[tuple[int, float]]]) -> list[int]:
    """The cheapest line: steps free, a repeat or a third cheap, leaps dear."""
    if not choices:
        return []
    totals: list[dict[int, tuple[float, int]]] = [{pitch: (price, -1) for pitch, price in choices[0]}]
    for options in choices[1:]:
        before = totals[-1]
        totals.append(
            {
                pitch: min(
                    (cost + _leap_price(pitch - last) + price, last) for last, (cost, _) in before.items()
                )
                for pitch, price in options
            }
        )
    pitch = min(totals[-1], key=lambda last: (totals[-1][last][0], last))
    line = [pitch]
    for column in reversed(totals[1:]):
        pitch = column[pitch][1]
        line.append(pitch)
    return line[::-1]


def _leap_price(interval: int) -> float:
    size = abs(interval)
    if size == 0:
        return _REPEATED
    return 0.0 if size <= 2 else 0.4 * (size - 2) + (2.0 if size > 5 else 0.0)
