"""Rules of the end: the head's downbeat is free, and everything leads there."""

from __future__ import annotations

from collections.abc import Iterator

from introit.arrange.review.breach import Breach, pitch_name, plural, said
from introit.arrange.review.hearing import Hearing
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, ScoreNote
from introit.performance import PARTS
from introit.theory.pitch import read_degree
from introit.units import TICKS_PER_QUARTER, ticks

LEADING = frozenset({1, 2, 5, 7, 10, 11})
"""Semitones, within the octave, of a step, a fourth or a fifth either way."""
SHORT_CHORD = TICKS_PER_QUARTER
"""The landing's one short chord lasts at most a beat (judgement, no source)."""
LAST_EIGHTH = TICKS_PER_QUARTER // 2
_STEP = 2


def after_the_head(hearing: Hearing) -> Iterator[Breach]:
    """Nothing sounds from the head's downbeat on but what the tune's landing asks for."""
    tune, head = hearing.plan.tune, hearing.plan.head_tick
    room = {"chord": SHORT_CHORD, "ring": ticks(tune.ring)}.get(tune.landing, 0)
    for note in hearing.score.notes:
        struck_late = note.onset >= head and (note.onset > head or tune.landing == "cut")
        crosses = note.onset < head < note.end and tune.landing != "ring"
        if struck_late or crosses or note.end > head + room:
            where = "begins after" if note.onset > head else "sounds past"
            text = f"{said(note)} {where} the head's downbeat (landing: {tune.landing})"
            yield hearing.breach("after the head", note.onset, text)


def last_bass_note(hearing: Hearing) -> Iterator[Breach]:
    """The last bass note lies a step, fourth or fifth from the head's root; a pedal point may stay."""
    before = [note for note in hearing.low_notes if note.harmony_tick < hearing.plan.head_tick]
    if not before or before[-1].part == PEDAL or _is_pedal(hearing, before[-1]):
        return
    last, head = before[-1], hearing.plan.head
    roots = {head.root.pitch_class, head.bass.pitch_class}
    if not any((root - last.pitch) % 12 in LEADING for root in roots):
        text = f"bass: {pitch_name(last.pitch)} is no step, fourth or fifth from {head.root}, the head's root"
        yield hearing.breach("last bass note", last.onset, text)


def melody_out(hearing: Hearing) -> Iterator[Breach]:
    """The melody leaves the last bar to the set-up, unless it leads to the head's first note, by step."""
    if not hearing.melody:
        return
    plan, last = hearing.plan, hearing.melody[-1]
    beat = hearing.measures.melody_out[plan.meter.beats]
    limit = plan.head_tick - plan.bar_ticks + (beat - 1) * TICKS_PER_QUARTER
    if last.end > limit and not leads_home(hearing, last):
        text = f"{said(last)} sounds past beat {beat} of the last bar and leads nowhere named"
        yield hearing.breach("melody out", last.onset, text)
    if _is_first_note(hearing, last) and last.onset >= plan.head_tick - plan.bar_ticks:
        text = f"{said(last)} doubles the head's first note"
        yield hearing.breach("melody out", last.onset, text)


def pickup(hearing: Hearing) -> Iterator[Breach]:
    """The beats of the tune's pickup are the soloist's: no melody, comp and bass clear or thin."""
    length, head = hearing.plan.head_tick - hearing.plan.pickup_tick, hearing.plan.head_tick
    if not length:
        return
    start = head - length
    for note in hearing.parts[MELODY]:
        if note.end > start and note.onset < head:
            yield hearing.breach(
                "pickup", note.onset, f"melody: {pitch_name(note.pitch)} sounds in the pickup"
            )
    most = int(hearing.measures["pickup"].most)
    for part in (COMP, BASS):
        onsets = sorted({note.onset for note in hearing.parts[part] if start <= note.onset < head})
        if len(onsets) > most:
            text = f"{PARTS[part]}: {plural(len(onsets), 'onset')} in the pickup; at most {most}"
            yield hearing.breach("pickup", onsets[most], text)


def push_into_head(hearing: Hearing) -> Iterator[Breach]:
    """A hit on the last eighth has nowhere to ring when the intro is cut on the downbeat."""
    head = hearing.plan.head_tick
    if hearing.plan.tune.landing == "ring":
        return
    for hit in hearing.onsets:
        pushes = hit.notes[0].harmony_tick >= head or len(hit.notes) > 1
        if (
            head - LAST_EIGHTH <= hit.onset < head
            and pushes
            and hit.texture not in hearing.measures.own_rhythm
        ):
            text = (
                f"comp: a hit on the last eighth, and the landing does not ring ({hearing.plan.tune.landing})"
            )
            yield hearing.breach("push into the head", hit.onset, text)


def _is_pedal(hearing: Hearing, note: ScoreNote) -> bool:
    planned = hearing.planned(note)
    return planned is not None and planned.pedal is not None and planned.pedal.pitch_class == note.pitch % 12


def _first_note(hearing: Hearing) -> int | None:
    """Pitch class of the head's first melody note, where the tune names it."""
    degree = hearing.plan.tune.first_note
    if degree is None:
        return None
    number, alter = read_degree(degree)
    return hearing.plan.key.degree(number, alter).pitch_class


def leads_home(hearing: Hearing, note: ScoreNote) -> bool:
    """Whether a note lies a step from the head's first note, where the tune names that."""
    first = _first_note(hearing)
    if first is None:
        return False
    return min((first - note.pitch) % 12, (note.pitch - first) % 12) in range(1, _STEP + 1)


def _is_first_note(hearing: Hearing, note: ScoreNote) -> bool:
    return _first_note(hearing) == note.pitch % 12


RULES = (after_the_head, last_bass_note, melody_out, pickup, push_into_head)
