"""Music written as text inside YAML: its lines, each character with its place in the file."""

from __future__ import annotations

import re
from typing import NamedTuple

from introit.library.nodes import Node, Scalar
from introit.library.reading import Reading
from introit.library.traps import report_anchor, report_cut

_COMMENT = re.compile(r"(?:^|\s)#(?:\s.*)?$")


class Piece(NamedTuple):
    """A stretch of text.

    Attributes:
        text: without spaces at its ends.
        offset: index in the file's text of its first character.
    """

    text: str
    offset: int


def music_lines(node: Node, reading: Reading, *, needed: str) -> list[Piece] | None:
    """The lines of a value that holds music, without empty ones and comments (`# so`); None if it is no text.

    Every trap that YAML sets for such a value is reported.
    """
    if not isinstance(node, Scalar):
        message = f"{needed} is needed, as block text (`|`); a list or a block of keys is given"
        reading.report(node.place, "wrong-type", message)
        return None
    if report_cut(reading, node, music=True) or report_anchor(reading, node):
        return None
    lines = [piece for line in _raw_lines(node, reading) if (piece := _without_comment(line)).text]
    if not lines:
        reading.report(node.place, "wrong-type", f"{needed} is needed; nothing is given")
        return None
    return lines


def split(piece: Piece, separator: str) -> list[Piece]:
    """The parts of a piece between separators, trimmed; empty parts are kept."""
    parts: list[Piece] = []
    offset = piece.offset
    for part in piece.text.split(separator):
        parts.append(trimmed(Piece(part, offset)))
        offset += len(part) + len(separator)
    return parts


def words(piece: Piece) -> list[Piece]:
    """The words of a piece."""
    return [Piece(found.group(), piece.offset + found.start()) for found in re.finditer(r"\S+", piece.text)]


def trimmed(piece: Piece) -> Piece:
    """A piece without spaces at its ends."""
    lead = len(piece.text) - len(piece.text.lstrip())
    return Piece(piece.text.strip(), piece.offset + lead)


def _raw_lines(node: Scalar, reading: Reading) -> list[Piece]:
    start, end = node.start, node.end
    if node.style == "block":
        start = min(reading.line_end(start) + 1, end)
    elif node.style == "quoted":
        start, end = start + 1, end - 1
        if "\\" in reading.text[start:end] or "''" in reading.text[start:end]:
            # An escape makes the value longer or shorter than its source: every line points at its beginning.
            return [Piece(line, node.start) for line in node.text.split("\n")]
    return split(Piece(reading.text[start:end], start), "\n")


def _without_comment(line: Piece) -> Piece:
    return trimmed(Piece(_COMMENT.sub("", line.text), line.offset))
