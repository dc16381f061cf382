"""YAML as a tree of nodes that know their place: nothing is converted, so nothing is misread.

Scalars stay text: `off`, `no`, `4:30` and `1e3` are what was written, and each field decides what it needs
(`fields`). They are made in `composing`.
"""

from __future__ import annotations

from dataclasses import dataclass

from introit.library.reading import Place


@dataclass(frozen=True, slots=True)
class Scalar:
    """One value as it was written.

    Attributes:
        place: of its first character (of the `|` or the quote, if it has one).
        text: its value as text.
        style: `plain`, `quoted` or `block`.
        start: index in the file's text of its first character.
        end: index after its last character.
        anchor: a YAML anchor before it, or None.
    """

    place: Place
    text: str
    style: str
    start: int
    end: int
    anchor: str | None = None

    @property
    def is_null(self) -> bool:
        """Whether nothing was given: an empty plain value, `~` or `null`."""
        return self.style == "plain" and self.text in {"", "~", "null", "Null", "NULL"}


@dataclass(frozen=True, slots=True)
class Sequence:
    """A list."""

    place: Place
    items: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Mapping:
    """A block of keys and values.

    Attributes:
        place: of its first key, or its bracket.
        entries: in the order written; a key given twice is there once, the first.
        repeated: the keys given again.
    """

    place: Place
    entries: tuple[tuple[Scalar, Node], ...]
    repeated: tuple[Scalar, ...] = ()

    def get(self, key: str) -> Node | None:
        """The value of a key, or None."""
        return next((value for name, value in self.entries if name.text == key), None)


Node = Scalar | Sequence | Mapping
