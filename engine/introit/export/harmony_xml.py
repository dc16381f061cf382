"""A chord symbol as MusicXML has it: root, kind, bass and degrees.

Source: MusicXML 4.0, data types `kind-value` and `degree`. It has no suspended chord with a seventh: that is
a dominant chord whose third is taken away and whose fourth is added, which every reader takes for the same
pitches (an added seventh is a minor one by the standard, and a major one to some). A degree that the kind has
already is altered, any other one is added.
"""

from __future__ import annotations

from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from introit.theory.chord import Chord
from introit.theory.pitch import Tone, read_degree


class _Kind(NamedTuple):
    """A kind and what its degrees lack of the chord's: (degree, alteration, `add` or `subtract`)."""

    value: str
    degrees: tuple[tuple[int, int, str], ...] = ()


def _added(*degrees: int) -> tuple[tuple[int, int, str], ...]:
    return tuple((degree, 0, "add") for degree in degrees)


_SUSPENDED = ((3, 0, "subtract"), *_added(4))
_ALTERED = ("b9", "#9", "b13")
"""What an altered dominant is told as that names no tensions."""
_HELD = {"ninth": (9,), "11th": (9, 11), "13th": (9, 11, 13)}
"""Degrees over the seventh that a kind has, by the end of its name."""

_KINDS: dict[str, _Kind] = {
    "": _Kind("major"),
    "6": _Kind("major-sixth"),
    "6/9": _Kind("major-sixth", _added(9)),
    "add9": _Kind("major", _added(9)),
    "maj7": _Kind("major-seventh"),
    "maj9": _Kind("major-ninth"),
    "maj13": _Kind("major-13th"),
    "m": _Kind("minor"),
    "m6": _Kind("minor-sixth"),
    "m6/9": _Kind("minor-sixth", _added(9)),
    "m(add9)": _Kind("minor", _added(9)),
    "m7": _Kind("minor-seventh"),
    "m9": _Kind("minor-ninth"),
    "m11": _Kind("minor-11th"),
    "m13": _Kind("minor-13th"),
    "m(maj7)": _Kind("major-minor"),
    "m(maj9)": _Kind("major-minor", _added(9)),
    "7": _Kind("dominant"),
    "9": _Kind("dominant-ninth"),
    "13": _Kind("dominant-13th"),
    "7alt": _Kind("dominant"),
    "sus2": _Kind("suspended-second"),
    "sus4": _Kind("suspended-fourth"),
    "7sus4": _Kind("dominant", _SUSPENDED),
    "9sus4": _Kind("dominant-ninth", _SUSPENDED),
    "13sus4": _Kind("dominant-13th", _SUSPENDED[:1]),
    "m7b5": _Kind("half-diminished"),
    "m9b5": _Kind("half-diminished", _added(9)),
    "m11b5": _Kind("half-diminished", _added(11)),
    "°": _Kind("diminished"),
    "°7": _Kind("diminished-seventh"),
    "+": _Kind("augmented"),
}  # fmt: skip


def harmony(chord: Chord, symbol: str, *, room: str = "") -> Element:
    """The `harmony` element of a chord.

    Args:
        chord: the chord.
        symbol: as it is shown, such as `Bb13(b9)/Eb`: its ending is the kind's text.
        room: text behind it, for an engraver that is to leave room there.
    """
    element = Element("harmony", {"print-frame": "no"})
    named, _, over = symbol.partition("/") if "6/9" not in symbol else _split_six_nine(symbol)
    root_tone, ending = _root_of(named)
    root = SubElement(element, "root")
    _tone(root, "root", root_tone)
    kind = _KINDS[chord.quality]
    SubElement(element, "kind", {"text": ending + room}).text = kind.value
    if over:
        _tone(SubElement(element, "bass"), "bass", Tone.from_text(over))
    tensions = chord.alterations or (_ALTERED if chord.quality == "7alt" else ())
    held = _HELD.get(kind.value.rpartition("-")[2], ())
    written = [_degree_of(text, held) for text in tensions]
    for value, alter, how in (*kind.degrees, *written):
        degree = SubElement(element, "degree", {"print-object": "no"})
        SubElement(degree, "degree-value").text = str(value)
        SubElement(degree, "degree-alter").text = str(alter)
        SubElement(degree, "degree-type").text = how
    return element


def _split_six_nine(symbol: str) -> tuple[str, str, str]:
    head, _, tail = symbol.partition("6/9")
    ending, slash, over = tail.partition("/")
    return f"{head}6/9{ending}", slash, over


def _root_of(named: str) -> tuple[Tone, str]:
    end = 1
    while named[end : end + 1] in {"b", "#"}:
        end += 1
    return Tone.from_text(named[:end]), named[end:]


def _degree_of(text: str, held: tuple[int, ...]) -> tuple[int, int, str]:
    value, alter = read_degree(text)
    return value, alter, "alter" if value in (5, *held) else "add"


def _tone(parent: Element, name: str, tone: Tone) -> None:
    SubElement(parent, f"{name}-step").text = tone.letter
    if tone.alter:
        SubElement(parent, f"{name}-alter").text = str(tone.alter)
