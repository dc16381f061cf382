"""A YAML text as nodes that know their characters, so that one can be changed and nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

import yaml

from introit.errors import IntroitError

MOST_NODES = 100_000
"""With aliases written out."""
_PROPERTIES = re.compile(r"(?:[&!]\S*\s+)*")


class MarkedError(IntroitError):
    """A text is no YAML, or nests or repeats itself without end."""


class Sort(Enum):
    """What a node is."""

    SCALAR = "scalar"
    LIST = "list"
    BLOCK = "block"
    ALIAS = "alias"


@dataclass(slots=True)
class Marked:
    """A node.

    Attributes:
        sort: what it is.
        start: its first character, counted from 0, behind an anchor or a tag.
        end: the character behind its last one; comments and line ends behind it do not count.
        text: of a scalar, without quotes; of an alias, its name.
        style: of a scalar, its first character where that is a quote, `|` or `>`; else empty.
        flow: whether a list or a block is in brackets.
        anchor: its name, if it has one.
        parts: of a list its items; of a block a key, its value, the next key, and so on.
    """

    sort: Sort
    start: int
    end: int
    text: str = ""
    style: str = ""
    flow: bool = False
    anchor: str | None = None
    parts: list[Marked] = field(default_factory=list)

    @property
    def pairs(self) -> list[tuple[Marked, Marked]]:
        """The keys of a block with their values."""
        return list(zip(self.parts[::2], self.parts[1::2], strict=True))

    def pair(self, key: str) -> tuple[Marked, Marked] | None:
        """A key of a block, with its value."""
        return next((pair for pair in self.pairs if pair[0].text == key), None)

    def leaves(self) -> Iterator[Marked]:
        """All scalars and aliases in it, in order."""
        waiting = [self]
        while waiting:
            node = waiting.pop()
            if node.sort in (Sort.SCALAR, Sort.ALIAS):
                yield node
            waiting += reversed(node.parts)


def marked(text: str) -> Marked:
    """The one document of a text.

    Raises:
        MarkedError: if it cannot be read, or is not one document with something in it.
    """
    roots: list[Marked] = []
    open_: list[Marked] = []
    try:
        for event in yaml.parse(text, Loader=yaml.SafeLoader):
            node = _node(text, event)
            if node is not None:
                (open_[-1].parts if open_ else roots).append(node)
                if isinstance(event, yaml.CollectionStartEvent):
                    open_.append(node)
            elif isinstance(event, yaml.CollectionEndEvent):
                done = open_.pop()
                end = max([done.end, *(part.end for part in done.parts)])
                done.end = _index(event.end_mark) if done.flow else end
    except (yaml.YAMLError, RecursionError) as error:
        raise MarkedError(f"it cannot be read as YAML: {' '.join(str(error).split())}") from error
    if len(roots) != 1:
        raise MarkedError("one block of keys is needed")
    return roots[0]


def dashes(text: str, block_list: Marked) -> list[tuple[int, int]]:
    """Where the items of a list that is not in brackets begin: index and column of each dash."""
    found: list[tuple[int, int]] = []
    for token in yaml.scan(text, Loader=yaml.SafeLoader):
        mark = token.start_mark
        if not isinstance(token, yaml.BlockEntryToken) or mark.index < block_list.start:
            continue
        if not found or mark.column == found[0][1]:
            found.append((mark.index, mark.column))
        if len(found) == len(block_list.parts):
            break
    return found


def plain(node: Marked) -> Any:
    """What a node says, aliases written out: texts, lists, and for a block pairs of a text and what it says.

    Raises:
        MarkedError: if that is without end, or an alias comes before what it refers to.
    """
    budget = [MOST_NODES]
    anchors: dict[str, Marked] = {}

    def say(one: Marked) -> Any:
        budget[0] -= 1
        if budget[0] < 0:
            raise MarkedError("it says too much, with aliases written out")
        if one.sort is Sort.ALIAS:
            if one.text not in anchors:
                raise MarkedError(f"*{one.text} must come after &{one.text}, which it refers to")
            return say(anchors[one.text])
        if one.sort is Sort.SCALAR:
            said: Any = one.text.rstrip("\n")  # a last line may have lost or got its end
        elif one.sort is Sort.LIST:
            said = [say(part) for part in one.parts]
        else:
            said = [
                (key if isinstance(key := say(name), str) else repr(key), say(value))
                for name, value in one.pairs
            ]
        if one.anchor is not None:
            anchors[one.anchor] = one
        return said

    try:
        return say(node)
    except RecursionError as error:
        raise MarkedError("it is nested too deeply") from error


def _index(mark: Any) -> int:
    return int(mark.index)


def _node(text: str, event: yaml.Event) -> Marked | None:
    start = _index(event.start_mark)
    if isinstance(event, yaml.AliasEvent):
        return Marked(Sort.ALIAS, start, _index(event.end_mark), text=str(event.anchor))
    if not isinstance(event, yaml.ScalarEvent | yaml.CollectionStartEvent):
        return None
    behind = _behind_properties(text, start, event)
    if isinstance(event, yaml.ScalarEvent):
        style = event.style or ""
        end = max(behind, _index(event.end_mark))
        if style in ("|", ">"):
            end = behind + len(text[behind:end].rstrip())
        return Marked(Sort.SCALAR, behind, end, event.value, style, anchor=event.anchor)
    sort = Sort.LIST if isinstance(event, yaml.SequenceStartEvent) else Sort.BLOCK
    return Marked(sort, behind, behind, flow=bool(event.flow_style), anchor=event.anchor)


def _behind_properties(text: str, start: int, event: Any) -> int:
    if event.anchor is None and event.tag is None:
        return start
    found = _PROPERTIES.match(text, start)
    return found.end() if found else start
