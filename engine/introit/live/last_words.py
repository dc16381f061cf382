"""What a dead process left behind, in one line: the signal, where it was, and what it printed last."""

from __future__ import annotations

import re
import signal
from collections.abc import Sequence
from typing import Final

_FAULTS: Final = {
    "SIGSEGV": "a fault in a driver or a library",
    "SIGBUS": "a fault in a driver or a library",
    "SIGILL": "a fault in a driver or a library",
    "SIGFPE": "a fault in a driver or a library",
    "SIGABRT": "a driver or a library gave up",
}
_FATAL: Final = re.compile(r"^Fatal Python error: ")
_FRAME: Final = re.compile(r'^\s+File "(?P<file>[^"]+)", line (?P<line>\d+) in (?P<name>\S+)')
_LONGEST: Final = 160
"""Characters of what it printed."""


def told(code: int | None, lines: Sequence[str]) -> str:
    """Why a process ended.

    Args:
        code: its exit code, negative for a signal; None where it is not known.
        lines: what it and its drivers printed, among it Python's own report of a fault (`faulthandler`).
    """
    if code is not None and code < 0:
        return f"the player was ended by signal {-code}{_of_signal(-code, lines)}"
    last = _last(lines) or "it said nothing"
    return f"the player ended with code {code} ({last})"


def _of_signal(number: int, lines: Sequence[str]) -> str:
    try:
        name = signal.Signals(number).name
    except ValueError:
        return ""
    if name not in _FAULTS:
        return f" ({name})"
    fault = next((place for place, line in enumerate(lines) if _FATAL.match(line)), len(lines))
    words = [f"{name}, {_FAULTS[name]}"]
    if where := _where(lines[fault:]):
        words.append(f"in {where}")
    if said := _last(lines[:fault]):
        words.append(f"which last said: {said}")
    return f" ({', '.join(words)})"


def _where(report: Sequence[str]) -> str:
    """The innermost call of the thread that was at work, as the report names it first."""
    current = next((place for place, line in enumerate(report) if line.startswith("Current thread")), 0)
    for line in report[current:]:
        if frame := _FRAME.match(line):
            file = frame["file"].replace("\\", "/").rpartition("/")[2]
            return f"{frame['name']}, {file} line {frame['line']}"
    return ""


def _last(lines: Sequence[str]) -> str:
    """The last line that says something."""
    said = next((line.strip() for line in reversed(lines) if line.strip()), "")
    return said if len(said) <= _LONGEST else f"{said[:_LONGEST]}.."
