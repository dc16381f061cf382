"""Which signs a terminal can show: lines and dots where it can, letters and dashes where it cannot."""

from __future__ import annotations

import re
from typing import NamedTuple


class Signs(NamedTuple):
    """What drawings are made of; each is one character, or four.

    Attributes:
        dot: a stopped note.
        string: a string between two frets.
        barre, crossed: a finger flat over strings, and a string under it that another stops higher up.
        nut: left end, line, joint and right end of the nut.
        edge: the same of the upper edge of a diagram that begins higher up the neck.
        held: a note that sounds on.
        bar: a bar line.
        types: whether chord signs are typed, too.
    """

    dot: str
    string: str
    barre: str
    crossed: str
    nut: str
    edge: str
    held: str
    bar: str
    types: bool = False

    def word(self, text: str) -> str:
        """A chord name or a numeral as it is written with these signs."""
        return typed(text) if self.types else text


DRAWN = Signs(dot="●", string="│", barre="━", crossed="┿", nut="╒═╤╕", edge="┌─┬┐", held="─", bar="│")
TYPED = Signs(
    dot="@", string="|", barre="=", crossed="+", nut="====", edge="+-++", held="-", bar="|", types=True
)
"""All in ASCII."""

_HALF_DIMINISHED = re.compile(r"ø(7|9|11)")


def signs_for(encoding: str | None) -> Signs:
    """The drawn signs where they can be written in an encoding, else those on a typewriter."""
    return DRAWN if can_show("".join(DRAWN[:-1]), encoding) else TYPED


def can_show(text: str, encoding: str | None) -> bool:
    """Whether a text can be written in an encoding; not where nothing is known of it."""
    try:
        text.encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def typed(text: str) -> str:
    """Chord signs as they are typed: `iiø7` is `iim7b5`, `vii°7` is `viio7`. The library reads both alike."""
    return _HALF_DIMINISHED.sub(r"m\1b5", text).replace("ø", "m7b5").replace("°", "o")
