"""A sheet engraved: MusicXML through Verovio to SVG, one picture a system."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any, NamedTuple

from introit.arrange.arranger import symbol_of
from introit.errors import IntroitError
from introit.export.lettering import lettered
from introit.export.music_xml import music_xml
from introit.export.picture import Picture
from introit.export.sheet.model import BARS_A_LINE, Sheet

INSTALL = "A page needs the `sheet` extra: pip install '.[sheet]' in the checkout."

_WIDTH = 2150
"""Of a full system in tenths of Verovio's millimetres: staves of some 6 mm on A4."""
_CLEF_BARS = 0.5
"""The room that clef, signatures and the player's name take, in bars."""
_OPTIONS = {
    "breaks": "encoded",
    "pageHeight": 60000,
    "adjustPageHeight": True,
    "header": "none",
    "footer": "none",
    "font": "Leland",
    "svgViewBox": True,
    "svgRemoveXlink": True,
    "svgBoundingBoxes": True,
    "smuflTextFont": "none",
    "pageMarginTop": 20,
    "pageMarginBottom": 20,
    "pageMarginLeft": 50,
    "pageMarginRight": 10,
    "minLastJustification": 0,
    "systemDivider": "none",
    "condense": "none",  # a staff that is silent for a line still bears the chord names
    "spacingStaff": 10,
    "spacingNonLinear": 0.5,  # short notes have room for their frets
    "defaultBottomMargin": 1.0,  # between numerals and tab
    "mnumInterval": 0,
    "justifyVertically": False,
    "xmlIdSeed": 1,  # the same sheet is the same drawing
}


_Drawn = tuple[str, dict[str, float]]


class System(NamedTuple):
    """One line of music.

    Attributes:
        picture: the music, with its letters.
        share: of the page's width that it takes, at most 1.
        beats: where in the picture each moment stands at which something begins: quarter notes from the
            intro's first downbeat, and a part of the width, both rising.
    """

    picture: Picture
    share: float
    beats: tuple[tuple[float, float], ...] = ()


def engrave(sheet: Sheet) -> list[System]:
    """The systems from the top, four bars each; a shorter one is as much narrower.

    Where nothing lies on the neck for a whole line, the line has no tab.

    Raises:
        IntroitError: when Verovio is not installed, or cannot read the music.
    """
    shares = _shares(len(sheet.parts[0].bars))
    drawn = _lines(sheet, shares)
    bare = [line for line in range(len(shares)) if _is_off_the_neck(sheet, line)]
    if bare:
        plain = _lines(replace(sheet, parts=tuple(part.without_tab() for part in sheet.parts)), shares)
        drawn = [plain[line] if line in bare else each for line, each in enumerate(drawn)]
    pictures = lettered([drawing for drawing, _ in drawn], [symbol_of(chord) for chord in sheet.named])
    return [
        System(picture, share, _beats(picture, onsets))
        for picture, share, (_, onsets) in zip(pictures, shares, drawn, strict=True)
    ]


def _shares(bars: int) -> list[float]:
    """How much of the page's width each line takes."""
    full, rest = divmod(bars, BARS_A_LINE)
    last = [(rest + _CLEF_BARS) / (BARS_A_LINE + _CLEF_BARS)] if rest else []
    return [1.0] * full + last


def _is_off_the_neck(sheet: Sheet, line: int) -> bool:
    bars = slice(line * BARS_A_LINE, (line + 1) * BARS_A_LINE)
    return any(part.is_off_the_neck(bars) for part in sheet.parts)


def _lines(sheet: Sheet, shares: Sequence[float]) -> list[_Drawn]:
    data = music_xml(sheet, headed=False)
    full = sum(share == 1 for share in shares)
    drawn = _drawn(data, 1.0)[:full] if full else []
    return drawn + [_drawn(data, share)[-1] for share in shares[full:]]


def _beats(picture: Picture, onsets: Mapping[str, float]) -> tuple[tuple[float, float], ...]:
    """The leftmost of what begins at each moment; what would stand left of an earlier moment is left out."""
    places: dict[float, float] = {}
    for name, x in picture.notes:
        if name in onsets:
            places[onsets[name]] = min(x / picture.width, places.get(onsets[name], 1.0))
    found: list[tuple[float, float]] = []
    for beat, x in sorted(places.items()):
        if not found or x > found[-1][1]:
            found.append((beat, x))
    return tuple(found)


def _drawn(data: bytes, share: float) -> list[_Drawn]:
    """A drawing for each system, as Verovio makes it, and at which quarter note each note begins."""
    toolkit = _verovio().toolkit()
    toolkit.setOptions({**_OPTIONS, "pageWidth": round(_WIDTH * share)})
    if not toolkit.loadData(data.decode().replace('new-system="yes"', 'new-page="yes"')):
        raise IntroitError("the notation cannot be engraved: Verovio does not read it")
    drawings = [toolkit.renderToSVG(number) for number in range(1, toolkit.getPageCount() + 1)]
    onsets = {
        name: entry["qstamp"]
        for entry in toolkit.renderToTimemap({"includeRests": True})
        for name in (*entry.get("on", ()), *entry.get("restsOn", ()))
    }
    return [(drawing, onsets) for drawing in drawings]


@cache
def _verovio() -> Any:
    try:
        import verovio
    except ImportError as error:
        raise IntroitError(f"Verovio is not installed. {INSTALL}") from error
    verovio.enableLog(verovio.LOG_OFF)
    return verovio
