"""Mistakes made on purpose, for the ear: where one is made, what is played, whether it was heard."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from random import Random
from typing import NamedTuple

from introit.arrange.arranger import arrange
from introit.arrange.plan import Plan
from introit.arrange.score import COMP, Score
from introit.errors import UsageError
from introit.practice.goal import Ear
from introit.practice.passes import Planted
from introit.practice.subject import Subject
from introit.theory.chord import Chord, chord_of
from introit.theory.key import Mode
from introit.theory.numeral import Numeral
from introit.units import TICKS_PER_QUARTER

LATE_BARS = 1
"""So many bars after the chord's end a press still says that it was heard. A judgement, no source."""
FOREIGN = 2
"""So many tones of a wrong chord lie outside the right one and its tensions, or nobody could tell."""
_WRONG = {
    Mode.MAJOR: "Imaj7 ii7 iii7 III7 IVmaj7 iv6 V7 vi7 bIIImaj7 bVImaj7 bVII7 bIImaj7 #ivø7 VIImaj7",
    Mode.MINOR: "i6 iiø7 II7 bIIImaj7 iv7 V7 bVImaj7 bVII7 bIImaj7 IVmaj7 vi7 VImaj7 VIImaj7",
}


class Heard(NamedTuple):
    """What the presses of a pass say of its mistake.

    Attributes:
        heard: whether one came in time.
        beats: from where the chord begins to the first press in time; None where there was none.
        false_alarms: presses where no mistake had been made.
    """

    heard: bool
    beats: float | None
    false_alarms: int


class Mistakes:
    """Makes the mistake of a pass.

    Args:
        ear: which kinds.
        seed: of this pass.
        before: index of the chord in which the pass before had its mistake, where it plays the same chords;
            it is left alone.
    """

    def __init__(self, ear: Ear, *, seed: str, before: int | None) -> None:
        self._ear = ear
        self._dice = Random(f"mistakes {seed}")
        self._before = before

    def plant(self, subject: Subject, score: Score, span: tuple[int, int], rounds: int) -> Planted:
        """A mistake in one of the rounds of a pass.

        Args:
            subject: what is practised.
            score: of the whole intro, as it is played in this pass.
            span: first tick and end of what is played of it.
            rounds: how often.

        Raises:
            UsageError: where there are fewer than two chords whose comp could be missed.
        """
        places = places_of(score, span)
        if len(places) < 2:
            raise UsageError(
                "listen needs at least two chords of the comp behind the first one; "
                "take a longer passage, or another intro"
            )
        self._dice.shuffle(places)
        swapped = self._ear is Ear.SWAPPED or (self._ear is Ear.BOTH and self._dice.random() < 0.5)
        start, end = span
        shift = self._dice.randrange(rounds) * (end - start) - start
        for index in places:
            if index == self._before:
                continue
            instead = self._wrong(subject, score, index) if swapped else None
            if instead is None and self._ear is Ear.SWAPPED:
                continue
            chord = score.plan.chords[index]
            return Planted(index, chord.onset + shift, min(chord.end, end) + shift, instead)
        raise UsageError("no chord here can be swapped for a wrong one; let listen leave chords out")

    def _wrong(self, subject: Subject, score: Score, index: int) -> Numeral | None:
        """A wrong chord that the comp strikes; None where there is none."""
        candidates = list(wrong_chords(score.plan, index))
        self._dice.shuffle(candidates)
        for candidate in candidates:
            if _strikes(with_wrong_chord(subject, score, index, candidate), index):
                return candidate
        return None


def places_of(score: Score, span: tuple[int, int]) -> list[int]:
    """Indices of the chords whose comp would be missed: struck, and not the first of what is played."""
    start, end = span
    return [
        index
        for index, chord in enumerate(score.plan.chords)
        if start < chord.onset < end and _strikes(score, index)
    ]


def wrong_chords(plan: Plan, index: int) -> tuple[Numeral, ...]:
    """Chords that stand in the key and that nobody could take for the right one, nor for its neighbours."""
    right = plan.chords[index]
    near = plan.chords[max(index - 1, 0) : index + 2]
    beside = {chord.chord.root.pitch_class for chord in near}
    found = []
    for numeral in _candidates(plan.key.mode):
        chord = chord_of(numeral, plan.key)
        foreign = _own(chord) - {tone.pitch_class for tone in (*right.chord.required, *right.chord.optional)}
        if len(foreign) >= FOREIGN and chord.root.pitch_class not in beside:
            found.append(numeral)
    return tuple(found)


def with_wrong_chord(subject: Subject, score: Score, index: int, instead: Numeral) -> Score:
    """The same intro arranged with another chord in one place. Only its comp there is for the ear."""
    plan = score.plan
    right = plan.chords[index]
    wrong = replace(right, numeral=instead, chord=chord_of(instead, plan.key))
    chords = (*plan.chords[:index], wrong, *plan.chords[index + 1 :])
    return arrange(replace(plan, chords=chords), subject.library, stage=subject.stage, seed=score.scene.seed)


def heard(planted: Planted, marks: tuple[int, ...], bar_ticks: int) -> Heard:
    """Whether a mistake was heard: by a press from where its chord begins until a bar after its end.

    Any other press is a false alarm; a second one in time is not.

    Args:
        planted: the mistake.
        marks: presses, in ticks from the pass's first downbeat.
        bar_ticks: of the meter.
    """
    last = planted.end + LATE_BARS * bar_ticks
    good = [mark for mark in marks if planted.tick <= mark < last]
    beats = (min(good) - planted.tick) / TICKS_PER_QUARTER if good else None
    return Heard(bool(good), beats, len(marks) - len(good))


def _strikes(score: Score, index: int) -> bool:
    """Whether the comp has at least two notes of a chord: one alone is not missed."""
    onset, end = score.plan.chords[index].onset, score.plan.chords[index].end
    return sum(note.part == COMP and onset <= note.harmony_tick < end for note in score.notes) > 1


def _own(chord: Chord) -> set[int]:
    return {tone.pitch_class for tone in chord.required}


@lru_cache(maxsize=2)
def _candidates(mode: Mode) -> tuple[Numeral, ...]:
    return tuple(Numeral.from_text(text) for text in _WRONG[mode].split())
