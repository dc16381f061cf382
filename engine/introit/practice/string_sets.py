"""The same voicing on the next string set: an intro's chords in drop 2 on four neighbouring strings.

Each step is one string set, from the lowest. A chord keeps its voicing from set to set: the same notes at
another place on the neck, or the same an octave away where the neck ends. Within a set the voicings lead into
each other by the smallest moves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import Plan, PlannedChord
from introit.arrange.scene import set_scene
from introit.arrange.score import COMP, Score, ScoreNote
from introit.arrange.tones import offered
from introit.errors import UsageError
from introit.theory.chord import Chord
from introit.theory.fingering import Unplayable
from introit.theory.fretboard import Fretboard, Place
from introit.theory.grip import Grip
from introit.theory.holding import FrettingHand
from introit.units import TICKS_PER_QUARTER

VOICES = 4
HIGHEST_FRET = 15
"""Behind it a cutaway is needed and the frets are narrow. Common practice, no source."""
_OCTAVE = 12
_GAP = TICKS_PER_QUARTER // 16
"""A grip is let go so many ticks before the next one."""


@dataclass(frozen=True, slots=True)
class Gripped:
    """A chord as it is held in one step.

    Attributes:
        chord: the chord where it stands.
        grip: lowest string first.
        pitches: MIDI notes, rising.
    """

    chord: PlannedChord
    grip: Grip
    pitches: tuple[int, ...]


def string_sets(fretboard: Fretboard) -> int:
    """How many sets of four neighbouring strings a neck has: 3 on six strings."""
    return fretboard.strings - VOICES + 1


def set_name(step: int, fretboard: Fretboard) -> str:
    """A string set as players say it, such as `5-4-3-2`. step: from 1, the lowest set."""
    lowest = fretboard.strings - step + 1
    return "-".join(str(string) for string in range(lowest, lowest - VOICES, -1))


def gripped(plan: Plan, fretboard: Fretboard, step: int) -> tuple[Gripped, ...]:
    """Every chord of a plan on one string set.

    Args:
        plan: the chords; bass notes and pedal points are left to the bass.
        fretboard: the neck.
        step: from 1, the lowest set.

    Raises:
        UsageError: where the neck has no such set, or a chord cannot be held on all of them.
    """
    if not 1 <= step <= string_sets(fretboard):
        raise UsageError(f"the neck has string sets 1 to {string_sets(fretboard)}, not {step}")
    options = []
    for planned in plan.chords:
        ways = _ways(planned.chord, fretboard)
        if not ways:
            raise UsageError(f"{planned.chord.symbol} has no drop 2 that this neck holds on every string set")
        options.append(ways)
    path = _path(options)
    return tuple(
        Gripped(planned, way[step - 1], tuple(sorted(way[step - 1].pitches(fretboard))))
        for planned, way in zip(plan.chords, path, strict=True)
    )


def strings_score(plan: Plan, stage: Stage, step: int, *, seed: int = 0) -> Score:
    """The chords of a step as a score: each struck where it begins and held; the comp alone.

    Raises:
        UsageError: as `gripped`.
    """
    scene = set_scene(plan, Stage(LineUp.WITH_BASS, stage.fretboard, stage.plucking, stage.click), seed=seed)
    notes = [
        ScoreNote(
            onset=held.chord.onset,
            length=max(held.chord.length - _GAP, _GAP),
            harmony_tick=held.chord.onset,
            part=COMP,
            pitch=stage.fretboard.pitch(*place),
            string=place.string,
            fret=place.fret,
        )
        for held in gripped(plan, stage.fretboard, step)
        for place in held.grip.places
    ]
    return Score(scene, tuple(sorted(notes, key=lambda note: (note.onset, note.part, note.pitch))))


Way = tuple[Grip, ...]
"""One voicing of a chord: its grip on every string set."""


def voices_of(chord: Chord) -> tuple[tuple[int, ...], ...]:
    """Four pitch classes that tell a chord, in one or two ways.

    The guide tones come first, then the tensions that are written, the fifth, and what else it offers; with
    the root, and without it where a tension is written, which then has a fifth beside it.
    """
    guides = [tone.pitch_class for tone in chord.guide_tones]
    written = [tone.pitch_class for tone in chord.required if tone.degree != 1]
    fifth = [tone.pitch_class for tone in (*chord.required, *chord.optional) if tone.degree == 5]
    others = [tone.pitch_class for tone in offered(chord)]
    root = chord.root.pitch_class
    without = [pitch for pitch in dict.fromkeys([*guides, *written, *fifth, *others]) if pitch != root]
    rooted = (*without[: VOICES - 1], root)
    has_tension = any(tone.degree > 7 for tone in chord.required)
    return (rooted, tuple(without[:VOICES])) if has_tension and fifth else (rooted,)


@lru_cache(maxsize=2048)
def _ways(chord: Chord, fretboard: Fretboard) -> tuple[Way, ...]:
    """Every drop 2 of a chord that the hand holds on all string sets, with its grip on each."""
    hand = _hand(fretboard)
    found = []
    for voices in voices_of(chord):
        for voicing in _drop_twos(voices):
            way = _held_everywhere(voicing, fretboard, hand)
            if way is not None:
                found.append(way)
    return tuple(found)


@lru_cache(maxsize=8)
def _hand(fretboard: Fretboard) -> FrettingHand:
    return FrettingHand(fretboard)


def _drop_twos(pitch_classes: Sequence[int]) -> list[tuple[int, ...]]:
    """The inversions of a drop 2: close position, its second voice from the top an octave down."""
    ordered = sorted(set(pitch_classes))
    found: list[tuple[int, ...]] = []
    for turn in range(VOICES):
        close = [ordered[turn]]
        for pitch_class in (*ordered[turn + 1 :], *ordered[:turn]):
            close.append(close[-1] + (pitch_class - close[-1]) % _OCTAVE)
        lowest, second, third, top = close
        found.append((third - _OCTAVE, lowest, second, top))
    return found


def _held_everywhere(voicing: Sequence[int], fretboard: Fretboard, hand: FrettingHand) -> Way | None:
    grips = [_held(voicing, fretboard, hand, step) for step in range(1, string_sets(fretboard) + 1)]
    held = [grip for grip in grips if grip is not None]
    return tuple(held) if len(held) == len(grips) else None


def _held(voicing: Sequence[int], fretboard: Fretboard, hand: FrettingHand, step: int) -> Grip | None:
    """The grip of a voicing on a set, in the octave that lies lowest on the neck; None where none is held."""
    lowest = fretboard.strings - step + 1
    for octave in range(0, 10):
        frets = [
            fretboard.fret(pitch + octave * _OCTAVE, lowest - voice) if pitch + octave * _OCTAVE > 0 else None
            for voice, pitch in enumerate(voicing)
        ]
        known = [fret for fret in frets if fret is not None and 1 <= fret <= HIGHEST_FRET]
        if len(known) < VOICES:
            continue
        places = [Place(lowest - voice, fret) for voice, fret in enumerate(known)]
        grip = Grip.from_places(places, strings=fretboard.strings)
        if not isinstance(hand.hold(grip), Unplayable):
            return grip
    return None


def _path(options: Sequence[Sequence[Way]]) -> list[Way]:
    """One way for each chord, so that the hand moves least on all string sets together."""
    paths: list[tuple[float, list[Way]]] = [(_height(way), [way]) for way in options[0]]
    for ways in options[1:]:
        paths = [
            min(
                ((cost + _move(path[-1], way), [*path, way]) for cost, path in paths),
                key=lambda found: found[0],
            )
            for way in ways
        ]
    return min(paths, key=lambda found: found[0])[1]


def _move(before: Way, after: Way) -> float:
    return sum(
        abs(second.fret - first.fret)
        for one, other in zip(before, after, strict=True)
        for first, second in zip(one.places, other.places, strict=True)
    ) + 0.05 * _height(after)


def _height(way: Way) -> float:
    """How far up the neck it lies."""
    return sum(place.fret for grip in way for place in grip.places) / VOICES
