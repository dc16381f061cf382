"""Block and rolled: all voices of the grip on each comping hit."""

from __future__ import annotations

from dataclasses import dataclass

from introit.arrange.scene import Scene
from introit.arrange.score import ScoreNote, Touch
from introit.arrange.textures.texture import Work
from introit.arrange.voicing.wish import Wish


@dataclass(frozen=True, slots=True)
class Block:
    """All voices together; rolled, from the lowest string up."""

    touch: Touch = Touch.STRUCK
    stroked: bool = True
    sings: bool = False
    brings_bass: bool = False

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """Nothing of its own."""
        return plain

    def notes(self, work: Work) -> list[ScoreNote]:
        """A whole grip on each stroke."""
        return [
            work.sound(
                stroke.unit,
                voice,
                (stroke.onset, stroke.end),
                accent=stroke.accent,
                touch=self.touch,
            )
            for stroke in work.strokes
            for voice in work.voices(stroke.unit)
        ]
