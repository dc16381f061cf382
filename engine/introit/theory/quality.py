"""The one table of chord qualities. Numerals, chord symbols, chords and their tensions are all read from it.

A quality is named by its plain chord-symbol ending (`m7`, `maj7`, `7sus4`, `m7b5`, `°7`); a numeral writes
the same quality with its case doing the work of the `m` (`ii7`, `I(maj7)`). Degrees are named against the
major scale of the chord's root: `b3`, `b7`, `bb7`, `13`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum


class Family(StrEnum):
    """What kind of chord a quality is; it decides which tensions and scales are looked at."""

    MAJOR = "major"
    MINOR = "minor"
    DOMINANT = "dominant"
    SUSPENDED = "suspended"
    HALF_DIMINISHED = "half-diminished"
    DIMINISHED = "diminished"
    AUGMENTED = "augmented"


class Case(StrEnum):
    """How the Roman letters of a numeral with this quality are written."""

    UPPER = "upper"
    LOWER = "lower"
    EITHER = "either"


@dataclass(frozen=True, slots=True)
class Quality:
    """One row of the table.

    Attributes:
        name: plain chord-symbol ending.
        family: its family.
        numeral: ending of a numeral with this quality.
        case: of the numeral's letters.
        required: degrees without which it is not this chord.
        optional: chord members that may be left out (the natural fifth, the ninth under a thirteenth).
        written: other chord-symbol endings that mean the same.
    """

    name: str
    family: Family
    numeral: str
    case: Case
    required: tuple[str, ...]
    optional: tuple[str, ...] = ()
    written: tuple[str, ...] = ()

    @property
    def has_seventh(self) -> bool:
        """True with a seventh of any kind."""
        return any(degree.endswith("7") for degree in self.required)


def _row(name: str, family: Family, *, case: Case, numeral: str, tones: str, also: str = "") -> Quality:
    required, _, optional = tones.partition("|")
    return Quality(
        name, family, numeral, case, tuple(required.split()), tuple(optional.split()), tuple(also.split())
    )


def _major(name: str, tones: str, also: str = "") -> Quality:
    return _row(name, Family.MAJOR, case=Case.UPPER, numeral=name, tones=tones, also=also)


def _minor(name: str, tones: str, also: str = "") -> Quality:
    return _row(name, Family.MINOR, case=Case.LOWER, numeral=name[1:], tones=tones, also=also)


def _dominant(name: str, tones: str, also: str = "") -> Quality:
    return _row(name, Family.DOMINANT, case=Case.UPPER, numeral=name, tones=tones, also=also)


def _suspended(name: str, tones: str, also: str = "") -> Quality:
    return _row(name, Family.SUSPENDED, case=Case.EITHER, numeral=name, tones=tones, also=also)


def _half_diminished(name: str, numeral: str, tones: str, also: str = "") -> Quality:
    return _row(name, Family.HALF_DIMINISHED, case=Case.EITHER, numeral=numeral, tones=tones, also=also)


_ROWS = (
    _major("", "1 3 5", "maj ma M"),
    _major("6", "1 3 6 | 5", "maj6 ma6 M6"),
    _major("6/9", "1 3 6 9 | 5", "69 maj6/9"),
    _major("add9", "1 3 9 | 5", "(add9) add2 2"),
    _major("maj7", "1 3 7 | 5", "ma7 M7 Maj7 Ma7 Δ7 Δ"),
    _major("maj9", "1 3 7 9 | 5", "ma9 M9 Maj9 Δ9"),
    _major("maj13", "1 3 7 13 | 5 9", "ma13 M13 Maj13 Δ13"),
    _minor("m", "1 b3 5", "mi min -"),
    _minor("m6", "1 b3 6 | 5", "mi6 min6 -6"),
    _minor("m6/9", "1 b3 6 9 | 5", "m69 mi69 min6/9 min69 -6/9 -69"),
    _minor("m(add9)", "1 b3 9 | 5", "madd9 minadd9"),
    _minor("m7", "1 b3 b7 | 5", "mi7 min7 -7"),
    _minor("m9", "1 b3 b7 9 | 5", "mi9 min9 -9"),
    _minor("m11", "1 b3 b7 11 | 5", "mi11 min11 -11"),
    _minor("m13", "1 b3 b7 13 | 5 9", "mi13 min13 -13"),
    _minor("m(maj7)", "1 b3 7 | 5", "mmaj7 mM7 mΔ7 mΔ min(maj7) minmaj7 -(maj7) -maj7 -M7 -Δ7 -Δ m#7"),
    _minor("m(maj9)", "1 b3 7 9 | 5", "mmaj9 mM9 mΔ9 min(maj9) minmaj9 -(maj9) -maj9 -M9 -Δ9"),
    _dominant("7", "1 3 b7 | 5", "dom7"),
    _dominant("9", "1 3 b7 9 | 5", "dom9"),
    _dominant("13", "1 3 b7 13 | 5 9", "dom13"),
    _dominant("7alt", "1 3 b7", "alt 7(alt) 7altered"),
    _suspended("sus2", "1 2 5", ""),
    _suspended("sus4", "1 4 5", "sus"),
    _suspended("7sus4", "1 4 b7 | 5", "7sus"),
    _suspended("9sus4", "1 4 b7 9 | 5", "9sus 11 dom11"),
    _suspended("13sus4", "1 4 b7 13 | 5 9", "13sus"),
    _half_diminished("m7b5", "ø7", "1 b3 b5 b7", "ø7 ø min7b5 mi7b5 -7b5"),
    _half_diminished("m9b5", "ø9", "1 b3 b5 b7 9", "ø9 min9b5 mi9b5 -9b5"),
    _half_diminished("m11b5", "ø11", "1 b3 b5 b7 11", "ø11 min11b5 mi11b5 -11b5"),
    _row("°", Family.DIMINISHED, case=Case.EITHER, numeral="°", tones="1 b3 b5", also="o dim"),
    _row("°7", Family.DIMINISHED, case=Case.EITHER, numeral="°7", tones="1 b3 b5 bb7", also="o7 dim7"),
    _row("+", Family.AUGMENTED, case=Case.UPPER, numeral="+", tones="1 3 #5", also="aug"),
)

QUALITIES: dict[str, Quality] = {row.name: row for row in _ROWS}
"""Every quality by its name."""

ALTERATIONS: dict[Family, tuple[str, ...]] = {
    Family.MAJOR: ("b5", "#5", "9", "#11", "13"),
    Family.MINOR: ("b5", "#5", "9", "11", "b13", "13"),
    Family.DOMINANT: ("b5", "#5", "b9", "9", "#9", "#11", "b13", "13"),
    Family.SUSPENDED: ("b9", "9", "#9", "b13", "13"),
    Family.HALF_DIMINISHED: ("b9", "9", "11", "b13"),
    Family.DIMINISHED: ("9", "11", "b13"),
    Family.AUGMENTED: ("9",),
}
"""Tensions and altered fifths that may be written in brackets after a quality of each family."""

ABSORBED: dict[tuple[str, str], str] = {
    ("", "#5"): "+",
    ("", "9"): "add9",
    ("6", "9"): "6/9",
    ("maj7", "9"): "maj9",
    ("maj7", "13"): "maj13",
    ("maj9", "13"): "maj13",
    ("m", "b5"): "°",
    ("m", "9"): "m(add9)",
    ("m6", "9"): "m6/9",
    ("m7", "b5"): "m7b5",
    ("m9", "b5"): "m9b5",
    ("m11", "b5"): "m11b5",
    ("m7", "9"): "m9",
    ("m7", "11"): "m11",
    ("m7", "13"): "m13",
    ("m9", "13"): "m13",
    ("m(maj7)", "9"): "m(maj9)",
    ("m7b5", "9"): "m9b5",
    ("m7b5", "11"): "m11b5",
    ("7", "9"): "9",
    ("7", "13"): "13",
    ("9", "13"): "13",
    ("7sus4", "9"): "9sus4",
    ("7sus4", "13"): "13sus4",
    ("9sus4", "13"): "13sus4",
}
"""A quality with a bracketed tension that together have a name of their own: `7(9)` is `9`."""

_WITH_ALTERATION = {
    "dom7dim5": ("7", "b5"),
    "+7": ("7", "#5"), "aug7": ("7", "#5"), "+9": ("9", "#5"), "aug9": ("9", "#5"),
    "+maj7": ("maj7", "#5"), "+M7": ("maj7", "#5"), "augmaj7": ("maj7", "#5"),
    "+maj9": ("maj9", "#5"), "+M9": ("maj9", "#5"), "augmaj9": ("maj9", "#5"),
}  # fmt: skip

_DIMINISHED_WITH_TENSION = {
    f"{sign}{tension}": ("°7", tension) for sign in ("°", "o", "dim") for tension in ("9", "11")
}
_MINOR_SIGN = re.compile(r"^(?:min|mi|m(?=$|[^a])|-)")


def symbol_endings() -> dict[str, tuple[str, str]]:
    """Every chord-symbol ending that can be read -> quality's name and the alteration it brings or ''."""
    plain = {written: (row.name, "") for row in _ROWS for written in (row.name, *row.written)}
    return plain | _WITH_ALTERATION | _DIMINISHED_WITH_TENSION


def small_endings() -> dict[str, tuple[str, str]]:
    """Every ending of a small numeral: minor ones with or without their `m`, ø, ° and sus."""
    endings: dict[str, tuple[str, str]] = dict(_DIMINISHED_WITH_TENSION)
    for row in _ROWS:
        if row.case is Case.UPPER:
            continue
        for written in (row.numeral, row.name, *row.written):
            if row.family is Family.SUSPENDED and "sus" not in written:
                continue  # V11 is a suspended dominant, ii11 a minor eleventh
            endings[written] = (row.name, "")
            endings.setdefault(_MINOR_SIGN.sub("", written), (row.name, ""))
    return endings
