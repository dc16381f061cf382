"""The pedal point: one note low in the bass under every chord, struck again on the strong beats."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from introit.arrange.bass.material import LOWEST
from introit.arrange.bass.under import SHORTEST, Bits, too_near
from introit.arrange.plan import Plan
from introit.arrange.score import COMP, PEDAL, ScoreNote
from introit.units import TICKS_PER_QUARTER

_USUAL_LOWEST = 33
"""A1, an open string ([DB1]); lower only where the comp asks for room."""
_HIGHEST = 50
"""D3: above it a pedal point is no longer under everything (common practice, no source)."""
_STRONG_BEATS = {3: (0,), 4: (0, 2), 5: (0, 3)}
_FAST, _SLOW = 200.0, 72.0
"""Quarter notes a minute; beyond them the note is struck once a bar, and held. Judgement, no source."""
_OCTAVE_EVERY = 4
"""In every fourth bar the last strong beat is taken an octave higher: it lifts the line over the bar line."""

_Strike = tuple[int, int]
"""(onset, end) ticks."""


def pedal_notes(plan: Plan, *, above: Sequence[ScoreNote] = (), distance: int = 0) -> list[ScoreNote]:
    """The pedal point, wherever the plan has one; held a bar long at slow and at fast tempi.

    Its octave is the usual low one, unless another keeps better under what sounds above. It is let go for a
    grip of the coming chord that is taken early and would lie too near over it.

    Args:
        plan: the chords.
        above: comp and melody.
        distance: semitones that it keeps under the comp's lowest note, where it can.
    """
    strikes = list(_strikes(plan))
    if not strikes:
        return []
    tone = next(planned.pedal for planned in plan.chords if planned.pedal is not None)
    forbidden = [_too_near(strike, above, distance) for strike in strikes]
    low = _low_octave(tone.pitch_class, forbidden)
    notes = []
    for (onset, end), near in zip(strikes, forbidden, strict=True):
        lifted = low + 12 * _lifts(plan, onset)
        free = lifted <= _HIGHEST and not near >> lifted & 1
        accent = not onset % plan.bar_ticks
        pitch = lifted if free else low
        until = _let_go(plan, pitch, (onset, end), above, distance)
        harmony = plan.chords[plan.at(onset)].onset
        notes.append(ScoreNote(onset, until - onset, harmony, PEDAL, pitch, accent=accent))
    return notes


def _let_go(plan: Plan, pitch: int, strike: _Strike, above: Sequence[ScoreNote], distance: int) -> int:
    """Tick at which a strike must end: its own end, or where a grip over another bass note comes too near."""
    onset, end = strike
    if end < plan.head_tick and plan.chords[plan.at(end)].pedal is not None:
        return end
    early = (
        note.onset
        for note in above
        if onset + SHORTEST <= note.onset < end <= note.harmony_tick
        and _too_near((note.onset, end), [note], distance) >> pitch & 1
    )
    return min(early, default=end)


def _strikes(plan: Plan) -> Iterator[_Strike]:
    """When it is struck: on strong beats and where it begins, until it is freed or the head comes."""
    held = plan.tempo > _FAST or plan.tempo < _SLOW
    beats = (0,) if held else _STRONG_BEATS[plan.meter.beats]
    bars = {bar * plan.bar_ticks + beat * TICKS_PER_QUARTER for bar in range(plan.bars) for beat in beats}
    turns = {after.onset for before, after in pairwise(plan.chords) if after.pedal != before.pedal}
    edges = sorted(bars | turns)
    for onset, end in pairwise([*edges, plan.head_tick]):
        if plan.chords[plan.at(onset)].pedal is not None:
            yield onset, end


def _lifts(plan: Plan, onset: int) -> bool:
    """Whether a strike is the last strong beat of a fourth bar, not counting the bar before the head."""
    bar, within = divmod(onset, plan.bar_ticks)
    last_beat = _STRONG_BEATS[plan.meter.beats][-1]
    if not last_beat or bar + 1 == plan.bars:
        return False
    return (bar + 1) % _OCTAVE_EVERY == 0 and within == last_beat * TICKS_PER_QUARTER


def _low_octave(pitch_class: int, forbidden: Sequence[Bits]) -> int:
    """The octave with the fewest strikes too near to what is above; of those, the lowest from A1 up."""
    octaves = range(LOWEST + (pitch_class - LOWEST) % 12, _USUAL_LOWEST + 12, 12)
    return min(
        octaves,
        key=lambda pitch: (
            sum(near >> pitch & 1 for near in forbidden),
            pitch < _USUAL_LOWEST,
        ),
    )


def _too_near(strike: _Strike, above: Sequence[ScoreNote], distance: int) -> Bits:
    """The notes that would lie too near under what sounds while they do."""
    onset, end = strike
    sounding = [note for note in above if note.onset < end and onset < note.end]
    bits = sum({1 << note.pitch for note in sounding})
    comp = sum({1 << note.pitch for note in sounding if note.part == COMP})
    return too_near(bits, comp, distance)
