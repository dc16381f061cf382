"""Where the notes of the bass lead: into the coming root, clear of pedal points and pickups, and home."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from random import Random

from introit.arrange.bass.material import encloses
from introit.arrange.bass.station import AGAIN, Station
from introit.arrange.plan import Plan
from introit.units import TICKS_PER_QUARTER

LEADING_TONES = frozenset({"approach", "chromatic", "dominant", "enclosure", "skip"})
LEADING_CLASSES = frozenset({1, 2, 5, 7, 10, 11})
"""Semitones, octaves apart, from the head's root to a note that leads there: step, fourth or fifth."""
_OCTAVE_FOR_FIFTH = 0.15
_ENCLOSURE = 0.25
"""How often a two-feel takes the octave for the fifth, and a walking line goes round the coming root."""


def aimed(plan: Plan, found: Sequence[Station], rolls: Random) -> list[Station]:
    """The stations with their targets: what leads nowhere becomes a chord or scale tone, the last one leads.

    A walking line approaches every chord change, also those inside the bar ([BW1], [BW2]).
    """
    kept = _led_home(plan, _clear_of_pickup(plan, _clear_of_pedal(plan, found)))
    following: list[Station | None] = [*kept[1:], None]
    made = [_aimed(plan, one, after) for one, after in zip(kept, following[: len(kept)], strict=True)]
    return [*(_varied(plan, one, after, rolls) for one, after in pairwise(made)), *made[-1:]]


def _varied(plan: Plan, one: Station, after: Station, rolls: Random) -> Station:
    """Now and then a walking line goes round the coming root, and a two-feel takes an octave for a fifth."""
    if one.tone == "chord" and after.tone == "approach" and after.target is not None:
        around = encloses(plan.chords[one.chord].chord, after.target) and rolls.random() < _ENCLOSURE
        return one._replace(tone="enclosure", target=after.target) if around else one
    if one.tone == "fifth" and not one.walks and rolls.random() < _OCTAVE_FOR_FIFTH:
        return one._replace(tone="octave")
    return one


def _clear_of_pedal(plan: Plan, found: Sequence[Station]) -> list[Station]:
    if all(planned.pedal is None for planned in plan.chords):
        return list(found)
    return [
        one._replace(end=min(one.end, _free_until(plan, one.chord)))
        for one in found
        if plan.chords[one.chord].pedal is None and plan.chords[plan.at(one.onset)].pedal is None
    ]


def _free_until(plan: Plan, chord: int) -> int:
    """Tick at which a pedal point begins after a chord, or the head."""
    later = (planned.onset for planned in plan.chords[chord + 1 :] if planned.pedal is not None)
    return next(later, plan.head_tick)


def _clear_of_pickup(plan: Plan, found: list[Station]) -> list[Station]:
    """Nothing begins in the pickup's beats but a last chord's root that leads home; the note before rings."""
    clear = _clear_from(plan)
    if clear == plan.head_tick:
        return found
    kept = [one for one in found if one.onset < clear]
    last = (one for one in found if one.onset >= clear and plan.chords[one.chord].onset == plan.late_tick)
    roots = [one for one in last if one.tone == "root" and _leads_home(plan, one)]
    kept += roots[:1]
    if kept and len(kept) < len(found) and kept[-1].walks:
        kept[-1] = kept[-1]._replace(end=plan.chords[kept[-1].chord].end)
    return kept


def _clear_from(plan: Plan) -> int:
    """Tick from which the pickup has the stage; the head's where there is none."""
    return plan.pickup_tick


def _leads_home(plan: Plan, one: Station) -> bool:
    """Whether the root under a station lies a step, fourth or fifth from the head's."""
    apart = plan.chords[one.chord].chord.bass.pitch_class - plan.head.bass.pitch_class
    return apart % 12 in LEADING_CLASSES


def _led_home(plan: Plan, found: list[Station]) -> list[Station]:
    """The last note leads to the head's root; where a root of its own does not, another follows it."""
    clear = _clear_from(plan)
    if not found or found[-1].end + TICKS_PER_QUARTER < clear:
        return found
    last = found[-1]
    if last.tone != "root":
        return [*found[:-1], last._replace(tone="approach")] if last.walks else found
    if _leads_home(plan, last):
        return found
    length = min(last.end, clear) - last.onset
    split = last.onset + (length - TICKS_PER_QUARTER if length >= 2 * TICKS_PER_QUARTER else length // 2)
    return [*found[:-1], last._replace(end=split), last._replace(onset=split, tone="approach")]


def _aimed(plan: Plan, one: Station, after: Station | None) -> Station:
    """A station with its target; the last step of a walking line before a change is an approach."""
    if after is None:
        target = _after_last(plan, one)
    elif after.tone in {"root", AGAIN}:
        target = plan.chords[after.chord].chord.bass.pitch_class
    else:
        target = None
    if one.tone in LEADING_TONES:
        if target is not None:
            return one._replace(target=target)
        return one if one.tone == "skip" else one._replace(tone="scale" if one.walks else "chord")
    on_change = one.tone == "root"
    if one.walks and target is not None and not on_change:
        return one._replace(tone="approach", target=target)
    return one


def _after_last(plan: Plan, last: Station) -> int | None:
    """Pitch class of what comes after the last note: the head's root, or a pedal point that begins there."""
    if last.end + TICKS_PER_QUARTER >= _clear_from(plan):
        return plan.head.bass.pitch_class
    pedal = plan.chords[plan.at(last.end)].pedal
    return None if pedal is None else pedal.pitch_class
