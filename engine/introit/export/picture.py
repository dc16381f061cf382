"""A drawing and the letters on it, apart: whoever sets the page has the fonts, and sets the letters himself.

Letters inside a drawing would be left to the fonts of the machine that shows it, some of which have no flat.
"""

from __future__ import annotations

from typing import NamedTuple


class Letter(NamedTuple):
    """A few letters on a drawing.

    Attributes:
        text: what they say.
        x, y: their anchor, on the base line, from the drawing's upper left corner; in its units.
        size: of the font, in the drawing's units.
        anchor: which part of the text is at x: `start`, `middle` or `end`.
        style: `normal` or `italic`.
        weight: `regular` or `bold`.
        fill: `black` or `white`.
        room: that the text may take, in the drawing's units, and is made narrower for; 0 where it is free.
        row: what they are: `name` of a chord, `numeral`, `fret`, `finger`, `number` of a bar, or empty.
    """

    text: str
    x: float
    y: float
    size: float
    anchor: str = "start"
    style: str = "normal"
    weight: str = "regular"
    fill: str = "black"
    room: float = 0.0
    row: str = ""


class Picture(NamedTuple):
    """A drawing with its letters.

    Attributes:
        drawing: an SVG document without text.
        width, height: in its units.
        letters: what is to be set on it.
        notes: the left edge of each engraved note and rest, in its units, by the engraver's own names.
    """

    drawing: str
    width: float
    height: float
    letters: tuple[Letter, ...]
    notes: tuple[tuple[str, float], ...] = ()
