"""Scores written by hand, for the rules: a harmony in block text and one line of text a chord or note."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.review import Breach, review
from introit.arrange.scene import set_scene
from introit.arrange.score import Score, ScoreNote, Touch
from introit.library.content import program_root
from introit.library.measures import Measures, load_measures
from introit.library.model import Melody, Passage, PedalPoint
from introit.performance import PARTS
from introit.theory.fretboard import Fretboard
from introit.theory.plucking import Plucking

_NOTE = re.compile(r"([A-G])([b#]?)(-?\d)(?:@(\d)/(\d+)(?:/(\d))?)?")
_NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_TOUCHES = {"rolled": Touch.ROLLED, "plucked": Touch.PLUCKED, "grace": Touch.ORNAMENT}

Write = Callable[..., Score]
Judge = Callable[[Score], list[Breach]]


def pitch(text: str) -> int:
    found = _NOTE.fullmatch(text)
    assert found, text
    return _NATURAL[found[1]] + {"": 0, "b": -1, "#": 1}[found[2]] + 12 * (int(found[3]) + 1)


def notes_of(line: str, score: Score) -> list[ScoreNote]:
    """`comp 2:1.5 1 E4 G4@1/3/2 push`: part, bar:beat, beats, notes with string/fret/finger, words.

    `push` belongs to the coming chord, `late` to the one before; `rolled`, `plucked` and `grace` are touches.
    """
    part, place, length, *rest = line.split()
    bar, beat = place.split(":")
    plan = score.plan
    onset = (int(bar) - 1) * plan.bar_ticks + round((Fraction(beat) - 1) * 960)
    words = {word for word in rest if word.islower()}
    index = plan.at(max(0, onset))
    other = ("push" in words) - ("late" in words)
    is_heads = onset >= plan.head_tick or index + other == len(plan.chords)
    harmony = plan.head_tick if is_heads else plan.chords[index + other].onset
    touch = next((_TOUCHES[word] for word in words if word in _TOUCHES), Touch.STRUCK)
    made = []
    for text in rest:
        if text in words:
            continue
        found = _NOTE.fullmatch(text)
        assert found, text
        string, fret, finger = (int(found[n]) if found[n] else None for n in (4, 5, 6))
        plain = text.partition("@")[0]
        ticks = round(Fraction(length) * 960)
        made.append(
            ScoreNote(
                onset, ticks, harmony, PARTS.index(part), pitch(plain), False, touch, string, fret, finger
            )
        )
    return made


@pytest.fixture(scope="session")
def measures() -> Measures:
    return load_measures([program_root()])


@pytest.fixture(scope="session")
def write(make: Any) -> Write:
    """Makes a score from text."""

    def written(
        harmony: str,
        *lines: str,
        key: str = "C",
        head: str | None = None,
        feel: str = "medium-swing",
        line_up: str = "with keys",
        passages: tuple[Passage, ...] = (Passage(1, "block"),),
        melody: str = "line",
        pedal: str | None = None,
        meter: int = 4,
        steady: bool = False,
        plucking: Plucking = Plucking.FINGERS,
        **tune: Any,
    ) -> Score:
        called = make.tune(key, head, feel=feel, meter=make.meters[{4: 0, 3: 1, 5: 2}[meter]], **tune)
        intro = make.intro(
            make.form(harmony, called.key.mode),
            passages=passages,
            melody=Melody(melody),
            pedal=PedalPoint(pedal) if pedal else None,
        )
        stage = Stage(LineUp(line_up), Fretboard(), plucking)
        scene = set_scene(plan_intro(intro, called, called.key), stage)
        kept = tuple(passage._replace(steady=steady) for passage in scene.passages)
        empty = Score(replace(scene, passages=kept), ())
        notes = [note for line in lines for note in notes_of(line, empty)]
        return replace(
            empty, notes=tuple(sorted(notes, key=lambda note: (note.onset, note.part, note.pitch)))
        )

    return written


@pytest.fixture(scope="session")
def judge(measures: Measures) -> Judge:
    """The breaches of a score."""
    return lambda score: review(score, None, measures)
