"""Roman numerals with jazz qualities and tensions, as the trade writes them.

Rules of reading:

- A numeral counts from the **major scale of the tonic, in minor too**: in C minor `bVI` is Ab, `viø7` is on A
  and `VII7` on B. One `b` or `#` before the letters moves the root by a half step.
- Capital letters are major (`I`, `V7`, `bVImaj9`), small letters minor (`ii9`, `iv6`, `i(maj7)`). For `ø`,
  `°` and `sus` the sign decides and both cases are read (`#ivø7`, `bIII°7`, `V7sus4`).
- After the letters comes the quality (nothing, `6`, `6/9`, `7`, `9`, `11`, `13`, `maj7`, `maj9`, `(maj7)`,
  `ø7`, `°7`, `+`, `sus4`, `7sus4`, `9sus4`, `7alt`, ...), then tensions in brackets: `V13(b9)`,
  `VI7(b9,b13)`.
- `6/9` is one token and read first: `I6/9/5` is I6/9 over the fifth of the key.
- A slash and an **Arabic degree** is a bass note of the key (`ii7/5`, `bVImaj7/5`, `I/b6`); a slash and a
  **numeral** is an applied chord (`V7/ii`, `iiø7/vi`). An applied chord may have a bass note too: `V7/ii/5`.
- Synonyms are read and one form is printed: `IM7`, `IΔ7` become `Imaj7`; `iim7`, `ii-7`, `IIm7` become `ii7`;
  `ii7b5`, `iim7b5` become `iiø7`; `io7`, `idim7` become `i°7`; `V7#5`, `V+7` become `V7(#5)`; `V7b9` becomes
  `V7(b9)`; `V11` becomes `V9sus4`; `♭` and `♯` become `b` and `#`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from introit.errors import NotationError
from introit.theory.pitch import degree_name
from introit.theory.quality import QUALITIES, Case, Quality
from introit.theory.suffix import Reader, alterations_text, read_suffix, unread_ending

ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")
MAX_LENGTH = 120
MAX_TARGETS = 2
"""A longer text, or one with more targets (`V7/V/ii` has two), is not a numeral."""

_LETTERS = re.compile(r"[IViv]+")
_SIGNS = re.compile(r"[b#]*")
_BASS = re.compile(r"([b#]?)([0-9]{1,3})")
_APPLIED = re.compile(r"/[b#]*[IViv]")
_WHAT_A_NUMERAL_IS = (
    "a numeral starts with I to VII or i to vii, with one b or # before it where the root is altered"
)


@dataclass(frozen=True, slots=True)
class Numeral:
    """A chord as a place in the key.

    Attributes:
        degree: 1 to 7, on the major scale of the tonic (of the applied chord's target where there is one).
        alter: -1, 0 or 1 half steps from there.
        upper: True when written in capital letters.
        quality: a name in `quality.QUALITIES`.
        alterations: tensions and altered fifths beyond the quality, from the lowest up: `("b9", "b13")`.
        applied: the numeral whose chord this one is applied to, or None.
        bass_degree: degree of the key, 1 to 7, that lies in the bass; None for the chord's own root.
        bass_alter: -1, 0 or 1 half steps from that degree.
    """

    degree: int
    alter: int = 0
    upper: bool = True
    quality: str = ""
    alterations: tuple[str, ...] = ()
    applied: Numeral | None = None
    bass_degree: int | None = None
    bass_alter: int = 0

    @classmethod
    def from_text(cls, text: str) -> Numeral:
        """Reads a numeral; see the rules at the top of this module.

        Raises:
            NotationError: with the character where reading failed, what is allowed there and what was
                probably meant.
        """
        return _read(text)

    def __str__(self) -> str:
        root = ROMAN[self.degree - 1] if self.upper else ROMAN[self.degree - 1].lower()
        body = degree_sign(self.alter) + root + self.kind.numeral + alterations_text(self.alterations)
        target = f"/{self.applied}" if self.applied else ""
        bass = f"/{degree_name(self.bass_degree, self.bass_alter)}" if self.bass_degree else ""
        return body + target + bass

    @property
    def kind(self) -> Quality:
        """The row of the table for its quality."""
        return QUALITIES[self.quality]

    @property
    def is_minor(self) -> bool:
        """True when its third is minor."""
        return "b3" in self.kind.required


def degree_sign(alter: int) -> str:
    """`b`, `#` or nothing."""
    return "#" * alter if alter > 0 else "b" * -alter


@lru_cache(maxsize=4096)
def _read(text: str) -> Numeral:
    if len(text) > MAX_LENGTH:
        raise NotationError(text, MAX_LENGTH, f"a numeral has at most {MAX_LENGTH} characters")
    reader = Reader.of(text)
    numeral = _read_with_target(reader)
    if reader.rest.startswith("/"):
        degree, alter = _read_bass(reader)
        numeral = replace(numeral, bass_degree=degree, bass_alter=alter)
    if not reader.at_end:
        raise _unread(reader, numeral)
    return numeral


def _read_with_target(reader: Reader, targets: int = 0) -> Numeral:
    numeral = _read_chord(reader)
    if not _APPLIED.match(reader.rest):
        return numeral
    if targets == MAX_TARGETS:
        raise reader.error(f"an applied chord has at most {MAX_TARGETS} targets, as in V7/V/ii")
    reader.position += 1
    return replace(numeral, applied=_read_with_target(reader, targets + 1))


def _read_chord(reader: Reader) -> Numeral:
    start = reader.position
    signs = reader.take(_SIGNS)
    letters = reader.take(_LETTERS)
    if not letters:
        raise reader.error(_WHAT_A_NUMERAL_IS + _note_name_hint(reader))
    if signs and len(signs.group()) > 1:
        raise reader.error("only one b or # stands before a numeral", at=start + 1)
    roman = letters.group()
    if roman.upper() not in ROMAN or roman not in {roman.upper(), roman.lower()}:
        raise reader.error(f"no numeral {roman!r}: {_WHAT_A_NUMERAL_IS}", at=letters.start())
    small = roman.islower()
    quality, alterations = read_suffix(reader, small=small)
    return Numeral(
        degree=ROMAN.index(roman.upper()) + 1,
        alter={"": 0, "b": -1, "#": 1}[signs.group() if signs else ""],
        upper=quality.case is Case.UPPER or (quality.case is Case.EITHER and not small),
        quality=quality.name,
        alterations=alterations,
    )


def _read_bass(reader: Reader) -> tuple[int, int]:
    reader.position += 1
    found = reader.take(_BASS)
    if not found:
        raise reader.error("after a slash comes a bass note, 1 to 7 with b or # where altered, or a numeral")
    number = int(found[2])
    if not 1 <= number <= 7:
        raise reader.error("a bass note is a degree of the key, 1 to 7", at=found.start(2))
    return number, {"": 0, "b": -1, "#": 1}[found[1]]


def _unread(reader: Reader, numeral: Numeral) -> NotationError:
    tail = reader.rest
    if tail.startswith(")"):
        return reader.error("a ) without its (")
    if numeral.bass_degree:
        return reader.error("nothing can follow the bass note")
    if not numeral.upper and "alt" in tail:
        return reader.error("an altered dominant is written in capital letters, as in V7alt")
    return unread_ending(reader, small=not numeral.upper)


def _note_name_hint(reader: Reader) -> str:
    letter = reader.rest[:1]
    return "; chords by note name do not belong here" if letter and letter in "ABCDEFG" else ""
