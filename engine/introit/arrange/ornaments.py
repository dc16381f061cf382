"""Ornaments, sparingly: a grace note into a long note of the melody, a grip slid in from a fret below."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from introit.arrange.scene import Scene
from introit.arrange.score import BASS, COMP, MELODY, ScoreNote, Touch
from introit.arrange.textures import TEXTURES
from introit.arrange.textures.neck import held_at
from introit.arrange.tones import MINOR_NINTHS
from introit.library.model import Feel
from introit.theory.fretboard import Place
from introit.theory.limits import is_muddy
from introit.units import TICKS_PER_QUARTER, ticks_from_ms

GRACE_MS, SLIDE_MS = 60.0, 70.0
"""How long an ornament lasts, at most a quarter of a beat. Judgements, no source."""
MOST_TICKS = TICKS_PER_QUARTER // 4
GRACES, SLIDES = 0.5, 0.4
"""Chance of a grace note in a phrase with a place for one, and of a slide into a grip that may have one."""
FROM_BELOW = 2 / 3
"""Chance that a grace note comes from the half step below, not from the step above."""
LONG = TICKS_PER_QUARTER
"""A note of a beat or more is long."""
NEW_PHRASE = TICKS_PER_QUARTER
"""A rest of a beat or more ends a phrase."""
LEFT = TICKS_PER_QUARTER // 2
"""What is left at least of the note before a grace note: between running eighths there is no room for one."""
HAND_RESTS = TICKS_PER_QUARTER // 2
"""Ticks for which the hand is free before a slide."""
SLIDE_BARS = 2
"""From one slide to the next at least."""
LEAST_STRINGS, LEAST_FRET = 3, 2
"""A grip to be slid into: so many strings, and nothing open, there or a fret below."""


def ornamented(scene: Scene, feel: Feel, notes: Sequence[ScoreNote]) -> list[ScoreNote]:
    """The notes with a few ornaments among them, in any order; the notes before a grace end a little sooner.

    At most one grace note a phrase, at most one slide in two bars; none in the last bar, none into a rolled
    grip, none where anything would clash or sound twice.
    """
    played = list(notes)
    if "grace" in feel.ornaments:
        played = _graced(scene, played)
    if "slide" in feel.ornaments and scene.seats.comp_on == "guitar":
        played += _slides(scene, played)
    return played


def _graced(scene: Scene, notes: list[ScoreNote]) -> list[ScoreNote]:
    melody = sorted((note for note in notes if note.part == MELODY), key=lambda note: note.onset)
    if not melody:
        return notes
    dice, length, clear = scene.dice("ornaments", "grace"), _length(scene, GRACE_MS), _clear(scene)
    highest = max(note.pitch for note in melody)
    for phrase in _phrases(melody):
        wanted, below = dice.random() < GRACES, dice.random() < FROM_BELOW
        places = [note for note in phrase if wanted and note.length >= LONG and note.onset < clear]
        places = [note for note in places if _may_be_graced(scene, note, notes, length)]
        if not places:
            continue
        main = dice.choice(places)
        for grace in _graces(scene, main, length, below=below):
            shortened = _with_room(notes, grace)
            if shortened is not None and grace.pitch <= highest:
                notes = [*shortened, grace]
                break
    return notes


def _phrases(melody: Sequence[ScoreNote]) -> list[list[ScoreNote]]:
    phrases = [[note] for note in melody[:1]]
    for before, note in pairwise(melody):
        if note.onset - before.end >= NEW_PHRASE:
            phrases.append([])
        phrases[-1].append(note)
    return phrases


def _may_be_graced(scene: Scene, main: ScoreNote, notes: Sequence[ScoreNote], length: int) -> bool:
    """Whether a long melody note is alone, and in no texture that sings for itself.

    One pair of hands has a finger free for it only where it holds nothing else.
    """
    start = main.onset - length
    if start < 0 or main.touch is Touch.ROLLED:
        return False
    if TEXTURES[scene.passage_at(main.onset).texture].sings:
        return False
    beside = [note for note in notes if note is not main and note.onset <= main.onset and note.end > start]
    held = [note for note in beside if note.part == MELODY and note.onset == main.onset]
    if scene.seats.one_pair_of_hands:
        held += [note for note in beside if note.end > main.onset or note.part != MELODY]
    return not held


def _graces(scene: Scene, main: ScoreNote, length: int, *, below: bool) -> list[ScoreNote]:
    """The grace notes that might lead to a note, the wanted one first."""
    plan = scene.plan
    scale = {tone.pitch_class for tone in plan.chords[plan.at(main.harmony_tick)].chord.scale}
    steps = [-1, *(step for step in (1, 2) if (main.pitch + step) % 12 in scale)][:2]
    graces = [_leading(scene, main, step, length) for step in (steps if below else steps[::-1])]
    return [grace for grace in graces if grace is not None]


def _leading(scene: Scene, main: ScoreNote, step: int, length: int) -> ScoreNote | None:
    """The ornament right before a note, so many semitones from it on the same string; None off the neck."""
    fret = finger = None
    if main.fret is not None:
        fret = main.fret + step
        finger = main.finger if step < 0 and fret else None
        if not 0 <= fret <= scene.stage.fretboard.frets:
            return None
    return main._replace(
        onset=main.onset - length,
        length=length,
        pitch=main.pitch + step,
        accent=False,
        touch=Touch.ORNAMENT,
        fret=fret,
        finger=finger,
    )


def _with_room(notes: list[ScoreNote], grace: ScoreNote) -> list[ScoreNote] | None:
    """The notes, the melody's last one ended where the grace note begins; None where it would clash."""
    start, end = grace.onset, grace.end
    shortened = list(notes)
    for index, note in enumerate(notes):
        if not (note.onset < end and start < note.onset + note.length):
            continue
        if note.part == MELODY:
            room = start - note.onset
            if note.pitch == grace.pitch or room < LEFT:
                return None
            shortened[index] = note._replace(length=room)
        elif _clash(note.pitch, grace.pitch):
            return None
    return shortened


def _slides(scene: Scene, notes: Sequence[ScoreNote]) -> list[ScoreNote]:
    dice, length, clear = scene.dice("ornaments", "slide"), _length(scene, SLIDE_MS), _clear(scene)
    parts = {COMP, MELODY, BASS} if scene.seats.one_pair_of_hands else {COMP}
    # A line that a texture brings lies on the comp's own neck.
    hand = [note for note in notes if note.part in parts or note.string is not None]
    grips: dict[int, list[ScoreNote]] = {}
    for note in hand:
        grips.setdefault(note.onset, []).append(note)
    slides: list[ScoreNote] = []
    free = 0
    for onset, grip in sorted(grips.items()):
        if not max(free, length) <= onset < clear or not _may_be_slid(grip):
            continue
        before = onset - max(length, HAND_RESTS)
        if any(note.onset < onset and note.end > before for note in hand):
            continue
        others = [note for note in notes if note.onset < onset and note.end > onset - length]
        if _slides_clear(scene, grip, others) and dice.random() < SLIDES:
            led = [_leading(scene, note, -1, length) for note in grip]
            slides += [note for note in led if note is not None]
            free = onset + SLIDE_BARS * scene.plan.bar_ticks
    return slides


def _may_be_slid(grip: Sequence[ScoreNote]) -> bool:
    """Whether a grip is struck, fretted throughout and wide enough apart to come up from a fret below."""
    if len(grip) < LEAST_STRINGS:
        return False
    if any(note.touch is not Touch.STRUCK or (note.fret or 0) < LEAST_FRET for note in grip):
        return False
    pitches = sorted(note.pitch for note in grip)
    return all(upper - lower > 1 for lower, upper in pairwise(pitches)) and all(
        note.length >= HAND_RESTS for note in grip
    )


def _slides_clear(scene: Scene, grip: Sequence[ScoreNote], others: Sequence[ScoreNote]) -> bool:
    """Whether a grip a half step lower keeps its register, and clashes with nothing that sounds meanwhile."""
    places = tuple(Place(note.string, note.fret - 1) for note in grip if note.string and note.fret)
    if len(places) < len(grip) or held_at(scene.stage, places) is None:
        return False
    lowered = [note.pitch - 1 for note in grip]
    sounding = [note.pitch for note in others]
    low = [note.pitch for note in others if note.part == BASS]
    return (
        min(lowered) >= scene.seats.lowest
        and all(min(lowered) - pitch >= scene.seats.over_bass for pitch in low)
        and not is_muddy([*lowered, *sounding])
        and not any(_clash(one, other) for one in lowered for other in sounding)
    )


def _clear(scene: Scene) -> int:
    """Where ornaments end: at the last bar, or at the pickup where that is longer."""
    plan = scene.plan
    return min(plan.head_tick - plan.bar_ticks, plan.pickup_tick)


def _clash(one: int, other: int) -> bool:
    """Whether two notes are the same, or rub at a half step or its octaves."""
    return one == other or abs(one - other) in MINOR_NINTHS


def _length(scene: Scene, milliseconds: float) -> int:
    return min(MOST_TICKS, ticks_from_ms(milliseconds, scene.plan.tempo))
