"""Chord diagrams: the grips of a score as a guitarist reads them, told from the very notes that it has.

A grip is what lies under the fretting hand at once: bass note and inner voices on a guitar alone, else what
the comp plays on a guitar; and with either the melody note that begins with them. A broken chord is the grip
that its notes add up to, as long as one hand holds it. Where a voice moves to another fret, the chord has a
new diagram. Grace notes are in none.

Frets are counted from the capo, like everywhere in the house: the nut of a diagram is the capo,
where there is one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

from introit.arrange.arranger import symbol_of
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, Score, ScoreNote, Touch
from introit.theory.fretboard import Place
from introit.theory.grip import Grip
from introit.theory.holding import FrettingHand, hand_on, placed_on

ROWS = 4
"""Rows that a diagram has as a rule; more where a grip reaches over more frets."""
_FULL = 3
"""Notes from which on a grip tells a chord."""
_UNDER_HAND = frozenset({COMP, BASS, PEDAL})


class Dot(NamedTuple):
    """A stopped note.

    Attributes:
        string: 1 is the highest.
        fret: from 1, above the capo.
        finger: 1 (index) to 4 (little), 5 for the thumb; None where none was found.
    """

    string: int
    fret: int
    finger: int | None


class Barre(NamedTuple):
    """One finger flat over several strings that sound.

    Attributes:
        fret: from 1, above the capo.
        lowest, highest: strings, as players number them; `lowest` is the greater number.
    """

    fret: int
    lowest: int
    highest: int


@dataclass(frozen=True, slots=True)
class Diagram:
    """A grip as it is drawn.

    Attributes:
        symbol: the chord's name.
        strings: 6 or 7.
        first_fret: fret of the top row; 1 with the nut (or the capo) drawn over it.
        rows: how many frets are drawn, 4 or more.
        dots: the stopped notes, from string 1 down.
        open_strings: strings that ring unstopped, from string 1 down.
        muted: strings that do not sound, from string 1 down.
        barre: the lowest finger that lies over several strings, or None. Other fingers may lie flat too: a
            finger's number stands on each of its dots.
    """

    symbol: str
    strings: int
    first_fret: int
    rows: int
    dots: tuple[Dot, ...]
    open_strings: tuple[int, ...]
    muted: tuple[int, ...]
    barre: Barre | None = None

    @property
    def grip(self) -> Grip:
        """The grip, as `theory` has it."""
        places = [Place(dot.string, dot.fret) for dot in self.dots]
        return Grip.from_places(
            [*places, *(Place(string, 0) for string in self.open_strings)], strings=self.strings
        )


def diagrams(score: Score) -> tuple[tuple[int, Diagram], ...]:
    """The diagrams of a score, by the tick at which each is first struck.

    A grip that follows itself, or a part of itself, under the same chord name is told once. Where the comp is
    on keys there are none. A line of single notes is no grip, and neither are bass and melody without a voice
    between. Two notes are told only where nothing fuller is held in the same stretch, and then the first
    two: a run of pairs over a shell is a line.
    """
    told: list[tuple[int, Diagram]] = []
    for held in _worth_drawing(score):
        diagram = held.diagram(score)
        before = told[-1][1] if told else None
        if before is not None and before.symbol == diagram.symbol and _is_part(diagram, before):
            continue
        told.append((held.onset, diagram))
    return tuple(told)


class _Held(NamedTuple):
    """What the hand holds for a while.

    Attributes:
        onset: tick at which the first note of it began.
        notes: all that are played while it is held, one or more a string.
    """

    onset: int
    notes: tuple[ScoreNote, ...]

    @property
    def by_string(self) -> dict[int, ScoreNote]:
        """The first note on each string: where it is struck again, another finger may have taken over."""
        return {note.string or 0: note for note in reversed(self.notes)}

    @property
    def latest(self) -> list[ScoreNote]:
        """The last note on each string."""
        return list({note.string: note for note in self.notes}.values())

    @property
    def is_grip(self) -> bool:
        """Whether a note of the comp sounds together with any other."""
        return any(
            one.part == COMP and one.onset < other.end and other.onset < one.end
            for one in self.notes
            for other in self.notes
            if other.string != one.string
        )

    def diagram(self, score: Score) -> Diagram:
        """As it is drawn."""
        strings = score.scene.stage.fretboard.strings
        places = [(string, note.fret or 0, note.finger) for string, note in sorted(self.by_string.items())]
        dots = tuple(Dot(string, fret, finger or None) for string, fret, finger in places if fret)
        first, rows = _rows([dot.fret for dot in dots])
        sounding = {string for string, _, _ in places}
        return Diagram(
            symbol=_symbol(score, self.notes[-1]),
            strings=strings,
            first_fret=first,
            rows=rows,
            dots=dots,
            open_strings=tuple(string for string, fret, _ in places if not fret),
            muted=tuple(string for string in range(1, strings + 1) if string not in sounding),
            barre=_barre(dots),
        )


def _worth_drawing(score: Score) -> Iterator[_Held]:
    """The grips that tell a chord: of each stretch the full ones, else the first."""
    grips = (held for held in _grips(score) if held.is_grip)
    for _, group in groupby(grips, key=lambda held: _unit(score, held.notes[-1])):
        own = list(group)
        yield from [held for held in own if len(held.by_string) >= _FULL] or own[:1]


def _grips(score: Score) -> Iterator[_Held]:
    """Everything that the hand holds, in order; as few things as will do in a stretch of one voicing."""
    hand = hand_on(score.scene.stage.fretboard)
    units: dict[int, list[ScoreNote]] = defaultdict(list)
    for note in score.notes:
        if note.string is not None and note.touch is not Touch.ORNAMENT:
            units[_unit(score, note)].append(note)
    ringing: list[ScoreNote] = []
    for number in sorted(units):
        held: _Held | None = None
        for onset, group in _struck(units[number]):
            if held is not None and (added := _added(held, group, hand)):
                held = held._replace(notes=(*held.notes, *added))
                continue
            if held is not None:
                yield held
                ringing = held.latest
            held = _Held(onset, (*_still_held(ringing, onset, group), *group))
        if held is not None:
            yield held
            ringing = held.latest


def _unit(score: Score, note: ScoreNote) -> int:
    """The stretch of one voicing that a note belongs to; a pushed one to the coming one, or the head."""
    tick = max(note.onset, note.harmony_tick)
    return len(score.scene.units) if tick >= score.plan.head_tick else score.scene.unit_at(tick)


def _symbol(score: Score, note: ScoreNote) -> str:
    """The name of a note's chord."""
    plan, unit = score.plan, _unit(score, note)
    if unit == len(score.scene.units):
        return plan.head.symbol
    return symbol_of(plan.chords[score.scene.units[unit].chord])


def _struck(notes: Iterable[ScoreNote]) -> Iterator[tuple[int, list[ScoreNote]]]:
    """What begins together, by onset; melody only where something of the grip begins with it."""
    for onset, group in groupby(sorted(notes), key=lambda note: note.onset):
        together = list(group)
        if any(note.part in _UNDER_HAND for note in together):
            yield onset, together


def _still_held(before: Iterable[ScoreNote], onset: int, fresh: Iterable[ScoreNote]) -> list[ScoreNote]:
    """Notes of the grip before that ring on under a new one of the same chord."""
    chords = {note.harmony_tick for note in fresh}
    taken = {note.string for note in fresh}
    return [
        note
        for note in before
        if note.string not in taken
        and note.end > onset
        and note.harmony_tick in chords
        and note.part != MELODY
    ]


def _added(held: _Held, group: Sequence[ScoreNote], hand: FrettingHand) -> list[ScoreNote]:
    """What of a group belongs to the grip that is held; nothing where the hand goes to another one.

    A finger that leaves the grip only for a note of the melody makes no new one.
    """
    accompanying = [note for note in group if note.part != MELODY]
    for notes in (list(group), accompanying):
        if notes and _stays(held, notes, hand):
            return notes
    return []


def _stays(held: _Held, fresh: Iterable[ScoreNote], hand: FrettingHand) -> bool:
    """Whether one hand holds both, with the fingers that the notes have."""
    union = held.by_string
    for note in fresh:
        if union.setdefault(note.string or 0, note).fret != note.fret:
            return False
    places = [Place(string, note.fret or 0) for string, note in union.items()]
    strings = hand.fretboard.strings
    placed = placed_on(places, [note.finger or 0 for note in union.values()], strings)
    return hand.hold_on(Grip.from_places(places, strings=strings), placed) is not None


def _rows(frets: list[int]) -> tuple[int, int]:
    """First fret and number of rows: from the nut where all lies in the first four frets."""
    if not frets or max(frets) <= ROWS:
        return 1, ROWS
    return min(frets), max(ROWS, max(frets) - min(frets) + 1)


def _barre(dots: tuple[Dot, ...]) -> Barre | None:
    """The lowest finger that stops several strings."""
    by_finger: dict[int, list[Dot]] = defaultdict(list)
    for dot in dots:
        if dot.finger:
            by_finger[dot.finger].append(dot)
    for _, own in sorted(by_finger.items()):
        if len(own) > 1:
            return Barre(own[0].fret, own[-1].string, own[0].string)
    return None


def _is_part(diagram: Diagram, whole: Diagram) -> bool:
    """Whether a diagram shows no string stopped, or open, that another does not; whatever the fingers."""
    places = {place[:2] for place in whole.dots}
    return {dot[:2] for dot in diagram.dots} <= places and set(diagram.open_strings) <= set(
        whole.open_strings
    )
