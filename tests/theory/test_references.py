"""Our chord symbols against three general libraries, for every quality that each of them knows.

The rule: required tones lie within the reference, and the reference within required, optional and avoided
tones, since references stack every third (their G13 holds an eleventh, their G7(b13) a fifth). Each library's
whole table is walked; what we do not read is listed by name, so that a gap can neither open nor close unseen.
"""

import mir_eval.chord
import pytest
from music21 import harmony
from pychord import Chord as PychordChord
from pychord.constants.qualities import DEFAULT_QUALITIES

from introit.errors import NotationError
from introit.theory.chord import Chord, ChordTone, chord_from_symbol
from introit.theory.pitch import Tone
from introit.theory.quality import QUALITIES

ROOTS = ("C", "Eb", "F#", "Ab", "B")

# Power chords, omitted tones, natural elevenths over a major third, stacks of thirds beyond the
# ninth on augmented,
# minor-major and half-diminished chords, and chords of older styles: not in our table.
NOT_OURS = {
    "pychord": {
        "5", "no5", "omit5", "m(no5)", "m(omit5)", "add4", "majadd4", "Madd4", "madd4", "add11", "4",
        "maj7add11", "M7add11",
    },
    "music21": {
        "ob9", "dimb9", "M11", "Maj11", "mM11", "minmaj11", "+M11", "augmaj11", "+11", "aug11", "mM13",
        "minmaj13", "+M13", "augmaj13", "+13", "aug13", "ø13", "N6", "It+6", "It", "Fr+6", "Fr", "Gr+6",
        "Ger", "pedal", "power", "tristan",
    },
    "mir_eval": {"1", "5"},
}  # fmt: skip

# Its own shorthand (Harte 2010) -> ours; the rest is written alike.
HARTE = {
    "min": "m", "hdim7": "m7b5", "minmaj7": "m(maj7)", "min7": "m7", "maj6": "6", "min6": "m6",
    "min9": "m9", "min11": "m11", "min13": "m13", "maj6(9)": "6/9", "min6(9)": "m6/9", "min7(11)": "m7(11)",
    "minmaj7(9)": "m(maj9)", "min(9)": "m(add9)", "hdim7(9)": "m9b5", "hdim7(11)": "m11b5",
    "sus4(b7)": "7sus4",
    "sus4(b7,9)": "9sus4", "sus4(b7,b9)": "7sus4(b9)", "sus4(b7,13)": "13sus4",
}  # fmt: skip
HARTE_WITH_TENSIONS = (
    "maj6(9)", "min6(9)", "min7(11)", "minmaj7(9)", "min(9)", "hdim7(9)", "hdim7(11)", "sus4(b7)",
    "sus4(b7,9)", "sus4(b7,b9)", "sus4(b7,13)", "7(b9)", "7(#9)", "7(#11)", "7(b13)", "7(b9,b13)",
    "7(#9,b13)",
    "13(b9)", "13(#11)", "maj7(#11)", "9(#11)", "maj9(#11)",
)  # fmt: skip


def pitch_classes(tones: tuple[ChordTone, ...]) -> set[int]:
    return {tone.pitch_class for tone in tones}


def fits(chord: Chord, reference: set[int]) -> bool:
    required = pitch_classes(chord.required)
    allowed = required | pitch_classes(chord.optional) | pitch_classes(chord.avoid)
    return required <= reference <= allowed


def from_pychord(root: str, ending: str) -> set[int]:
    return {Tone.from_text(name).pitch_class for name in PychordChord(root + ending).components()}


def from_music21(root: str, ending: str) -> set[int]:
    return {pitch.pitchClass for pitch in harmony.ChordSymbol(root.replace("b", "-") + ending).pitches}


def from_mir_eval(root: str, ending: str) -> set[int]:
    above, bitmap, _ = mir_eval.chord.encode(f"{root}:{ending}", reduce_extended_chords=True)
    return {(above + semitones) % 12 for semitones, sounds in enumerate(bitmap) if sounds}


PYCHORD = [ending for ending, _ in DEFAULT_QUALITIES]
MUSIC21 = [ending for _, endings in harmony.CHORD_TYPES.values() for ending in endings]
MIR_EVAL = [ending for ending in mir_eval.chord.QUALITIES if ending] + list(HARTE_WITH_TENSIONS)


def readable(library: str, endings: list[str]) -> list[str]:
    return [ending for ending in endings if ending not in NOT_OURS[library]]


@pytest.mark.parametrize("ending", readable("pychord", PYCHORD))
def test_against_pychord(ending: str) -> None:
    assert all(fits(chord_from_symbol(root + ending), from_pychord(root, ending)) for root in ROOTS)


@pytest.mark.parametrize("ending", readable("music21", MUSIC21))
def test_against_music21(ending: str) -> None:
    assert all(fits(chord_from_symbol(root + ending), from_music21(root, ending)) for root in ROOTS)


@pytest.mark.parametrize("ending", readable("mir_eval", MIR_EVAL))
def test_against_mir_eval(ending: str) -> None:
    assert all(
        fits(chord_from_symbol(root + HARTE.get(ending, ending)), from_mir_eval(root, ending))
        for root in ROOTS
    )


@pytest.mark.parametrize(
    ("library", "endings"), [("pychord", PYCHORD), ("music21", MUSIC21), ("mir_eval", MIR_EVAL)]
)
def test_what_is_not_ours_is_refused(library: str, endings: list[str]) -> None:
    assert NOT_OURS[library] <= set(endings)
    for ending in NOT_OURS[library]:
        with pytest.raises(NotationError):
            chord_from_symbol("C" + HARTE.get(ending, ending))


@pytest.mark.parametrize(
    ("ending", "other"),
    [("7", "maj7"), ("m7", "7"), ("m7b5", "m7"), ("7sus4", "7"), ("maj7", "6"), ("7(b9)", "9")],
)
def test_the_rule_can_fail(ending: str, other: str) -> None:
    # Each of these stands a half step away from the chord it is held against.
    assert not fits(chord_from_symbol("C" + ending), from_pychord("C", other))


def test_how_many_endings_were_compared() -> None:
    # Never fewer than when this was written: pychord 1.4.1, music21 10.5.1, mir_eval 0.8.2.
    assert len(readable("pychord", PYCHORD)) >= 91
    assert len(readable("music21", MUSIC21)) >= 66
    assert len(readable("mir_eval", MIR_EVAL)) >= 44


def test_how_many_of_our_qualities_each_library_reaches() -> None:
    reached = {
        "pychord": {chord_from_symbol("C" + ending).quality for ending in readable("pychord", PYCHORD)},
        "music21": {chord_from_symbol("C" + ending).quality for ending in readable("music21", MUSIC21)},
        "mir_eval": {
            chord_from_symbol("C" + HARTE.get(ending, ending)).quality
            for ending in readable("mir_eval", MIR_EVAL)
        },
    }
    assert len(reached["pychord"]) >= 26
    assert len(reached["music21"]) >= 26
    assert len(reached["mir_eval"]) >= 30
    # "Altered" leaves the choice of tensions to the player, so no library spells it.
    assert set(QUALITIES) - set().union(*reached.values()) == {"7alt"}
