"""Where time waits, and how a waiting chord begins where there is no time before it."""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.led import held_chord, waiting_chords
from introit.arrange.plan import PlannedChord
from introit.arrange.scene import Scene
from introit.arrange.score import BASS, COMP, MELODY, PEDAL
from introit.performance import PlayedNote, Wait
from introit.units import ticks_from_ms

_SHORTEST = 60
"""Ticks that a chord lasts beyond its last onset (a 64th)."""
_SLOW_ROLL_MS = 120.0
"""From note to note: four of them in about half a second (judgement, no source)."""
_SOFT, _SOFT_ON_TOP = 0.8, 0.95
"""Shares of the level that the grip would be struck at (judgement, no source)."""


def waits(scene: Scene, notes: Sequence[PlayedNote]) -> tuple[list[PlayedNote], tuple[Wait, ...]]:
    """The notes as they will sound, with where time waits: behind the last onset of each waiting chord.

    Args:
        scene: says which chords wait.
        notes: with feel in, in ticks; of waiting chords as `fermata.gathered` left them.
    """
    chords, held = waiting_chords(scene.plan), held_chord(scene.plan)
    sounding, found = list(notes), []
    for chord in chords:
        after_a_wait = any(other.end == chord.onset for other in chords)
        own = [note for note in sounding if note.harmony_tick == chord.onset]
        own = _from_its_beat(scene, chord, own, after_a_wait=after_a_wait)
        if chord is held and scene.plan.tune.leading.rolled:
            own = _slowly_rolled(scene, chord, own)
        last = max((note.onset for note in own), default=chord.onset)
        rung = [note._replace(end=chord.end) if note.end > last else note for note in own]
        sounding = [note for note in sounding if note.harmony_tick != chord.onset] + rung
        found.append(Wait(max(last, chord.onset) + 1, chord.end, fermata=chord is held))
    for chord in chords:
        sounding = _not_before(chord, sounding)
    return sorted(sounding), tuple(found)


def _from_its_beat(
    scene: Scene, chord: PlannedChord, notes: Sequence[PlayedNote], *, after_a_wait: bool
) -> list[PlayedNote]:
    """A roll that would end on the beat begins on it, with the bass; what follows the roll comes later by it.

    Where time has waited before, nothing begins before the beat: there is no time before it.
    """
    hands = _hands(scene)
    early = max((chord.onset - note.onset for note in notes if note.part in hands), default=0)
    latest = chord.end - _SHORTEST - 1
    begun = []
    for note in notes:
        shift = max(0, early) if note.part in (*hands, MELODY) else 0
        waited = after_a_wait or note.part != MELODY
        onset = min(latest, max(chord.onset, note.onset + shift) if waited else note.onset + shift)
        end = min(chord.end, max(note.end + shift, onset + _SHORTEST))
        begun.append(note._replace(onset=onset, end=end))
    return begun


def _slowly_rolled(scene: Scene, chord: PlannedChord, notes: Sequence[PlayedNote]) -> list[PlayedNote]:
    """The grip's notes one by one from the beat on, softly, the top one least; the melody after them.

    Where there is no time for the melody to follow, it sings over the roll.
    """
    hands = _hands(scene)
    grip = sorted((note for note in notes if note.part in hands), key=lambda note: note.pitch)
    if not grip:
        return list(notes)
    step = min(ticks_from_ms(_SLOW_ROLL_MS, scene.plan.tempo), chord.length * 3 // 4 // len(grip))
    taken = step * (len(grip) - 1)
    sung = [note for note in notes if note.part == MELODY]
    first = min((note.onset for note in sung), default=chord.end)
    last = max((note.onset for note in sung), default=chord.onset)
    follows = first < chord.onset + taken and last + taken < chord.end - _SHORTEST
    shift = taken if follows else 0
    rolled = [
        note._replace(
            onset=chord.onset + step * rank,
            end=chord.end,
            velocity=max(1, round(note.velocity * (_SOFT if note is not grip[-1] else _SOFT_ON_TOP))),
        )
        for rank, note in enumerate(grip)
    ]
    others = [note for note in notes if note.part not in (*hands, MELODY)]
    later = [note._replace(onset=note.onset + shift, end=min(chord.end, note.end + shift)) for note in sung]
    return [*others, *rolled, *later]


def _hands(scene: Scene) -> tuple[int, ...]:
    """The parts that are struck in one grip."""
    return (COMP, BASS, PEDAL) if scene.seats.one_pair_of_hands else (COMP,)


def _not_before(chord: PlannedChord, notes: Sequence[PlayedNote]) -> list[PlayedNote]:
    """Nothing comes early over a wait: what would begins when time goes on; of a melody only the last."""
    early = [
        note for note in notes if chord.onset <= note.onset < chord.end and note.harmony_tick >= chord.end
    ]
    late = max((note.onset for note in early if note.part == MELODY), default=0)
    sung = min((note.onset for note in notes if note.part == MELODY and note.onset > chord.end), default=None)
    moved = set(early)
    kept = [note for note in notes if note not in moved]
    for note in early:
        if note.part == MELODY and note.onset != late:
            continue
        end = max(note.end, chord.end + note.end - note.onset)
        if note.part == MELODY and sung is not None:
            end = min(end, max(sung, chord.end + _SHORTEST))
        kept.append(note._replace(onset=chord.end, end=end))
    return kept
