"""The stage that a tune is arranged for, from the tune and the rig."""

from __future__ import annotations

import functools
from collections.abc import Callable

from introit.arrange.line_up import DEFAULT_LINE_UP, ClickSound, LineUp, Stage
from introit.library.model import Tune
from introit.library.stage import Rig
from introit.theory.fretboard import Fretboard
from introit.theory.plucking import Plucking


def stage_for(tune: Tune, rig: Rig | None = None) -> Stage:
    """The stage that a tune is arranged for: the tune's line-up, else the rig's, else the usual one.

    The guitar and the click are the rig's; without one the click, which then is alone, has every beat.
    """
    return _stage(tune.line_up, rig)


def stages_on(rig: Rig) -> Callable[[Tune], Stage]:
    """`stage_for` on one rig; each line-up's stage is made once."""
    made = functools.cache(lambda word: _stage(word, rig))
    return lambda tune: made(tune.line_up)


def _stage(own: str | None, rig: Rig | None) -> Stage:
    """The stage of a tune that names its own line-up, or none."""
    word = own or (rig.line_up if rig else None)
    guitar = rig.guitar if rig else None
    line_up = LineUp(word) if word else DEFAULT_LINE_UP
    click = ClickSound(rig.click_sound) if rig else ClickSound.BEATS
    if guitar is None:
        return Stage(line_up, click=click)
    neck = Fretboard(guitar.tuning, guitar.capo, guitar.highest_fret)
    return Stage(line_up, neck, Plucking(guitar.plucking), click)
