"""Rules of the guitar: every grip lies on the neck, can be held by one hand and sounded by the other."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from introit.arrange.review.breach import Breach, pitch_name, pitch_names, said
from introit.arrange.review.hearing import Hearing
from introit.arrange.score import COMP, ScoreNote, Touch
from introit.performance import PARTS
from introit.theory.fingering import Fingering, Unplayable
from introit.theory.fretboard import Fretboard, Place
from introit.theory.grip import SILENT, Grip
from introit.theory.holding import hand_on
from introit.theory.plucking import Plucking, why_not_plucked
from introit.units import TICKS_PER_QUARTER


def on_guitar(hearing: Hearing) -> list[ScoreNote]:
    """The notes that one guitar plays: all of a guitar alone, else its comp and what else has a place."""
    seats = hearing.scene.seats
    return [
        note
        for note in hearing.notes
        if seats.one_pair_of_hands
        or note.string is not None
        or (note.part == COMP and seats.comp_on == "guitar")
    ]


def places(hearing: Hearing) -> Iterator[Breach]:
    """Paper and screen need string and fret, and they must be where the note is."""
    neck = hearing.scene.stage.fretboard
    for (tick, _), group in groupby(on_guitar(hearing), key=lambda note: (note.onset, note.part)):
        notes = list(group)
        without = [note for note in notes if note.string is None or note.fret is None]
        if without:
            text = f"{_parts(*without)}: no string and fret for {_pitches(without)}"
            yield hearing.breach("place", tick, text)
        for note in notes:
            if note not in without and not _is_there(note, neck):
                text = f"{said(note)} does not lie on string {note.string} fret {note.fret}"
                yield hearing.breach("place", tick, text)


def strings(hearing: Hearing) -> Iterator[Breach]:
    """A string sounds one note at a time: a new fret ends the old one."""
    sounding: dict[int, ScoreNote] = {}
    for note in _placed(hearing):
        string = note.string or 0
        before = sounding.get(string)
        if before is not None and before.end > note.onset:
            names = f"{pitch_name(before.pitch)} still sounds under {pitch_name(note.pitch)}"
            yield hearing.breach("string", note.onset, f"{_parts(before, note)}: string {string}: {names}")
        sounding[string] = note


def grips(hearing: Hearing) -> Iterator[Breach]:
    """All that one guitar sounds at any moment can be held by one hand: four fingers, within their reach."""
    neck = hearing.scene.stage.fretboard
    hand = hand_on(neck)
    for tick, sounding in _moments(_placed(hearing)):
        held = hand.hold(_grip(sounding, neck))
        if isinstance(held, Unplayable):
            text = f"{_parts(*sounding)}: {held.grip} ({_pitches(sounding)}): {held.reason}"
            yield hearing.breach("grip", tick, text)
        elif finger := _at_two_frets(sounding):
            text = f"{_parts(*sounding)}: finger {finger} is at two frets at once in {held.grip}"
            yield hearing.breach("grip", tick, text)


def plucking(hearing: Hearing) -> Iterator[Breach]:
    """Fingers sound four strings at once, a pick what it sweeps over; a roll takes its strings one by one."""
    stage = hearing.scene.stage
    hand = hand_on(stage.fretboard, damps=stage.plucking is Plucking.PICK)
    for tick, group in groupby(_placed(hearing), key=lambda note: note.onset):
        struck = [note for note in group if note.touch is not Touch.ROLLED]
        if len(struck) < 2:
            continue
        held = hand.hold(_grip(struck, stage.fretboard))
        reason = why_not_plucked(held, stage.plucking) if isinstance(held, Fingering) else held.reason
        if reason and (isinstance(held, Fingering) or stage.plucking is Plucking.PICK):
            text = f"{_parts(*struck)}: {held.grip} ({_pitches(struck)}): {reason}"
            yield hearing.breach("plucking", tick, text)


def shifts(hearing: Hearing) -> Iterator[Breach]:
    """The hand changes its position by more than four frets only at a rest, and at most once a bar."""
    bounds = hearing.measures["position change"]
    rest = int(bounds.beats * TICKS_PER_QUARTER)
    before, free_from, last_bar = 0, -rest, -1
    for tick, position, end in positions(hearing):
        frets = abs(position - before)
        if before and frets > bounds.most:
            change = f"from position {before} to {position}, {frets} frets"
            if tick - free_from < rest:
                yield hearing.breach("position change", tick, f"{change}, without a rest before it")
            elif tick // hearing.bar_ticks == last_bar:
                yield hearing.breach("position change", tick, f"{change}, for the second time in the bar")
            last_bar = tick // hearing.bar_ticks
        before, free_from = position, max(free_from, end)


def positions(hearing: Hearing) -> Iterator[tuple[int, int, int]]:
    """Where the hand lies: (tick, position, tick at which it is free again) for all that it stops.

    The position is the fret at which the index lies or would lie, told by the lowest finger at work.
    """
    neck = hearing.scene.stage.fretboard
    hand = hand_on(neck)
    for tick, sounding in _moments(_placed(hearing)):
        stopped = [note for note in sounding if note.fret and note.touch is not Touch.ORNAMENT]
        if not stopped:
            continue
        fingered = [(note.finger, note.fret or 0) for note in stopped if note.finger and note.finger <= 4]
        if fingered:
            finger, fret = min(fingered)
            position = max(1, fret - finger + 1)
        else:
            held = hand.hold(_grip(stopped, neck))
            position = (
                held.position if isinstance(held, Fingering) else min(note.fret or 1 for note in stopped)
            )
        yield tick, position, max(note.end for note in stopped)


def _placed(hearing: Hearing) -> list[ScoreNote]:
    neck = hearing.scene.stage.fretboard
    return [note for note in on_guitar(hearing) if note.string is not None and _is_there(note, neck)]


def _is_there(note: ScoreNote, neck: Fretboard) -> bool:
    if note.string is None or note.fret is None or not 1 <= note.string <= neck.strings:
        return False
    return 0 <= note.fret <= neck.frets and neck.pitch(note.string, note.fret) == note.pitch


def _moments(notes: list[ScoreNote]) -> Iterator[tuple[int, list[ScoreNote]]]:
    """What sounds wherever something begins."""
    sounding: list[ScoreNote] = []
    for tick, group in groupby(notes, key=lambda note: note.onset):
        sounding = [note for note in sounding if note.end > tick] + list(group)
        yield tick, sounding


def _grip(notes: list[ScoreNote], neck: Fretboard) -> Grip:
    """Their grip; of two notes on a string, the later."""
    frets = [SILENT] * neck.strings
    for note in notes:
        place = Place(note.string or 1, note.fret or 0)
        frets[neck.strings - place.string] = place.fret
    return Grip(tuple(frets))


def _at_two_frets(notes: list[ScoreNote]) -> int:
    """A finger that is said to stop two frets at once; 0 for none."""
    frets: dict[int, int] = {}
    for note in notes:
        if note.finger and note.fret and frets.setdefault(note.finger, note.fret) != note.fret:
            return note.finger
    return 0


def _parts(*notes: ScoreNote) -> str:
    return " and ".join(PARTS[part] for part in sorted({note.part for note in notes}))


def _pitches(notes: list[ScoreNote]) -> str:
    return pitch_names(note.pitch for note in notes)


RULES = (places, strings, grips, plucking, shifts)
