"""Tune files, and tunes written inside a set."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from introit.library.fields import Fields, beats, choice, prose, whole, word
from introit.library.model import Tune
from introit.library.musical import C_MAJOR, FOUR_FOUR, TONIC, key, meter, numeral, tempo
from introit.library.nodes import Node
from introit.library.reading import Reading, clean_title
from introit.library.shelf import Shelf, named
from introit.theory.key import Mode
from introit.theory.numeral import Numeral

LANDINGS = ("cut",)
MOST_COUNT_OFF_BARS = 4
_SOME_TEMPO = 120.0


def read_tune(name: str, node: Node | None, reading: Reading, shelf: Shelf) -> Tune | None:
    """The tune that a file describes, or None with its mistakes in `reading`."""
    fields = Fields(node, reading, what="a tune")
    fields.optional("kind", word, "")
    return tune_from(fields, name, reading, shelf)


def tune_from(fields: Fields, name: str, reading: Reading, shelf: Shelf) -> Tune | None:
    """A whole tune from its keys; None with its mistakes in `reading`.

    The meter and the tempo may be left out: they are then the feel's first and its typical one. A first chord
    left out is the tonic.
    """
    title = clean_title(fields.required("title", word, ""))
    start = Tune(
        id=name,
        title=title,
        key=fields.required("key", key, C_MAJOR),
        meter=FOUR_FOUR,
        tempo=_SOME_TEMPO,
        feel=fields.required("feel", named("feel", shelf), ""),
        first_chord=TONIC,
    )
    return with_changes(fields, usual(start, shelf), reading, shelf)


def usual(tune: Tune, shelf: Shelf) -> Tune:
    """The tune with the meter and the tempo of its feel, and its key's tonic as the first chord."""
    first = Numeral.from_text("i" if tune.key.mode is Mode.MINOR else "I")
    feel = shelf.library.feels.get(tune.feel)
    if feel is None:
        return replace(tune, first_chord=first)
    return replace(tune, first_chord=first, meter=feel.meters[0], tempo=feel.typical_tempo)


def with_changes(fields: Fields, tune: Tune, reading: Reading, shelf: Shelf) -> Tune | None:
    """A tune with what the keys say in place of its own; None with the mistakes in `reading`."""
    changed = replace(
        tune,
        meter=fields.optional("meter", meter, tune.meter),
        tempo=fields.optional("tempo", tempo, tune.tempo),
        first_chord=fields.optional("first_chord", numeral, tune.first_chord),
        pickup=fields.optional("pickup", beats(tune.meter.beats * 2), Fraction(tune.pickup)),
        intro=fields.optional("intro", named("intro", shelf), tune.intro),
        count_off=fields.optional("count_off", whole(0, MOST_COUNT_OFF_BARS, unit="bars"), tune.count_off),
        landing=fields.optional("landing", choice(LANDINGS), tune.landing),
        notes=fields.optional("notes", prose, tune.notes),
    )
    fields.finish()
    if reading.clean:
        _check_together(fields, changed, reading, shelf)
    return changed if reading.clean else None


def _check_together(fields: Fields, tune: Tune, reading: Reading, shelf: Shelf) -> None:
    """A tune and its feel must share a meter; a tune and its intro a meter and a mode."""
    feel = shelf.library.feels[tune.feel]
    if tune.meter not in feel.meters:
        meters = ", ".join(map(str, feel.meters))
        message = f"feel {tune.feel!r} is felt in {meters}; the tune is in {tune.meter}"
        reading.report(fields.place_of("meter"), "does-not-fit", message)
    intro = shelf.library.intros[tune.intro] if tune.intro else None
    if intro is None:
        return
    if tune.meter not in intro.meters:
        meters = ", ".join(map(str, intro.meters))
        message = f"intro {intro.id!r} goes in {meters}; the tune is in {tune.meter}"
        reading.report(fields.place_of("intro"), "does-not-fit", message)
    if tune.key.mode not in {form.mode for form in intro.forms}:
        message = f"intro {intro.id!r} has no {tune.key.mode} form, and the tune is in {tune.key}"
        reading.report(fields.place_of("intro"), "does-not-fit", message)
