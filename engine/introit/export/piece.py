"""What is written to files: a score with what it takes to play it, and how it is to be written."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from introit.arrange.arranger import handed_over
from introit.arrange.score import Score
from introit.arrange.tune_sounds import sounds_of
from introit.export.routes import Routes
from introit.export.straight import straight
from introit.library.model import Library
from introit.performance import Performance


@dataclass(frozen=True)
class Piece:
    """An intro for one tune in one key.

    Attributes:
        score: its notes.
        library: that it was made from.
        tune: the tune's title; empty where the intro stands for itself.
    """

    score: Score
    library: Library
    tune: str = ""

    @cached_property
    def played(self) -> Performance:
        """As it is played, with feel in."""
        return self._sounding(handed_over(self.score, self.library))

    @cached_property
    def straight(self) -> Performance:
        """As it is written, without."""
        return self._sounding(straight(self.score, self.library))

    def _sounding(self, performance: Performance) -> Performance:
        """With the tune's own sounds."""
        return replace(performance, sounds=sounds_of(self.score.plan.tune))


@dataclass(frozen=True, slots=True)
class Choices:
    """How files are written.

    Attributes:
        straight: whether MIDI is as written, not as played.
        paper: `a4` or `letter`.
        booklet: title of a booklet; empty where there is none.
        rate: frames of sound a second, see `wav.RATES`.
        bits: of a sample of sound, see `wav_file.BITS`.
        stems: whether each part's sound is written alone as well.
        soundfont: path of what sound is made with; empty for the first there is.
        routes: of parts that sound otherwise than usual.
    """

    straight: bool = False
    paper: str = "a4"
    booklet: str = ""
    rate: int = 48_000
    bits: int = 16
    stems: bool = False
    soundfont: str = ""
    routes: Routes = field(default_factory=dict)
