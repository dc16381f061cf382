"""A page an intro: title and facts, music, grips as diagrams, the teacher's note. Or a booklet of them.

Typst sets the page and carries its own fonts, so that a page looks the same on every machine.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib import resources
from itertools import groupby
from typing import Any

from introit.arrange.arranger import symbol_of
from introit.errors import IntroitError
from introit.export.diagram import Diagram
from introit.export.diagram_svg import diagram_svg
from introit.export.engraving import INSTALL, engrave
from introit.export.lettering import printed
from introit.export.music_xml import music_xml
from introit.export.sheet.model import Sheet
from introit.theory.fretboard import STANDARD_TUNING
from introit.theory.key import Key, Mode

PAPERS = {"a4": "a4", "letter": "us-letter"}
_PIXELS_AN_INCH = 160.0
_SWINGS_FROM = Fraction(6, 5)
"""Long eighth to short from which a page says that eighths swing; what is less is a shade (no source)."""


@dataclass(frozen=True, slots=True)
class Page:
    """What one page is made from.

    Attributes:
        sheet: the music.
        diagrams: its grips, at their ticks.
    """

    sheet: Sheet
    diagrams: tuple[tuple[int, Diagram], ...]


def printed_pages(pages: Sequence[Page], ending: str, *, paper: str = "a4", booklet: str = "") -> list[bytes]:
    """The pages as a PDF, or as pictures.

    Args:
        pages: one an intro.
        ending: `.pdf` (all in one file), `.svg` or `.png` (a picture a page).
        paper: `a4` or `letter`.
        booklet: its title, for contents in front; empty for none.

    Raises:
        IntroitError: when Verovio or Typst is not installed.
    """
    typst = _typesetter()
    document = {
        "title": booklet or pages[0].sheet.title,
        "paper": PAPERS[paper],
        "contents": _contents(pages) if booklet else [],
        "sheets": [_sheet(page, number) for number, page in enumerate(pages)],
    }
    template = resources.files("introit.export").joinpath("page.typ").read_bytes()
    try:
        found = typst.compile(
            template,
            format=ending.removeprefix("."),
            ppi=_PIXELS_AN_INCH,
            ignore_system_fonts=True,
            sys_inputs={"sheets": json.dumps(document)},
        )
    except (RuntimeError, typst.TypstError) as error:
        raise IntroitError(f"the page cannot be set: {error}") from error
    return [found] if isinstance(found, bytes) else list(found)


def _typesetter() -> Any:
    try:
        import typst
    except ImportError as error:
        raise IntroitError(f"Typst is not installed. {INSTALL}") from error
    return typst


def _sheet(page: Page, number: int) -> dict[str, Any]:
    sheet = page.sheet
    symbols = [symbol_of(chord) for chord in sheet.chords]
    systems = engrave(music_xml(sheet, headed=False), symbols, bars=len(sheet.parts[0].bars))
    return {
        "id": str(number),
        "title": sheet.title,
        "subtitle": f"Intro to {sheet.tune}" if sheet.tune and sheet.tune != sheet.title else "",
        "facts": _facts(sheet),
        "swings": sheet.swing >= _SWINGS_FROM,
        "systems": [{"drawing": one.drawing, "width": round(100 * one.share, 1)} for one in systems],
        "grips": _grips(page),
        "why": sheet.why,
    }


def _facts(sheet: Sheet) -> list[str]:
    """What a player asks before the first note."""
    key = f"{printed(str(sheet.key.tonic))} {sheet.key.mode.value}"
    facts = [key, sheet.feel, f"♩ = {sheet.tempo:g}", sheet.line_up]
    neck = next((part for part in sheet.parts if part.tuning), None)
    if neck is not None:
        if tuple(pitch - neck.capo for pitch in neck.tuning) != STANDARD_TUNING:
            names = [
                str(Key.from_pitch_class((pitch - neck.capo) % 12, Mode.MAJOR).tonic) for pitch in neck.tuning
            ]
            facts.append(f"tuning {' '.join(printed(name) for name in names)}")
        if neck.capo:
            facts.append(f"capo {neck.capo}")
    return facts


def _grips(page: Page) -> list[dict[str, str]]:
    """Each grip once, in the order in which it is needed, with its bars."""
    found: dict[tuple[object, ...], tuple[Diagram, dict[int, None]]] = {}
    for tick, diagram in page.diagrams:
        kind = (diagram.symbol, diagram.dots, diagram.open_strings)
        found.setdefault(kind, (diagram, {}))[1][tick // page.sheet.bar_ticks + 1] = None
    return [
        {
            "name": printed(diagram.symbol),
            "bars": f"{'bar' if len(bars) == 1 else 'bars'} {', '.join(map(str, bars))}",
            "drawing": diagram_svg(diagram),
        }
        for diagram, bars in found.values()
    ]


def _contents(pages: Sequence[Page]) -> list[dict[str, Any]]:
    """Entries by mode and feel, then by the chord that the intro begins with."""

    def rank(one: tuple[int, Page]) -> tuple[str, str]:
        return one[1].sheet.key.mode.value, one[1].sheet.feel

    ordered = sorted(
        enumerate(pages), key=lambda one: (*rank(one), str(one[1].sheet.chords[0].numeral), one[0])
    )
    return [
        {
            "name": f"{mode.capitalize()}, {feel.lower()}",
            "lines": [
                {
                    "id": str(number),
                    "title": page.sheet.title,
                    "facts": f"begins on {printed(str(page.sheet.chords[0].numeral))}",
                }
                for number, page in group
            ],
        }
        for (mode, feel), group in groupby(ordered, key=rank)
    ]
