"""The line's rhythm: phrases of two and of four bars, chosen by tempo and by where the chords change."""

from __future__ import annotations

from bisect import bisect_right
from functools import lru_cache
from typing import NamedTuple
from zlib import crc32

import numpy as np

from introit.arrange.arc import peak_span
from introit.arrange.melody.ending import melody_limit
from introit.arrange.plan import Plan
from introit.units import TICKS_PER_QUARTER

HALF_BEAT = TICKS_PER_QUARTER // 2
STRONG_BEATS = {3: (0,), 4: (0, 2), 5: (0, 3)}
"""By meter, beats from 0 on which a chord tone or a tension stands: 1 and 3; 1 in three; 1 and 4 in five."""


class PhraseNote(NamedTuple):
    """One note of a phrase: ticks from its start, and whether it leads by step into the next."""

    onset: int
    length: int
    approach: bool


class Phrase(NamedTuple):
    """A rhythm of two or four bars.

    It enters off the downbeat (few do not), sounds at most 65 % of the time, leaves a beat before the next
    one can begin, and never goes on for longer than two bars less two beats without a beat of rest, so that
    any two bars hold one.
    """

    bars: int
    notes: tuple[PhraseNote, ...]


def _phrases(bars: int, *texts: str) -> tuple[Phrase, ...]:
    """Phrases from text: position in beats from 0, length, `a` for an approach note."""
    return tuple(Phrase(bars, tuple(_note(word) for word in text.split())) for text in texts)


def _note(word: str) -> PhraseNote:
    position, length = word.rstrip("a").split(":")
    return PhraseNote(
        round(float(position) * TICKS_PER_QUARTER),
        round(float(length) * TICKS_PER_QUARTER),
        word.endswith("a"),
    )


PHRASES: dict[int, tuple[Phrase, ...]] = {
    3: (
        *_phrases(
            2,
            "1:.5a 1.5:1 2.5:1 4:.5a 4.5:.5",
            ".5:.5 1:.5a 1.5:1 3.5:1.5",
            "1:1 2:.5a 2.5:1.5",
            "1:.5a 1.5:2 4:1",
            "1.5:1 3:1 4:.5a 4.5:.5",
            "0:1 1:.5a 1.5:1 4:.5a 4.5:.5",
            "1:2 4:1",
            "1:.5 1.5:.5 2:.5a 2.5:1.5",
            "1:1a 2:2",
            "1.5:1.5 4:1",
        ),
        *_phrases(
            4,
            "1:.5a 1.5:1 2.5:1.5 5:.5a 5.5:1.5 8:1 9.5:.5 10:.5a 10.5:.5",
            "1:1a 2:2 5.5:1.5 8:1.5",
        ),
    ),
    4: (
        *_phrases(
            2,
            "1:.5a 1.5:1.5 3.5:1.5 5:.5a 5.5:1",
            ".5:.5 1:.5a 1.5:1 3:.5a 3.5:1 5.5:1 6.5:.5",
            "1.5:.5a 2:1.5 4.5:.5a 5:1.5",
            "1.5:1 2.5:.5a 3:.5 3.5:1.5 5.5:.5a 6:1",
            "1.5:.5 2:.5 2.5:.5 3:.5a 3.5:2 6:1",
            "0:1 1:.5a 1.5:1.5 4.5:.5a 5:1",
            "2.5:.5 3:.5a 3.5:2 6:1",
            "1:2 5:.5a 5.5:1.5",
            "1.5:2 5:1.5",
            "1:1a 2:2 5:2",
            "2:1 3.5:2 6:1",
            "1:1 2:1 3.5:1.5 5.5:1",
            ".5:1 1.5:1 3:.5a 3.5:1.5 6:.5",
        ),
        *_phrases(
            4,
            "1:.5a 1.5:1.5 3.5:2 6.5:.5 7:.5a 7.5:1.5 9.5:.5a 10:.5 11.5:2",
            "2:1a 3:2 6:1 7.5:2 11:1a 12:2",
        ),
    ),
    5: (
        *_phrases(
            2,
            "1:.5a 1.5:1 3:1.5 5.5:.5 6:.5a 6.5:1.5",
            ".5:.5 1:.5a 1.5:1 2.5:.5a 3:1 4.5:1.5 7:1",
            "1.5:1 2.5:.5a 3:1.5 7:.5a 7.5:1",
            "2:.5 2.5:.5a 3:1 4.5:2 7.5:.5a 8:1",
            "0:1 1:1 2.5:.5a 3:1 6.5:1",
            "1:2 4.5:2 7.5:1",
            "1:2 6:1.5",
            "2:1a 3:2 6:1 7.5:1.5",
        ),
        *_phrases(4, "1:.5a 1.5:1 3:1.5 4.5:1.5 7:.5a 7.5:1.5 11.5:1 13:1.5 16:1.5"),
    ),
}
"""By meter. Judgement, no source."""

_NOTES_A_BAR = ((50, 1.3), (84, 1.9), (116, 2.8), (150, 2.6), (200, 2.1), (210, 1.5), (300, 1.2))
"""(tempo, notes in a bar of four): a ballad is sparse, over 200 it thinks in half time. Judgement."""

# Prices of a phrase where it would stand. Judgement, no source.
_DENSITY = 0.8
_OVER_A_CHANGE = 0.4
_CHORD_WITHOUT_NOTE = 0.25
_SAID_BEFORE, _SAID_JUST_NOW = 0.5, 1.0
_ON_THE_DOWNBEAT = 0.0
_WITHOUT_PEAK, _PEAK_LAST = 4.0, 0.8
_CUT_OFF = 0.25
_SILENT = 3.0
_TURN = 0.15
"""What decides between phrases that suit alike differs with the harmony, so that intros differ."""


def chosen_phrases(plan: Plan) -> list[tuple[int, Phrase]]:
    """Phrases for the whole intro, each with the tick at which it starts; by tempo and harmony alone."""
    changes = [chord.onset for chord in plan.chords]
    hour = crc32(" ".join(str(chord.numeral) for chord in plan.chords).encode())
    fitting = _fitting(plan.meter.beats, plan.tempo)
    chosen: list[tuple[int, Phrase]] = []
    bar = 0
    while bar < plan.bars:
        before = [phrase for _, phrase in chosen]
        start = bar * plan.bar_ticks
        _, _, phrase = min(
            (
                price
                + _price(phrase, start, plan, changes)
                + _habit(phrase, before)
                + _TURN * ((hour >> (number + 4 * len(before))) % 8),
                number,
                phrase,
            )
            for number, (price, phrase) in enumerate(fitting)
            if phrase.bars <= max(2, plan.bars - bar)
        )
        chosen.append((start, phrase))
        bar += phrase.bars
    return chosen


@lru_cache(maxsize=512)
def _fitting(beats: int, tempo: float) -> tuple[tuple[float, Phrase], ...]:
    """The phrases of a meter that suit a tempo, the nearest to its density first, each with its price."""
    tempi, notes = zip(*_NOTES_A_BAR, strict=True)
    wanted = float(np.interp(tempo, tempi, notes)) * beats / 4
    priced = [
        (_DENSITY * abs(len(phrase.notes) / phrase.bars - wanted), number, phrase)
        for number, phrase in enumerate(PHRASES[beats])
    ]
    return tuple((price, phrase) for price, _, phrase in sorted(priced)[:6])


def _price(phrase: Phrase, start: int, plan: Plan, changes: list[int]) -> float:
    """How badly a phrase suits the chords: notes that run over a change, chords that get none, no peak."""
    first, last = (round(tick) - start for tick in peak_span(plan))
    limit = melody_limit(plan)
    over, cut, high, answered = 0, 0, False, False
    sung: set[int] = set()
    for note in phrase.notes:
        onset, end = start + note.onset, start + note.onset + note.length
        if onset + HALF_BEAT > limit:
            cut += 1
            continue
        here, there = bisect_right(changes, onset), bisect_right(changes, end - 1)
        early = there > here and changes[here] - onset <= HALF_BEAT
        over += there > here + early
        sung.add(here + early)
        answered = answered or high
        high = high or (first <= note.onset <= last and not note.approach)
    end = start + phrase.bars * plan.bar_ticks
    among = bisect_right(changes, end - 1) - bisect_right(changes, start) + 1
    wants_peak = first < phrase.bars * plan.bar_ticks and last > 0
    return (
        _OVER_A_CHANGE * over
        + _CHORD_WITHOUT_NOTE * max(0, among - len(sung))
        + _WITHOUT_PEAK * (wants_peak and not high)
        + _PEAK_LAST * (wants_peak and not answered)
        + _CUT_OFF * cut
        + _SILENT * (cut == len(phrase.notes))
    )


def _habit(phrase: Phrase, before: list[Phrase]) -> float:
    """The price of saying the same again, and of entering on the downbeat more often than off it."""
    price = _SAID_BEFORE * before.count(phrase) + _SAID_JUST_NOW * (before[-1:] == [phrase])
    if phrase.notes[0].onset:
        return price
    downbeats = sum(not one.notes[0].onset for one in before)
    return price + _ON_THE_DOWNBEAT + 10.0 * (2 * (downbeats + 1) > len(before) + 1)
