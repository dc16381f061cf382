"""What the player sees: one line for each change of state, one for each bar as its beats pass; 80 columns."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TextIO

from introit.live.events import Shown

_WIDTH = 80


class Screen:
    """Writes what is shown as plain lines; on a terminal a bar's line grows beat by beat.

    Args:
        output: where to write.
        live: True when `output` is a terminal; otherwise a bar's line is written whole, at its end.
        hints: for each state, what the foot can do in it, in a few words.
    """

    def __init__(self, output: TextIO, *, live: bool, hints: Mapping[str, str]) -> None:
        self._output = output
        self._live = live
        self._hints = hints
        self._bar = ""
        self._numeral: tuple[str, str] = ("", "")
        self._ready = ""
        self._skipped = 0
        self._dumb = False

    def show(self, shown: Shown) -> None:
        """Shows one thing; what is not understood is shown as its text."""
        tell: Callable[[Shown], None] = {
            "state": self._state,
            "key": self._state,
            "beat": self._beat,
            "lost": self._count,
        }.get(shown.what, self._text)
        tell(shown)

    def _count(self, shown: Shown) -> None:
        """A skipped cycle is nothing a player can mend in mid-tune: it is counted, and told by `summary`."""
        self._skipped += 1

    def summary(self) -> None:
        """Says at the end what was only counted."""
        if self._skipped:
            times = f"{self._skipped} time{'' if self._skipped == 1 else 's'}"
            self.say(f"the MIDI system skipped a cycle {times}; the note-offs of that time were repeated")

    def say(self, text: str) -> None:
        """Writes a line of the front's own."""
        self._end_bar()
        self._write(_cleaned(text) + "\n")

    def _state(self, shown: Shown) -> None:
        self._end_bar()
        if shown.state == "ready":
            self._tell_ready(shown)
            return
        hint = self._hints.get(shown.state, "")
        self._write(f"{shown.state}{f' ({hint})' if hint else ''}{_tail(shown.text)}\n")

    def _tell_ready(self, shown: Shown) -> None:
        if not shown.title:
            self._write(f"getting ready{_tail(shown.text)}\n")
            return
        rest = f", {shown.key}, {shown.tempo:g}, intro {shown.intro}"
        line = f"ready: {_shortened(_cleaned(shown.title), _WIDTH - 8 - len(rest))}{rest}"
        hint = self._hints.get("ready", "")
        text = f"{line}{_tail(shown.text)}"
        if text != self._ready or shown.text:
            self._write(f"{text}\n")
            if hint:
                self._write(f"       {hint}\n")
        self._ready = text

    def _beat(self, shown: Shown) -> None:
        self._ready = ""
        if shown.beat == 1 or not self._bar:
            self._end_bar()
            label = f"bar {shown.bar}" if shown.bar > 0 else "count"
            self._grow(f"  {label:<7}")
            if shown.bar > 0:  # a bar that was interrupted goes on in its place
                self._grow(" " * 12 * (shown.beat - 1))
        self._grow(self._beat_text(shown).ljust(12) if shown.bar > 0 else f"{shown.beat} ")

    def _beat_text(self, shown: Shown) -> str:
        chord = (shown.symbol, shown.numeral)
        changed = chord != self._numeral or shown.beat == 1
        self._numeral = chord
        return shown.symbol if changed and shown.symbol else "."

    def _grow(self, text: str) -> None:
        room = _WIDTH - 1 - len(self._bar)
        self._bar += text[:room]
        if self._live:
            self._write(text[:room])

    def _end_bar(self) -> None:
        if not self._bar:
            return
        self._write("\n" if self._live else self._bar.rstrip() + "\n")
        self._bar = ""

    def _text(self, shown: Shown) -> None:
        if shown.text:
            self.say(shown.text)

    def _write(self, text: str) -> None:
        """Writes; a full disk behind the output ends the words, never the music. A closed pipe is told."""
        if self._dumb:
            return
        try:
            self._output.write(text)
            self._output.flush()
        except BrokenPipeError:
            raise
        except OSError:
            self._dumb = True


def _tail(text: str) -> str:
    return f" - {_cleaned(text)}" if text else ""


def _shortened(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: max(0, width - 2)]}.."


def _cleaned(text: str) -> str:
    """Text without control characters: a title must not steer the terminal."""
    return "".join(character for character in text if character.isprintable())
