"""Who lets go for whom: the comp for a bass note that comes early, the hand for a jump along the neck."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from itertools import groupby

from introit.arrange.line_up import Stage
from introit.arrange.one_guitar.fitting import fitted
from introit.arrange.score import BASS, COMP, PEDAL, ScoreNote, Touch
from introit.arrange.shifting import FREE_SHIFT, REST, SHORTEST, position_of
from introit.arrange.textures.neck import nearest
from introit.arrange.tones import MINOR_NINTHS
from introit.theory.fingering import Unplayable
from introit.theory.fretboard import Place
from introit.theory.grip import Grip
from introit.theory.holding import hand_on
from introit.theory.limits import too_low
from introit.theory.plucking import Plucking

_LOW = (BASS, PEDAL)


def cleared(notes: Sequence[ScoreNote], *, distance: int) -> list[ScoreNote]:
    """The notes without a bass note of one chord too near under the comp's of another.

    The comp is ended where such a bass note begins; where the comp strikes the old chord over it, the bass
    note waits for its own, or is left out where that has a bass note of its own. Where the comp strikes the
    coming chord early, and it would be mud or a minor ninth, the old chord's bass note ends there; one that
    has only just begun is left out, for the chord's own follows.

    Args:
        notes: of the whole intro, in any order.
        distance: semitones that the comp's lowest note keeps over the bass.
    """
    comp = [note for note in notes if note.part == COMP]
    begun = {note.onset for note in notes if note.part in _LOW}
    waits = (_waits(note, comp, begun, distance) if note.part in _LOW else note for note in notes)
    waited = [note for note in waits if note is not None]
    early = sorted(note for note in comp if note.onset < note.harmony_tick)
    ended = (_ends(note, early, begun) if note.part in _LOW else note for note in waited)
    waited = [note for note in ended if note is not None]
    low = sorted(note for note in waited if note.part in _LOW)
    begin = [note.onset for note in low]
    return [
        _under(note, low[bisect_left(begin, note.onset + SHORTEST) : bisect_left(begin, note.end)], distance)
        if note.part == COMP
        else note
        for note in waited
    ]


def _waits(
    bass: ScoreNote, comp: Sequence[ScoreNote], begun: Collection[int], distance: int
) -> ScoreNote | None:
    """The bass note where it may sound; None where another one begins with its chord.

    Args:
        bass: the note.
        comp: the comp's.
        begun: ticks at which bass notes begin.
        distance: as for `cleared`.
    """
    early, over = bass.harmony_tick - bass.onset, bass.end <= bass.harmony_tick
    if early <= 0 or (over and bass.harmony_tick not in begun):
        return bass
    struck = (
        note
        for note in comp
        if note.harmony_tick < bass.harmony_tick
        and bass.onset < note.onset + SHORTEST
        and note.onset < bass.harmony_tick
    )
    if not any(_too_near(bass, note, distance) for note in struck):
        return bass
    return None if over else bass._replace(onset=bass.harmony_tick, length=bass.length - early)


def _ends(bass: ScoreNote, early: Sequence[ScoreNote], begun: Collection[int]) -> ScoreNote | None:
    """The bass note, no longer than it may sound under what the comp strikes early; None where it may not.

    Args:
        bass: the note.
        early: the comp's notes that begin before their chord, by onset.
        begun: ticks at which bass notes begin.
    """
    for note in early:
        together = bass.onset < note.end and note.onset < bass.end
        if not together or note.harmony_tick <= bass.harmony_tick:
            continue
        if not (too_low(bass.pitch, note.pitch) or note.pitch - bass.pitch in MINOR_NINTHS):
            continue
        if bass.onset + SHORTEST <= note.onset:
            return bass._replace(length=note.onset - bass.onset)
        return None if note.harmony_tick in begun else bass
    return bass


def _under(note: ScoreNote, low: Iterable[ScoreNote], distance: int) -> ScoreNote:
    """A note of the comp, ended where one of the low notes that begin while it sounds comes too near."""
    for bass in low:
        if bass.harmony_tick > note.harmony_tick and _too_near(bass, note, distance):
            return note._replace(length=bass.onset - note.onset)
    return note


def _too_near(bass: ScoreNote, note: ScoreNote, distance: int) -> bool:
    return note.pitch - bass.pitch < distance or too_low(bass.pitch, note.pitch)


def breathed(notes: Sequence[ScoreNote], stage: Stage, *, bar_ticks: int) -> list[ScoreNote]:
    """The notes, with time for the hand wherever it jumps along the neck.

    What rings is let go an eighth before; where it has begun too late for that, what comes next is taken near
    to where the hand is, if it lies there too. Where the hand would still leap, all that it plays is put on
    the neck anew, as a guitar alone does.

    Args:
        notes: of the whole intro; those with string and fret are one guitar's.
        stage: its neck, and how it is plucked.
        bar_ticks: ticks in a bar.
    """
    others = [note for note in notes if note.fret is None or note.touch is Touch.ORNAMENT]
    placed = sorted(note for note in notes if note.fret is not None and note.touch is not Touch.ORNAMENT)
    done = _let_go_in_time(placed, stage)
    if not (_is_smooth(done, bar_ticks) and _is_held(done, placed, stage)):
        done = fitted(placed, stage.fretboard, plucking=stage.plucking, bar_ticks=bar_ticks)
    return [*others, *done]


def _is_smooth(notes: Sequence[ScoreNote], bar_ticks: int) -> bool:
    """Whether no string has two notes at once, and the hand never leaps without a rest or twice in a bar."""
    position, free_from, bar = 0, -REST, -1
    sounding: list[ScoreNote] = []
    for tick, group in groupby(sorted(notes), key=lambda note: note.onset):
        sounding = [*(note for note in sounding if note.end > tick), *group]
        there = position_of(sounding)
        if len({note.string for note in sounding}) < len(sounding):
            return False
        if position and there and abs(there - position) > FREE_SHIFT:
            if tick - free_from < REST or tick // bar_ticks == bar:
                return False
            bar = tick // bar_ticks
        position = there or position
        free_from = max([free_from, *(note.end for note in sounding if note.fret)])
    return True


def _is_held(notes: Sequence[ScoreNote], before: Iterable[ScoreNote], stage: Stage) -> bool:
    """Whether one hand holds the notes that have left their places with all that sounds beside them."""
    places = Counter(map(_where, before))
    places.subtract(map(_where, notes))
    moved = {where for where, count in places.items() if count < 0}
    if not moved:
        return True
    hand = hand_on(stage.fretboard, damps=stage.plucking is Plucking.PICK)
    sounding: list[ScoreNote] = []
    for tick, group in groupby(sorted(notes), key=lambda note: note.onset):
        sounding = [*(note for note in sounding if note.end > tick), *group]
        if moved.isdisjoint(map(_where, sounding)):
            continue
        grip = Grip.from_places(
            [Place(note.string or 1, note.fret or 0) for note in sounding], strings=stage.fretboard.strings
        )
        if isinstance(hand.hold(grip), Unplayable):
            return False
    return True


def _where(note: ScoreNote) -> tuple[int, int, int | None, int | None]:
    return note.onset, note.pitch, note.string, note.fret


def _let_go_in_time(placed: Sequence[ScoreNote], stage: Stage) -> list[ScoreNote]:
    """The notes of one guitar, ordered, with what rings let go before a jump."""
    done: list[ScoreNote] = []
    sounding: list[ScoreNote] = []
    position = 0
    for tick, group in groupby(placed, key=lambda note: note.onset):
        struck = list(group)
        ringing = [note for note in sounding if note.end > tick]
        there = position_of([*ringing, *struck])
        if position and there and abs(there - position) > FREE_SHIFT:
            late = any(note.onset + SHORTEST > tick - REST for note in sounding)
            if late and not ringing:
                struck = _nearby(struck, position, stage)
            else:
                sounding = [_let_go(note, tick - REST) for note in sounding]
            there = position_of(struck)
        position = there or position
        done += [note for note in sounding if note.end <= tick - REST]
        sounding = [*(note for note in sounding if note.end > tick - REST), *struck]
    return [*done, *sounding]


def _let_go(note: ScoreNote, tick: int) -> ScoreNote:
    if note.end <= tick or note.onset + SHORTEST > tick:
        return note
    return note._replace(length=tick - note.onset)


def _nearby(struck: list[ScoreNote], position: int, stage: Stage) -> list[ScoreNote]:
    """The same notes at other places, where those keep the hand near a position."""
    rising = sorted(struck, key=lambda note: note.pitch)
    held = nearest(stage, tuple(note.pitch for note in rising), position)
    if held is None or abs(held.position - position) > FREE_SHIFT:
        return struck
    return [
        note._replace(string=place.string, fret=place.fret, finger=finger)
        for note, place, finger in zip(rising, held.places, held.fingers, strict=True)
    ]
