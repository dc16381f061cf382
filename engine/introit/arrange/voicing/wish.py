"""What a voicing must do where it stands, beside being the chord."""

from __future__ import annotations

from typing import NamedTuple


class Wish(NamedTuple):
    """Asked of one voicing; hashable, so that candidates are found once.

    Attributes:
        ceiling: highest MIDI note that its top voice may be.
        floor: lowest MIDI note that its lowest voice may be.
        over: MIDI notes of the melody that sound above it: no voice lies a minor ninth under one of them.
        top: pitch classes of which its top voice must be one; empty for any.
        families: families that are preferred; empty for all alike.
        kind: `comp`, or `bell` for a grip whose neighbours ring in pairs.
        bass_in_grip: True where its lowest voice must be the chord's bass note (a guitar alone).
        most_voices: 3 to 6.
        rest_before: True where the hand has a rest before it, in which it may jump.
        without: pitch classes left out of it, guide tones too: they would clash with the tone on top.
        with_: pitch classes that tell the chord in their place, as guide tones do.
        lowest_top: lowest MIDI note that is good as its top voice: of a tone on top, or of a peak.
        open_strings: pitch classes of open strings that may ring in a `bell` grip.
        adjacent: True where neighbours in pitch lie on neighbouring strings in a `bell` grip, for a pick.
        tense: how many tensions its texture has there in a grip of its own; None where it takes the voicing.
        whole: True where it rings alone: it holds its guide tones, before tensions that the chord names.
    """

    ceiling: int
    floor: int
    over: frozenset[int] = frozenset()
    top: frozenset[int] = frozenset()
    families: tuple[str, ...] = ()
    kind: str = "comp"
    bass_in_grip: bool = False
    most_voices: int = 4
    rest_before: bool = False
    without: frozenset[int] = frozenset()
    with_: frozenset[int] = frozenset()
    open_strings: frozenset[int] = frozenset()
    lowest_top: int = 0
    adjacent: bool = False
    tense: int | None = None
    whole: bool = False
