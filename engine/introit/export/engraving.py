"""A sheet engraved: MusicXML through Verovio to SVG, one picture a page's height of systems.

Verovio draws its text with music fonts that other programs do not have, so that a flat becomes an empty box.
Here every text is written again in one text font, with the signs that it has (♭ ♯ ♮ ♩), and chord names and
numerals are brought to one height in each system.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any
from xml.etree import ElementTree

from introit.errors import IntroitError

FONT = "Libertinus Serif"
"""The font of all text on a page; the page's typesetter carries it."""
INSTALL = "A page needs the `sheet` extra: pip install '.[sheet]' in the checkout."

BARS_A_LINE = 4
_SVG = "http://www.w3.org/2000/svg"
_WIDTH = 2150
"""Of a system in tenths of Verovio's millimetres: with four bars a line, staves of some 6 mm on A4."""
_OPTIONS = {
    "breaks": "encoded",
    "pageHeight": 60000,
    "adjustPageHeight": True,
    "header": "none",
    "footer": "none",
    "font": "Leland",
    "svgViewBox": True,
    "svgRemoveXlink": True,
    "smuflTextFont": "none",
    "pageMarginTop": 40,
    "pageMarginBottom": 30,
    "pageMarginLeft": 50,
    "pageMarginRight": 10,
    "minLastJustification": 0,
    "systemDivider": "none",
    "spacingStaff": 10,
    "spacingSystem": 8,
    "mnumInterval": 0,
    "justifyVertically": False,
}
# SMuFL 1.4: accidentals, chord symbols, metronome marks.
_SIGNS = {
    "\ue260": "♭", "\ue261": "♮", "\ue262": "♯", "\ue263": "♯♯", "\ue264": "♭♭",
    "\ued60": "♭", "\ued61": "♮", "\ued62": "♯", "\ued63": "♯♯", "\ued64": "♭♭",
    "\ue870": "°", "\ue871": "ø", "\ue872": "+", "\ue873": "Δ", "\ueca5": "♩",
}  # fmt: skip
_PRIVATE = re.compile("[\ue000-\uf8ff]")


def engrave(data: bytes, symbols: Sequence[str], *, bars: int) -> tuple[str, float]:
    """A picture of all systems, one below the other, as an SVG document.

    Args:
        data: a MusicXML file.
        symbols: of its chords in order, as they are shown.
        bars: that it has.

    Returns:
        The picture, and its width as a share of the page's, at most 1.

    Raises:
        IntroitError: when Verovio is not installed, or cannot read the file.
    """
    toolkit = _toolkit()
    toolkit.setOptions({**_OPTIONS, "pageWidth": _WIDTH * min(bars, BARS_A_LINE) // BARS_A_LINE})
    if not toolkit.loadData(data.decode()):
        raise IntroitError("the notation cannot be engraved: Verovio does not read it")
    return _with_plain_text(toolkit.renderToSVG(1), symbols), min(bars, BARS_A_LINE) / BARS_A_LINE


def _toolkit() -> Any:
    try:
        import verovio
    except ImportError as error:
        raise IntroitError(f"Verovio is not installed. {INSTALL}") from error
    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def _with_plain_text(svg: str, symbols: Sequence[str]) -> str:
    ElementTree.register_namespace("", _SVG)
    root = ElementTree.fromstring(svg)
    for system in _of_class(root, "system"):
        for group in ("harm", "dir"):
            _level(system, group)
    for sign in list(_of_class(root, "tabDurSym")):
        sign.clear()
    for text in list(root.iter(f"{{{_SVG}}}text")):
        _rewrite(text)
    for harm, symbol in zip(_of_class(root, "harm"), symbols, strict=True):
        _name(harm, symbol)
    return ElementTree.tostring(root, encoding="unicode")


def _name(harm: ElementTree.Element, symbol: str) -> None:
    for text in harm.iter(f"{{{_SVG}}}text"):
        text.text = printed(symbol)
        text.set("font-size", "400px")


def printed(symbol: str) -> str:
    """A chord symbol or numeral with the signs of music."""
    return symbol.replace("#", "♯").replace("b", "♭")


def _of_class(root: ElementTree.Element, name: str) -> Iterator[ElementTree.Element]:
    return (element for element in root.iter() if name in (element.get("class") or "").split())


def _level(system: ElementTree.Element, group: str) -> None:
    """Texts of one kind in one row: above the staff the highest one's, below it the lowest one's."""
    texts = [text for one in _of_class(system, group) for text in one.iter(f"{{{_SVG}}}text")]
    if group == "harm" and texts:
        top = min(float(text.get("y", "0")) for text in texts)
        for text in texts:
            text.set("y", f"{top:g}")
        return
    plain = [
        text
        for text in texts
        if not any(part.get("font-style") or part.get("font-weight") for part in text.iter())
    ]
    if plain:
        low = max(float(text.get("y", "0")) for text in plain)
        for text in plain:
            text.set("y", f"{low:g}")
            text.set("style", "font-style:normal")  # its italics have no flat
            for part in text.iter():
                part.text = part.text and printed(part.text)


def _rewrite(text: ElementTree.Element) -> None:
    """One run of plain text in the place of the parts that Verovio writes."""
    parts = list(text.iter(f"{{{_SVG}}}tspan"))
    words = "".join(part.text or "" for part in parts if part.text and part.text.strip("\n "))
    words = _PRIVATE.sub(lambda sign: _SIGNS.get(sign[0], ""), words)
    sizes = [part.get("font-size", "") for part in parts if not (part.get("font-family") or "")]
    size = next((size for size in reversed(sizes) if size and size != "0px"), "405px")
    style = {
        name: value
        for name in ("font-style", "font-weight")
        if (value := next((part.get(name) for part in parts if part.get(name)), None))
    }
    place = {name: value for name in ("x", "y", "text-anchor", "style") if (value := text.get(name))}
    text.clear()
    for name, value in {**place, **style, "font-size": size, "font-family": FONT}.items():
        text.set(name, value)
    text.text = words
