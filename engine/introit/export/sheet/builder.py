"""A score's sheet: which player has which staves, which notes are which voice, and what stands above."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from introit.arrange.led import out_of_time_until, vamp_of, waiting_chords
from introit.arrange.plan import Plan, PlannedChord
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, Score, ScoreNote, Touch
from introit.export.sheet.accidentals import with_accidentals
from introit.export.sheet.model import Clef, Event, Sheet, SheetPart, Voice
from introit.export.sheet.neck import placed
from introit.export.sheet.spelling import Following, spelled
from introit.export.sheet.voices import Stroke, events, silence, strokes, with_few_rests, with_one_fermata
from introit.library.model import Feel, Library
from introit.theory.pitch import Tone
from introit.units import TICKS_PER_QUARTER as BEAT

_GUITAR, _PIANO, _DOUBLE_BASS = 27, 1, 33
"""General MIDI 1 sounds, as printed: jazz guitar, acoustic grand, acoustic bass."""
_LET_RING = frozenset({"bell", "broken", "harmonised arpeggio"})
_MIDDLE_C = 60
_MELODY_STAYS_OVER = 14
_FINEST_SWING = 10


@dataclass(frozen=True, slots=True)
class _Layer:
    """A voice of the whole intro: its strokes and where it stands."""

    strokes: list[Stroke]
    staff: int
    stem: str


def sheet_of(score: Score, library: Library, *, tune: str = "") -> Sheet:
    """What is written down of a score.

    Args:
        score: the notes.
        library: holds the feel.
        tune: the tune's title, where it is more than the intro itself.
    """
    plan, scene = score.plan, score.scene
    feel = library.feels[plan.tune.feel]
    parts = _Writer(score).parts()
    vamp = vamp_of(plan)
    return Sheet(
        title=plan.intro.name,
        tune=tune,
        key=plan.key,
        meter=plan.meter,
        tempo=plan.tempo,
        feel=feel.name,
        swing=swing_at(feel, plan.tempo),
        line_up=scene.stage.line_up.value,
        bars=plan.bars,
        chords=plan.chords,
        head=_head(plan) if len(parts[0].bars) > plan.bars else None,
        vamp=None if vamp is None else (vamp[0] // plan.bar_ticks, vamp[1] // plan.bar_ticks - 1),
        free_until=min(out_of_time_until(plan), plan.head_tick),
        let_ring=frozenset(
            passage.start
            for passage in scene.passages
            if passage.texture in _LET_RING and scene.seats.comp_on == "guitar"
        ),
        parts=tuple(with_accidentals(part, plan.key) for part in parts),
        why=" ".join(plan.intro.why.split()),
    )


def _head(plan: Plan) -> PlannedChord:
    """The head's first chord, for a bar."""
    return PlannedChord(plan.head_tick, plan.bar_ticks, plan.tune.first_chord, plan.head, None)


def swing_at(feel: Feel, tempo: float) -> Fraction:
    """Long eighth to short eighth of a feel's comp at a tempo, to a tenth; 1 is even."""
    points = feel.swing.get("comp", ((tempo, 1.0),))
    below = [point for point in points if point[0] <= tempo] or [points[0]]
    above = [point for point in points if point[0] >= tempo] or [points[-1]]
    (low, first), (high, second) = below[-1], above[0]
    share = 0.0 if high == low else (tempo - low) / (high - low)
    return Fraction(round((first + (second - first) * share) * _FINEST_SWING), _FINEST_SWING)


class _Writer:
    """Writes the parts of one score."""

    def __init__(self, score: Score) -> None:
        self._score = score
        self._plan = score.plan
        self._stage = score.scene.stage
        head = self._plan.head_tick
        landing = max((note.end for note in score.notes if note.onset >= head), default=head)
        bar = self._plan.bar_ticks
        self._bars = max(self._plan.bars, -(-landing // bar))
        self._end = self._bars * bar
        self._waits = frozenset(chord.onset for chord in waiting_chords(self._plan))
        self._names: dict[ScoreNote, Tone] = {}

    def parts(self) -> list[SheetPart]:
        seats = self._stage.seats
        melody, comp = self._of(MELODY), self._of(COMP)
        low, pedal = self._of(BASS), self._of(PEDAL)
        if seats.one_pair_of_hands:
            return [self._guitar(self._solo(melody, comp, [*low, *pedal]))]
        found = []
        if seats.comp_on == "guitar":
            on_neck = placed(melody, self._stage.fretboard, kept=comp)
            found.append(self._guitar(self._two_voices(on_neck, comp)))
        else:
            on_neck = placed(melody, self._stage.fretboard)
            if on_neck:
                found.append(self._guitar([_Layer(self._strokes(on_neck), 1, "")]))
            found.append(self._keys(comp))
        if low or pedal:
            found.append(self._bass(low, pedal))
        return found

    # --- players ------------------------------------------------------------------------------------

    def _guitar(self, layers: Sequence[_Layer]) -> SheetPart:
        neck = self._stage.fretboard
        tab = [_Layer(_on_strings(layer.strokes), 2, "") for layer in layers]
        return SheetPart(
            "Guitar",
            _GUITAR,
            (Clef.GUITAR, Clef.TAB),
            neck.open_pitches,
            neck.capo,
            self._bars_of([*layers, *tab], staves=2),
        )

    def _keys(self, comp: Sequence[ScoreNote]) -> SheetPart:
        upper = [note for note in comp if note.pitch >= _MIDDLE_C]
        lower = [note for note in comp if note.pitch < _MIDDLE_C]
        layers = [_Layer(self._strokes(upper), 1, ""), _Layer(self._strokes(lower), 2, "")]
        clefs = (Clef.TREBLE, Clef.BASS)
        return SheetPart("Keys", _PIANO, clefs, (), 0, self._bars_of(layers, staves=2))

    def _bass(self, low: Sequence[ScoreNote], pedal: Sequence[ScoreNote]) -> SheetPart:
        walked, held = self._strokes(low), self._strokes(pedal)
        apart = any(one.start < other.end and other.start < one.end for one in walked for other in held)
        layers = (
            [_Layer(walked, 1, "up"), _Layer(held, 1, "down")]
            if apart
            else [_Layer(self._strokes([*low, *pedal]), 1, "")]
        )
        return SheetPart("Bass", _DOUBLE_BASS, (Clef.DOUBLE_BASS,), (), 0, self._bars_of(layers, staves=1))

    def _solo(
        self, melody: Sequence[ScoreNote], comp: Sequence[ScoreNote], low: Sequence[ScoreNote]
    ) -> list[_Layer]:
        """Melody up; grips and bass down, the bass by itself where it sounds on under what comes."""
        under = [note for note in low if note.touch is not Touch.ORNAMENT]
        ringing = [
            note
            for note in under
            if any(note.onset < other.onset <= note.end - BEAT // 2 for other in [*comp, *under])
        ]
        alone = set(ringing)
        together = [*comp, *(note for note in low if note not in alone)]
        layers = [_Layer(self._strokes(melody), 1, "up")] if melody else []
        layers.append(_Layer(self._strokes(together), 1, "down" if melody or ringing else ""))
        if ringing:
            if not melody:
                layers[0] = _Layer(layers[0].strokes, 1, "up")
            layers.append(_Layer(self._strokes(ringing), 1, "down"))
        return layers

    def _two_voices(self, melody: Sequence[ScoreNote], comp: Sequence[ScoreNote]) -> list[_Layer]:
        if not melody:
            return [_Layer(self._strokes(comp), 1, "")]
        return [_Layer(self._strokes(melody), 1, "up"), _Layer(self._strokes(comp), 1, "down")]

    # --- bars ---------------------------------------------------------------------------------------

    def _of(self, part: int) -> list[ScoreNote]:
        return [note for note in self._score.notes if note.part == part]

    def _strokes(self, notes: Sequence[ScoreNote]) -> list[Stroke]:
        self._name(notes)
        return strokes(notes, limit=self._end)

    def _name(self, notes: Sequence[ScoreNote]) -> None:
        """From the last note to the first: a name may go by that of what follows."""
        plan = self._plan
        after: list[ScoreNote] = []
        for _, group in groupby(sorted(notes, key=_onset, reverse=True), key=_onset):
            struck = list(group)
            for note in struck:
                chord = (
                    plan.head
                    if note.harmony_tick >= plan.head_tick
                    else plan.chords[plan.at(note.harmony_tick)].chord
                )
                nearest = min(after, key=lambda other: abs(other.pitch - note.pitch), default=None)
                goes_to = None if nearest is None else Following(nearest.pitch, self._names[nearest])
                self._names[note] = spelled(
                    note.pitch, chord, plan.key, goes_to=goes_to, in_grip=len(struck) > 1
                )
            after = struck

    def _bars_of(self, layers: Sequence[_Layer], *, staves: int) -> tuple[tuple[Voice, ...], ...]:
        return tuple(self._bar(number, layers, staves) for number in range(self._bars))

    def _bar(self, number: int, layers: Sequence[_Layer], staves: int) -> tuple[Voice, ...]:
        start = number * self._plan.bar_ticks
        end = start + self._plan.bar_ticks
        voices: list[Voice] = []
        for staff in range(1, staves + 1):
            own = [(index, layer) for index, layer in enumerate(layers, 1) if layer.staff == staff]
            heard = [(index, layer) for index, layer in own if _sounds(layer, start, end)]
            if not heard:
                voices.append(Voice(own[0][0], staff, "", silence(self._plan.meter, start)))
                continue
            written = [self._events(layer, start, end) for _, layer in heard]
            shown = with_one_fermata(with_few_rests(written))
            for (index, layer), found in zip(heard, shown, strict=True):
                voices.append(Voice(index, staff, layer.stem if len(heard) > 1 else "", found))
        return tuple(voices)

    def _events(self, layer: _Layer, start: int, end: int) -> tuple[Event, ...]:
        return events(
            layer.strokes, self._names, self._plan.meter, start=start, end=end, fermatas=self._waits
        )


def _onset(note: ScoreNote) -> int:
    return note.onset


def _sounds(layer: _Layer, start: int, end: int) -> bool:
    return any(stroke.start < end and stroke.end > start for stroke in layer.strokes)


def _on_strings(voice: Sequence[Stroke]) -> list[Stroke]:
    """Only what lies on the neck, of a voice."""
    found = []
    for stroke in voice:
        notes = tuple(note for note in stroke.notes if note.string is not None)
        grace = tuple(note for note in stroke.grace if note.string is not None)
        if notes:
            found.append(Stroke(stroke.start, stroke.end, notes, grace))
    return found
