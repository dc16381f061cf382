"""The player's process: how it is started, and what it is given."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO

from introit.live.shared import above_standard


def above_standard_streams(end: socket.socket) -> socket.socket:
    """The same socket under a number that no standard stream can have."""
    number = end.detach()
    return socket.socket(fileno=above_standard(number))


def start_player(
    program: Sequence[str],
    environ: Mapping[str, str],
    *,
    theirs: socket.socket,
    memory: str,
    log: IO[bytes],
) -> subprocess.Popen[bytes]:
    """Starts it, in a session of its own, with the socket and the memory in hand.

    Args:
        program: the command.
        environ: its surroundings, to which this package's place is added.
        theirs: its end of the socket.
        memory: the shared memory's handle.
        log: takes what it prints.
    """
    root = str(Path(__file__).parents[2])
    path = os.pathsep.join([root, *filter(None, [environ.get("PYTHONPATH")])])
    surroundings = {**environ, "PYTHONPATH": path}
    if sys.platform == "win32":
        # Not tried on Windows: a socket is handed over by its share, through standard input.
        process = subprocess.Popen(
            [*program, "stdin", memory],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=log,
            env=surroundings,
            creationflags=subprocess.CREATE_NEW_PROCESS_GROUP,
        )
        assert process.stdin is not None
        process.stdin.write(theirs.share(process.pid))
        process.stdin.close()
        return process
    return subprocess.Popen(
        [*program, str(theirs.fileno()), memory],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=log,
        env=surroundings,
        pass_fds=(theirs.fileno(), int(memory)),
        start_new_session=True,
    )
