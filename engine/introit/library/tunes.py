"""Tune files, and tunes written inside a set."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from introit.errors import did_you_mean
from introit.library.bars import HeadDominant
from introit.library.chart import Chart
from introit.library.chart_sections import bars_in
from introit.library.charts import chart_in
from introit.library.fields import Fields, Reader, beats, choice, prose, word
from introit.library.intros import LINE_UPS
from introit.library.led_places import check_places
from introit.library.led_tunes import BY_TAPS, counted, read_leading
from introit.library.model import Tune
from introit.library.musical import C_MAJOR, FOUR_FOUR, TONIC, key, key_degree, meter, numeral, tempo
from introit.library.naming import named
from introit.library.nodes import Node, Sequence
from introit.library.reading import Reading, clean_title, shown
from introit.library.shelf import Shelf
from introit.library.sounds import sounds
from introit.theory.key import Mode
from introit.theory.numeral import Numeral

LANDINGS = ("cut", "chord")
RING = "ring"
MOST_RING_BEATS = 16
LANDING_WORDS = f"cut, chord, and ring with a number of beats, as in `ring 4` (1 to {MOST_RING_BEATS})"
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
    landing = fields.optional("landing", _landing, Landing(tune.landing, tune.ring))
    count_off = fields.optional("count_off", counted(MOST_COUNT_OFF_BARS), tune.count_off)
    intros = fields.optional("intro", _in_rotation(shelf), tune.intros)
    in_meter = fields.optional("meter", meter, tune.meter)
    chart = fields.optional("chart", chart_in(tune.key, in_meter), tune.chart)
    leading = tune.leading
    if fields.has("count_off"):  # bars in a set take the place of a tune's taps, and taps of its bars
        leading = replace(leading, tapped=count_off == BY_TAPS)
    changed = replace(
        tune,
        meter=in_meter,
        tempo=fields.optional("tempo", tempo, tune.tempo),
        first_chord=fields.optional("first_chord", numeral, _first_of(fields, chart) or tune.first_chord),
        pickup=fields.optional("pickup", beats(tune.meter.beats * 2), Fraction(tune.pickup)),
        intro=intros[0] if intros else None,
        more_intros=intros[1:],
        count_off=max(0, count_off),
        landing=landing.word,
        ring=landing.beats,
        line_up=fields.optional("line_up", choice(LINE_UPS), tune.line_up),
        first_note=fields.optional("first_note", key_degree, tune.first_note),
        notes=fields.optional("notes", prose, tune.notes),
        sounds=fields.optional("sounds", sounds, tune.sounds),
        leading=read_leading(fields, leading, reading),
        chart=chart,
    )
    fields.finish()
    if reading.clean:
        _check_together(fields, changed, reading, shelf)
    return changed if reading.clean else None


def _first_of(fields: Fields, chart: Chart | None) -> Numeral | None:
    """The first chord of a chart that is written here; None where none is."""
    first = chart.first.chord if chart is not None and fields.has("chart") else None
    return None if isinstance(first, HeadDominant) else first


class Landing(NamedTuple):
    """How an intro ends: `word` is `cut`, `chord` or `ring`; `beats` is how long it rings, else 0."""

    word: str
    beats: Fraction


def landing_from(text: str) -> Landing | None:
    """Reads `cut`, `chord` or `ring 4` (beats, up to 16); None where it is none of them."""
    word, *rest = text.split()
    if word in LANDINGS and not rest:
        return Landing(word, Fraction(0))
    if word == RING and len(rest) == 1 and rest[0].isascii() and rest[0].isdigit():
        beats_long = Fraction(rest[0][:6])
        if 0 < beats_long <= MOST_RING_BEATS:
            return Landing(RING, beats_long)
    return None


def _landing(node: Node, reading: Reading) -> Landing | None:
    text = word(node, reading)
    if text is None:
        return None
    found = landing_from(text)
    if found is None:
        message = f"{shown(text)} is no landing; allowed are {LANDING_WORDS}"
        hint = did_you_mean(text.split()[0], (*LANDINGS, RING))
        reading.report(node.place, "not-allowed", message, hint)
    return found


def _in_rotation(shelf: Shelf) -> Reader[tuple[str, ...]]:
    """A reader of an intro's id, or of a list of them, in which none comes twice."""
    one = named("intro", shelf)

    def read(node: Node, reading: Reading) -> tuple[str, ...] | None:
        if not isinstance(node, Sequence):
            name = one(node, reading)
            return None if name is None else (name,)
        if not node.items:
            message = "the list of intros is empty; at least one is needed. Leave the line out for none"
            reading.report(node.place, "wrong-type", message)
        lines: dict[str, int] = {}
        for item in node.items:
            name = one(item, reading)
            if name is not None and name in lines:
                message = f"intro {shown(name)} is named twice; the first is in line {lines[name]}"
                reading.report(item.place, "not-allowed", message, "Each takes its turn once.")
            elif name is not None:
                lines[name] = item.place.line
        return tuple(lines) if len(lines) == len(node.items) else None

    return read


def _check_together(fields: Fields, tune: Tune, reading: Reading, shelf: Shelf) -> None:
    """A tune and its feel must share a meter; a tune and each of its intros a meter and a mode."""
    feel = shelf.library.feels[tune.feel]
    if tune.meter not in feel.meters:
        meters = ", ".join(map(str, feel.meters))
        message = f"feel {tune.feel!r} is felt in {meters}; the tune is in {tune.meter}"
        reading.report(fields.place_of("meter"), "does-not-fit", message)
    _check_chart(fields, tune, reading)
    written = fields.raw("intro")
    items = written.items if isinstance(written, Sequence) else ()
    places = [item.place for item in items] or [fields.place_of("intro")] * len(tune.intros)
    for name, place in zip(tune.intros, places, strict=True):
        intro = shelf.library.intros[name]
        if tune.meter not in intro.meters:
            meters = ", ".join(map(str, intro.meters))
            message = f"intro {intro.id!r} goes in {meters}; the tune is in {tune.meter}"
            reading.report(place, "does-not-fit", message)
        if tune.key.mode not in {form.mode for form in intro.forms}:
            message = f"intro {intro.id!r} has no {tune.key.mode} form, and the tune is in {tune.key}"
            reading.report(place, "does-not-fit", message)
    if reading.clean:
        check_places(fields, tune, [shelf.library.intros[name] for name in tune.intros], reading)


def _check_chart(fields: Fields, tune: Tune, reading: Reading) -> None:
    """A tune's chart must add up in its meter, and begin as its file says that the head does."""
    chart = tune.chart
    if chart is None:
        return
    written = [bar for section in chart.sections for bar in bars_in(section.strains)]
    odd = next((bar for bar in (*written, *chart.coda) if bar.shares not in {1, 2, tune.meter.beats}), None)
    if odd is not None:
        text = " ".join(str(slot.chord) for slot in odd.slots)
        message = f"the tune's chart has a bar ({text}) in {odd.shares}, which does not go in {tune.meter}"
        reading.report(fields.place_of("meter"), "does-not-fit", message)
    first = _first_of(fields, chart)
    if first is None or not fields.has("first_chord"):
        return
    if _root_and_mode(first) != _root_and_mode(tune.first_chord):
        message = f"the chart begins with {first}, and `first_chord` is {tune.first_chord}"
        hint = "Leave `first_chord` out: it is then the chart's."
        reading.report(fields.place_of("first_chord"), "does-not-fit", message, hint)


def _root_and_mode(chord: Numeral) -> tuple[object, ...]:
    return chord.degree, chord.alter, chord.is_minor, chord.applied
