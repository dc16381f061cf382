"""What has been loaded so far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from introit.library.kinds import SHELVES
from introit.library.model import Library


def empty_library() -> Library:
    """A library with nothing in it."""
    return Library(intros={}, comping={}, bass={}, feels={}, tunes={}, sets={}, rigs={})


@dataclass(slots=True)
class Shelf:
    """A library being filled.

    Attributes:
        library: what loaded without a mistake.
        broken: for each kind, the ids that did not, with their files.
    """

    library: Library = field(default_factory=empty_library)
    broken: dict[str, dict[str, str]] = field(default_factory=dict)

    def of(self, kind: str) -> Mapping[str, Any]:
        """Everything of a kind, by id."""
        things: Mapping[str, Any] = getattr(self.library, SHELVES[kind])
        return things

    def put(self, kind: str, name: str, thing: Any) -> None:
        """Adds one thing."""
        getattr(self.library, SHELVES[kind])[name] = thing

    def leave_out(self, kind: str, name: str, path: str) -> None:
        """Notes that one thing has mistakes and is not there."""
        self.broken.setdefault(kind, {})[name] = path
