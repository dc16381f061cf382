"""A page an intro: title and facts, music, grips as diagrams, the teacher's note. Or a booklet of them.

Typst sets the page and carries its own fonts, so that a page looks the same on every machine.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from itertools import groupby
from typing import Any

from introit.arrange.arranger import symbol_of
from introit.errors import IntroitError
from introit.export.diagram import Diagram
from introit.export.diagram_svg import diagram_svg
from introit.export.engraving import INSTALL, engrave, printed
from introit.export.music_xml import music_xml
from introit.export.sheet.model import Sheet

PAPERS = {"a4": "a4", "letter": "us-letter"}
_PIXELS_AN_INCH = 160.0


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
    bars = len(sheet.parts[0].bars)
    symbols = [symbol_of(chord) for chord in sheet.chords]
    music, share = engrave(music_xml(sheet, headed=False), symbols, bars=bars)
    grips: dict[tuple[object, ...], Diagram] = {}
    for _, diagram in page.diagrams:
        grips.setdefault((diagram.symbol, diagram.dots, diagram.open_strings), diagram)
    return {
        "id": str(number),
        "title": sheet.title,
        "subtitle": f"Intro to {sheet.tune}" if sheet.tune and sheet.tune != sheet.title else "",
        "facts": f"{_key(sheet)}   {sheet.feel}   ♩ = {sheet.tempo:g}   {sheet.line_up}",
        "music": music,
        "width": round(100 * share, 1),
        "grips": [
            {"name": printed(diagram.symbol), "drawing": diagram_svg(diagram)} for diagram in grips.values()
        ],
        "why": sheet.why,
    }


def _key(sheet: Sheet) -> str:
    tonic = printed(str(sheet.key.tonic))
    return f"{tonic} {sheet.key.mode.value}"


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
