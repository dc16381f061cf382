"""What is practised: a tune with its intro, as the room must know it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from introit.arrange.arranger import arrange
from introit.arrange.form import choose_form, suits
from introit.arrange.line_up import Stage
from introit.arrange.plan import Plan, plan_intro
from introit.arrange.score import Score
from introit.errors import UsageError, did_you_mean
from introit.library.leading import Leading
from introit.library.length import bars_of
from introit.library.model import Intro, Library, Tune
from introit.theory.key import Key, Mode


@dataclass(frozen=True, slots=True)
class Subject:
    """A tune with the intro that is practised.

    Attributes:
        tune: without anything that the foot would lead: practice plays in time, from bar to bar.
        intro: the intro; as long at every tempo as it is at the tune's own.
        library: all content.
        stage: who plays.
    """

    tune: Tune
    intro: Intro
    library: Library
    stage: Stage = field(default_factory=Stage)

    @classmethod
    def of(
        cls, tune: Tune, library: Library, *, intro: str | None = None, stage: Stage | None = None
    ) -> Subject:
        """A subject.

        Args:
            tune: the tune.
            library: all content.
            intro: the intro's id; None for the tune's own.
            stage: who plays; the default line-up when left out.

        Raises:
            UsageError: when there is no such intro, or the tune names none.
            ArrangeError: when it does not suit the tune in its own key.
        """
        name = intro or tune.intro
        if name is None:
            raise UsageError(f"tune {tune.title!r} names no intro; say which one is practised")
        found = library.intros.get(name)
        if found is None:
            raise UsageError(
                f"no intro {name!r} in the library. {did_you_mean(name, library.intros)}".strip()
            )
        plain = replace(tune, intro=name, more_intros=(), count_off=0, leading=Leading())
        return cls(plain, _of_one_length(found, plain), library, stage or Stage())

    @property
    def bars(self) -> int:
        """How many bars the intro has before the head."""
        form = choose_form(self.intro, self.tune, self.tune.key)
        return bars_of(self.intro, form, meter=self.tune.meter, tempo=self.tune.tempo)

    def plan(self, key: Key, tempo: float) -> Plan:
        """The intro's chords in a key.

        Raises:
            ArrangeError: when the intro has no form for the key's mode.
        """
        return plan_intro(self.intro, replace(self.tune, tempo=tempo), key)

    def score(self, key: Key, tempo: float, seed: int) -> Score:
        """The intro in a key, arranged; the same seed gives the same notes."""
        return arrange(self.plan(key, tempo), self.library, stage=self.stage, seed=seed)

    @property
    def modes(self) -> tuple[Mode, ...]:
        """Modes in which the intro can be played for the tune, the tune's own first."""
        own = self.tune.key
        other = Mode.MINOR if own.mode is Mode.MAJOR else Mode.MAJOR
        called = Key.from_pitch_class(own.tonic.pitch_class, other)
        return tuple(key.mode for key in (own, called) if suits(self.intro, self.tune, key) is None)


def _of_one_length(intro: Intro, tune: Tune) -> Intro:
    """The intro as long at every tempo as at the tune's: a passage keeps its bars while the tempo climbs."""
    above, below = intro.stretch_above, intro.halve_below
    if above is not None and tune.tempo > above:
        return replace(intro, stretch_above=0.0, halve_below=None)
    if below is not None and tune.tempo < below:
        return replace(intro, stretch_above=None, halve_below=float("inf"))
    return replace(intro, stretch_above=None, halve_below=None)
