"""Which form of an intro is played: by the key's mode, the meter and the chord that the head starts on."""

from __future__ import annotations

from introit.errors import IntroitError
from introit.library.length import bars_of
from introit.library.model import Form, HeadDominant, Intro, Tune
from introit.theory.key import Key, Mode
from introit.theory.numeral import ROMAN, Numeral, degree_sign

# The same place in the other mode, for a tune whose mode is changed by the key that was called.
_OTHER_MODE = {
    Mode.MINOR: {"I": "i6/9", "ii": "iiø7", "IV": "iv6", "vi": "bVImaj7"},
    Mode.MAJOR: {"i": "I6/9", "ii": "ii7", "iv": "IVmaj7", "bVI": "vi7"},
}


class ArrangeError(IntroitError):
    """An intro that cannot be played as asked: says why, and what there is instead."""


def head_name(numeral: Numeral) -> str:
    """Root and mode of a chord, such as `ii` for iiø7, `bVI` for bVImaj7; an applied chord is its own."""
    if numeral.applied is not None:
        return str(numeral)
    roman = ROMAN[numeral.degree - 1]
    return degree_sign(numeral.alter) + (roman.lower() if numeral.is_minor else roman)


def first_chord(tune: Tune, mode: Mode) -> Numeral:
    """The head's first chord in the mode that was called.

    The tune's own in the tune's own mode. Called in the other one, a tune on I starts on i, one on ii on iiø,
    and so on; a chord without a counterpart stays.
    """
    if mode == tune.key.mode:
        return tune.first_chord
    other = _OTHER_MODE[mode].get(head_name(tune.first_chord))
    return tune.first_chord if other is None else Numeral.from_text(other)


def suits(intro: Intro, tune: Tune, key: Key) -> str | None:
    """Why an intro cannot be played for a tune in a key; None when it can. Tempo and feel never forbid it."""
    if tune.meter not in intro.meters:
        meters = ", ".join(str(meter) for meter in intro.meters)
        return f"intro {intro.id!r} is written for {meters}; the tune is in {tune.meter}"
    if all(form.mode != key.mode for form in intro.forms):
        modes = sorted({form.mode.value for form in intro.forms})
        return f"intro {intro.id!r} has no {key.mode.value} form; it has: {', '.join(modes)}"
    head = head_name(first_chord(tune, key.mode))
    form = _fitting(intro, key.mode, head)
    if form is None:
        heads = _heads(intro, key.mode)
        return (
            f"intro {intro.id!r} does not lead to a head on {head} in {key.mode.value}; it leads to: {heads}"
        )
    return _not_led(intro, form, tune)


def _not_led(intro: Intro, form: Form, tune: Tune) -> str | None:
    """What a tune names for the foot that is not there; None when all is."""
    vamped = tune.leading.vamp_bars
    named = {"holds": tune.leading.held, "goes on in time at": tune.leading.in_time}
    if vamped is None and not any(named.values()):
        return None
    bars = bars_of(intro, form, meter=tune.meter, tempo=tune.tempo)
    has = f"intro {intro.id!r} has bars 1 to {bars} at {tune.tempo:g}, of {tune.meter.beats} beats"
    for does, place in named.items():
        if place is not None and (place.bar > bars or place.beat > tune.meter.beats):
            return f"tune {tune.title!r} {does} {place}; {has}"
    if vamped is not None and vamped.last > bars:
        return f"tune {tune.title!r} goes round in {vamped}; {has}"
    return None


def choose_form(intro: Intro, tune: Tune, key: Key) -> Form:
    """The first form that fits the key's mode and the head's first chord.

    Raises:
        ArrangeError: when there is none for the meter, the mode or the first chord; no form is ever forced.
            Also when it has not the bars that the tune names.
    """
    reason = suits(intro, tune, key)
    form = None if reason else _fitting(intro, key.mode, head_name(first_chord(tune, key.mode)))
    if form is None:
        raise ArrangeError(reason or f"intro {intro.id!r} has no form")
    return form


def ends_on_head_dominant(form: Form) -> bool:
    """Whether a form's last chord is `H`, a dominant of whatever the head starts on."""
    return isinstance(form.bars[-1].slots[-1].chord, HeadDominant)


def leads_there(form: Form, head: str) -> bool:
    """Whether a form's end, as it is written, leads to a head on `head`, a name as `head_name` gives it."""
    return ends_on_head_dominant(form) or not form.leads_to or head in form.leads_to


def _fitting(intro: Intro, mode: Mode, head: str) -> Form | None:
    forms = (form for form in intro.forms if form.mode == mode and (not form.heads or head in form.heads))
    return next(forms, None)


def _heads(intro: Intro, mode: Mode) -> str:
    heads = {head: None for form in intro.forms if form.mode == mode for head in form.heads}
    return ", ".join(heads)
