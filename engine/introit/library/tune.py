"""A tune, as far as its intro must know it: what a tune's file, or an entry of a set, says of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from introit.library.chart import Chart
from introit.library.leading import Leading
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral


@dataclass(frozen=True, slots=True)
class PartSound:
    """How a part sounds in one tune: program 1 to 128, level 0 to 127; None for what the rig says."""

    part: str
    program: int | None = None
    level: int | None = None


@dataclass(frozen=True, slots=True)
class Tune:
    """A tune, as far as its intro must know it.

    Attributes:
        id: the file's name, or a name made from a ready-made entry.
        title: for people; cleaned of control characters.
        key: key and mode.
        meter: of the head and of the intro.
        tempo: quarter notes a minute.
        feel: id of a feel.
        first_chord: numeral of the head's first chord.
        pickup: beats of the melody before the head's downbeat; 0 for none.
        intro: id of an intro, or None for the one that suits best.
        more_intros: ids of those that take turns with it, in rotation; none without an intro.
        count_off: bars counted before the intro; 0 for none.
        landing: `cut`, `chord` (one short chord of the head on its downbeat) or `ring`.
        ring: beats that a landing that rings goes on over the head's downbeat.
        line_up: who plays it, by its word; None for the rig's.
        first_note: degree of the key of the head's first melody note, such as `5` or `b3`; None when unknown.
        notes: the player's own words.
        sounds: of the parts that sound otherwise in this tune than in the rig; a part once.
        leading: how the player leads it with the foot.
        chart: its chords, for playing on after the intro; None where nobody wrote them down.
    """

    id: str
    title: str
    key: Key
    meter: Meter
    tempo: float
    feel: str
    first_chord: Numeral
    pickup: Fraction = Fraction(0)
    intro: str | None = None
    more_intros: tuple[str, ...] = ()
    count_off: int = 0
    landing: str = "cut"
    ring: Fraction = Fraction(0)
    line_up: str | None = None
    first_note: str | None = None
    notes: str = ""
    sounds: tuple[PartSound, ...] = ()
    leading: Leading = field(default_factory=Leading)
    chart: Chart | None = None

    @property
    def intros(self) -> tuple[str, ...]:
        """Ids of the intros that it names, in rotation; empty where it names none."""
        return () if self.intro is None else (self.intro, *self.more_intros)
