"""Keys: their signatures and how their degrees are spelled.

Degrees count from the major scale of the tonic, in minor too. Notes of the key are spelled by its signature;
any other takes its plainest name (fewest accidentals), so the bII of Db is D and not Ebb. Only keys that
players use exist: no D# minor, no C# major. Gb and F# major, and G# and Ab minor, are both there, as the
player names them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from introit.errors import NotationError
from introit.theory.pitch import NATURALS, Tone, read_degree, read_tone


class Mode(StrEnum):
    """The mode of a key."""

    MAJOR = "major"
    MINOR = "minor"


_MAJOR_SIGNATURES = {
    "Gb": -6, "Db": -5, "Ab": -4, "Eb": -3, "Bb": -2, "F": -1, "C": 0,
    "G": 1, "D": 2, "A": 3, "E": 4, "B": 5, "F#": 6,
}  # fmt: skip
_MINOR_SIGNATURES = {
    "Ab": -7, "Eb": -6, "Bb": -5, "F": -4, "C": -3, "G": -2, "D": -1,
    "A": 0, "E": 1, "B": 2, "F#": 3, "C#": 4, "G#": 5,
}  # fmt: skip
_SIGNATURES = {Mode.MAJOR: _MAJOR_SIGNATURES, Mode.MINOR: _MINOR_SIGNATURES}
_CALLED_BY_A_NOTE = {
    Mode.MAJOR: ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"),
    Mode.MINOR: ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"),
}
_SHARPS_IN_ORDER = "FCGDAEB"
_MODE_WORDS = {
    "": Mode.MAJOR, "major": Mode.MAJOR, "maj": Mode.MAJOR,
    "minor": Mode.MINOR, "min": Mode.MINOR, "m": Mode.MINOR, "-": Mode.MINOR,
}  # fmt: skip
_SPELLED_SIGN = re.compile(r"\s*[- ]\s*(flat|sharp)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Key:
    """A key.

    Attributes:
        tonic: its first degree, as the player names it.
        mode: major or minor.
    """

    tonic: Tone
    mode: Mode

    def __post_init__(self) -> None:
        if str(self.tonic) not in _SIGNATURES[self.mode]:
            raise ValueError(f"no key of {self.tonic} {self.mode}; there are {_key_names(self.mode)}")

    @property
    def signature(self) -> int:
        """Sharps in the signature, 1 to 6; flats below zero, -1 to -7."""
        return _SIGNATURES[self.mode][str(self.tonic)]

    @property
    def is_minor(self) -> bool:
        """True in minor."""
        return self.mode is Mode.MINOR

    def __str__(self) -> str:
        return f"{self.tonic} minor" if self.is_minor else str(self.tonic)

    @classmethod
    def from_text(cls, text: str) -> Key:
        """Reads `Bb`, `Bb major`, `Bb minor`, `Bbm`, `C# minor`, `B flat minor`; the letter may be small.

        Raises:
            NotationError: if the text is not a key, or is one that nobody reads from (D# minor): it names
                those allowed and the same key under its usual name.
        """
        plain = _SPELLED_SIGN.sub(lambda sign: "b" if sign[1].lower() == "flat" else "#", text.strip())
        try:
            tonic, end = read_tone(plain, 0)
        except NotationError as error:
            reason = "a key is a note name, then `minor` (or `m`) where it is minor: Bb, C# minor, Fm"
            raise NotationError(text, 0, reason) from error
        word = plain[end:].strip()
        mode = _MODE_WORDS.get(word if word == "m" else word.lower())
        if mode is None or word == "M":
            place = text.find(word) if word else 0
            raise NotationError(
                text, max(place, 0), f"after the note of a key comes major or minor, not {word!r}"
            )
        return cls._named(text, tonic, mode)

    @classmethod
    def _named(cls, text: str, tonic: Tone, mode: Mode) -> Key:
        if str(tonic) in _SIGNATURES[mode]:
            return cls(tonic, mode)
        meant = cls.from_pitch_class(tonic.pitch_class, mode)
        reason = (
            f"there is no key of {tonic} {mode}: keys in {mode} are {_key_names(mode)}. "
            f"Did you mean {str(meant)!r}?"
        )
        raise NotationError(text, 0, reason)

    @classmethod
    def from_pitch_class(cls, pitch_class: int, mode: Mode) -> Key:
        """The key that a MIDI note names: Gb rather than F# in major; C#, F#, G#, Eb and Bb in minor.

        Args:
            pitch_class: C = 0; a MIDI note number will do.
            mode: of the key.
        """
        return cls(Tone.from_text(_CALLED_BY_A_NOTE[mode][pitch_class % 12]), mode)

    def degree(self, number: int, alter: int = 0) -> Tone:
        """A degree of the key, counted from the major scale of the tonic, in minor too.

        Args:
            number: 1 to 7.
            alter: semitones that it is raised, or lowered below zero.

        Raises:
            ValueError: if the number is not 1 to 7.
        """
        if not 1 <= number <= 7:
            raise ValueError(f"a degree of a key is 1 to 7, not {number!r}")
        return self.plainest(self.tonic.up(number, alter))

    def degree_from_text(self, text: str) -> Tone:
        """A degree written as text, such as `5` or `b6`.

        Raises:
            NotationError: if it is not a degree 1 to 7.
        """
        number, alter = read_degree(text)
        if number > 7:
            raise NotationError(text, 0, "a degree of a key is 1 to 7")
        return self.degree(number, alter)

    def holds(self, tone: Tone) -> bool:
        """True when the tone, spelled so, belongs to the key's signature."""
        return tone.alter == self._signed(tone.letter)

    def plainest(self, tone: Tone) -> Tone:
        """A tone as it is read in this key: as the signature has it, else with the fewest accidentals."""
        if self.holds(tone):
            return tone
        return min(tone.names(), key=lambda name: (abs(name.alter), name != tone))

    def _signed(self, letter: str) -> int:
        if self.signature >= 0:
            return int(letter in _SHARPS_IN_ORDER[: self.signature])
        return -int(letter in _SHARPS_IN_ORDER[self.signature :])


def keys(mode: Mode) -> tuple[Key, ...]:
    """The twelve keys of a mode as a MIDI note names them, from C up by half steps."""
    return tuple(Key.from_pitch_class(pitch_class, mode) for pitch_class in range(12))


def _key_names(mode: Mode) -> str:
    def height(name: str) -> tuple[int, str]:
        return (NATURALS[name[0]] + name.count("#") - name.count("b")) % 12, name

    return ", ".join(sorted(_SIGNATURES[mode], key=height))
