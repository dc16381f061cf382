"""Replacing a file that people save by hand too: only while it is what was read, and no save is lost.

A look at the file and then a rename leave a gap in which somebody may save. Here the new file and the old
one change places in one step, and what has come out is looked at: if it is not what was read, it goes back.
Whoever saves by writing into the file itself is told by a lease: nobody has it open for writing when it
changes places, and whoever opens it meanwhile waits until it is back.

Both need Linux and a local file system. Elsewhere the file is looked at and renamed over, and the gap, well
under a millisecond, stays.
"""

from __future__ import annotations

import contextlib
import errno
import os
import signal
import sys
from pathlib import Path
from types import TracebackType

from introit.errors import IntroitError
from introit.export.atomic import cannot_be_written, check_kind, staged_beside, sync_folder

_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
_F_SETSIG = 10
"""All three as Linux's headers have them (renameat2(2), fcntl(2))."""


class ChangedError(IntroitError):
    """The file is not what was read, or is just being written by another program; it was left alone."""


def replace_unchanged(path: Path, data: bytes, expected: bytes) -> None:
    """Puts bytes in a file in the place of those that were read there, and of no others.

    A reader sees the old file or the new one, never a part. A link is followed, and permissions are kept.

    Args:
        path: the file; it must exist.
        data: everything that it will hold.
        expected: everything that it held when it was read.

    Raises:
        ChangedError: if it holds anything else, or somebody is saving it; it holds what was saved last then.
        IntroitError: when the place cannot be written, in one line; no temporary file is left.
    """
    temporary = None
    try:
        target = path.resolve()
        check_kind(target)
        temporary = staged_beside(target, data)
        with _Lease(target) as lease:
            if target.read_bytes() != expected:
                raise ChangedError(f"{path} has been changed")
            if not exchange(temporary, target):
                temporary.replace(target)
                sync_folder(target.parent)
                return
            sync_folder(target.parent)
            if lease.is_broken() or temporary.read_bytes() != expected:
                _give_back(temporary, target, ours=data)
                raise ChangedError(f"{path} was saved at the same moment")
    except FileNotFoundError as error:  # so it is for a moment with editors that rename what they replace
        raise ChangedError(f"{path} is not there any more") from error
    except (OSError, RuntimeError) as error:
        raise cannot_be_written(path, error) from error
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink()


def exchange(one: Path, other: Path) -> bool:
    """Lets two files change places in one step; False, with nothing done, where the system cannot.

    Raises:
        OSError: if it can, and it fails.
    """
    if sys.platform != "linux":
        return False
    import ctypes  # whoever edits no file by page needs none

    rename = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if rename is None:
        return False
    if rename(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0:
        return True
    number = ctypes.get_errno()
    if number in {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP}:  # the kernel or this file system has it not
        return False
    raise OSError(number, os.strerror(number), str(one))


def _give_back(temporary: Path, target: Path, *, ours: bytes) -> None:
    """Puts in its place again what had come out of it.

    What comes out now must be what was put there before; else it was saved later still, and goes back too.
    """
    put = ours
    while True:
        newer = temporary.read_bytes()
        try:
            exchange(temporary, target)
        except FileNotFoundError:  # somebody has moved it away; what he puts there is later than ours
            with contextlib.suppress(FileExistsError):
                os.link(temporary, target)
            return
        if temporary.read_bytes() == put:
            return
        put = newer


class _Lease:
    """Holds off whoever would write into a file, while it is held, and tells whether anybody tried.

    Where there are no leases (another system, a network's file system, a file of another's) it does neither.

    Args:
        path: the file.

    Raises:
        ChangedError: on entering, if somebody has it open for writing.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._descriptor = -1
        self._held = False

    def __enter__(self) -> _Lease:
        self._descriptor = os.open(self._path, os.O_RDONLY)
        if sys.platform == "linux":
            import fcntl

            try:
                # Another's wish is told by SIGIO, which ends a program that has no answer; SIGURG does not.
                fcntl.fcntl(self._descriptor, _F_SETSIG, signal.SIGURG)
                fcntl.fcntl(self._descriptor, fcntl.F_SETLEASE, fcntl.F_RDLCK)
                self._held = True
            except OSError as error:
                if error.errno == errno.EAGAIN:
                    os.close(self._descriptor)
                    raise ChangedError(f"{self._path} is just being written by another program") from error
        return self

    def is_broken(self) -> bool:
        """Whether somebody has tried to open the file for writing since; he waits for the lease's end."""
        if sys.platform == "linux" and self._held:
            import fcntl

            return fcntl.fcntl(self._descriptor, fcntl.F_GETLEASE) != fcntl.F_RDLCK
        return False

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if sys.platform == "linux" and self._held:
            import fcntl

            fcntl.fcntl(self._descriptor, fcntl.F_SETLEASE, fcntl.F_UNLCK)
        os.close(self._descriptor)
