"""A chord diagram as a drawing: strings upright, the lowest at the left, the nut at the top."""

from __future__ import annotations

from introit.export.diagram import Diagram
from introit.export.picture import Letter, Picture
from introit.theory.hand import THUMB

_STEP, _ROW = 10, 13
_LEFT, _TOP, _RIGHT = 14, 14, 7


def diagram_picture(diagram: Diagram) -> Picture:
    """The drawing with its letters; the chord's name is not among them."""
    width = _LEFT + _STEP * (diagram.strings - 1) + _RIGHT
    height = _TOP + _ROW * diagram.rows + 6
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}">',
        *_grid(diagram),
    ]
    letters = _over_the_nut(diagram)
    if diagram.first_fret > 1:
        y = _y(diagram, diagram.first_fret) + 3
        letters.append(_letter(_LEFT - 9, y, str(diagram.first_fret), 9))
    if diagram.barre is not None:
        fret, low, high = diagram.barre
        y = _y(diagram, fret)
        parts.append(
            f'<line x1="{_x(diagram, low)}" y1="{y}" x2="{_x(diagram, high)}" y2="{y}" stroke="black" '
            'stroke-width="6" stroke-linecap="round"/>'
        )
    for string, fret, finger in diagram.dots:
        x, y = _x(diagram, string), _y(diagram, fret)
        parts.append(f'<circle cx="{x}" cy="{y}" r="4.4" fill="black"/>')
        if finger is not None:
            name = "T" if finger == THUMB else str(finger)
            letters.append(_letter(x, y + 2.7, name, 8, fill="white"))
    return Picture("".join([*parts, "</svg>"]), width, height, tuple(letters))


def _grid(diagram: Diagram) -> list[str]:
    right, bottom = _x(diagram, 1), _TOP + _ROW * diagram.rows
    lines = []
    for row in range(diagram.rows + 1):
        y, thick = _TOP + _ROW * row, 2.4 if row == 0 and diagram.first_fret == 1 else 0.7
        lines.append(
            f'<line x1="{_LEFT}" y1="{y}" x2="{right}" y2="{y}" stroke="black" stroke-width="{thick}"/>'
        )
    for string in range(1, diagram.strings + 1):
        x = _x(diagram, string)
        lines.append(f'<line x1="{x}" y1="{_TOP}" x2="{x}" y2="{bottom}" stroke="black" stroke-width="0.7"/>')
    return lines


def _over_the_nut(diagram: Diagram) -> list[Letter]:
    signs = [(string, "o") for string in diagram.open_strings] + [(string, "×") for string in diagram.muted]
    return [_letter(_x(diagram, string), _TOP - 4, sign, 8) for string, sign in signs]


def _x(diagram: Diagram, string: int) -> float:
    return _LEFT + _STEP * (diagram.strings - string)


def _y(diagram: Diagram, fret: int) -> float:
    return _TOP + _ROW * (fret - diagram.first_fret + 0.5)


def _letter(x: float, y: float, text: str, size: float, *, fill: str = "black") -> Letter:
    return Letter(text, x, y, size, "middle", fill=fill)
