"""One passage in one texture, laid out over voicings as they are found, with comping hits written by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import pytest

from introit.arrange.comping.strokes import Stroke
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import ScoreNote
from introit.arrange.textures import TEXTURES, Work
from introit.arrange.voicing import Voicing, Wish, voice
from introit.library.model import Passage
from introit.theory.key import Mode
from introit.theory.meter import Meter
from introit.theory.plucking import Plucking

BEAT = 960


@dataclass(frozen=True)
class LaidOut:
    """A passage and its notes."""

    work: Work
    notes: list[ScoreNote]

    @property
    def scene(self) -> Scene:
        return self.work.scene

    def voicing_at(self, tick: int) -> Voicing:
        return self.work.voicings[self.scene.unit_at(tick)]

    def chord_end(self, tick: int) -> int:
        return self.scene.chord_of(self.scene.unit_at(tick)).end

    def heard(self, unit: int) -> tuple[int, ...]:
        """The pitches of a unit's voicing that the comp sounds."""
        return tuple(self.work.voicings[unit].pitches[voice] for voice in self.work.voices(unit))

    def by_onset(self) -> dict[int, list[ScoreNote]]:
        found: dict[int, list[ScoreNote]] = {}
        for note in sorted(self.notes, key=lambda note: (note.onset, note.pitch)):
            found.setdefault(note.onset, []).append(note)
        return found


def hits(scene: Scene, every: Fraction, length: Fraction) -> tuple[Stroke, ...]:
    """A comping hit at the head of each unit and, within it, once in so many beats."""
    return tuple(
        Stroke(onset, min(onset + int(min(length, every) * BEAT), unit.end), index, accent=False)
        for index, unit in enumerate(scene.units)
        for onset in range(unit.start, unit.end, int(every * BEAT))
    )


@pytest.fixture(scope="session")
def lay_out(make: Any) -> Callable[..., LaidOut]:
    """`lay_out("bell", "ii7 V7 | Imaj7", key="Eb", ...)`: a whole intro in one texture."""

    def laid_out(
        texture: str,
        harmony: str,
        *,
        key: str = "C",
        line_up: str = "with bass",
        meter: str = "4/4",
        tempo: float = 132.0,
        feel: str = "plain",
        seed: int = 0,
        pickup: str = "0",
        plucking: Plucking = Plucking.FINGERS,
        top: str | None = None,
        moves: str | None = None,
        melody: tuple[ScoreNote, ...] = (),
        every: str = "2",
        length: str = "1",
        first_chord: str | None = None,
    ) -> LaidOut:
        mode = Mode.MINOR if key.endswith(" minor") else Mode.MAJOR
        intro = make.intro(make.form(harmony, mode), passages=(Passage(1, texture, top=top, moves=moves),))
        tune = make.tune(
            key,
            first_chord,
            meter=Meter.from_text(meter),
            tempo=tempo,
            feel=feel,
            pickup=Fraction(pickup),
        )
        stage = Stage(LineUp(line_up), plucking=plucking)
        scene = set_scene(plan_intro(intro, tune, tune.key), stage, seed=seed)
        one, seats = TEXTURES[texture], scene.seats
        plain = Wish(ceiling=77, floor=seats.lowest, bass_in_grip=seats.one_pair_of_hands)
        wishes = [one.wish(plain, index, scene) for index in range(len(scene.units))]
        strokes = hits(scene, Fraction(every), Fraction(length)) if one.stroked else ()
        work = Work(scene, scene.passages[0], voice(scene, wishes), strokes, melody)
        return LaidOut(work, one.notes(work))

    return laid_out
