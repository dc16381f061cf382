"""From a score to sounding notes: swing, a late line, strummed grips, levels. Deterministic.

The head's downbeat is never moved and nothing crosses it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import numpy as np

from introit.arrange.plan import Plan
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, RIDE, Score, ScoreNote, Touch
from introit.library.model import Feel
from introit.performance import PARTS, PlayedNote
from introit.units import TICKS_PER_QUARTER, ticks_from_ms

SHORTEST = 30
"""Ticks that any note sounds at least (a 128th)."""
LATE_REFERENCE, LATE_VANISHES = 150.0, 300.0
"""The line's lateness is given at 150 and falls in a straight line to none at 300. The published fall is
nearly linear (TRADE 1c, [N22]); that it ends at 300, where swing has gone even (TRADE 1b), is ours."""
LATE_MOST = 1.2
"""Below 120 the lateness grows no further (no measurements seen)."""
ROLL_MS = 45.0
"""From string to string in a rolled chord; within a ballad's 30 to 70 ms (common practice, no source)."""
ROLL_FULL_UNTIL, ROLL_GONE_AT = 80.0, 100.0
"""Quarter notes a minute: a roll is at its slowest up to the first, and the feel's strum from the second."""
ROLLED_LENGTH = 2 * TICKS_PER_QUARTER
"""Only a chord that sounds as long as this is rolled (a half note)."""
MOST_STRUM = TICKS_PER_QUARTER // 8
"""Ticks within which all strings of any other chord sound: an eighth of a beat."""

_SWING_OF_PART = {MELODY: "line", COMP: "comp", BASS: "comp", PEDAL: "comp", RIDE: "ride"}
_OFF_BEAT = TICKS_PER_QUARTER // 2
_ACCENT = 12
_TOP_VOICE = 8
_OFF_BEAT_LEVEL = -4
_ARC_START, _ARC_TOP, _ARC_END, _ARC_PEAK_AT = -6.0, 7.0, 1.0, 0.7
_DEFAULT_LEVEL = 76


def swing_ratio(feel: Feel, kind: str, tempo: float) -> float:
    """Long eighth to short eighth at a tempo: straight between the feel's points, constant beyond them.

    Args:
        feel: the feel.
        kind: `ride`, `comp` or `line`; one that the feel does not name is even.
        tempo: quarter notes a minute.
    """
    points = feel.swing.get(kind)
    if not points:
        return 1.0
    return float(np.interp(tempo, [at for at, _ in points], [ratio for _, ratio in points]))


def swung(tick: int, ratio: float) -> int:
    """A tick moved by swing; order is kept.

    Beats stay, the off-beat eighth goes to ratio / (1 + ratio) of the beat, all between moves in proportion.
    """
    beat, within = divmod(tick, TICKS_PER_QUARTER)
    off_beat = TICKS_PER_QUARTER * ratio / (1 + ratio)
    if within <= _OFF_BEAT:
        moved = within / _OFF_BEAT * off_beat
    else:
        moved = off_beat + (within - _OFF_BEAT) / _OFF_BEAT * (TICKS_PER_QUARTER - off_beat)
    return beat * TICKS_PER_QUARTER + round(moved)


def late_line_ticks(feel: Feel, tempo: float) -> int:
    """How late the melody's on-beats are, in ticks at the tempo."""
    share = (LATE_VANISHES - tempo) / (LATE_VANISHES - LATE_REFERENCE)
    return ticks_from_ms(feel.late_line_ms * min(LATE_MOST, max(0.0, share)), tempo)


def played(score: Score, feel: Feel) -> list[PlayedNote]:
    """The score's notes as they will sound; not yet legal (see `arrange.legal`)."""
    plan = score.plan
    ratios = {part: swing_ratio(feel, kind, plan.tempo) for part, kind in _SWING_OF_PART.items()}
    late = late_line_ticks(feel, plan.tempo)
    notes: list[PlayedNote] = []
    for (onset, part), group in groupby(score.notes, key=lambda note: (note.onset, note.part)):
        struck = list(group)
        delay = late if part == MELODY and onset % TICKS_PER_QUARTER == 0 else 0
        step = _string_step(struck, plan, feel) if part == COMP else 0
        for rank, note in enumerate(struck):
            start = swung(onset, ratios[part]) + delay + rank * step
            end = min(swung(note.end, ratios[part]), plan.head_tick)
            start = min(start, end - SHORTEST)
            velocity = _velocity(note, plan, feel, top=rank == len(struck) - 1)
            notes.append(PlayedNote(start, end, note.harmony_tick, part, note.pitch, velocity))
    return notes


def _string_step(struck: Sequence[ScoreNote], plan: Plan, feel: Feel) -> int:
    """Ticks from string to string; the whole grip sounds within a third of its length, whatever is asked."""
    strings = max(1, len(struck) - 1)
    length = struck[0].length
    if struck[0].touch is Touch.ROLLED and length >= ROLLED_LENGTH and plan.tempo < ROLL_GONE_AT:
        return min(ticks_from_ms(_roll_ms(plan.tempo, feel), plan.tempo), length // (3 * strings))
    return min(ticks_from_ms(feel.strum_ms, plan.tempo), length // (3 * strings), MOST_STRUM // strings)


def _roll_ms(tempo: float, feel: Feel) -> float:
    slowest = max(ROLL_MS, feel.strum_ms)
    return float(np.interp(tempo, [ROLL_FULL_UNTIL, ROLL_GONE_AT], [slowest, feel.strum_ms]))


def _velocity(note: ScoreNote, plan: Plan, feel: Feel, *, top: bool) -> int:
    level = feel.velocity.get(PARTS[note.part], _DEFAULT_LEVEL) + _arc(note.onset / plan.head_tick)
    level += _ACCENT * note.accent
    if note.part == COMP:
        level += _TOP_VOICE * top
    if note.onset % TICKS_PER_QUARTER:
        level += _OFF_BEAT_LEVEL
    return max(1, min(127, round(level)))


def _arc(share: float) -> float:
    """One modest rise to about two thirds of the way, and a little back."""
    if share <= _ARC_PEAK_AT:
        return _ARC_START + (_ARC_TOP - _ARC_START) * share / _ARC_PEAK_AT
    return _ARC_TOP + (_ARC_END - _ARC_TOP) * (share - _ARC_PEAK_AT) / (1 - _ARC_PEAK_AT)
