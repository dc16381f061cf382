"""Whether anything may have been saved in some folders: asked of the system, so that nobody need look.

Linux tells what happens in a folder (inotify), and that is only ever taken for a reason to look. Where the
system tells nothing, there always is a reason: other systems, and a kernel that has given all its watches
away. Nor does it tell of what another machine does on a network drive, or of a file behind a symbolic link:
for these whoever asks must look now and then without a reason.
"""

from __future__ import annotations

import contextlib
import os
import sys
import weakref
from collections.abc import Iterable
from pathlib import Path
from typing import Any

_EVENTS = 0x00000002 | 0x00000004 | 0x00000008 | 0x000003C0 | 0x00000400 | 0x00000800
"""IN_MODIFY, IN_ATTRIB, IN_CLOSE_WRITE; MOVED_FROM to DELETE; DELETE_SELF, MOVE_SELF: see inotify(7)."""
_MOST_BYTES = 65536


class FolderNews:
    """What the system has told since it was last asked. Nothing here waits, and nothing raises."""

    def __init__(self) -> None:
        self._library = _system_library()
        self._handle = (
            -1 if self._library is None else int(self._library.inotify_init1(os.O_NONBLOCK | os.O_CLOEXEC))
        )
        if self._handle >= 0:
            weakref.finalize(self, os.close, self._handle)
        self._complete = False

    def follow(self, folders: Iterable[Path]) -> None:
        """Listens to these folders too; one that is not there is told by the one above it."""
        if self._handle < 0 or self._library is None:
            return
        added = [
            self._library.inotify_add_watch(self._handle, os.fsencode(folder), _EVENTS)
            for folder in {there for folder in folders for there in _there(folder)}
        ]
        self._complete = min(added, default=0) >= 0

    def come(self) -> bool:
        """Whether anything may have happened since the last call."""
        if not self._complete:
            return True
        told = False
        with contextlib.suppress(BlockingIOError):
            while os.read(self._handle, _MOST_BYTES):
                told = True
        return told


def _there(folder: Path) -> list[Path]:
    """The folder where there is one, else the nearest above it."""
    return next(([above] for above in (folder, *folder.parents) if above.is_dir()), [])


def _system_library() -> Any:
    """The C library, where it has inotify."""
    if sys.platform != "linux":
        return None
    try:
        import ctypes

        library = ctypes.CDLL(None)
        return library if hasattr(library, "inotify_init1") else None
    except (ImportError, OSError):
        return None
