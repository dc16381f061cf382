"""Folders of YAML files to a library: everything that loads, and every mistake in what does not."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

from introit.errors import ContentError, Problem, did_you_mean
from introit.library.intros import read_intro
from introit.library.model import Library
from introit.library.nodes import Mapping, Node, Scalar, compose
from introit.library.reading import WHOLE_FILE, Reading, read_source, shown, visible
from introit.library.rhythm import read_bass, read_comping, read_feel
from introit.library.rigs import read_rig
from introit.library.sets import read_set
from introit.library.shelf import FOLDERS, KINDS, SHELVES, Shelf
from introit.library.tunes import read_tune

ENDINGS = (".yaml", ".yml")

_READERS: dict[str, Callable[[str, Node | None, Reading, Shelf], Any]] = {
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


def load_library(roots: Sequence[Path]) -> tuple[Library, list[Problem]]:
    """Reads everything below the roots; a file with a mistake is left out, and so is what refers to it.

    Of a set, only the entries with mistakes are left out.

    Args:
        roots: folders with `patterns/` and `config/` below them. A file in a later root replaces the one of
            the same kind and name in an earlier root, unless it has mistakes: then the earlier one stays.

    Returns:
        The library, and all mistakes ordered by file and place.
    """
    shelf = Shelf()
    problems: list[Problem] = []
    for kind in KINDS:
        for name, paths in sorted(_files_of(kind, roots, problems).items()):
            for path in reversed(paths):
                thing, found = _read(path, kind, shelf)
                problems += found
                if thing is not None:
                    shelf.put(kind, name, thing)
                    break
            else:
                shelf.leave_out(kind, name, str(paths[-1]))
    return shelf.library, sorted(problems)


def load_file(path: Path, library: Library) -> object:
    """Reads one file of any kind against a library.

    Its kind is what its `kind:` key says, else that of the folder it lies in (`intros`, `tunes`, ...), else
    the kind whose keys it has (a file with `tunes:` is a set).

    Raises:
        ContentError: with every mistake in the file, ordered by place. A set with one bad entry raises too;
            `read_file` returns the rest of it.
    """
    thing, problems = read_file(path, library)
    if problems:
        raise ContentError(problems)
    return thing


def read_file(path: Path, library: Library) -> tuple[object | None, list[Problem]]:
    """What a file describes, as far as it can be used, and every mistake in it, ordered by place."""
    shelf = Shelf(_copy(library))
    return _read(path, None, shelf)


def _read(path: Path, folder_kind: str | None, shelf: Shelf) -> tuple[Any, list[Problem]]:
    reading = read_source(path)
    node = compose(reading) if reading.clean else None
    if path.stem != visible(path.stem):
        reading.report(
            WHOLE_FILE, "bad-name", "the file's name holds characters that cannot be shown; rename it"
        )
    composed = reading.clean or node is not None
    kind = _kind(path, node, folder_kind, reading) if composed else None
    thing = _READERS[kind](path.stem, node, reading, shelf) if kind else None
    return thing, sorted(set(reading.problems))


def _kind(path: Path, node: Node | None, folder_kind: str | None, reading: Reading) -> str | None:
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


def _files_of(kind: str, roots: Sequence[Path], problems: list[Problem]) -> dict[str, list[Path]]:
    """The files of a kind by id, the earliest root's first.

    Two of one name in the same folder are reported, and the first is taken.
    """
    files: dict[str, list[Path]] = {}
    for root in roots:
        here: dict[str, Path] = {}
        for path in _yaml_files(root / FOLDERS[kind]):
            if path.stem in here:
                message = f"{here[path.stem].name} has the same name; only that one is read"
                problems.append(Problem(str(path), 0, 0, "same-name", message))
            here.setdefault(path.stem, path)
        for name, path in here.items():
            files.setdefault(name, []).append(path)
    return files


def _yaml_files(folder: Path) -> Iterator[Path]:
    if folder.is_dir():
        yield from sorted(path for path in folder.iterdir() if path.suffix in ENDINGS and path.name[0] != ".")


def _copy(library: Library) -> Library:
    """A library whose dictionaries can be filled without changing the one given."""
    return Library(**{field.name: dict(getattr(library, field.name)) for field in fields(library)})
