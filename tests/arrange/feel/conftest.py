"""Scores of a few notes, for the feel's tests."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.scene import set_scene
from introit.arrange.score import COMP, Score, ScoreNote, Touch
from introit.library.model import Passage
from introit.theory.plucking import Plucking

Scored = Callable[..., Score]

EIGHT_BARS = " | ".join(["ii7 V7", "Imaj7"] * 4)


@pytest.fixture(scope="session")
def scored(make: Any) -> Scored:
    """A score of the given notes on eight bars of 4/4, of which the first has two chords."""

    def score(
        *notes: ScoreNote,
        tempo: float = 150.0,
        line_up: LineUp = LineUp.WITH_BASS,
        plucking: Plucking = Plucking.FINGERS,
        texture: str = "block",
        seed: int = 0,
        **fields: Any,
    ) -> Score:
        tune = make.tune(tempo=tempo, **fields)
        intro = make.intro(make.form(EIGHT_BARS), passages=(Passage(1, texture),))
        scene = set_scene(plan_intro(intro, tune, tune.key), Stage(line_up, plucking=plucking), seed=seed)
        return Score(scene, tuple(sorted(notes, key=lambda note: (note.onset, note.part, note.pitch))))

    return score


@pytest.fixture(scope="session")
def grip() -> Callable[..., tuple[ScoreNote, ...]]:
    """Four strings struck at once."""

    def notes(
        onset: int = 0,
        length: int = 1920,
        *,
        touch: Touch = Touch.STRUCK,
        accent: bool = False,
        part: int = COMP,
        pitches: tuple[int, ...] = (55, 60, 64, 69),
    ) -> tuple[ScoreNote, ...]:
        return tuple(ScoreNote(onset, length, 0, part, pitch, accent, touch) for pitch in pitches)

    return notes
