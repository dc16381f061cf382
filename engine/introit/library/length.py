"""How many bars a form lasts when it is played: as written, twice as many, or half as many."""

from __future__ import annotations

from introit.library.model import Form, Intro
from introit.theory.meter import Meter


def bars_of(intro: Intro, form: Form, *, meter: Meter, tempo: float) -> int:
    """The bars from a form's first to the head.

    Args:
        intro: says above which tempo it is stretched, and below which it is halved.
        form: one of the intro's.
        meter: of the tune, one of the intro's.
        tempo: quarter notes a minute.
    """
    written = len(form.bars)
    if intro.stretch_above is not None and tempo > intro.stretch_above:
        return written * 2
    if intro.halve_below is not None and tempo < intro.halve_below and _can_be_halved(form, meter):
        return written // 2
    return written


def _can_be_halved(form: Form, meter: Meter) -> bool:
    """Whether no chord, nor the last bar, would end between beats."""
    beats = [meter.beats * slot.share / bar.shares for bar in form.bars for slot in bar.slots]
    return len(form.bars) % 2 == 0 and all(length % 2 == 0 for length in beats)
