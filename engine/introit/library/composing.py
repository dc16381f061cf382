"""A file's text to the tree of its nodes.

Built from PyYAML's events with a stack of our own, so that deep nesting, aliases that repeat themselves and
aliases that contain themselves are refused instead of run into.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import yaml

from introit.library.nodes import Mapping, Node, Scalar, Sequence
from introit.library.reading import Place, Reading
from introit.library.traps import explain_syntax_error

DEPTH_LIMIT = 16
NODE_LIMIT = 50_000
"""Nodes with aliases written out; a set of 1,000 tunes written out has about 17,000."""

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def compose(reading: Reading) -> Node | None:
    """The tree of a file, or None when its YAML cannot be read (which is then in `reading.problems`)."""
    composer = _Composer(reading)
    try:
        for event in yaml.parse(reading.text, Loader=_LOADER):
            if not composer.take(event):
                return None
    except yaml.MarkedYAMLError as error:
        explain_syntax_error(reading, error)
        return None
    except yaml.YAMLError as error:
        reading.report(Place(1, 1), "syntax", f"YAML cannot be read: {error}")
        return None
    return composer.root


@dataclass(slots=True)
class _Open:
    """A list or block that has begun and not ended."""

    place: Place
    mapping: bool
    anchor: str | None
    size: int = 1
    children: list[Node] = field(default_factory=list)


class _Composer:
    """Builds nodes from events; `take` says False when reading must stop."""

    def __init__(self, reading: Reading) -> None:
        self._reading = reading
        self._open: list[_Open] = []
        self._anchors: dict[str, tuple[Node, int]] = {}
        self._documents = 0
        self.root: Node | None = None

    def take(self, event: Any) -> bool:
        place = Place(event.start_mark.line + 1, event.start_mark.column + 1)
        match event:
            case yaml.DocumentStartEvent():
                return self._start_document(place)
            case yaml.AliasEvent():
                return self._alias(place, event.anchor or "")
            case yaml.ScalarEvent():
                self._tag(place, event)
                return self._add(_scalar(place, event), 1, event.anchor)
            case yaml.MappingStartEvent() | yaml.SequenceStartEvent():
                self._tag(place, event)
                return self._begin(_Open(place, isinstance(event, yaml.MappingStartEvent), event.anchor))
            case yaml.MappingEndEvent() | yaml.SequenceEndEvent():
                done = self._open.pop()
                return self._add(self._closed(done), done.size, done.anchor)
        return True

    def _start_document(self, place: Place) -> bool:
        self._documents += 1
        if self._documents > 1:
            self._reading.report(place, "syntax", "a second document begins here; a file describes one thing")
        return self._documents == 1

    def _tag(self, place: Place, event: Any) -> None:
        if event.tag is not None:
            self._reading.report(place, "syntax", f"a YAML tag ({event.tag}) is not used here; take it out")

    def _alias(self, place: Place, anchor: str) -> bool:
        if anchor in self._anchors:
            node, size = self._anchors[anchor]
            return self._add(node, size, None)
        if any(one.anchor == anchor for one in self._open):
            self._reading.report(place, "nested", f"the alias *{anchor} contains itself")
        else:
            message = f"*{anchor} refers to an anchor &{anchor} that is not above it"
            self._reading.report(place, "syntax", message, "Put quotes round a text that begins with *.")
        return False

    def _begin(self, opened: _Open) -> bool:
        self._open.append(opened)
        if len(self._open) > DEPTH_LIMIT:
            message = f"lists and blocks lie more than {DEPTH_LIMIT} deep in each other"
            self._reading.report(opened.place, "nested", message)
            return False
        return True

    def _add(self, node: Node, size: int, anchor: str | None) -> bool:
        if anchor is not None:
            self._anchors[anchor] = (node, size)
        if not self._open:
            self.root = node
            return True
        parent = self._open[-1]
        parent.children.append(node)
        parent.size += size
        if parent.size > NODE_LIMIT:
            message = f"more than {NODE_LIMIT} values with aliases written out; that is refused"
            self._reading.report(parent.place, "nested", message)
            return False
        return True

    def _closed(self, done: _Open) -> Node:
        if not done.mapping:
            return Sequence(done.place, tuple(done.children))
        entries: dict[str, tuple[Scalar, Node]] = {}
        repeated: list[Scalar] = []
        for key, value in zip(done.children[::2], done.children[1::2], strict=True):
            if not isinstance(key, Scalar):
                self._reading.report(key.place, "wrong-type", "a key must be a word, not a list or a block")
            elif key.text in entries:
                repeated.append(key)
            else:
                entries[key.text] = (key, value)
        return Mapping(done.place, tuple(entries.values()), tuple(repeated))


def _scalar(place: Place, event: Any) -> Scalar:
    style = {"|": "block", ">": "block", "'": "quoted", '"': "quoted"}.get(event.style or "", "plain")
    return Scalar(
        place, event.value, style, start=event.start_mark.index, end=event.end_mark.index, anchor=event.anchor
    )
