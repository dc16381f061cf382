"""The letters of engraved music, taken off the drawing: with plain signs, in rows, and clear of the notes.

Verovio writes its text with music fonts that a page does not have, so that a flat becomes an empty box. Here
every text becomes one run of letters with the signs that a text font has (♭ ♯ ♮ ♩). Fingers, fermatas and
words are lifted off stems and flags, and chord names and numerals are brought to one height in each system.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from introit.export.picture import Letter, Picture

_SVG = "http://www.w3.org/2000/svg"
_TEXT, _SPAN, _RECT = f"{{{_SVG}}}text", f"{{{_SVG}}}tspan", f"{{{_SVG}}}rect"
_NAME_SIZE, _USUAL_SIZE = 400, 405
_ROWS = {"harm": "name", "dir": "numeral", "fing": "finger", "mNum": "number", "tabGrp": "fret"}
_MOVED = re.compile(r"translate\(([-\d.]+), ([-\d.]+)\)$")
# SMuFL 1.4: accidentals, chord symbols, metronome marks.
_SIGNS = {
    "\ue260": "♭", "\ue261": "♮", "\ue262": "♯", "\ue263": "♯♯", "\ue264": "♭♭",
    "\ued60": "♭", "\ued61": "♮", "\ued62": "♯", "\ued63": "♯♯", "\ued64": "♭♭",
    "\ue870": "°", "\ue871": "ø", "\ue872": "+", "\ue873": "Δ", "\ueca5": "♩",
}  # fmt: skip
_PRIVATE = re.compile("[\ue000-\uf8ff]")
_SIDE_BY_SIDE = frozenset({"name", "numeral", "fret"})
_LEAST_ROOM = 0.2
"""Between neighbours in a row, as a part of the font's size; a space has 0.25."""
_IN_THE_WAY = frozenset(
    {"note", "stem", "flag", "beam", "accid", "artic", "dots", "tupletNum", "tupletBracket"}
)
_GAP = 50
_BESIDE = 60
"""Room at either side of a finger, which does not stand beside a stem but over it."""
_ASIDE = 600
"""How far a numeral is moved to the left at most."""
_FURTHEST = 1500
"""How far something is lifted at most; what would go further stays. All of these are in the drawing's units,
of which some 1,200 are a centimetre on A4."""


class _Box(NamedTuple):
    """A rectangle; y grows downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: _Box) -> bool:
        """Whether the two have some room in common."""
        return self.beside(other) and self.top < other.bottom and other.top < self.bottom

    def beside(self, other: _Box) -> bool:
        """Whether they would meet if one were moved up or down."""
        return self.left < other.right and other.left < self.right

    def wider(self, by: float) -> _Box:
        """The same, with more room at either side."""
        return self._replace(left=self.left - by, right=self.right + by)

    def lifted(self, by: float) -> _Box:
        """The same, further up."""
        return self._replace(top=self.top - by, bottom=self.bottom - by)


_Boxes = dict[Element, list[_Box]]


def lettered(drawings: Iterable[str], symbols: Sequence[str]) -> list[Picture]:
    """The drawings of an intro's systems, with their letters apart.

    Args:
        drawings: as Verovio makes them, with bounding boxes.
        symbols: of its chords in order, as they are shown.
    """
    ElementTree.register_namespace("", _SVG)
    names = iter(symbols)
    found = [_lettered(ElementTree.fromstring(drawing), names) for drawing in drawings]
    if next(names, None) is not None:
        raise ValueError("there are more chord symbols than chords in the music")
    return found


def printed(symbol: str) -> str:
    """A chord symbol or numeral with the signs of music."""
    return symbol.replace("#", "♯").replace("b", "♭")


def _lettered(root: Element, names: Iterator[str]) -> Picture:
    boxes = _taken_out(root)
    notes = list(_standing(root, boxes))
    for sign in list(_of_class(root, "tabDurSym")):
        sign.clear()
    above = _raised(root, boxes)
    top = _name_row(root, boxes, above)
    _numeral_row(root, boxes)
    _grow(root, -top)
    inner = next(drawing for drawing in root.iter(f"{{{_SVG}}}svg") if drawing is not root)
    left, upper, width, height = _view(inner)
    letters = _with_room(list(_letters(inner, -left, -upper, "", names)))
    margin = _MOVED.match(next(_of_class(root, "page-margin")).get("transform", ""))
    right = (float(margin[1]) if margin else 0.0) - left
    standing = tuple((name, x + right) for name, x in notes)
    return Picture(ElementTree.tostring(root, encoding="unicode"), width, height, letters, standing)


def _with_room(letters: Sequence[Letter]) -> tuple[Letter, ...]:
    """Letters that are followed in their row know how far they may go."""
    found = list(letters)
    rows: dict[tuple[str, float], list[int]] = {}
    for index in sorted(range(len(found)), key=lambda index: found[index].x):
        if found[index].row in _SIDE_BY_SIDE:
            rows.setdefault((found[index].row, found[index].y), []).append(index)
    for row in rows.values():
        for one, following in pairwise(row):
            room = found[following].x - found[one].x - _LEAST_ROOM * found[one].size
            for index in (one, following) if found[one].anchor == "middle" else (one,):
                found[index] = found[index]._replace(room=min(room, found[index].room or room))
    return tuple(found)


def _view(drawing: Element) -> tuple[float, float, float, float]:
    left, top, width, height = (float(part) for part in drawing.get("viewBox", "0 0 0 0").split())
    return left, top, width, height


def _of_class(root: Element, name: str) -> Iterator[Element]:
    return (element for element in root.iter() if name in (element.get("class") or "").split())


def _texts(root: Element, group: str) -> list[Element]:
    return [text for one in _of_class(root, group) for text in one.iter(_TEXT)]


# --- where things are -------------------------------------------------------------------------------


def _taken_out(root: Element) -> _Boxes:
    """The bounding boxes of elements; they are taken out of the drawing."""
    boxes: _Boxes = {}
    for parent in list(root.iter()):
        for child in list(parent):
            if "bounding-box" in (child.get("class") or "").split():
                boxes[parent] = [_box(rect) for rect in child.iter(_RECT)]
                parent.remove(child)
    return boxes


def _box(rect: Element) -> _Box:
    left, top, width, height = (float(rect.get(name, "0")) for name in ("x", "y", "width", "height"))
    return _Box(left, top, left + width, top + height)


def _standing(root: Element, boxes: _Boxes) -> Iterator[tuple[str, float]]:
    """The left edge of each note and rest, by its name."""
    for group in ("note", "rest"):
        for element in _of_class(root, group):
            box = _around(element, boxes)
            if box is not None:
                yield element.get("id", ""), box.left


def _around(element: Element, boxes: _Boxes) -> _Box | None:
    """The box around an element and all that is in it; None for what has none."""
    own = [box for part in element.iter() for box in boxes.get(part, []) if box.right > box.left]
    if not own:
        return None
    return _Box(
        min(box.left for box in own),
        min(box.top for box in own),
        max(box.right for box in own),
        max(box.bottom for box in own),
    )


def _raised(root: Element, boxes: _Boxes) -> list[_Box]:
    """Lifts fingers, then fermatas, then words off what is in their way; all that is there then."""
    taken = [
        box
        for element, own in boxes.items()
        if _IN_THE_WAY & set((element.get("class") or "").split())
        for box in own
        if box.right > box.left
    ]
    for group in ("fing", "fermata", "dir"):
        own = [(box, one) for one in _of_class(root, group) if (box := _around(one, boxes)) is not None]
        for box, one in sorted(own, key=lambda pair: -pair[0].bottom):
            if group == "dir" and not _is_styled(one):
                continue
            taken.append(_clear(one, box.wider(_BESIDE if group == "fing" else 0), taken))
    return taken


def _clear(element: Element, box: _Box, taken: Sequence[_Box]) -> _Box:
    by = 0.0
    while met := [other for other in taken if box.lifted(by).meets(other)]:
        by = box.bottom - min(other.top for other in met) + _GAP
        if by > _FURTHEST:
            return box
    if by:
        element.set("transform", f"translate(0, {-by:g})")
    return box.lifted(by)


def _is_styled(words: Element) -> bool:
    """Whether they are directions; numerals are plain."""
    return any(part.get("font-style") or part.get("font-weight") for part in words.iter())


# --- rows -------------------------------------------------------------------------------------------


def _name_row(root: Element, boxes: _Boxes, below: Sequence[_Box]) -> float:
    """Chord names in one row over all that is below them; how far the row goes up over the drawing's top."""
    texts = _texts(root, "harm")
    if not texts:
        return 0.0
    row = min(float(text.get("y", "0")) for text in texts)
    for text in texts:
        own = _around(text, boxes)
        if own is not None:
            depth = own.bottom - float(text.get("y", "0"))
            row = min([row, *(box.top - _GAP - depth for box in below if box.beside(own))])
    for text in texts:
        text.set("y", f"{row:g}")
    return min(0.0, row - _NAME_SIZE)


def _numeral_row(root: Element, boxes: _Boxes) -> None:
    """Numerals in the row of the lowest, and off the bar lines."""
    texts = [text for one in _of_class(root, "dir") if not _is_styled(one) for text in one.iter(_TEXT)]
    if not texts:
        return
    low = max(float(text.get("y", "0")) for text in texts)
    lines = [line for one in _of_class(root, "barLine") for line in boxes.get(one, [])]
    for text in texts:
        text.set("y", f"{low:g}")
        own = _around(text, boxes)
        crossed = [line.left for line in lines if own and own.left < line.left < own.right + _GAP]
        if own is not None and crossed:
            by = min(own.right + _GAP - min(crossed), _ASIDE)
            text.set("x", f"{float(text.get('x', '0')) - by:g}")


def _grow(root: Element, by: float) -> None:
    """More room at the top of a drawing."""
    if by <= 0:
        return
    for drawing in root.iter(f"{{{_SVG}}}svg"):
        left, top, width, height = _view(drawing)
        if drawing is root:
            drawing.set("viewBox", f"{left:g} {top:g} {width:g} {height + by / 10:g}")
        else:
            drawing.set("viewBox", f"{left:g} {top - by:g} {width:g} {height + by:g}")


# --- words ------------------------------------------------------------------------------------------


def _letters(parent: Element, right: float, down: float, row: str, names: Iterator[str]) -> Iterator[Letter]:
    """Takes the texts out of a drawing, and tells where each of them is."""
    for child in list(parent):
        if child.tag == _TEXT:
            letter = _letter(child, right, down, row)
            parent.remove(child)
            if row == "name":
                letter = letter._replace(text=printed(next(names)), size=_NAME_SIZE)
            if letter.text:
                yield letter
            continue
        moved = _MOVED.match(child.get("transform", ""))
        aside, below = (float(moved[1]), float(moved[2])) if moved else (0.0, 0.0)
        own = next((_ROWS[word] for word in (child.get("class") or "").split() if word in _ROWS), row)
        yield from _letters(child, right + aside, down + below, own, names)


def _letter(text: Element, right: float, down: float, row: str) -> Letter:
    """One run of plain text for the parts that Verovio writes."""
    parts = list(text.iter(_SPAN))
    words = "".join(part.text or "" for part in parts if part.text and part.text.strip("\n "))
    words = _PRIVATE.sub(lambda sign: _SIGNS.get(sign[0], ""), words)
    sizes = [part.get("font-size", "") for part in parts if not (part.get("font-family") or "")]
    size = next((size for size in reversed(sizes) if size and size != "0px"), f"{_USUAL_SIZE}px")
    style, weight = (
        next((value for part in (text, *parts) if (value := part.get(name))), "")
        for name in ("font-style", "font-weight")
    )
    return Letter(
        printed(words) if row == "numeral" and not (style or weight) else words,
        float(text.get("x", "0")) + right,
        float(text.get("y", "0")) + down,
        float(size.removesuffix("px")),
        text.get("text-anchor", "start"),
        style or ("italic" if row == "number" else "normal"),
        weight or ("bold" if row == "finger" else "regular"),
        row="" if row == "numeral" and (style or weight) else row,
    )
