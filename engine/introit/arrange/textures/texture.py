"""What every texture is: what it asks of the voicings, and the notes it makes of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from introit.arrange.comping.strokes import Stroke
from introit.arrange.scene import Passage, Scene
from introit.arrange.score import COMP, ScoreNote, Touch
from introit.arrange.voicing.voicing import Voicing
from introit.arrange.voicing.wish import Wish


@dataclass(frozen=True, slots=True)
class Work:
    """One passage to be written out.

    Attributes:
        scene: the whole.
        passage: the stretch that is asked for.
        voicings: one for each of the scene's units.
        strokes: the comping hits that begin in the passage; empty where the texture is not stroked.
        melody: the melody of the whole intro, ordered by onset.
    """

    scene: Scene
    passage: Passage
    voicings: tuple[Voicing, ...]
    strokes: tuple[Stroke, ...]
    melody: tuple[ScoreNote, ...]

    @property
    def units(self) -> tuple[int, ...]:
        """Indices of the scene's units that lie in the passage."""
        passage = self.passage
        return tuple(
            index
            for index, unit in enumerate(self.scene.units)
            if passage.start <= unit.start and unit.end <= passage.end
        )

    def voices(self, unit: int) -> range:
        """Indices of the voices of a unit's voicing that the comp plays.

        All of them; for one pair of hands all but the lowest, the bass note, which the thumb plays by itself.
        """
        return range(int(self.scene.seats.one_pair_of_hands), len(self.voicings[unit].pitches))

    def sound(
        self,
        unit: int,
        voice: int,
        span: tuple[int, int],
        *,
        part: int = COMP,
        accent: bool = False,
        touch: Touch = Touch.STRUCK,
    ) -> ScoreNote:
        """One voice of a unit's voicing as a note, with its place on the neck.

        Args:
            unit: index of the unit.
            voice: index into the voicing's pitches.
            span: ticks of its onset and of its end.
            part: index into `performance.PARTS`.
            accent: True when it is played harder.
            touch: how it is sounded.
        """
        voicing = self.voicings[unit]
        place = voicing.places[voice] if voicing.places else None
        return ScoreNote(
            onset=span[0],
            length=span[1] - span[0],
            harmony_tick=self.scene.chord_of(unit).onset,
            part=part,
            pitch=voicing.pitches[voice],
            accent=accent,
            touch=touch,
            string=place.string if place else None,
            fret=place.fret if place else None,
            finger=voicing.fingers[voice] if voicing.fingers else None,
        )


class Texture(Protocol):
    """How a passage's voicings are laid out in time.

    Attributes:
        stroked: laid over the comping rhythm; else it makes a rhythm of its own.
        sings: it brings an upper line of its own, so no melody is written in its bars.
        brings_bass: it brings its own bass notes, so the bass manner is silent in its bars.
    """

    @property
    def stroked(self) -> bool:
        """See above."""

    @property
    def sings(self) -> bool:
        """See above."""

    @property
    def brings_bass(self) -> bool:
        """See above."""

    def wish(self, plain: Wish, unit: int, scene: Scene) -> Wish:
        """What it asks of the voicing of a unit, given the plain wish."""

    def notes(self, work: Work) -> list[ScoreNote]:
        """The passage's notes: comp, and melody or bass where it brings them; in any order."""
