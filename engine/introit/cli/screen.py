"""What the player sees: one line for each change of state, one for each bar as its beats pass; 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Collection
from typing import TextIO

from introit.live.events import Shown
from introit.live.states import State

_WIDTH = 80
_READY = "ready: "
_BELOW = " " * len(_READY)
_COLUMN = 11
"""A beat's; five of them and what stands before them are less than the width."""


class Screen:
    """Writes what is shown as plain lines; on a terminal a bar's line grows beat by beat.

    Args:
        output: where to write.
        live: True when `output` is a terminal; otherwise a bar's line is written whole, at its end, and
            whatever is told is one line, however long.
        hints: for what is shown, what the foot can do now, in a few words.
        notes: for what is shown, the player's own notes to the tune; left out, there are none.
    """

    def __init__(
        self,
        output: TextIO,
        *,
        live: bool,
        hints: Callable[[Shown], str],
        notes: Callable[[Shown], str] | None = None,
    ) -> None:
        self._output = output
        self._live = live
        self._hints = hints
        self._notes = notes
        self._untold: Collection[str] = ()
        self._noted = ""
        self._bar = ""
        self._numeral: tuple[str, str] = ("", "")
        self._note = ""
        self._ready = ""
        self._skipped = 0
        self._dumb = False

    def leave_to(
        self, hints: Callable[[Shown], str], untold: Collection[str], *, with_tune: bool = True
    ) -> None:
        """Somebody else tells of these states, of the tune too, and what the foot can do in the others."""
        self._hints, self._untold = hints, untold
        if with_tune:
            self._notes = None

    def show(self, shown: Shown) -> None:
        """Shows one thing; what is not understood is shown as its text."""
        tell: Callable[[Shown], None] = {
            "state": self._state,
            "key": self._key,
            "step": self._key,
            "beat": self._beat,
            "lost": self._count,
        }.get(shown.what, self._text)
        tell(shown)
        if shown.what != "note":
            self._note = ""

    def _count(self, shown: Shown) -> None:
        """A skipped cycle is nothing a player can mend in mid-tune: it is counted, and told by `summary`."""
        self._skipped += 1

    def summary(self) -> None:
        """Says at the end what was only counted; a bar that is half told ends."""
        self._end_bar()
        if self._skipped:
            times = f"{self._skipped} time{'' if self._skipped == 1 else 's'}"
            self.say(f"the MIDI system skipped a cycle {times}; the note-offs of that time were repeated")

    def say(self, text: str) -> None:
        """Writes a line of the front's own as it is: it may hold a path."""
        self._end_bar()
        self._write(f"{_cleaned(text)}\n")

    def say_anew(self, text: str) -> None:
        """The same; what is ready after it is told again, though it be the same tune."""
        self.say(text)
        self._ready = ""

    def _line(self, text: str, *, below: str) -> None:
        """Writes a line; on a terminal what is too long goes on below."""
        if self._live and len(text) >= _WIDTH:
            text = textwrap.fill(text, _WIDTH - 1, subsequent_indent=below, break_on_hyphens=False)
        self._write(f"{text}\n")

    def _state(self, shown: Shown) -> None:
        self._end_bar()
        if shown.state == State.READY:
            self._tell_ready(shown)
            return
        self._ready = ""
        if shown.state in self._untold:
            return
        hint = self._hints(shown)
        told = "" if shown.text in hint else shown.text
        self._line(f"{shown.state}{f' ({hint})' if hint else ''}{_tail(told)}", below="  ")

    def _key(self, shown: Shown) -> None:
        """Another key, tempo or intro is ready; while it plays it is told where no note has just done so."""
        if shown.state == State.READY:
            self._state(shown)
        elif not self._note and shown.title:
            self._end_bar()
            self._line(f"{shown.state}: {_facts(shown)}{_tail(shown.text)}", below="  ")

    def _tell_ready(self, shown: Shown) -> None:
        if not shown.title:
            self._line(f"getting ready{_tail(shown.text)}", below="  ")
            return
        rest = f", {_facts(shown)}"
        line = f"{_READY}{_shortened(_cleaned(shown.title), _WIDTH - 1 - len(_READY) - len(rest))}{rest}"
        hint, notes = self._hints(shown), self._new_notes(shown)
        text = f"{line}{_tail(shown.text)}"
        if f"{text}{hint}" != self._ready or shown.text or notes:
            if not self._live:
                text += (f" ({hint})" if hint else "") + (f" - notes: {notes}" if notes else "")
            self._line(text, below=_BELOW)
            if self._live and notes:
                self._line(_shortened(f"{_BELOW}notes: {notes}", _WIDTH - 1), below=_BELOW)
            if self._live and hint:
                self._line(f"{_BELOW}{hint}", below=_BELOW)
        self._ready = f"{line}{hint}"

    def _new_notes(self, shown: Shown) -> str:
        """The tune's notes in one line; empty where they were told and nothing has been played since."""
        notes = " ".join(self._notes(shown).split()) if self._notes else ""
        before, self._noted = self._noted, f"{shown.tune} {notes}"
        return "" if before == self._noted else _cleaned(notes)

    def _beat(self, shown: Shown) -> None:
        self._ready = ""
        if shown.state != State.SOUND_CHECK:
            self._noted = ""
        if shown.beat == 1 or not self._bar:
            self._end_bar()
            self._grow(_label(shown))
            if shown.bar > 0:  # a bar that was interrupted goes on in its place
                self._grow(" " * _COLUMN * (shown.beat - 1))
        column = f"{self._beat_text(shown)} ".ljust(_COLUMN)
        self._grow(column if shown.bar > 0 else f"{shown.beat} ")

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
        if shown.text and shown.text != self._note:  # a tempo that one more tap leaves as it was
            self._end_bar()
            self._line(_cleaned(shown.text), below="  ")
            self._note = shown.text

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


def _label(shown: Shown) -> str:
    """What stands before a bar's beats: its number, and how many beats from here the head comes."""
    if shown.state == State.SOUND_CHECK:
        return "  sounds  "
    if shown.bar <= 0:
        return "  count  "
    head = "" if shown.state == State.VAMPING else f"head in {shown.beats_to_head}"
    return f"  bar {shown.bar:<2} {head:<12}"


def _facts(shown: Shown) -> str:
    return f"{shown.key}, {shown.tempo:g}, intro {shown.intro}"


def _tail(text: str) -> str:
    return f" - {_cleaned(text)}" if text else ""


def _shortened(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: max(0, width - 2)]}.."


def _cleaned(text: str) -> str:
    """Text without control characters: a title must not steer the terminal."""
    return "".join(character for character in text if character.isprintable())
