"""Scenes made from text, and what a melody does in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import ArrangeError, plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import ScoreNote
from introit.library.model import Intro, Library, Melody, MotifNote, Passage
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral


def motif(text: str, beats: int = 4) -> tuple[MotifNote, ...]:
    """`0 5 1/2, 1/2 3 1/2`: positions from 0 (below 0 for a pick-up), tones, lengths, over one bar or two."""
    notes = []
    for event in text.split(","):
        position, tone, length = event.split()
        bar = max(0, int(Fraction(position) // beats))
        notes.append(MotifNote(bar, Fraction(position) - bar * beats, tone, Fraction(length)))
    return tuple(notes)


class Melodies:
    """Makers for the tests of the melody."""

    motif = staticmethod(motif)

    def __init__(self, make: Any, shipped: Library) -> None:
        self._make = make
        self._shipped = shipped

    def scene(
        self,
        harmony: str,
        melody: Melody | None = None,
        *,
        line_up: str = "with keys",
        seed: int = 0,
        **tune: Any,
    ) -> Scene:
        """A made-up intro for a made-up tune."""
        made = self._make.tune(**tune)
        form = self._make.form(harmony, made.key.mode)
        intro = self._make.intro(form, melody=melody or Melody("line"))
        return set_scene(plan_intro(intro, made, made.key), Stage(LineUp(line_up)), seed=seed)

    def library(
        self,
        style: str,
        keys: tuple[str, ...],
        tempi: tuple[float, ...],
        *,
        line_up: str = "with keys",
        **tune: Any,
    ) -> Iterator[Scene]:
        """Shipped intros with a melody of a style, in their meters and the keys that they have a form for.

        Each of them is asked for a line, whatever melody it ships with; a motif only of those that have one.
        No texture sings for itself, so that the melody has every bar.
        """
        for shipped in self._shipped.intros.values():
            if style not in ("line", shipped.melody.style):
                continue
            intro = self._without_texture(shipped, style)
            for key in map(Key.from_text, keys):
                if not any(form.mode is key.mode for form in intro.forms):
                    continue
                for meter in intro.meters:
                    for tempo in tempi:
                        yield from self._scene(intro, key, meter, tempo, line_up, **tune)

    @staticmethod
    def _without_texture(intro: Intro, style: str) -> Intro:
        melody = intro.melody if intro.melody.style == style else Melody(style)
        return replace(intro, melody=melody, passages=(Passage(1, "block"),))

    def _scene(
        self, intro: Any, key: Key, meter: Meter, tempo: float, line_up: str, **tune: Any
    ) -> Iterator[Scene]:
        first = Numeral.from_text("i" if key.is_minor else "I")
        made = self._make.tune(str(key), str(first), meter=meter, tempo=tempo, **tune)
        try:
            plan = plan_intro(intro, made, key)
        except ArrangeError:
            return
        yield set_scene(plan, Stage(LineUp(line_up)))


@pytest.fixture(scope="session")
def melodies(make: Any, shipped: Library) -> Melodies:
    return Melodies(make, shipped)


def moves(notes: list[ScoreNote]) -> list[int]:
    return [after.pitch - before.pitch for before, after in pairwise(notes)]


def phrases(notes: list[ScoreNote], rest: int = 960) -> list[list[ScoreNote]]:
    """Notes with a beat of rest between one group and the next."""
    groups: list[list[ScoreNote]] = []
    for note in notes:
        if groups and note.onset - groups[-1][-1].end < rest:
            groups[-1].append(note)
        else:
            groups.append([note])
    return groups


@pytest.fixture(scope="session")
def moves_of() -> Any:
    return moves


@pytest.fixture(scope="session")
def phrases_of() -> Any:
    return phrases
