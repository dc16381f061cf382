"""Folders of YAML files to a library: everything that loads, and every mistake in what does not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path

from introit.errors import ContentError, Problem
from introit.library.cache import Cache, Read
from introit.library.kinds import KINDS, ContentFile, files_of, stamp_of
from introit.library.model import Library
from introit.library.shelf import Shelf


def load_library(roots: Sequence[Path], *, cache: Cache | None = None) -> tuple[Library, list[Problem]]:
    """Reads everything below the roots; a file with a mistake is left out, and so is what refers to it.

    Of a set, only the entries with mistakes are left out.

    Args:
        roots: folders with `patterns/` and `config/` below them. A file in a later root replaces the one of
            the same kind and name in an earlier root, unless it has mistakes: then the earlier one stays.
        cache: what was read before, of the same roots; it is told what is read now. None reads every file.

    Returns:
        The library, and all mistakes ordered by file and place.
    """
    shelf = Shelf()
    problems: list[Problem] = []
    for kind in KINDS:
        by_root = list(files_of(kind, roots))
        if cache is not None:
            cache.lay(kind, [file for files in by_root for file in files])
        for name, files in sorted(_by_name(by_root, problems).items()):
            for file in reversed(files):
                thing, found = _read(file, shelf, cache)
                problems += found
                if thing is not None:
                    shelf.put(kind, name, thing)
                    break
            else:
                shelf.leave_out(kind, name, files[-1].path)
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


def read_file(
    path: Path, library: Library, *, cache: Cache | None = None
) -> tuple[object | None, list[Problem]]:
    """What a file describes, as far as it can be used, and every mistake in it, ordered by place.

    Args:
        path: the file.
        library: what its names may refer to.
        cache: the one that the library was loaded with; None to read the file whatever was kept.
    """
    if cache is None:
        return _read_file(path, None, Shelf(_copy(library)))
    kept = cache.recall_loose(path)
    if kept is not None:
        return kept
    stamp = stamp_of(path)
    read = _read_file(path, None, Shelf(_copy(library)))
    cache.keep_loose(path, stamp, read)
    return read


def _read(file: ContentFile, shelf: Shelf, cache: Cache | None) -> Read:
    kept = None if cache is None else cache.recall(file)
    if kept is not None:
        return kept
    read = _read_file(Path(file.path), file.kind, shelf)
    if cache is not None:
        cache.keep(file, read)
    return read


def _read_file(path: Path, kind: str | None, shelf: Shelf) -> Read:
    # Imported only when a file must be read: an evening whose content is known starts without a YAML reader.
    from introit.library.file_reading import read_one

    return Read(*read_one(path, kind, shelf))


def _by_name(
    by_root: Sequence[Sequence[ContentFile]], problems: list[Problem]
) -> dict[str, list[ContentFile]]:
    """The files of a kind by id, the earliest root's first.

    Two of one name in the same folder are reported, and the first is taken.
    """
    files: dict[str, list[ContentFile]] = {}
    for listed in by_root:
        here: dict[str, ContentFile] = {}
        for file in listed:
            if file.name in here:
                message = f"{Path(here[file.name].path).name} has the same name; only that one is read"
                problems.append(Problem(file.path, 0, 0, "same-name", message))
            here.setdefault(file.name, file)
        for name, file in here.items():
            files.setdefault(name, []).append(file)
    return files


def _copy(library: Library) -> Library:
    """A library whose dictionaries can be filled without changing the one given."""
    return Library(**{field.name: dict(getattr(library, field.name)) for field in fields(library)})
