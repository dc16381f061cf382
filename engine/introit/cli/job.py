"""A shell's job: what Ctrl-Z does to it once all is silent, and `fg` undoes."""

from __future__ import annotations

import os
import signal
import sys


def stop_as_asked() -> None:
    """Stops this process as a shell expects of a job, and returns when it goes on.

    With the signal's own effect, not SIGSTOP: where no shell could wake it (an orphaned process group) the
    system does not stop it, and this returns at once. For the main thread.
    """
    if sys.platform == "win32":
        return
    before = signal.signal(signal.SIGTSTP, signal.SIG_DFL)
    try:
        os.kill(os.getpid(), signal.SIGTSTP)
    finally:
        signal.signal(signal.SIGTSTP, before)
