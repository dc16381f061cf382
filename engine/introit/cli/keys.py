"""What a terminal sends for the keys that are struck, read as their names. Pure: time comes with each call.

Sources: ECMA-48 for the form of control sequences (5.4); the sequences themselves are those that xterm and
the VT220 send ("XTerm Control Sequences", PC-style function keys), from memory.
"""

from __future__ import annotations

import codecs
import re

from introit.units import NS_PER_MS

ESCAPE_NS = 50 * NS_PER_MS
"""An escape that nothing follows for so long was the key itself. (The same figure as in common editors.)"""
REPEAT_NS = 110 * NS_PER_MS
"""A key that comes again so soon is held down and repeated by the system, which does so every 30 to 92 ms
(from memory: Windows 33, X11 40, macOS 90, the Linux console 92). No finger is as fast."""

_CHARACTERS = {
    " ": "space",
    "\r": "enter",
    "\n": "enter",
    "\t": "tab",
    "\x7f": "backspace",
    "\b": "backspace",
}
_FINALS = {"A": "up", "B": "down", "C": "right", "D": "left", "H": "home", "F": "end"}
_FUNCTIONS = {"P": "f1", "Q": "f2", "R": "f3", "S": "f4"}
_TILDES = {
    "1": "home", "2": "insert", "3": "delete", "4": "end", "5": "page up", "6": "page down", "7": "home",
    "8": "end", "11": "f1", "12": "f2", "13": "f3", "14": "f4", "15": "f5", "17": "f6", "18": "f7",
    "19": "f8", "20": "f9", "21": "f10", "23": "f11", "24": "f12",
}  # fmt: skip
_WHOLE = re.compile(r"\x1b(?:\[\[[A-E]|\[(?!\[)[0-?]*[ -/]*[@-~]|O[ -~]|[^\[O\x1b])", re.DOTALL)
_BEGUN = re.compile(r"\x1b(?:\[\[|\[(?!\[)[0-?]*[ -/]*|O)?\Z")
_LONGEST = 32
"""Characters; a sequence that has not ended by then is none of a key's."""


class KeyDecoder:
    """Names of keys from a terminal's bytes, however they are cut into reads.

    A key with a modifier counts as the key; what is struck with Alt, and every sequence that belongs to no
    key (a mouse, a window that came to the front), is left out.
    """

    def __init__(self) -> None:
        self._text = codecs.getincrementaldecoder("utf-8")(errors="ignore")
        self._rest = ""
        self._since = 0

    def feed(self, data: bytes, now: int) -> list[str]:
        """The keys that are complete after these bytes, in order."""
        names = self.settle(now)
        self._rest += self._text.decode(data)
        self._since = now
        while self._rest:
            found = _WHOLE.match(self._rest)
            if found is None and _BEGUN.match(self._rest) and len(self._rest) < _LONGEST:
                break
            length = found.end() if found else 1
            name = _name(self._rest[:length])
            self._rest = self._rest[length:]
            if name:
                names.append(name)
        return names

    @property
    def next_due(self) -> int | None:
        """When `settle` has something to say."""
        return self._since + ESCAPE_NS if self._rest else None

    def settle(self, now: int) -> list[str]:
        """The escape key, if that is what an escape proves to be by now."""
        if not self._rest or now < self._since + ESCAPE_NS:
            return []
        rest, self._rest = self._rest, ""
        return ["escape"] if rest == "\x1b" else []


def _name(piece: str) -> str:
    if not piece.startswith("\x1b"):
        return _CHARACTERS.get(piece, piece if piece.isprintable() else "")
    kind, final = piece[1:2], piece[-1]
    if kind == "O":
        return _FINALS.get(final) or _FUNCTIONS.get(final, "")
    if kind != "[":
        return ""
    parameters = piece[2:-1]
    if parameters == "[":  # the Linux console's first five
        return f"f{ord(final) - ord('A') + 1}"
    if final == "~":
        return _TILDES.get(parameters.split(";")[0], "")
    plain = parameters == "" or re.fullmatch(r"1;\d+", parameters) is not None
    return (_FINALS.get(final) or _FUNCTIONS.get(final, "")) if plain else ""


class Repeats:
    """Tells a key that was struck from one that is held down and repeated by the system.

    The first repetition comes after a longer time (250 to 660 ms) and cannot be told from a second stroke.
    """

    def __init__(self) -> None:
        self._last: dict[str, int] = {}

    def struck(self, name: str, now: int) -> bool:
        """Whether a key that came at `now` was struck."""
        last = self._last.get(name)
        self._last[name] = now
        return last is None or now - last > REPEAT_NS
