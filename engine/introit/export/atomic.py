"""Writing a file whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from introit.errors import IntroitError

_FRESH_FILE_MODE = 0o666


def write_atomically(path: Path, data: bytes) -> None:
    """Puts bytes in a file so that a reader sees the old file or the new one, never a part.

    A temporary file beside the target is filled, synced and renamed over it. A symbolic link is followed, so
    that the file it names is replaced and the link stays. An existing file's permissions are kept.

    Args:
        path: the target.
        data: everything that it will hold.

    Raises:
        IntroitError: when the place cannot be written, in one line; no temporary file is left.
    """
    write_all_atomically({path: data})


def write_all_atomically(files: Mapping[Path, bytes]) -> None:
    """The same for files that belong together: none is put in its place before all of them are on the disk.

    Raises:
        IntroitError: when one cannot be written; then all are as they were, unless a rename itself fails.
    """
    staged: list[tuple[Path, Path]] = []
    path = Path()
    try:
        for path, data in files.items():
            target = path.resolve()
            check_kind(target)
            staged.append((staged_beside(target, data), target))
        for temporary, path in staged:
            temporary.replace(path)
    except (OSError, RuntimeError) as error:  # RuntimeError: a loop of links, on older Pythons
        raise cannot_be_written(path, error) from error
    finally:
        for temporary, _ in staged:
            with contextlib.suppress(OSError):
                temporary.unlink()  # those that are in their place are not there any more
    for folder in {target.parent for _, target in staged}:
        sync_folder(folder)


def cannot_be_written(path: Path, error: Exception) -> IntroitError:
    """What is said of an OSError, or of a loop of links (RuntimeError), in one line."""
    return IntroitError(f"{path} cannot be written: {getattr(error, 'strerror', None) or error}")


def check_kind(target: Path) -> None:
    """Raises OSError for what a rename must not replace: folders, devices, pipes."""
    if target.is_dir():
        raise IsADirectoryError("it is a folder")
    if target.exists() and not target.is_file():
        raise OSError("it is not an ordinary file")


def staged_beside(target: Path, data: bytes) -> Path:
    """A temporary file beside the target with everything in it; when that cannot be had, none is left."""
    mode = _mode_for(target)
    handle, name = tempfile.mkstemp(prefix=f".{target.name[:80]}.", suffix=".part", dir=target.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(mode)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise
    return temporary


def _mode_for(target: Path) -> int:
    """The mode an ordinary `open` would have given: the present file's, else what the umask leaves."""
    with contextlib.suppress(FileNotFoundError):
        return target.stat().st_mode & 0o7777
    umask = os.umask(0)
    os.umask(umask)
    return _FRESH_FILE_MODE & ~umask


def sync_folder(folder: Path) -> None:
    """Makes the rename itself last; quietly not done where folders cannot be opened (Windows)."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
