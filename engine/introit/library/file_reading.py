"""One content file of whatever kind: which kind it is, and what it describes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from introit.errors import Problem, did_you_mean
from introit.library.composing import compose
from introit.library.intros import read_intro
from introit.library.kinds import KINDS, SHELVES
from introit.library.nodes import Mapping, Node, Scalar
from introit.library.reading import WHOLE_FILE, Reading, read_source, shown, visible
from introit.library.rhythm import read_bass, read_comping, read_feel
from introit.library.rigs import read_rig
from introit.library.sets import read_set
from introit.library.shelf import Shelf
from introit.library.tunes import read_tune

READERS: dict[str, Callable[[str, Node | None, Reading, Shelf], Any]] = {
    "comping": read_comping,
    "bass": read_bass,
    "feel": read_feel,
    "intro": read_intro,
    "rig": read_rig,
    "tune": read_tune,
    "set": read_set,
}

_TELLING = {
    "tunes": "set",
    "ports": "rig",
    "forms": "intro",
    "swing": "feel",
    "rhythm": "comping",
    "steps": "bass",
    "first_chord": "tune",
    "key": "tune",
}
"""Keys that only one kind of file has: they tell the kind of a file that lies in no folder of ours."""


def read_one(path: Path, folder_kind: str | None, shelf: Shelf) -> tuple[Any, list[Problem]]:
    """What a file describes, as far as it can be used, and every mistake in it, ordered by place.

    Args:
        path: the file.
        folder_kind: the kind of the folder it lies in; None to find its kind out.
        shelf: what its names may refer to.
    """
    reading = read_source(path)
    node = compose(reading) if reading.clean else None
    if path.stem != visible(path.stem):
        reading.report(
            WHOLE_FILE, "bad-name", "the file's name holds characters that cannot be shown; rename it"
        )
    composed = reading.clean or node is not None
    kind = kind_of_file(path, node, folder_kind, reading) if composed else None
    thing = READERS[kind](path.stem, node, reading, shelf) if kind else None
    return thing, sorted(set(reading.problems))


def kind_of_file(path: Path, node: Node | None, folder_kind: str | None, reading: Reading) -> str | None:
    """The kind of a file by its `kind:` key or its folder, which must agree."""
    by_folder = folder_kind or next(
        (kind for kind, name in SHELVES.items() if name == path.parent.name), None
    )
    said = node.get("kind") if isinstance(node, Mapping) else None
    if said is None:
        kind = by_folder or _kind_by_keys(node)
        if kind is None:
            names = ", ".join(KINDS)
            message = f"nothing tells what this file describes; add a line `kind:` with one of {names}"
            reading.report(WHOLE_FILE, "unknown-kind", message)
        return kind
    given = said.text if isinstance(said, Scalar) else "a list or a block"
    if given not in KINDS:
        message = f"kind is {shown(given)}; allowed is {', '.join(KINDS)}"
        reading.report(said.place, "unknown-kind", message, did_you_mean(given, KINDS))
        return None
    if by_folder not in {None, given}:
        message = f"kind is {given!r}, but this is a folder for kind {by_folder!r}"
        reading.report(said.place, "unknown-kind", message, "Move the file or take the line out.")
        return None
    return given


def _kind_by_keys(node: Node | None) -> str | None:
    if not isinstance(node, Mapping):
        return None
    return next((kind for key, kind in _TELLING.items() if node.get(key) is not None), None)
