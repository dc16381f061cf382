"""Keeps what drivers print on descriptor 2 out of the user's sight, and hands it to whoever keeps a log."""

from __future__ import annotations

import contextlib
import logging
import os
import tempfile
from collections.abc import Iterator

DRIVERS = logging.getLogger("introit.drivers")
"""Told each line that a driver printed, as information; nobody hears it unless a log is kept."""


@contextlib.contextmanager
def hushed() -> Iterator[list[str]]:
    """While it lasts, what is written to descriptor 2 is kept; afterwards the list holds its lines.

    Nothing happens where there is no descriptor 2.
    """
    lines: list[str] = []
    try:
        kept = os.dup(2)
    except OSError:
        yield lines
        return
    with tempfile.TemporaryFile() as file:
        os.dup2(file.fileno(), 2)
        try:
            yield lines
        finally:
            os.dup2(kept, 2)
            os.close(kept)
            file.seek(0)
            lines += file.read().decode(errors="replace").splitlines()
            for line in lines:
                DRIVERS.info("%s", line)
