"""Where in a passage a texture may play: the beats of its bars, the ending's air, and what lies above."""

from __future__ import annotations

from introit.arrange.plan import LEAD_IN, Plan
from introit.arrange.scene import Unit
from introit.arrange.score import ScoreNote
from introit.arrange.textures.neck import Held
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish
from introit.units import TICKS_PER_QUARTER

BEAT, EIGHTH = TICKS_PER_QUARTER, TICKS_PER_QUARTER // 2
FAST = 200.0
"""Quarter notes a minute above which a texture moves in quarters and halves (common practice, no source)."""
SLOW = 80.0
"""Below this tempo it may move in triplets (judgement, no source)."""

_REACH = 5
"""Frets over the hand's position that it reaches on the highest string."""
_LOWEST_REACH = 72

CLEAR_FLOOR = 53
"""F3: from there up no bass note up to G3 lies too close below ([LI-A], [LI-B])."""
BELOW_PEAK = 2
"""Semitones that a line keeps under the one that has the intro's highest note, at least."""

BREATH = LEAD_IN + BEAT
"""What was sung before ends so long before that note: a beat before the notes that lead to it."""

Span = tuple[int, int]
"""Ticks of an onset and of an end."""


def quiet_from(plan: Plan) -> int:
    """Tick from which the tune's pickup wants the room; the head's downbeat where it has none."""
    return plan.pickup_tick


def led_from(plan: Plan) -> int:
    """Tick from which the melody leads to the tune's first note; past the head's where none is named.

    The last bar's where it has no room to lead there: then nothing takes that note away beforehand.
    """
    if plan.leads_in:
        return plan.arc_tick
    return plan.head_tick + BEAT if plan.tune.first_note is None else plan.head_tick - plan.bar_ticks


def bars_of(work: Work) -> list[list[int]]:
    """The passage's units, bar by bar."""
    bars: dict[int, list[int]] = {}
    for unit in work.units:
        bars.setdefault(work.scene.units[unit].start // work.scene.plan.bar_ticks, []).append(unit)
    return list(bars.values())


def is_last_bar(work: Work, unit: Unit) -> bool:
    """Whether a unit lies in the intro's last bar."""
    return unit.start >= work.scene.plan.head_tick - work.scene.plan.bar_ticks


def set_up(work: Work) -> Span | None:
    """The short hit that sets the head up, a beat before it; None where the pickup forbids it."""
    plan = work.scene.plan
    onset = plan.head_tick - BEAT
    free = work.passage.end == plan.head_tick and onset + EIGHTH <= quiet_from(plan)
    return (onset, onset + EIGHTH) if free and work.scene.units[-1].start < onset else None


def clear_of_bass(plain: Wish) -> Wish:
    """A wish whose voicing no bass note makes muddy; unchanged where the voicing has its own bass note."""
    return plain if plain.bass_in_grip else plain._replace(floor=max(plain.floor, CLEAR_FLOOR))


def on_guitar(work: Work) -> bool:
    """Whether what the texture makes is played on a guitar."""
    return work.scene.seats.comp_on == "guitar"


def position_at(work: Work, unit: int) -> int:
    """The fret at which the hand lies for a unit's voicing; 0 where it lies nowhere."""
    stopped = [place.fret for place in work.voicings[unit].places if place.fret]
    return min(stopped, default=0)


def reach_of(work: Work, unit: int, high: int) -> int:
    """The highest note of a line near a unit's voicing: `high`, or on a guitar what the hand reaches."""
    position = position_at(work, unit)
    if not position:
        return high
    reached = work.scene.stage.fretboard.open_pitches[-1] + position + _REACH
    return max(_LOWEST_REACH, min(high, reached - reached % 2))  # even ones only: fewer lines to find


def sounded(
    pitch: int, span: Span, *, harmony: int, part: int, held: Held | None = None, index: int = 0
) -> ScoreNote:
    """A note that is no voice of a voicing, with its place where it lies on the neck.

    Args:
        pitch: MIDI note.
        span: ticks of its onset and of its end.
        harmony: onset of its chord.
        part: index into `performance.PARTS`.
        held: the grip that it belongs to, on a guitar.
        index: which of the grip's notes it is.
    """
    note = ScoreNote(span[0], span[1] - span[0], harmony, part, pitch)
    if held is None:
        return note
    place = held.places[index]
    return note._replace(string=place.string, fret=place.fret, finger=held.fingers[index])
