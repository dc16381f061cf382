"""What differs from evening to evening: how the head begins, how the intro lands, and how the dice fall.

All of it in every key, feel, tempo and line-up would be hundreds of thousands of scores. So each setting has
one of each, thrown by its own name: the same in every sweep, and over the settings of an intro all come up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple, TypeVar

from introit.arrange.plan import suits
from introit.arrange.variation import dice
from introit.library.model import Intro, Tune
from introit.theory.key import Mode
from introit.theory.numeral import Numeral

HEADS = {
    Mode.MAJOR: ("Imaj7", "ii7", "IVmaj7", "vi7", "iii7"),
    Mode.MINOR: ("i6/9", "iv6", "bVImaj7", "iiø7"),
}
"""First chords of a head, the usual ones first."""
PICKUPS = (Fraction(0), Fraction(0), Fraction(1), Fraction(3, 2), Fraction(5, 2))
"""Beats of melody before the head; many a tune has none."""
LANDINGS = ("cut", "cut", "chord", "ring")
RING = Fraction(4)
"""Beats that a landing that rings goes on."""
FIRST_NOTES = (None, None, "1", "3", "5")
"""The head's first note; many a tune does not name it."""
SEEDS = 8

_T = TypeVar("_T")


class Occasion(NamedTuple):
    """A tune to be played before, and the seed of that playing."""

    tune: Tune
    seed: int

    def __str__(self) -> str:
        """What is not plain about it, such as `, on ii7, pickup 3/2, landing ring`; empty for a plain one."""
        tune = self.tune
        said = [
            (str(tune.first_chord) != HEADS[tune.key.mode][0], f"on {tune.first_chord}"),
            (tune.pickup > 0, f"pickup {tune.pickup}"),
            (tune.landing != "cut", f"landing {tune.landing}"),
            (tune.first_note is not None, f"to {tune.first_note}"),
            (self.seed > 0, f"seed {self.seed}"),
        ]
        return "".join(f", {words}" for holds, words in said if holds)


def occasion_of(intro: Intro, plain: Tune, *, line_up: str, seed: int | None = None) -> Occasion | None:
    """The occasion of one setting; None where the intro suits no usual head in the tune's key.

    Args:
        intro: the intro.
        plain: key, meter, tempo and feel; the rest of it does not count.
        line_up: who plays, by its word.
        seed: of the playing; None for one of the first `SEEDS`.
    """
    key = plain.key
    heads = (Numeral.from_text(text) for text in HEADS[key.mode])
    suited = [head for head in heads if suits(intro, replace(plain, first_chord=head), key) is None]
    if not suited:
        return None
    name = (intro.id, key, plain.meter, f"{plain.tempo:g}", plain.feel, line_up)

    def one_of(what: str, choices: Sequence[_T]) -> _T:
        return dice(0, *name, what).choice(choices)

    landing = one_of("landing", LANDINGS)
    tune = replace(
        plain,
        first_chord=one_of("head", [suited[0], *suited]),
        pickup=one_of("pickup", PICKUPS),
        landing=landing,
        ring=RING if landing == "ring" else Fraction(0),
        first_note=one_of("first note", FIRST_NOTES),
    )
    return Occasion(tune, one_of("seed", range(SEEDS)) if seed is None else seed)
