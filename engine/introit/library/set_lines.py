"""The lines of a set file, sorted by the entry that they belong to, its comments with it."""

from __future__ import annotations

import bisect
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from introit.errors import IntroitError
from introit.library.marked import Marked, MarkedError, Sort, dashes, marked


class EditError(IntroitError):
    """An edit that cannot be done, in a sentence."""


BY_HAND = "the set is written in a way that cannot be changed here; change the file by hand"


@dataclass(frozen=True, slots=True)
class Lines:
    """A text's lines, their ends included."""

    text: str
    starts: tuple[int, ...]

    @classmethod
    def of(cls, text: str) -> Lines:
        """The lines of a text."""
        ends = [index + 1 for index, character in enumerate(text) if character == "\n"]
        return cls(text, tuple(start for start in (0, *ends) if start < len(text) or not start))

    def at(self, index: int) -> int:
        """The line of a character, counted from 0."""
        return bisect.bisect_right(self.starts, index) - 1

    def start(self, line: int) -> int:
        """A line's first character; behind the last line, the text's end."""
        return self.starts[line] if line < len(self.starts) else len(self.text)

    def line(self, line: int) -> str:
        """A line with its end."""
        return self.text[self.start(line) : self.start(line + 1)]

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.starts)


@dataclass(frozen=True, slots=True)
class Layout:
    """A text in pieces that make it again: head, entry, gap, entry, gap, …, entry, tail.

    A comment just above an entry, as far to the right as its dash, is the entry's, and so is what stands
    behind it or below it further to the right. The rest (empty lines, headings between empty lines) is gap.
    """

    head: str
    entries: tuple[str, ...]
    gaps: tuple[str, ...]
    tail: str

    def text(self, order: Sequence[int]) -> str:
        """The text with its entries in another order; the gaps stay where they are."""
        entries = [self.entries[index] for index in order]
        gaps = [*self.gaps, self.tail]
        return self.head + "".join(itertools.chain.from_iterable(zip(entries, gaps, strict=True)))


def tunes_of(text: str) -> Marked:
    """The list under `tunes`.

    Raises:
        EditError: where there is none.
    """
    try:
        root = marked(text)
    except MarkedError as error:
        raise EditError(f"the set's file has a mistake: {error}") from error
    pair = root.pair("tunes") if root.sort is Sort.BLOCK else None
    if pair is None or pair[1].sort is not Sort.LIST or not pair[1].parts:
        raise EditError("the set's file has no list of tunes")
    return pair[1]


def layout(text: str, tunes: Marked) -> Layout:
    """The pieces of a text around the entries of its list of tunes.

    Raises:
        EditError: where entries share lines, or brackets hold comments.
    """
    return _in_brackets(text, tunes) if tunes.flow else _by_lines(text, tunes)


def spans(text: str, tunes: Marked) -> list[tuple[int, int]]:
    """The first and the last line of each entry's content, counted from 1."""
    lines = Lines.of(text)
    starts = (
        [index for index, _ in dashes(text, tunes)] if not tunes.flow else [one.start for one in tunes.parts]
    )
    return [
        (lines.at(start) + 1, lines.at(max(start, one.end - 1)) + 1)
        for start, one in zip(starts, tunes.parts, strict=True)
    ]


def _in_brackets(text: str, tunes: Marked) -> Layout:
    items = tunes.parts
    between = [text[before.end : after.start] for before, after in itertools.pairwise(items)]
    if any("#" in gap for gap in between):
        raise EditError(f"comments stand between tunes that are in brackets: {BY_HAND}")
    entries = [text[item.start : item.end] for item in items]
    return Layout(text[: items[0].start], tuple(entries), tuple(between), text[items[-1].end :])


def _by_lines(text: str, tunes: Marked) -> Layout:
    lines = Lines.of(text)
    marks = dashes(text, tunes)
    column = marks[0][1]
    contents = [(first - 1, last - 1) for first, last in spans(text, tunes)]
    begins, ends = [], []
    for index, (first, last) in enumerate(contents):
        floor = contents[index - 1][1] + 1 if index else 0
        above = first
        while above > floor and _indent(lines.line(above - 1)) == column:
            above -= 1
        begins.append(above)
        ceiling = contents[index + 1][0] if index + 1 < len(contents) else lines.count
        below = last + 1
        while below < ceiling and _indent(lines.line(below)) > column:
            below += 1
        ends.append(below)
    bounds = [bound for pair in zip(begins, ends, strict=True) for bound in pair]
    if bounds != sorted(bounds) or any(first > last for first, last in contents):
        raise EditError(BY_HAND)
    if any(later[0] <= before[1] for before, later in itertools.pairwise(contents)):
        raise EditError(BY_HAND)
    at = [lines.start(bound) for bound in bounds]
    gaps = [text[end:begin] for end, begin in zip(at[1:-1:2], at[2::2], strict=True)]
    if any(line.strip() and not line.strip().startswith("#") for gap in gaps for line in gap.splitlines()):
        raise EditError(BY_HAND)
    entries = [text[begin:end] for begin, end in zip(at[::2], at[1::2], strict=True)]
    return Layout(text[: at[0]], tuple(entries), tuple(gaps), text[at[-1] :])


def _indent(line: str) -> int:
    """How far to the right a comment that has a line to itself begins; -1 for any other line."""
    bare = line.strip()
    return len(line) - len(line.lstrip(" ")) if bare.startswith("#") else -1
