"""A page an intro: title and facts, music, grips as diagrams, the teacher's note. Or a booklet of them.

Typst sets the page and carries its own fonts, so that a page looks the same on every machine.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib import resources
from itertools import groupby
from typing import Any

from introit.arrange.line_up import LineUp
from introit.errors import IntroitError
from introit.export.diagram import Diagram
from introit.export.diagram_svg import diagram_picture
from introit.export.engraving import INSTALL, engrave
from introit.export.lettering import printed
from introit.export.picture import Picture
from introit.export.sheet.model import Sheet
from introit.theory.fretboard import STANDARD_TUNING
from introit.theory.key import Key, Mode

PAPERS = {"a4": "a4", "letter": "us-letter"}
_PIXELS_AN_INCH = 160.0
_SWINGS_FROM = Fraction(6, 5)
"""Long eighth to short from which a page says that eighths swing; what is less is a shade (no source)."""

_USUAL_FRETS = 15
"""That a hand reaches on every guitar; a page that asks for more says so (no source)."""
_BARS_TOLD = 4
"""Of a grip; more do not go under its name."""
_OF_USERS = ("title", "subtitle", "why")
_LAST_OWN_LETTER = "\u05ff"
"""Latin, Greek, Cyrillic and Hebrew are in the typesetter's text font."""
_SIGNS = frozenset("♭♯♮♩–—‘’“”…°")


@dataclass(frozen=True, slots=True)
class Page:
    """What one page is made from.

    Attributes:
        sheet: the music.
        diagrams: its grips, at their ticks.
    """

    sheet: Sheet
    diagrams: tuple[tuple[int, Diagram], ...]


def printed_pages(pages: Iterable[Page], ending: str, *, paper: str = "a4", booklet: str = "") -> list[bytes]:
    """The pages as a PDF, or as pictures. A long intro takes more than one.

    Args:
        pages: one an intro; each is engraved as it comes.
        ending: `.pdf` (all in one file), `.svg` or `.png` (a picture a page).
        paper: `a4` or `letter`.
        booklet: its title, for contents in front, in whose order the pages come; empty for none.

    Raises:
        IntroitError: when Verovio or Typst is not installed.
    """
    typst = _typesetter()
    made = [(page.sheet, _sheet(page, number)) for number, page in enumerate(pages)]
    if booklet and not _are_of_a_set([sheet for sheet, _ in made]):
        made.sort(key=lambda one: _rank(one[0]))  # stable: keys stay in their order
    document = {
        "title": booklet or made[0][0].title,
        "paper": PAPERS[paper],
        "contents": _contents(made) if booklet else [],
        "sheets": [sheet for _, sheet in made],
    }
    template = resources.files("introit.export").joinpath("page.typ").read_bytes()
    try:
        found = typst.compile(
            template,
            format=ending.removeprefix("."),
            ppi=_PIXELS_AN_INCH,
            ignore_system_fonts=not _is_foreign(document),
            sys_inputs={"sheets": json.dumps(document)},
        )
    except (RuntimeError, typst.TypstError) as error:
        raise IntroitError(f"the page cannot be set: {error}") from error
    return [found] if isinstance(found, bytes) else list(found)


def _is_foreign(document: dict[str, Any]) -> bool:
    """Whether a text has letters that the typesetter's own fonts lack: the system's are asked then."""
    titles = (document["title"], *(sheet[part] for sheet in document["sheets"] for part in _OF_USERS))
    return any(sign > _LAST_OWN_LETTER and sign not in _SIGNS for title in titles for sign in title)


def _typesetter() -> Any:
    try:
        import typst
    except ImportError as error:
        raise IntroitError(f"Typst is not installed. {INSTALL}") from error
    return typst


def _sheet(page: Page, number: int) -> dict[str, Any]:
    sheet = page.sheet
    systems = engrave(sheet)
    return {
        "id": str(number),
        "title": sheet.title,
        "subtitle": f"Intro to {sheet.tune}" if sheet.tune and sheet.tune != sheet.title else "",
        "facts": _facts(sheet),
        "swings": sheet.swing >= _SWINGS_FROM,
        "systems": [{"width": round(100 * one.share, 1), **_picture(one.picture)} for one in systems],
        "grips": _grips(page),
        "why": sheet.why,
    }


def _facts(sheet: Sheet) -> list[str]:
    """What a player asks before the first note."""
    facts = [_key(sheet), sheet.feel, f"♩ = {sheet.tempo:g}", sheet.line_up]
    neck = next((part for part in sheet.parts if part.tuning), None)
    if neck is not None:
        if tuple(pitch - neck.capo for pitch in neck.tuning) != STANDARD_TUNING:
            names = [
                str(Key.from_pitch_class((pitch - neck.capo) % 12, Mode.MAJOR).tonic) for pitch in neck.tuning
            ]
            facts.append(f"tuning {' '.join(printed(name) for name in names)}")
        if neck.capo:
            facts.append(f"capo {neck.capo}")
        if neck.has_two_voices and sheet.line_up != LineUp.SOLO_GUITAR:
            facts.append("melody above, comping below")
        if neck.capo + neck.highest_fret > _USUAL_FRETS:
            facts.append(f"up to fret {neck.highest_fret}")
    return facts


def _told(bars: Sequence[int]) -> str:
    if len(bars) == 1:
        return f"bar {bars[0]}"
    return f"bars {', '.join(map(str, bars[:_BARS_TOLD]))}{' …' if len(bars) > _BARS_TOLD else ''}"


def _picture(picture: Picture) -> dict[str, Any]:
    letters = [letter._asdict() for letter in picture.letters]
    return {"drawing": picture.drawing, "units": picture.width, "letters": letters}


def _key(sheet: Sheet) -> str:
    return f"{printed(str(sheet.key.tonic))} {sheet.key.mode.value}"


def _grips(page: Page) -> list[dict[str, Any]]:
    """Each grip once, in the order in which it is needed, with its bars."""
    found: dict[tuple[object, ...], tuple[Diagram, dict[int, None]]] = {}
    for tick, diagram in page.diagrams:
        kind = (diagram.symbol, diagram.dots, diagram.open_strings)
        found.setdefault(kind, (diagram, {}))[1][tick // page.sheet.bar_ticks + 1] = None
    return [
        {
            "name": printed(diagram.symbol),
            "bars": _told(list(bars)),
            **_picture(diagram_picture(diagram)),
        }
        for diagram, bars in found.values()
    ]


def _are_of_a_set(sheets: Sequence[Sheet]) -> bool:
    return all(sheet.tune for sheet in sheets)


def _rank(sheet: Sheet) -> tuple[str, str, str, str]:
    """Mode and feel, then the chord that the intro begins with."""
    return sheet.key.mode.value, sheet.feel, str(sheet.chords[0].numeral), sheet.title


def _contents(made: Sequence[tuple[Sheet, dict[str, Any]]]) -> list[dict[str, Any]]:
    """A set in its order, other intros by mode, feel and first chord."""
    if _are_of_a_set([sheet for sheet, _ in made]):
        lines = [_line(sheet, sheet.tune, entry["id"], sheet.title) for sheet, entry in made]
        return [{"name": "", "lines": lines}]
    return [
        {
            "name": f"{mode.capitalize()}, {feel.lower()}",
            "lines": [
                _line(sheet, sheet.title, entry["id"], f"begins on {printed(str(sheet.chords[0].numeral))}")
                for sheet, entry in group
            ],
        }
        for (mode, feel), group in groupby(made, key=lambda one: _rank(one[0])[:2])
    ]


def _line(sheet: Sheet, title: str, number: str, facts: str) -> dict[str, str]:
    return {"id": number, "title": title, "facts": f"{_key(sheet)}, {facts}"}
