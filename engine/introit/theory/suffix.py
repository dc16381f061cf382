"""Reading what follows a chord's root, in numerals and symbols: quality, tensions in or out of brackets.

Synonyms are read and one canonical form is printed. A character never changes its place while reading, so
every error can point at it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from introit.errors import NotationError, did_you_mean
from introit.theory.pitch import read_degree
from introit.theory.quality import ABSORBED, ALTERATIONS, QUALITIES, Quality, small_endings, symbol_endings

_SAME_SIGNS = str.maketrans("♭♯ºØ∅⌀∆△−–", "b#°øøøΔΔ--")
_TENSION = re.compile(r"(?:add)?([b#+-]?)([0-9]+)")
_SAME_SOUND = ({"#5", "b13"}, {"b5", "#11"})


@dataclass(slots=True)
class Reader:
    """A text and how far it has been read.

    Attributes:
        text: as it was given.
        plain: the same, character for character, with ASCII accidentals and one sign for each idea.
        position: of the next character.
        ending_at: where the last ending (quality and tensions) began.
    """

    text: str
    plain: str
    position: int
    ending_at: int = 0

    @classmethod
    def of(cls, text: str) -> Reader:
        """A reader that stands on the first character that is not a blank."""
        plain = text.translate(_SAME_SIGNS).rstrip()
        return cls(text, plain, len(plain) - len(plain.lstrip()))

    @property
    def rest(self) -> str:
        """What has not been read."""
        return self.plain[self.position :]

    @property
    def at_end(self) -> bool:
        """True when all has been read."""
        return self.position >= len(self.plain)

    def take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Reads a pattern if it comes next."""
        found = pattern.match(self.plain, self.position)
        if found:
            self.position = found.end()
        return found

    def error(self, reason: str, *, at: int | None = None) -> NotationError:
        """An error that points at the next character, or at another one."""
        return NotationError(self.text, self.position if at is None else at, reason)


def read_suffix(reader: Reader, *, small: bool) -> tuple[Quality, tuple[str, ...]]:
    """Reads a quality and its alterations.

    Args:
        reader: stands after the root.
        small: True after a numeral in small letters, where the `m` of a minor chord is understood.

    Returns:
        The quality and the alterations beyond it, from the lowest up, such as `("b9", "b13")`.

    Raises:
        NotationError: for tensions that the quality cannot bear or that contradict each other.
    """
    start = reader.ending_at = reader.position
    endings = _endings(small)
    ending = next(text for text in _longest_first(small) if reader.rest.startswith(text))
    name, brought = endings[ending]
    reader.position += len(ending)
    written = [(brought, start)] if brought else []
    written += _read_tensions(reader)
    return _settle(reader, name, written)


def alterations_text(alterations: tuple[str, ...]) -> str:
    """Alterations as they are printed: `(b9,b13)`, or nothing."""
    return f"({','.join(alterations)})" if alterations else ""


def unread_ending(reader: Reader, *, small: bool) -> NotationError:
    """An error for what stands where a quality should; goes back to the start of a word half read."""
    at = reader.position
    while at > reader.ending_at and reader.plain[at - 1 : at + 1].isalpha():
        at -= 1
    tail = reader.plain[at:]
    hint = did_you_mean(tail.partition("/")[0], [ending for ending in _endings(small) if ending])
    reason = (
        "a quality (6, 6/9, 7, 9, maj7, ø7, °7, 7sus4, 7alt ...) or tensions in brackets (b9,b13) "
        f"belong here; {tail!r} is neither. {hint}"
    )
    return reader.error(reason.rstrip(" ."), at=at)


@cache
def _endings(small: bool) -> dict[str, tuple[str, str]]:
    return small_endings() if small else symbol_endings()


@cache
def _longest_first(small: bool) -> tuple[str, ...]:
    return tuple(sorted(_endings(small), key=len, reverse=True))


def _read_tensions(reader: Reader) -> list[tuple[str, int]]:
    found: list[tuple[str, int]] = []
    while not reader.at_end and reader.rest[0] != "/":
        if reader.rest[0] == "(":
            found += _read_bracket(reader)
        elif tension := _read_tension(reader):
            found.append(tension)
        else:
            break
    return found


def _read_bracket(reader: Reader) -> list[tuple[str, int]]:
    reader.position += 1
    found: list[tuple[str, int]] = []
    while True:
        if tension := _read_tension(reader):
            found.append(tension)
        elif reader.rest.startswith(" ") or (found and reader.rest.startswith(",")):
            reader.position += 1
        elif reader.rest.startswith(")") and found:
            reader.position += 1
            return found
        elif reader.at_end:
            raise reader.error("the bracket is not closed; a ) belongs here")
        else:
            raise reader.error(
                "in brackets stand tensions such as b9, #9, #11, b13, with commas between them"
            )


def _read_tension(reader: Reader) -> tuple[str, int] | None:
    start = reader.position
    if reader.rest == "+" or reader.rest.startswith(("+(", "+/")):
        reader.position += 1
        return "#5", start
    found = reader.take(_TENSION)
    if not found:
        return None
    sign = {"+": "#", "-": "b"}.get(found[1], found[1])
    number = {"2": "9", "4": "11", "6": "13"}.get(found[2], found[2])
    try:
        read_degree(sign + number)
    except NotationError:
        number = ""
    if number not in {"5", "9", "11", "13"} or (number == "5" and not sign):
        reason = "a tension is 9, 11 or 13, with b or # before it where it is altered; a fifth only altered"
        raise reader.error(reason, at=start)
    return sign + number, start


def _settle(reader: Reader, name: str, written: list[tuple[str, int]]) -> tuple[Quality, tuple[str, ...]]:
    _refuse_conflicts(reader, QUALITIES[name], written)
    name, left = _absorb(name, written)
    quality = QUALITIES[name]
    for tension, place in left:
        if reason := _refusal(quality, tension):
            raise reader.error(reason, at=place)
    _refuse_conflicts(reader, quality, left)
    return quality, tuple(sorted((tension for tension, _ in left), key=read_degree))


def _refuse_conflicts(reader: Reader, quality: Quality, written: list[tuple[str, int]]) -> None:
    for index, (tension, place) in enumerate(written):
        for other in (*quality.required, *(earlier for earlier, _ in written[:index])):
            if reason := _conflict(other, tension):
                raise reader.error(reason, at=place)


def _absorb(name: str, written: list[tuple[str, int]]) -> tuple[str, list[tuple[str, int]]]:
    left = list(written)
    # An altered fifth first (m7 with b5 is a chord of its own), then the ninth, then what lies above it.
    for item in sorted(written, key=lambda item: read_degree(item[0])):
        if (name, item[0]) in ABSORBED:
            name = ABSORBED[name, item[0]]
            left.remove(item)
    return name, left


def _refusal(quality: Quality, tension: str) -> str:
    if quality.name == "7alt" and tension in {"9", "13"}:
        return f"an altered dominant has no natural {tension}; write 7({tension}) or {tension}"
    if quality.name == "13" and tension == "11":
        return "a 13 chord holds no 11; write 13(#11) or 13sus4"
    if tension in ALTERATIONS[quality.family]:
        return ""
    allowed = ", ".join(ALTERATIONS[quality.family])
    hint = did_you_mean(tension, ALTERATIONS[quality.family])
    shown = quality.name or "a major triad"
    return f"{shown} takes no {tension}; allowed are {allowed}. {hint}".rstrip(" .")


def _conflict(other: str, tension: str) -> str:
    if other == tension:
        return f"{tension} is there already"
    if {other, tension} in _SAME_SOUND:
        return f"{tension} sounds the same as {other}, which is there already"
    if other != "5" and _contradict(other, tension):
        return f"{tension} contradicts the {other} that is there already; keep one of them"
    return ""


def _contradict(one: str, other: str) -> bool:
    (degree, alter), (second, second_alter) = read_degree(one), read_degree(other)
    same_line = (degree - second) % 7 == 0
    both_altered = degree in {5, 9} and alter != 0 and second_alter != 0
    return same_line and degree != 1 and not both_altered
