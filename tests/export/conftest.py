"""What tests of files and drawings share: the library itself, and scores of all its intros."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro, suits
from introit.arrange.score import Score
from introit.library.content import program_root
from introit.library.loader import load_library
from introit.library.model import Intro, Library, Tune
from introit.theory.fretboard import Fretboard
from introit.theory.key import Key, Mode
from introit.theory.numeral import Numeral

KEYS = {Mode.MAJOR: ("Eb", "Gb", "B"), Mode.MINOR: ("C minor", "C# minor", "Ab minor")}
"""Three of each mode: one that is often called, and those whose chord names are the longest."""


class Called(NamedTuple):
    """One intro as it is called."""

    intro: str
    key: str
    line_up: str


@pytest.fixture(scope="session")
def library() -> Library:
    """All that the program brings; whoever wants to change it takes a copy."""
    loaded, problems = load_library([program_root()])
    assert problems == []
    return loaded


Arranged = Callable[..., Score]


@pytest.fixture(scope="session")
def arranged(library: Library) -> Arranged:
    """Makes the score of an intro, a key and a line-up; `neck` is the guitar's."""

    def make(intro: str, key: str, line_up: str = "solo guitar", neck: Fretboard | None = None) -> Score:
        chosen, called = library.intros[intro], Key.from_text(key)
        return _score(library, chosen, called, Stage(LineUp(line_up), neck or Fretboard()))

    return make


@pytest.fixture(scope="session")
def scores(library: Library) -> Mapping[Called, Score]:
    """The whole library in three keys of each mode, for every line-up that an intro suits."""
    made: dict[Called, Score] = {}
    for intro in library.intros.values():
        for mode in sorted({form.mode for form in intro.forms}):
            for key in KEYS[mode]:
                for line_up in intro.line_ups:
                    score = _score(library, intro, Key.from_text(key), Stage(LineUp(line_up)))
                    made[Called(intro.id, key, line_up)] = score
    return made


def _score(library: Library, intro: Intro, key: Key, stage: Stage) -> Score:
    feel = library.feels[next(name for name in intro.feels if intro.meters[0] in library.feels[name].meters)]
    tempo = min(max(feel.typical_tempo, intro.tempo[0]), intro.tempo[1])
    first = Numeral.from_text("i6/9" if key.mode is Mode.MINOR else "Imaj7")
    tune = Tune("t", "T", key, intro.meters[0], tempo, feel.id, first)
    assert suits(intro, tune, key) is None
    return arrange(plan_intro(intro, tune, key), library, stage=stage)
