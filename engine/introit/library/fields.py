"""Reading the fields of a block: each value by a small reader, each mistake reported at its place.

A reader takes a node and the reading and returns a value, or reports and returns None. `Fields` applies
readers to the keys of one mapping. When a reader fails, `Fields` returns the stand-in it was given, so that
the rest is still read and every mistake is found at once; what is made from stand-ins must be thrown away,
which every caller does by asking `reading.clean` first.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from typing import TypeVar

from introit.errors import did_you_mean
from introit.library.nodes import Mapping, Node, Scalar
from introit.library.nodes import Sequence as NodeSequence
from introit.library.reading import Place, Reading, shown, visible
from introit.library.traps import report_cut

T = TypeVar("T")
Reader = Callable[[Node, Reading], T | None]

_NUMBER = re.compile(r"[-+]?\d{1,9}(?:\.\d{1,9})?")
_FRACTION = re.compile(r"(\d{1,4})/(\d{1,4})")
_CLOCK = re.compile(r"[-+]?\d+(?::\d+)+(?:\.\d*)?")
_YAML_WORDS = {"on", "off", "yes", "no", "y", "n"}


class Fields:
    """The keys of one mapping, asked for one by one; `finish` reports those nobody asked for."""

    def __init__(self, node: Node | None, reading: Reading, *, what: str) -> None:
        """Takes a node that should be a mapping.

        Args:
            node: the node; anything but a mapping is reported.
            reading: the file.
            what: what the block describes, for messages, such as `an intro`.
        """
        self._reading = reading
        self._what = what
        self._asked: list[str] = []
        self._mapping = node if isinstance(node, Mapping) else None
        self.place = node.place if node is not None else Place(1, 1)
        if self._mapping is not None:
            report_repeated(self._mapping, reading)
        if self._mapping is None and not (node is None and not reading.clean):
            given = "nothing" if node is None else kind_of(node)
            reading.report(
                self.place, "wrong-type", f"{what} is described by keys and values; {given} is given"
            )

    @property
    def is_mapping(self) -> bool:
        """Whether there is a mapping at all."""
        return self._mapping is not None

    def has(self, key: str) -> bool:
        """Whether a key is written, with or without a value."""
        return self.raw(key) is not None

    def raw(self, key: str) -> Node | None:
        """The value of a key as it is, without asking for it."""
        return self._mapping.get(key) if self._mapping else None

    def node(self, key: str) -> Node | None:
        """The raw value of a key; None when it is absent or empty. A value lost to a `#` is reported."""
        self._asked.append(key)
        found = self.raw(key)
        if isinstance(found, Scalar) and found.is_null:
            report_cut(self._reading, found, music=key in {"harmony", "rhythm", "steps", "motif"})
            return None
        return found

    def required(self, key: str, reader: Reader[T], stand_in: T) -> T:
        """The value of a key that must be there; the stand-in after a mistake."""
        before = len(self._reading.problems)
        found = self.node(key)
        if found is not None:
            return _or(reader(found, self._reading), stand_in)
        if self._mapping is not None and len(self._reading.problems) == before:
            place = self.place_of(key)
            self._reading.report(place, "missing-key", f"{self._what} needs {key!r}")
        return stand_in

    def optional(self, key: str, reader: Reader[T], default: T) -> T:
        """The value of a key that may be left out; the default when it is, or after a mistake."""
        found = self.node(key)
        return default if found is None else _or(reader(found, self._reading), default)

    def finish(self) -> None:
        """Reports every key that was never asked for."""
        if self._mapping is None:
            return
        for name, _ in self._mapping.entries:
            if name.text not in self._asked:
                message = (
                    f"{shown(name.text)} means nothing in {self._what}; keys are {', '.join(self._asked)}"
                )
                hint = did_you_mean(name.text, self._asked)
                self._reading.report(name.place, "unknown-key", message, hint)

    def place_of(self, key: str) -> Place:
        """Where a key is written; where its block begins if it is not."""
        entries = self._mapping.entries if self._mapping else ()
        return next((name.place for name, _ in entries if name.text == key), self.place)


def _or(value: T | None, stand_in: T) -> T:
    return stand_in if value is None else value


def report_repeated(mapping: Mapping, reading: Reading) -> None:
    """Reports every key that a block gives twice."""
    first = {name.text: name.place.line for name, _ in mapping.entries}
    for name in mapping.repeated:
        message = f"{shown(name.text)} is given twice; the first is in line {first[name.text]}"
        reading.report(name.place, "duplicate-key", message)


def kind_of(node: Node) -> str:
    """What a node is, in words, for messages."""
    if isinstance(node, Mapping):
        return "a block of keys"
    if isinstance(node, NodeSequence):
        return "a list"
    return shown(node.text) if node.text.strip() else "nothing"


def scalar(node: Node, reading: Reading, *, needed: str) -> Scalar | None:
    """The node as a single value that is not empty."""
    if isinstance(node, Scalar) and not node.is_null:
        return node
    reading.report(node.place, "wrong-type", f"{needed} is needed; {kind_of(node)} is given")
    return None


def word(node: Node, reading: Reading) -> str | None:
    """A text on one line. A `#` without a space that cut it off is reported."""
    value = scalar(node, reading, needed="a text")
    if value is None or report_cut(reading, value, music=False):
        return None
    return visible(value.text)


def prose(node: Node, reading: Reading) -> str | None:
    """A text of any length; line breaks are kept as they come from YAML, control characters are not."""
    value = scalar(node, reading, needed="a text")
    return None if value is None else "\n".join(map(visible, value.text.strip().split("\n")))


def choice(allowed: Iterable[str]) -> Reader[str]:
    """A reader of one word among those allowed."""
    words = tuple(allowed)

    def read(node: Node, reading: Reading) -> str | None:
        value = scalar(node, reading, needed=f"one of {', '.join(words)}")
        if value is None:
            return None
        text = value.text.strip()
        if text in words:
            return text
        message = f"{shown(text)} is not allowed here; allowed is {', '.join(words)}"
        reading.report(value.place, "not-allowed", message, did_you_mean(text, words))
        return None

    return read


def flag(node: Node, reading: Reading) -> bool | None:
    """`true` or `false`; YAML's older words for them are answered with a hint."""
    value = scalar(node, reading, needed="true or false")
    if value is None:
        return None
    if value.style == "plain" and value.text.casefold() in {"true", "false"}:
        return value.text.casefold() == "true"
    report_word(value, reading, needed="true or false")
    return None


def report_word(value: Scalar, reading: Reading, *, needed: str) -> None:
    """Reports a word where `needed` is asked, with a hint where older YAML took it for true or false."""
    near = _OLDER_WORDS.get(value.text.casefold())
    code = "yaml-word" if near else "wrong-type"
    message = f"{needed} is needed; {shown(value.text)} is a word here"
    reading.report(value.place, code, message, f"Write {near}." if near else "")


_OLDER_WORDS = {"on": "true", "yes": "true", "y": "true", "off": "false", "no": "false", "n": "false"}


def number(low: float, high: float, *, unit: str = "") -> Reader[float]:
    """A reader of a number from low to high, both included."""

    def read(node: Node, reading: Reading) -> float | None:
        value = _numeric(node, reading, f"a number from {low:g} to {high:g}{unit and ' ' + unit}")
        if value is None:
            return None
        return float(value) if _within(value, low, high, unit=unit, node=node, reading=reading) else None

    return read


def whole(low: int, high: int, *, unit: str = "") -> Reader[int]:
    """A reader of a whole number from low to high, both included."""

    def read(node: Node, reading: Reading) -> int | None:
        needed = f"a whole number from {low} to {high}{unit and ' ' + unit}"
        value = _numeric(node, reading, needed)
        if value is None:
            return None
        if value.denominator != 1:
            reading.report(node.place, "wrong-type", f"{needed} is needed; {kind_of(node)} is given")
            return None
        return int(value) if _within(value, low, high, unit=unit, node=node, reading=reading) else None

    return read


def beats(high: int) -> Reader[Fraction]:
    """A reader of a length in beats from 0 to high: `2`, `1.5` or `1/2`."""

    def read(node: Node, reading: Reading) -> Fraction | None:
        value = _numeric(node, reading, f"beats from 0 to {high}, such as 2, 1.5 or 1/2")
        if value is None:
            return None
        return value if _within(value, 0, high, unit="beats", node=node, reading=reading) else None

    return read


def span(low: float, high: float, *, unit: str = "") -> Reader[tuple[float, float]]:
    """A reader of a list of two rising numbers within low to high, such as `[60, 280]`."""
    one = number(low, high, unit=unit)

    def read(node: Node, reading: Reading) -> tuple[float, float] | None:
        if not isinstance(node, NodeSequence) or len(node.items) != 2:
            message = (
                f"two numbers in brackets are needed, such as [{low:g}, {high:g}]; {kind_of(node)} is given"
            )
            reading.report(node.place, "wrong-type", message)
            return None
        first, last = (one(item, reading) for item in node.items)
        if first is None or last is None:
            return None
        if first > last:
            reading.report(
                node.place, "out-of-range", f"the lower number comes first; {first:g} is above {last:g}"
            )
            return None
        return first, last

    return read


def listing(reader: Reader[T]) -> Reader[tuple[T, ...]]:
    """A reader of a list, or of a single value in place of a list of one."""

    def read(node: Node, reading: Reading) -> tuple[T, ...] | None:
        items: Sequence[Node] = node.items if isinstance(node, NodeSequence) else (node,)
        values = [reader(item, reading) for item in items]
        kept = tuple(value for value in values if value is not None)
        if not values:
            reading.report(node.place, "wrong-type", "the list is empty; at least one is needed")
        return kept if kept and len(kept) == len(values) else None

    return read


def _numeric(node: Node, reading: Reading, needed: str) -> Fraction | None:
    value = scalar(node, reading, needed=needed)
    if value is None:
        return None
    text = value.text.strip()
    if _NUMBER.fullmatch(text):
        return Fraction(text)
    if (parts := _FRACTION.fullmatch(text)) and int(parts[2]):
        return Fraction(text)
    if text.casefold() in _YAML_WORDS:
        hint = "Leave the line out for none." if text.casefold() in {"off", "no", "n"} else ""
        reading.report(value.place, "yaml-word", f"{needed} is needed; {shown(text)} is a word", hint)
    elif _CLOCK.fullmatch(text):
        message = (
            f"{needed} is needed; {shown(text)} with a colon is a time of day (YAML may read it as a number)"
        )
        reading.report(value.place, "yaml-clock", message)
    else:
        reading.report(value.place, "wrong-type", f"{needed} is needed; {shown(text)} is given")
    return None


def _within(value: Fraction, low: float, high: float, *, unit: str, node: Node, reading: Reading) -> bool:
    if low <= value <= high:
        return True
    message = f"{float(value):g} is out of range; allowed is {low:g} to {high:g}{unit and ' ' + unit}"
    reading.report(node.place, "out-of-range", message)
    return False
