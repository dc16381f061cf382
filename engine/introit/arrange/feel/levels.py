"""Levels: one arc over the intro, weights within the bar, and the top voice over its grip."""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.feel.players import SOLO
from introit.arrange.plan import Plan
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, RIDE, ScoreNote, Touch
from introit.library.model import Feel
from introit.performance import PARTS
from introit.units import TICKS_PER_QUARTER

SOFTEST, LOUDEST = -10.0, 12.0
"""Where the arc begins, and its top, in velocity against the part's own level."""
PEAK_AT, LET_GO = 0.7, -4.0
"""Where a feel that lets go has its top, as a share of the intro, and what is left at the head."""
DIG_FROM = 0.75
"""Until here a feel that digs in has risen by half; the rest comes in the last bar or so."""
LEAST_RANGE = 21.0
"""Velocity units that a part covers at least where it has enough notes; 20 after rounding."""
MOST_WIDENED = 2.5
"""Times that a part's own differences are enlarged at most for that."""
TOP_VOICE = 8
"""The highest note of a grip over the rest of it (6 to 12: common practice, no source)."""
ACCENT = 10
GHOST, GRACE = -7, -12
"""What a comp's dab of a quarter of a beat, and an ornament, lie under a plain note."""
CONTOUR, MOST_CONTOUR = 0.5, 5.0
"""A melody swells as it rises: velocity a semitone over its mean, and at most."""

_USUAL = 76
_GHOST_LENGTH = TICKS_PER_QUARTER // 4

# Against a plain beat; judgements, no source. In swing a line leans on its off-beats, bass and cymbal on two
# and four, and the skips between are ghosted; in even feels the beat is heavier than what is between.
_BACKBEAT = {BASS: 3.0, RIDE: 4.0}
_OFF_BEAT = {
    MELODY: (2.0, -3.0),
    COMP: (-3.0, -3.0),
    BASS: (-8.0, -4.0),
    PEDAL: (-4.0, -4.0),
    RIDE: (-8.0, -7.0),
}
"""Part to the weight of an off-beat: swung, even."""


def levels(
    notes: Sequence[ScoreNote], plan: Plan, feel: Feel, *, swings: bool, players: Sequence[int]
) -> list[int]:
    """A velocity, 1 to 127, for each note of a score.

    Args:
        notes: ordered by onset.
        plan: where the head is.
        feel: base levels, and how the last bar goes.
        swings: whether the comp's eighths are uneven.
        players: who plays each note (see `players`); where it is one pair of hands, its top voice has the
            melody's level.
    """
    weights = _widened(notes, _weights(notes, plan, feel, swings=swings))
    tops = _tops(notes, players)
    base = [feel.velocity.get(part, _USUAL) for part in PARTS]
    found = []
    for note, player, weight in zip(notes, players, weights, strict=True):
        level = base[MELODY] - TOP_VOICE if player == SOLO else base[note.part]
        if tops.get((note.onset, player)) == note.pitch or (player == SOLO and note.part == MELODY):
            level += TOP_VOICE
        found.append(max(1, min(127, round(level + weight))))
    return found


def arc(share: float, last_bar: str) -> float:
    """The dynamic arc: velocity against a part's own level, at a share of the way to the head, 0 to 1."""
    if last_bar == "digs in":
        half = (SOFTEST + LOUDEST) / 2
        points = ((0.0, SOFTEST), (DIG_FROM, half), (1.0, LOUDEST))
    else:
        points = ((0.0, SOFTEST), (PEAK_AT, LOUDEST), (1.0, LET_GO))
    (start, first), (middle, second), (end, last) = points
    if share <= middle:
        return first + (second - first) * (share - start) / (middle - start)
    return second + (last - second) * (min(share, end) - middle) / (end - middle)


def _weights(notes: Sequence[ScoreNote], plan: Plan, feel: Feel, *, swings: bool) -> list[float]:
    sung = [note.pitch for note in notes if note.part == MELODY]
    mean = sum(sung) / max(1, len(sung))
    arcs: dict[int, float] = {}
    weights = []
    for note in notes:
        onset = note.onset
        if onset not in arcs:
            arcs[onset] = arc(onset / plan.head_tick, feel.last_bar)
        weight = arcs[onset] + _beat_weight(note, plan, swings=swings) + ACCENT * note.accent
        if note.part == MELODY:
            weight += max(-MOST_CONTOUR, min(MOST_CONTOUR, CONTOUR * (note.pitch - mean)))
        weights.append(weight)
    return weights


def _beat_weight(note: ScoreNote, plan: Plan, *, swings: bool) -> float:
    """What a note's place in the bar adds."""
    if note.onset % TICKS_PER_QUARTER:
        ghost = GHOST if note.part == COMP and note.length <= _GHOST_LENGTH and not note.accent else 0
        return _OFF_BEAT[note.part][0 if swings else 1] + ghost
    if swings and note.part in _BACKBEAT and plan.meter.beats == 4:
        return _BACKBEAT[note.part] * (note.onset // TICKS_PER_QUARTER % 2)
    return 0.0


def _widened(notes: Sequence[ScoreNote], weights: Sequence[float]) -> list[float]:
    """The weights with each part's differences enlarged where it covers too little; ornaments lowered."""
    least: dict[int, float] = {}
    most: dict[int, float] = {}
    for note, weight in zip(notes, weights, strict=True):
        if note.touch is not Touch.ORNAMENT:
            least[note.part] = min(weight, least.get(note.part, weight))
            most[note.part] = max(weight, most.get(note.part, weight))
    factors = {part: _factor(most[part] - low) for part, low in least.items()}
    middles = {part: (most[part] + low) / 2 for part, low in least.items()}
    wide = []
    for note, weight in zip(notes, weights, strict=True):
        middle = middles.get(note.part, weight)
        grace = GRACE if note.touch is Touch.ORNAMENT else 0
        wide.append(middle + (weight - middle) * factors.get(note.part, 1.0) + grace)
    return wide


def _factor(covered: float) -> float:
    return min(MOST_WIDENED, max(1.0, LEAST_RANGE / covered)) if covered > 0 else 1.0


def _tops(notes: Sequence[ScoreNote], players: Sequence[int]) -> dict[tuple[int, int], int]:
    """For each grip, by (onset, player), its highest pitch; a single note is no grip."""
    tops: dict[tuple[int, int], int] = {}
    single: dict[tuple[int, int], int] = {}
    for note, player in zip(notes, players, strict=True):
        if player not in {SOLO, COMP}:
            continue
        grip = (note.onset, player)
        if grip in single:
            tops[grip] = max(note.pitch, tops.get(grip, single[grip]))
        else:
            single[grip] = note.pitch
    return tops
