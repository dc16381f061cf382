"""What is said at the end of a run: why it ended, and how much was practised."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:  # the log itself is for whoever keeps one
    from introit.practice.log import Played

_REASONS = {
    "SIGINT": "q or Ctrl-C",
    "SIGTERM": "asked to end",
    "SIGHUP": "the terminal was closed",
}
_MOST_KEYS = 12


def farewell(reason: str) -> str:
    """The last line of a run."""
    return f"all notes off ({_REASONS.get(reason, reason)})"


class Tally:
    """Counts what is played in a practice."""

    def __init__(self) -> None:
        self._passes = self._clean = self._judged = 0
        self._seconds = 0.0
        self._keys: dict[str, None] = {}

    def add(self, played: Played) -> None:
        """One pass, or one time through the tune."""
        self._passes += 1
        self._clean += played.clean is True
        self._judged += played.clean is not None
        self._seconds += played.seconds
        self._keys[str(played.key)] = None

    def line(self, *, kept: bool) -> str:
        """In a sentence; empty where nothing was played to its end.

        Args:
            kept: whether the practice log has it.
        """
        if not self._passes:
            return ""
        words = [f"{self._passes} pass{'' if self._passes == 1 else 'es'}"]
        if self._judged:
            words.append(f"{self._clean} clean")
        minutes = round(self._seconds / 60)
        lasted = f"{minutes} minute{'' if minutes == 1 else 's'} of playing"
        words.append(lasted if minutes else "under a minute")
        keys = list(self._keys)
        more = f" and {len(keys) - _MOST_KEYS} more" if len(keys) > _MOST_KEYS else ""
        words.append(f"in {' '.join(keys[:_MOST_KEYS])}{more}")
        return ", ".join(words) + ("; `introit log` has them" if kept else "")
