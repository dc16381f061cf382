"""Content files that were saved while the program runs: read again, and taken where they have no mistake."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields
from pathlib import Path

from introit.errors import Problem
from introit.library.kinds import KINDS, SHELVES, ContentFile, files_of
from introit.library.loader import read_file
from introit.library.model import Library

MUSIC = tuple(kind for kind in KINDS if kind not in ("rig", "set"))
"""What a set is played from, each after those it refers to."""


def content_files(roots: Sequence[Path]) -> list[ContentFile]:
    """The files that a library is made of, rigs and sets apart; a later root's hides an earlier one's."""
    found = {(kind, file.name): file for kind in MUSIC for files in files_of(kind, roots) for file in files}
    return list(found.values())


def reread(library: Library, files: Iterable[ContentFile]) -> tuple[Library, list[Problem]]:
    """A library with these files read again, and the mistakes in those that were not taken.

    What has mistakes stays as it was. The library given is not changed.
    """
    new = Library(**{field.name: dict(getattr(library, field.name)) for field in fields(library)})
    problems: list[Problem] = []
    for file in sorted(files, key=lambda file: (KINDS.index(file.kind), file.path)):
        thing, found = read_file(Path(file.path), new)
        problems += found
        if thing is not None and not found:
            getattr(new, SHELVES[file.kind])[file.name] = thing
    return new, problems


def same_music(one: Library, other: Library) -> bool:
    """Whether two libraries hold the same of all that a tune is arranged from."""
    return one is other or (one.intros, one.comping, one.bass, one.feels) == (
        other.intros,
        other.comping,
        other.bass,
        other.feels,
    )
