"""One content file while it is being read: its text, and every mistake found so far."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path
from typing import NamedTuple

from introit.errors import Problem
from introit.library.codes import CODES

SIZE_LIMIT = 256 * 1024
"""Bytes; a long tune file has about 1,000."""

_SHOWN_CHARACTERS = 60
_LONGEST_TITLE = 200
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]")


class Place(NamedTuple):
    """A place in a file: line and column, both from 1; (0, 0) means the file as a whole."""

    line: int
    column: int


WHOLE_FILE = Place(0, 0)


class Reading:
    """The text of one file and the mistakes found in it.

    Attributes:
        path: the file, as the user named it.
        text: its text, with line ends as plain newlines.
        problems: what has been found, in the order of finding.
    """

    def __init__(self, path: str, text: str) -> None:
        self.path = path
        self.text = text
        self.problems: list[Problem] = []

    @property
    def clean(self) -> bool:
        """Whether no mistake has been found."""
        return not self.problems

    def report(self, place: Place, code: str, message: str, hint: str = "") -> None:
        """Notes a mistake.

        Raises:
            KeyError: if the code is not in `CODES` (a mistake of ours, not of the file).
        """
        if code not in CODES:
            raise KeyError(code)
        self.problems.append(Problem(self.path, place.line, place.column, code, message, hint))

    def part(self) -> Reading:
        """A reading of the same text with a list of its own, for a piece that may be left out alone."""
        return Reading(self.path, self.text)

    def take_in(self, part: Reading) -> None:
        """Adds what a part has found."""
        self.problems.extend(part.problems)

    def place(self, offset: int) -> Place:
        """The place of a character, by its index in the text (0 to len(text))."""
        line_start = self.text.rfind("\n", 0, offset) + 1
        return Place(self.text.count("\n", 0, offset) + 1, offset - line_start + 1)

    def line_end(self, offset: int) -> int:
        """Index of the newline that ends the line of a character, or the text's length."""
        end = self.text.find("\n", offset)
        return len(self.text) if end < 0 else end


def shown(value: str) -> str:
    """A value quoted for a message, cut when long."""
    return repr(value if len(value) <= _SHOWN_CHARACTERS else value[: _SHOWN_CHARACTERS - 3] + "...")


def clean_title(text: str) -> str:
    """A title as it may be shown: `visible`, and at most 200 characters."""
    return visible(text)[:_LONGEST_TITLE].rstrip()


def visible(text: str) -> str:
    """A text on one line, without what a terminal would act on: control, format and unassigned characters."""
    kept = (char for char in text if char.isspace() or not unicodedata.category(char).startswith("C"))
    return " ".join("".join(kept).split())


def read_source(path: Path) -> Reading:
    """Reads a file as text; what is wrong with it as text is in `problems`, and the text is then empty."""
    name = visible(str(path))
    try:
        with path.open("rb") as file:
            data = file.read(SIZE_LIMIT + 1)
    except OSError as error:
        reading = Reading(name, "")
        reading.report(WHOLE_FILE, "unreadable", f"the file cannot be read: {error.strerror or error}")
        return reading
    return source_of(name, data)


def source_of(name: str, data: bytes) -> Reading:
    """A reading of bytes; what is wrong with them as text is in `problems`, and the text is then empty."""
    nothing = Reading(name, "")
    if len(data) > SIZE_LIMIT:
        limit = f"{SIZE_LIMIT // 1024} KiB"
        nothing.report(WHOLE_FILE, "too-big", f"the file is too big; at most {limit} are read")
        return nothing
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = _plain_line_ends(data[: error.start].decode("utf-8-sig", errors="replace"))
        place = Reading(name, before).place(len(before))
        nothing.report(
            place, "not-text", f"byte 0x{data[error.start]:02x} is not UTF-8; save the file as UTF-8"
        )
        return nothing
    return _without_controls(Reading(name, _plain_line_ends(text)))


def _plain_line_ends(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _without_controls(reading: Reading) -> Reading:
    """The reading itself, or an empty one with a problem, if its text holds what YAML chokes on."""
    found = _CONTROL.search(reading.text)
    if found is None:
        return reading
    nothing = Reading(reading.path, "")
    message = f"a control character (U+{ord(found.group()):04X}); take it out"
    nothing.report(reading.place(found.start()), "not-text", message)
    return nothing
