"""How an intro ends: the pickup's beats left to the melody of the head, and the landing on its downbeat.

The first chord of the head is struck on its downbeat only where the tune asks for it; as a rule the intro is
cut there, and the head speaks for itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from introit.arrange.form import ArrangeError, first_chord
from introit.arrange.plan import PlannedChord
from introit.arrange.scene import Passage, Scene, Unit
from introit.arrange.score import BASS, CLICK, COMP, MELODY, PEDAL, RIDE, ScoreNote
from introit.arrange.tones import MINOR_NINTHS
from introit.arrange.voicing import Voicing, Wish, voice
from introit.arrange.voicing.bass_room import HIGHEST_BASS, USUAL_BASS, places_of
from introit.theory.limits import is_muddy
from introit.units import TICKS_PER_QUARTER, ticks

SHORT_CHORD = TICKS_PER_QUARTER // 2
"""A chord struck on the head's downbeat lasts half a beat. Common practice, no source."""
EARLY = TICKS_PER_QUARTER // 2
"""A landing that rings may be pushed by an eighth."""
_PUSHED_ONE_IN = 3
_CEILING, _FOURTH = 77, 5

_A_GRIP = 2
"""Fewer notes at once are a line, which says nothing about where the hand lies."""
_KEEP_TIME = (RIDE, CLICK)


def finish(scene: Scene, notes: Sequence[ScoreNote], *, may_push: bool = True) -> list[ScoreNote]:
    """The notes with the end that the tune asks for.

    In the beats of the tune's pickup nothing is struck but light time and a last chord that begins there, and
    what rings ends where they begin. Every other note ends at the head's downbeat; the head's first chord
    follows where the tune lands on one.

    Args:
        scene: where.
        notes: of the whole intro, in any order.
        may_push: whether a landing that rings may come an eighth early; the dice decide.
    """
    plan = scene.plan
    quiet = plan.quiet_tick
    cut = [_cut(note, plan.head_tick if note.part in _KEEP_TIME else quiet) for note in notes]
    kept = [note for note in cut if note.length > 0]
    return kept if plan.tune.landing == "cut" else _landed(scene, kept, may_push=may_push)


def _cut(note: ScoreNote, end: int) -> ScoreNote:
    return note if note.end <= end else note._replace(length=end - note.onset)


def _landed(scene: Scene, notes: list[ScoreNote], *, may_push: bool) -> list[ScoreNote]:
    """The notes with the head's first chord after them; what still sounds gives way to a pushed one."""
    plan = scene.plan
    rings = plan.tune.landing == "ring"
    end = plan.head_tick + (max(SHORT_CHORD, ticks(plan.tune.ring)) if rings else SHORT_CHORD)
    voicing = head_voicing(scene, notes)
    free = rings and may_push and plan.pickup_tick == plan.head_tick
    pushed = free and _clears(scene, voicing, notes)
    onset = plan.head_tick - EARLY * (pushed and not scene.dice("landing").randrange(_PUSHED_ONE_IN))
    chord = [_sounded(scene, voicing, index, (onset, end)) for index in range(len(voicing.pitches))]
    if scene.seats.one_pair_of_hands:
        chord[0] = chord[0]._replace(part=BASS)
    else:
        root = _root(scene, notes, voicing)
        chord.append(ScoreNote(plan.head_tick, end - plan.head_tick, plan.head_tick, BASS, root))
    parts = {note.part for note in chord if note.onset == onset}
    kept = [_cut(note, onset) if note.part in parts else note for note in notes]
    return [*(note for note in kept if note.length > 0), *chord]


def _clears(scene: Scene, voicing: Voicing, notes: Sequence[ScoreNote]) -> bool:
    """Whether the head's chord may sound in the last eighth.

    Not where a melody leads to the head there, or a low note lies too near under the chord, or a minor ninth.
    """
    late = [note for note in notes if note.end > scene.plan.head_tick - EARLY]
    if any(note.part == MELODY for note in late):
        return False
    low = [note.pitch for note in late if note.part in (BASS, PEDAL) and not scene.seats.one_pair_of_hands]
    near = max(low, default=0) + scene.seats.over_bass > voicing.bottom
    rubs = any(high - note in MINOR_NINTHS for note in low for high in voicing.pitches)
    return not (near or rubs or is_muddy([*low, *voicing.pitches]))


def _sounded(scene: Scene, voicing: Voicing, index: int, span: tuple[int, int]) -> ScoreNote:
    place = voicing.places[index] if voicing.places else None
    return ScoreNote(
        onset=span[0],
        length=span[1] - span[0],
        harmony_tick=scene.plan.head_tick,
        part=COMP,
        pitch=voicing.pitches[index],
        string=place.string if place else None,
        fret=place.fret if place else None,
        finger=voicing.fingers[index] if voicing.fingers else None,
    )


def head_voicing(scene: Scene, notes: Sequence[ScoreNote]) -> Voicing:
    """A voicing of the head's first chord that follows from the comp's last grip.

    Found together with the last chord's, whose top voice is held where it is, so that the hand and the voices
    move as little as between any two chords; its own top lies within a fourth of that one, where it can.

    Args:
        scene: where.
        notes: of the whole intro.
    """
    seats = scene.seats
    last_tick = max((note.onset for note in notes if note.part == COMP), default=None)
    grip = [note.pitch for note in notes if note.part == COMP and note.onset == last_tick]
    plain = Wish(ceiling=_CEILING, floor=seats.lowest, bass_in_grip=seats.one_pair_of_hands)
    if len(grip) < _A_GRIP:
        return voice(_at_the_head(scene), [plain, plain])[1]
    held = plain._replace(top=frozenset({max(grip) % 12}), ceiling=max(grip))
    near = plain._replace(ceiling=min(_CEILING, max(grip) + _FOURTH), lowest_top=max(grip) - _FOURTH)
    try:
        return voice(_at_the_head(scene), [held, near])[1]
    except ArrangeError:  # the last chord lay too low to be voiced again under its own top
        return voice(_at_the_head(scene), [plain, plain])[1]


def _at_the_head(scene: Scene) -> Scene:
    """A scene of two units: the intro's last chord, and the head's first."""
    plan = scene.plan
    last = plan.chords[-1]
    head = PlannedChord(
        plan.head_tick, plan.bar_ticks, first_chord(plan.tune, plan.key.mode), plan.head, None
    )
    units = (Unit(last.onset, last.end, 0, 0), Unit(head.onset, head.end, 1, 0))
    return replace(
        scene,
        plan=replace(plan, bars=plan.bars + 1, chords=(last, head)),
        passages=(Passage(last.onset, head.end, "block"),),
        units=units,
    )


def _root(scene: Scene, notes: Sequence[ScoreNote], voicing: Voicing) -> int:
    """The head's bass note, near the last low note, and under the chord."""
    bass = scene.plan.head.bass.pitch_class
    low = [note for note in notes if note.part in (BASS, PEDAL)]
    near = max(low, key=lambda note: note.onset).pitch if low else USUAL_BASS
    highest = min(HIGHEST_BASS, voicing.bottom - scene.seats.over_bass)
    rooms = places_of(bass, highest)
    clear = [pitch for pitch in rooms if not is_muddy([pitch, *voicing.pitches])]
    return min(clear or rooms, key=lambda pitch: (abs(pitch - near), pitch))
