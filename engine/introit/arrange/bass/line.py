"""The bass line: stations from the manners, options for each, and the best line through them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from math import pi, sin
from random import Random

from introit.arrange.bass.aim import LEADING_TONES, aimed
from introit.arrange.bass.material import HIGHEST, LIKINGS, LOWEST, repertoire
from introit.arrange.bass.moves import TABLES, Move, Row
from introit.arrange.bass.path import best_line
from introit.arrange.bass.station import Station
from introit.arrange.bass.stations import stations
from introit.arrange.bass.under import SHORTEST, Over, let_go_at, over, priced, stacked
from introit.arrange.plan import Plan
from introit.arrange.scene import Scene
from introit.arrange.score import BASS, ScoreNote
from introit.library.model import BassManner

_LIKED = (0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 5, 6, 7)
"""What the dice choose from, as places in `material.LIKINGS`: often nothing, half steps more than whole ones,
which sound blander ([BW3])."""
_LOW = 38.0
_RISE = (4.0, 6.0, 8.0)
_PEAK_AT = (0.5, 0.6, 0.7)
"""The middle of the line in MIDI notes: it begins low, rises by one of these, is highest at one of these
shares of the intro's length, and comes down before the head. Judgement, no source."""
_LIFTS = (-3, -1, 0, 1, 3)
"""By how much a single bar lies over or under that."""
_STRUCK_AGAIN = frozenset({"root", "again", "fifth", "skip", "dominant"})
"""Tones that may repeat the pitch before them, outside a walking line."""
_OFF_CENTRE = 0.09
"""Price of a semitone away from the middle."""


def bass_notes(
    scene: Scene, manners: Sequence[BassManner | None], *, above: Sequence[ScoreNote] = ()
) -> list[ScoreNote]:
    """The bass line: the root (or slash bass) where a chord begins, the manner's tones between, and smooth.

    Silent under a pedal point. The last note lies a step, fourth or fifth from the head's root. Where any
    choice allows it, no note lies a minor ninth under what sounds, lower than the intervals with it allow, or
    nearer to the comp than the line-up asks; a note ends where another comes in over it that forbids it.

    Args:
        scene: where.
        manners: one for each passage, its bars repeated; None where the bass is silent.
        above: comp and melody.
    """
    plan, rolls = scene.plan, scene.dice("bass", "line")
    found = aimed(plan, stations(scene, manners, above), rolls)
    if not found:
        return []
    sounding = over(found, stacked(above), plan)
    pitches = _pitches(scene, found, sounding, rolls)
    played = zip(found, pitches, sounding, strict=True)
    return [_note(scene, one, pitch, heard) for one, pitch, heard in played]


def _pitches(scene: Scene, found: Sequence[Station], sounding: Sequence[Over], rolls: Random) -> list[int]:
    plan, distance = scene.plan, scene.seats.over_bass
    rise, peak_at = rolls.choice(_RISE), rolls.choice(_PEAK_AT)
    repertoires = [repertoire(planned.chord) for planned in plan.chords]
    choices, lift, bar_end = [], 0, 0
    for one, heard in zip(found, sounding, strict=True):
        liking = LIKINGS[_LIKED[int(rolls.random() * len(_LIKED))]]
        plain = repertoires[one.chord].options(one.tone, one.target, liking, walks=one.walks)
        allowed = priced(plain, heard, root=_bearing_b9(plan, one), distance=distance)
        if one.onset >= bar_end:
            lift = rolls.choice(_LIFTS)
            bar_end = (one.onset // plan.bar_ticks + 1) * plan.bar_ticks
        arch = _arch(_middle(one.onset / plan.head_tick, rise, peak_at) + lift)
        choices.append([(pitch, price + arch[pitch]) for pitch, price in allowed])
    goal = [(pitch, 0.0) for pitch in _octaves(plan.head.bass.pitch_class)]
    return best_line(choices, [*(_table(*two) for two in pairwise(found)), _last_table(found[-1])], goal)


def _note(scene: Scene, one: Station, pitch: int, heard: Over) -> ScoreNote:
    plan = scene.plan
    end = min(one.end, plan.head_tick)
    if heard.later:
        stop = let_go_at(pitch, heard, root=_bearing_b9(plan, one), distance=scene.seats.over_bass)
        end = end if stop is None else min(end, max(stop, one.onset + SHORTEST))
    return ScoreNote(one.onset, end - one.onset, plan.chords[one.chord].onset, BASS, pitch)


def _bearing_b9(plan: Plan, one: Station) -> int | None:
    """Pitch class of the root where the chord is a dominant: it bears its own b9."""
    chord = plan.chords[one.chord].chord
    return chord.root.pitch_class if chord.is_dominant else None


def _table(one: Station, after: Station) -> list[Row]:
    """What the move from one station to the next costs."""
    walks = one.walks and after.walks and one.end == after.onset
    if after.tone == "octave":
        return TABLES[Move.OCTAVE, walks]
    if one.target is None or one.tone == "skip" or one.end != after.onset:
        return TABLES[Move.FREE if after.tone in _STRUCK_AGAIN else Move.ON, walks]
    return TABLES[Move.AROUND if one.tone == "enclosure" else Move.INTO, walks]


def _last_table(last: Station) -> list[Row]:
    """What the move into the head costs; in which octave the head's root will be is not known here."""
    leads = last.tone in LEADING_TONES and last.target is not None
    return TABLES[Move.INTO if leads else Move.HOME, False]


def _middle(share: float, rise: float, peak_at: float) -> int:
    """The line's middle at a share of the intro's length, as a MIDI note."""
    if share < peak_at:
        return round(_LOW + rise * sin(pi / 2 * share / peak_at))
    return round(_LOW + rise * sin(pi / 2 * (1 - share) / (1 - peak_at)))


@lru_cache(maxsize=64)
def _arch(middle: int) -> list[float]:
    """Prices of all MIDI notes by their distance from the middle."""
    return [_OFF_CENTRE * abs(pitch - middle) for pitch in range(128)]


@lru_cache(maxsize=12)
def _octaves(pitch_class: int) -> tuple[int, ...]:
    return tuple(range(LOWEST - 5 + (pitch_class - LOWEST + 5) % 12, HIGHEST + 6, 12))
