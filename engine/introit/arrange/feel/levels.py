"""Levels: one arc over the intro, weights within the bar, and the top voice over its grip."""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.feel.one_arc import in_one_arc
from introit.arrange.feel.players import SOLO
from introit.arrange.feel.widening import widened
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
TOP_VOICE = 8
"""The highest note of a grip over the rest of it (6 to 12: common practice, no source)."""
SINGING = 4
"""A comp that brings its own upper line, over its usual level."""
ACCENT = 10
GHOST, GRACE = -7, -12
"""What a comp's dab of a quarter of a beat, and an ornament, lie under a plain note."""
CONTOUR, MOST_CONTOUR = 0.5, 5.0
"""A melody swells as it rises: velocity a semitone over its phrase's mean, and at most."""

_USUAL = 76
_ROUNDS = 3
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
    notes: Sequence[ScoreNote],
    plan: Plan,
    feel: Feel,
    *,
    swings: bool,
    players: Sequence[int],
    alone: bool = False,
) -> list[int]:
    """A velocity, 1 to 127, for each note of a score.

    Args:
        notes: ordered by onset.
        plan: where the head is.
        feel: base levels, and how the last bar goes.
        swings: whether the comp's eighths are uneven.
        players: who plays each note (see `players`).
        alone: whether one pair of hands plays everything: its top voice has the melody's level. Where it
            only sings for a while among others, it keeps near the comp's level, so that the comp does not
            fall away behind it.
    """
    weights = _weights(notes, plan, feel, swings=swings)
    usual = _usual_levels(notes, feel, players, alone=alone)
    rises = _rises(notes, players)
    found = [level + rise for level, rise in zip(usual, rises, strict=True)]
    for _ in range(_ROUNDS):
        wide = widened(notes, weights, usual, rises=rises, head_tick=plan.head_tick)
        found = [level + rise for level, rise in zip(wide, rises, strict=True)]
        fallen = in_one_arc(notes, found, plan)
        if not any(fallen):
            break
        usual = [level + change for level, change in zip(usual, fallen, strict=True)]
    return [max(1, min(127, round(level))) for level in found]


def arc(share: float, last_bar: str) -> float:
    """The dynamic arc: velocity against a part's own level, at a share of the way to the head, 0 to 1."""
    if last_bar == "digs in":
        middle, second, last = DIG_FROM, (SOFTEST + LOUDEST) / 2, LOUDEST
    else:
        middle, second, last = PEAK_AT, LOUDEST, LET_GO
    if share <= middle:
        return SOFTEST + (second - SOFTEST) * share / middle
    return second + (last - second) * (min(share, 1.0) - middle) / (1.0 - middle)


def _weights(notes: Sequence[ScoreNote], plan: Plan, feel: Feel, *, swings: bool) -> list[float]:
    """What each note's place in the intro, in the bar and in the melody adds to its part's level."""
    contours = _contours(notes)
    arcs: dict[int, float] = {}
    weights = []
    for note in notes:
        onset, part = note.onset, note.part
        weight = arcs.get(onset)
        if weight is None:
            weight = arcs[onset] = arc(onset / plan.head_tick, feel.last_bar)
        if onset % TICKS_PER_QUARTER:
            weight += _OFF_BEAT[part][0 if swings else 1]
            if part == COMP and note.length <= _GHOST_LENGTH and not note.accent:
                weight += GHOST
        elif swings and part in _BACKBEAT and plan.meter.beats == 4 and onset // TICKS_PER_QUARTER % 2:
            weight += _BACKBEAT[part]
        if note.accent:
            weight += ACCENT
        if part == MELODY:
            weight += contours[note]
        weights.append(weight)
    return weights


def _usual_levels(
    notes: Sequence[ScoreNote], feel: Feel, players: Sequence[int], *, alone: bool
) -> list[float]:
    """The level about which each note lies; what one player sings lies over what he plays under it."""
    base = [float(feel.velocity.get(part, _USUAL)) for part in PARTS]
    together = base[MELODY] - TOP_VOICE if alone else base[COMP] + SINGING
    return [
        base[note.part] if player != SOLO else together + TOP_VOICE * (note.part == MELODY)
        for note, player in zip(notes, players, strict=True)
    ]


def _rises(notes: Sequence[ScoreNote], players: Sequence[int]) -> list[float]:
    """What a grip's top voice lies over, and an ornament under, the other notes."""
    tops = _tops(notes, players)
    return [
        TOP_VOICE * (tops.get((note.onset, player)) == note.pitch and note.part != MELODY)
        + GRACE * (note.touch is Touch.ORNAMENT)
        for note, player in zip(notes, players, strict=True)
    ]


def _contours(notes: Sequence[ScoreNote]) -> dict[ScoreNote, float]:
    """How far each note of the melody swells: against its own phrase, wherever that lies."""
    found: dict[ScoreNote, float] = {}
    for phrase in _phrases([note for note in notes if note.part == MELODY]):
        mean = sum(note.pitch for note in phrase) / len(phrase)
        for note in phrase:
            found[note] = max(-MOST_CONTOUR, min(MOST_CONTOUR, CONTOUR * (note.pitch - mean)))
    return found


def _phrases(sung: Sequence[ScoreNote]) -> list[list[ScoreNote]]:
    """A melody parted where it rests for a beat."""
    found: list[list[ScoreNote]] = []
    end = 0
    for note in sung:
        if not found or note.onset - end >= TICKS_PER_QUARTER:
            found.append([])
        found[-1].append(note)
        end = max(end, note.end)
    return found


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
