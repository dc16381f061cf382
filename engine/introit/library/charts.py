"""The key `chart` of a tune: its chords, bar by bar, in sections.

A chart is block text, or one block text a section, with `order` for the order in which they are played and
`coda` for what ends the last chorus. What stands in a section is read by `chart_sections`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from itertools import islice

from introit.errors import NotationError, did_you_mean
from introit.library.bars import HeadDominant
from introit.library.chart import CODA, Chart, Section, chorus_bars, passed_bars
from introit.library.chart_sections import Written, read_section
from introit.library.fields import Reader, kind_of, report_repeated
from introit.library.harmony import ReadChord
from introit.library.lines import Piece, words
from introit.library.nodes import Mapping, Node, Scalar
from introit.library.nodes import Sequence as NodeSequence
from introit.library.reading import Place, Reading, shown
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.named import numeral_named
from introit.theory.numeral import Numeral
from introit.theory.pitch import LETTERS

MOST_PLAYED = 128
"""Bars of a chorus, its coda among them."""
ORDER = "order"
_SECTION = re.compile(r"[A-Za-z][A-Za-z0-9]{0,11}")
_HOW = "block text with the bars (`chart: |`), or a block text for each section, such as `A: |`,"


def chart_in(key: Key, meter: Meter) -> Reader[Chart]:
    """A reader of a chart whose chord names are read in a key, and whose bars must add up in a meter."""

    def read(node: Node, reading: Reading) -> Chart | None:
        before = len(reading.problems)
        if isinstance(node, Scalar):
            written = {"": read_section("", node, meter=meter, reading=reading, read_chord=_reader(key))}
            order: tuple[str, ...] | None = ("",)
            places = {"": node.place}
        elif isinstance(node, Mapping):
            report_repeated(node, reading)
            places = {name.text: name.place for name, _ in node.entries}
            written = _sections(node, key, meter, reading)
            order = _order(node, [name for name in written if name != CODA], reading)
        else:
            reading.report(node.place, "wrong-type", f"{_HOW} is needed; {kind_of(node)} is given")
            return None
        if order is None or len(reading.problems) > before:
            return None
        return _checked(written, order, places, key=key, place=node.place, reading=reading)

    return read


def _reader(key: Key) -> ReadChord:
    """A reader of a chord name, or of a numeral."""

    def read(token: Piece, reading: Reading) -> Numeral | None:
        named = token.text.startswith(tuple(LETTERS))
        try:
            return numeral_named(token.text, key) if named else Numeral.from_text(token.text)
        except NotationError as error:
            place = reading.place(token.offset + min(error.position, len(token.text) - 1))
            small = token.text[0].upper() in LETTERS and not named
            hint = "The name of a chord begins with a capital letter." if small else ""
            code = "bad-chord" if named or small else "bad-numeral"
            reading.report(place, code, f"{token.text!r}: {error.reason}", hint)
            return None

    return read


# --- sections ---------------------------------------------------------------------------------------


def _sections(node: Mapping, key: Key, meter: Meter, reading: Reading) -> dict[str, Written | None]:
    """Every section, the coda among them, as it is written; None for one with mistakes."""
    found: dict[str, Written | None] = {}
    for name, value in node.entries:
        if name.text == ORDER:
            continue
        hint = did_you_mean(name.text, (ORDER, CODA)) if name.text != CODA and len(name.text) > 3 else ""
        if hint or not _SECTION.fullmatch(name.text):
            message = (
                f"{shown(name.text)} is no name of a section: a letter, then at most eleven letters or "
                f"digits. Beside sections there are {ORDER} and {CODA}"
            )
            reading.report(name.place, "unknown-key", message, hint)
            continue
        found[name.text] = read_section(
            name.text, value, meter=meter, reading=reading, read_chord=_reader(key)
        )
    if not any(name != CODA for name in found) and reading.clean:
        reading.report(node.place, "missing-key", "a chart needs a section, such as `A: |`")
    return found


def _order(node: Mapping, names: list[str], reading: Reading) -> tuple[str, ...] | None:
    """The order of a chorus; the sections as they stand where none is written."""
    value = node.get(ORDER)
    if value is None or not names:
        return tuple(names)
    pieces = _order_words(value, reading)
    if pieces is None:
        return None
    found: list[str] = []
    for text, place in pieces:
        if text in names:
            found.append(text)
        elif set(text) <= set(names):  # AABA
            found += text
        else:
            hint = did_you_mean(text, names)
            if text == CODA:
                hint = "The coda is not in the order: it is gone to where `to coda` stands."
            message = f"{shown(text)} is no section of this chart; there are {', '.join(names) or 'none'}"
            reading.report(place, "not-allowed", message, hint)
            return None
    return tuple(found)


def _order_words(node: Node, reading: Reading) -> list[tuple[str, Place]] | None:
    """The words of an order: in one line, with or without commas, or in a list."""
    scalars = node.items if isinstance(node, NodeSequence) else (node,)
    found: list[tuple[str, Place]] = []
    for scalar in scalars:
        if not isinstance(scalar, Scalar) or scalar.is_null or not scalar.text.strip():
            message = f"the order of the sections is needed, such as `A A B A`; {kind_of(scalar)} is given"
            reading.report(scalar.place, "wrong-type", message)
            return None
        if scalar.style == "block":
            found += [(word, scalar.place) for word in scalar.text.replace(",", " ").split()]
            continue
        start = scalar.start + (scalar.style == "quoted")
        for piece in words(Piece(scalar.text.replace(",", " "), start)):
            found.append((piece.text, reading.place(min(piece.offset, scalar.end))))
    return found


# --- all together -----------------------------------------------------------------------------------


def _checked(
    written: dict[str, Written | None],
    order: tuple[str, ...],
    places: dict[str, Place],
    *,
    key: Key,
    place: Place,
    reading: Reading,
) -> Chart | None:
    """The chart, or None where its sections, order and coda do not make one."""
    read = {name: one for name, one in written.items() if one is not None}
    before = len(reading.problems)
    coda = read.pop(CODA, None)
    sections = tuple(Section(name, one.strains) for name, one in read.items())
    chart = Chart(key.mode, sections, order, coda.plain_bars if coda else ())
    for section in sections:
        _check_section(section, order, places[section.name], reading)
    if coda is not None and coda.signs:
        message = "a coda is played through: no repeat signs, no endings, no `to coda`"
        reading.report(coda.signs[0], "bad-chart", message)
    if len(reading.problems) > before:
        return None
    _check_coda(chart, read.values(), places, reading)
    if len(reading.problems) > before:
        return None
    if len(list(islice(passed_bars(chart), MOST_PLAYED + 1))) > MOST_PLAYED or (
        len(chorus_bars(chart, last=True)) > MOST_PLAYED
    ):
        message = f"a chorus has more than {MOST_PLAYED} bars when all repeats are played"
        reading.report(place, "out-of-range", message)
    elif isinstance(chart.first.chord, HeadDominant):
        message = f"{chart.first.chord} leads back to the first chord, so it cannot be the first itself"
        reading.report(place, "bad-chart", message)
    return chart if len(reading.problems) == before else None


def _check_section(section: Section, order: tuple[str, ...], place: Place, reading: Reading) -> None:
    comes = Counter(order)[section.name]
    what = f"section {section.name}" if section.name else "the chart"
    if not comes:
        message = f"{what} is not in the order {' '.join(order)}"
        reading.report(place, "does-not-fit", message, "Put it in, or take it out.")
        return
    for strain in section.strains:
        times = max((time for ending in strain.endings for time in ending.times), default=1)
        if strain.times == 1 and times > comes:
            often = {1: "once", 2: "twice"}.get(comes, f"{comes} times")
            message = f"{what} has an ending for time {times}, and is played {often} in a chorus"
            hint = "Put `:|` behind the first ending, or name the section in `order` again."
            reading.report(place, "does-not-fit", message, hint)


def _check_coda(chart: Chart, written: Iterable[Written], places: dict[str, Place], reading: Reading) -> None:
    leads = next((one.to_coda for one in written if one.to_coda is not None), None)
    if chart.coda and not any(played.to_coda for played in islice(passed_bars(chart), MOST_PLAYED)):
        message = "nothing leads to the coda"
        hint = "Write `to coda` in a section, after the bar that is the last one before it."
        reading.report(places[CODA], "bad-chart", message, hint)
    elif not chart.coda and leads is not None:
        message = "`to coda` leads to a coda, and the chart has none"
        reading.report(leads, "bad-chart", message, f"Write its bars below `{CODA}: |`.")
