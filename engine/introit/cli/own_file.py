"""A content file that is rewritten for its user: tried first, and a copy of his own of the program's."""

from __future__ import annotations

import tempfile
from pathlib import Path

from introit.errors import IntroitError, Problem
from introit.library.content import program_root, user_root
from introit.library.kinds import FOLDERS
from introit.library.loader import read_file
from introit.library.model import Library


def tried(path: Path, data: bytes, folder: str, library: Library) -> tuple[object | None, list[Problem]]:
    """What a file would say with other bytes in it, and its mistakes; nothing is written there.

    Args:
        path: of the file.
        data: the bytes.
        folder: name of the folder that it is read as if it lay in; it may tell what the file describes.
        library: what it is read against.

    Raises:
        IntroitError: if there is no room to try it.
    """
    try:
        with tempfile.TemporaryDirectory() as place:
            trial = Path(place, folder, path.name)
            trial.parent.mkdir()
            trial.write_bytes(data)
            thing, problems = read_file(trial, library)
    except OSError as error:
        raise IntroitError(f"{path} cannot be tried: {error.strerror or error}") from error
    name = str(path)
    return thing, [Problem(name, one.line, one.column, one.code, one.message, one.hint) for one in problems]


def is_programs(path: Path, kind: str) -> bool:
    """Whether a file comes with the program."""
    return path.resolve().is_relative_to(program_root().resolve() / FOLDERS[kind])


def own_path(path: Path, kind: str) -> Path:
    """Where a file is written: where it is, or, for the program's, in the user's folder, which is made.

    Raises:
        IntroitError: if the folder cannot be made, or the user has another file of that name.
    """
    if not is_programs(path, kind):
        return path
    own = user_root() / FOLDERS[kind] / path.name
    if own.exists():
        raise IntroitError(f"{path} comes with the program, and you have {own} already; use that one")
    try:
        own.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise IntroitError(f"{own.parent} cannot be made: {error.strerror or error}") from error
    return own
