"""Chords that wait for the player: struck once, rung until the foot lets time go on.

A fermata over the last dominant, or over every chord of the bars that are played colla voce. What a waiting
chord has to say is said at its beginning: its bass note, one rolled grip, the melody that belongs to it. Then
all of it rings, and time waits.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from introit.arrange.form import ArrangeError
from introit.arrange.plan import Plan, PlannedChord
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, ScoreNote, Touch
from introit.library.leading import BarBeat
from introit.performance import PlayedNote, Wait
from introit.units import TICKS_PER_QUARTER

_SHORTEST = 60
"""Ticks that a chord must last beyond its last onset to be waited on (a 64th)."""


def waiting_chords(plan: Plan) -> list[PlannedChord]:
    """The chords that wait: those of the bars out of time; the last dominant, or without any the last."""
    until = plan.tune.leading.colla_voce * plan.bar_ticks
    waiting = [chord for chord in plan.chords if chord.onset < until]
    held = held_chord(plan)
    return waiting if held is None or held in waiting else [*waiting, held]


def held_chord(plan: Plan) -> PlannedChord | None:
    """The chord that waits in time, too, where the tune asks for it.

    The one that sounds at the place it names; else the last dominant, or without any the last chord.

    Raises:
        ArrangeError: when the intro has no such place.
    """
    leading = plan.tune.leading
    if not leading.hold:
        return None
    if leading.held is not None:
        return plan.chords[plan.at(_tick(plan, leading.held))]
    dominants = [chord for chord in plan.chords if chord.chord.is_dominant]
    return (dominants or list(plan.chords))[-1]


def _tick(plan: Plan, place: BarBeat) -> int:
    if place.bar > plan.bars or place.beat > plan.meter.beats:
        raise ArrangeError(
            f"tune {plan.tune.title!r} holds {place}; intro {plan.intro.id!r} has bars 1 to {plan.bars}, "
            f"of {plan.meter.beats} beats"
        )
    return (place.bar - 1) * plan.bar_ticks + (place.beat - 1) * TICKS_PER_QUARTER


def gathered(plan: Plan, notes: Sequence[ScoreNote]) -> list[ScoreNote]:
    """The notes, with each waiting chord said at its beginning and rung to its end."""
    waiting = {chord.onset: chord for chord in waiting_chords(plan)}
    if not waiting:
        return list(notes)
    kept = [note for note in notes if note.harmony_tick not in waiting]
    for onset, chord in waiting.items():
        kept += _said_once([note for note in notes if note.harmony_tick == onset], chord)
    return sorted(
        (_ended(note, waiting) for note in kept), key=lambda note: (note.onset, note.part, note.pitch)
    )


def waits(plan: Plan, notes: Sequence[PlayedNote]) -> tuple[list[PlayedNote], tuple[Wait, ...]]:
    """The notes as they will sound, with where time waits: behind the last onset of each waiting chord.

    Args:
        plan: says which chords wait.
        notes: with feel in, in ticks; of waiting chords as `gathered` left them.
    """
    waiting = {chord.onset: chord for chord in waiting_chords(plan)}
    found, sounding, held = [], list(notes), held_chord(plan)
    for onset, chord in sorted(waiting.items()):
        own = [note for note in sounding if note.harmony_tick == onset]
        early = onset - min((note.onset for note in own), default=onset)
        # A roll that would end on the beat begins on it: before it, time stands still.
        own = [note._replace(onset=note.onset + early) for note in own]
        last = max((note.onset for note in own), default=onset)
        if last + _SHORTEST >= chord.end:
            continue
        rung = [note._replace(end=chord.end) if note.end > last else note for note in own]
        sounding = [note for note in sounding if note.harmony_tick != onset] + rung
        found.append(Wait(last + 1, chord.end, fermata=chord is held))
    return sorted(_not_before(note, found) for note in sounding), tuple(found)


def _not_before(note: PlayedNote, waits: Sequence[Wait]) -> PlayedNote:
    """Nothing comes early over a wait: what would begins when time goes on."""
    for wait in waits:
        if wait.tick <= note.onset < wait.to:
            return note._replace(onset=wait.to, end=max(note.end, wait.to + _SHORTEST))
    return note


def _said_once(notes: Sequence[ScoreNote], chord: PlannedChord) -> list[ScoreNote]:
    said = [note for note in notes if note.part == MELODY]
    for part in (COMP, BASS, PEDAL):
        said += _first(note for note in notes if note.part == part)
    return [
        note if note.part == MELODY else note._replace(onset=chord.onset, touch=_touch(note)) for note in said
    ]


def _first(notes: Iterable[ScoreNote]) -> list[ScoreNote]:
    """What begins together first."""
    ordered = sorted(notes, key=lambda note: note.onset)
    return [note for note in ordered if note.onset == ordered[0].onset]


def _touch(note: ScoreNote) -> Touch:
    return Touch.ROLLED if note.part == COMP else note.touch


def _ended(note: ScoreNote, waiting: dict[int, PlannedChord]) -> ScoreNote:
    """A note of a waiting chord rings to its end, and no other lasts into one."""
    chord = waiting.get(note.harmony_tick)
    if chord is not None:
        last = note.part != MELODY or note.onset + note.length >= chord.end
        return note._replace(length=chord.end - note.onset) if last else note
    end = min((onset for onset in waiting if onset > note.onset), default=None)
    return note if end is None else note._replace(length=min(note.length, end - note.onset))
