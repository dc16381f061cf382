"""The ten progressions, written out by hand as chord names and as pitch classes.

Common practice, no source: the names are what a player would write on a chart. Pitch classes are those of the
tones that make the chord (required), counted from C = 0, with t = 10 and e = 11.
"""

import pytest

from introit.theory.chord import Chord, chord_of
from introit.theory.key import Key
from introit.theory.numeral import Numeral

PROGRESSIONS = {
    "1": "iii11 VI7 ii9 V13(b9) Imaj9 VI7(b13) ii9 V7(b13)",
    "1 minor": "iiiø7 VI7(b9,b13) iiø7 V7(b9,b13) i6/9 VI7(b9,b13) iiø7 V7alt",
    "2": "#ivø7 iv6 iii7 bIII°7 ii7 bIImaj7 Imaj9",
    "3": "ii9 V13 bVImaj9 bIImaj7(#11) Imaj9",
    "3 minor": "iiø7 V7(b9,b13) bVImaj9 bIImaj7(#11) i6/9",
    "4": "iii7/5 VI7(b9)/5 ii7/5 V7 iii7/5 VI7(b9)/5 ii7/5 V13",
    "4 minor": "iiiø7/5 VI7(b9)/5 iiø7/5 V7(b9,b13)",
    "5": "#ivø7 VII7 iiiø7 VI7 iiø7 V7alt Imaj9 V7sus4",
    "5 minor": "#ivø7 VII7 iiiø7 VI7 iiø7 V7alt i6/9 V7sus4(b9)",
    "6": "Imaj7 #i°7 ii7 V7",
    "6 minor": "i6 viø7 iiø7 V7(b9)",
    "7": "bVII7 VI7 ii9 V7(b13) bVII7 VI7 ii9 V7alt",
    "7 minor": "bVII7 VI7(b9) iiø7 V7(b13) bVII7 VI7(b9) iiø7 V7alt",
    "8": "V7sus4 V13 V7sus4 V7alt",
    "8 minor": "V7sus4 V7(b9,b13) V7sus4(b9) V7alt",
    "9": "I6/9 bIII13 bVImaj9 bII13(#11)",
    "9 minor": "i6/9 bIII13 bVImaj9 V7alt",
    "10": "V7sus4(b9) iiø7/5 iv6/5 bVImaj7/5 V7alt",
    "10 mirror": "V9sus4 V13 V7alt",
}

# The same in C major and C minor.
IN_C = {
    "1": "Em11 A7 Dm9 G13(b9) Cmaj9 A7(b13) Dm9 G7(b13)",
    "1 minor": "Em7b5 A7(b9,b13) Dm7b5 G7(b9,b13) Cm6/9 A7(b9,b13) Dm7b5 G7alt",
    "2": "F#m7b5 Fm6 Em7 Eb°7 Dm7 Dbmaj7 Cmaj9",
    "3": "Dm9 G13 Abmaj9 Dbmaj7(#11) Cmaj9",
    "3 minor": "Dm7b5 G7(b9,b13) Abmaj9 Dbmaj7(#11) Cm6/9",
    "4": "Em7/G A7(b9)/G Dm7/G G7 Em7/G A7(b9)/G Dm7/G G13",
    "4 minor": "Em7b5/G A7(b9)/G Dm7b5/G G7(b9,b13)",
    "5": "F#m7b5 B7 Em7b5 A7 Dm7b5 G7alt Cmaj9 G7sus4",
    "5 minor": "F#m7b5 B7 Em7b5 A7 Dm7b5 G7alt Cm6/9 G7sus4(b9)",
    "6": "Cmaj7 C#°7 Dm7 G7",
    "6 minor": "Cm6 Am7b5 Dm7b5 G7(b9)",
    "7": "Bb7 A7 Dm9 G7(b13) Bb7 A7 Dm9 G7alt",
    "7 minor": "Bb7 A7(b9) Dm7b5 G7(b13) Bb7 A7(b9) Dm7b5 G7alt",
    "8": "G7sus4 G13 G7sus4 G7alt",
    "8 minor": "G7sus4 G7(b9,b13) G7sus4(b9) G7alt",
    "9": "C6/9 Eb13 Abmaj9 Db13(#11)",
    "9 minor": "Cm6/9 Eb13 Abmaj9 G7alt",
    "10": "G7sus4(b9) Dm7b5/G Fm6/G Abmaj7/G G7alt",
    "10 mirror": "G9sus4 G13 G7alt",
}

PITCH_CLASSES_IN_C = {
    "1": "479+2 9+1+7 2+5+0+4 7+e+5+8+4 0+4+e+2 9+1+7+5 2+5+0+4 7+e+5+3",
    "1 minor": "4+7+t+2 9+1+7+t+5 2+5+8+0 7+e+5+8+3 0+3+9+2 9+1+7+t+5 2+5+8+0 7+e+5",
    "2": "6+9+0+4 5+8+2 4+7+2 3+6+9+0 2+5+0 1+5+0 0+4+e+2",
    "3": "2+5+0+4 7+e+5+4 8+0+7+t 1+5+0+7 0+4+e+2",
    "3 minor": "2+5+8+0 7+e+5+8+3 8+0+7+t 1+5+0+7 0+3+9+2",
    "4": "4+7+2 9+1+7+t 2+5+0 7+e+5 4+7+2 9+1+7+t 2+5+0 7+e+5+4",
    "4 minor": "4+7+t+2 9+1+7+t 2+5+8+0 7+e+5+8+3",
    "5": "6+9+0+4 e+3+9 4+7+t+2 9+1+7 2+5+8+0 7+e+5 0+4+e+2 7+0+5",
    "5 minor": "6+9+0+4 e+3+9 4+7+t+2 9+1+7 2+5+8+0 7+e+5 0+3+9+2 7+0+5+8",
    "6": "0+4+e 1+4+7+t 2+5+0 7+e+5",
    "6 minor": "0+3+9 9+0+3+7 2+5+8+0 7+e+5+8",
    "7": "t+2+8 9+1+7 2+5+0+4 7+e+5+3 t+2+8 9+1+7 2+5+0+4 7+e+5",
    "7 minor": "t+2+8 9+1+7+t 2+5+8+0 7+e+5+3 t+2+8 9+1+7+t 2+5+8+0 7+e+5",
    "8": "7+0+5 7+e+5+4 7+0+5 7+e+5",
    "8 minor": "7+0+5 7+e+5+8+3 7+0+5+8 7+e+5",
    "9": "0+4+9+2 3+7+1+0 8+0+7+t 1+5+e+7+t",
    "9 minor": "0+3+9+2 3+7+1+0 8+0+7+t 7+e+5",
    "10": "7+0+5+8 2+5+8+0 5+8+2 8+0+7 7+e+5",
    "10 mirror": "7+0+5+9 7+e+5+4 7+e+5",
}

# Elsewhere, written out by hand as well; a borrowed root in its plainest name (the bII of Db is D).
ELSEWHERE = {
    ("Db", "2"): "Gm7b5 Gbm6 Fm7 E°7 Ebm7 Dmaj7 Dbmaj9",
    ("Db", "3"): "Ebm9 Ab13 Amaj9 Dmaj7(#11) Dbmaj9",
    ("Db", "9"): "Db6/9 E13 Amaj9 D13(#11)",
    ("Gb", "1"): "Bbm11 Eb7 Abm9 Db13(b9) Gbmaj9 Eb7(b13) Abm9 Db7(b13)",
    ("Gb", "3"): "Abm9 Db13 Dmaj9 Gmaj7(#11) Gbmaj9",
    ("Gb", "5"): "Cm7b5 F7 Bbm7b5 Eb7 Abm7b5 Db7alt Gbmaj9 Db7sus4",
    ("F#", "1"): "A#m11 D#7 G#m9 C#13(b9) F#maj9 D#7(b13) G#m9 C#7(b13)",
    ("F#", "2"): "Cm7b5 Bm6 A#m7 A°7 G#m7 Gmaj7 F#maj9",
    ("F#", "9"): "F#6/9 A13 Dmaj9 G13(#11)",
    ("Bb", "2"): "Em7b5 Ebm6 Dm7 Db°7 Cm7 Bmaj7 Bbmaj9",
    ("Eb", "4"): "Gm7/Bb C7(b9)/Bb Fm7/Bb Bb7 Gm7/Bb C7(b9)/Bb Fm7/Bb Bb13",
    ("A", "7"): "G7 F#7 Bm9 E7(b13) G7 F#7 Bm9 E7alt",
    ("C# minor", "3 minor"): "D#m7b5 G#7(b9,b13) Amaj9 Dmaj7(#11) C#m6/9",
    ("C# minor", "5 minor"): "Gm7b5 C7 Fm7b5 Bb7 D#m7b5 G#7alt C#m6/9 G#7sus4(b9)",
    ("C# minor", "6 minor"): "C#m6 A#m7b5 D#m7b5 G#7(b9)",
    ("G# minor", "3 minor"): "A#m7b5 D#7(b9,b13) Emaj9 Amaj7(#11) G#m6/9",
    ("G# minor", "9 minor"): "G#m6/9 B13 Emaj9 D#7alt",
    ("Ab minor", "3 minor"): "Bbm7b5 Eb7(b9,b13) Fbmaj9 Amaj7(#11) Abm6/9",
    ("Ab minor", "6 minor"): "Abm6 Fm7b5 Bbm7b5 Eb7(b9)",
    ("Eb minor", "8 minor"): "Bb7sus4 Bb7(b9,b13) Bb7sus4(b9) Bb7alt",
    ("F# minor", "3 minor"): "G#m7b5 C#7(b9,b13) Dmaj9 Gmaj7(#11) F#m6/9",
    ("G minor", "10 mirror"): "D9sus4 D13 D7alt",
}


def played(progression: str, key: str) -> list[Chord]:
    numerals = [Numeral.from_text(text) for text in PROGRESSIONS[progression].split()]
    following = [*numerals[1:], None]
    pairs = zip(numerals, following, strict=True)
    return [chord_of(numeral, Key.from_text(key), following=after) for numeral, after in pairs]


def home(progression: str) -> str:
    return "C minor" if " " in progression else "C"


@pytest.mark.parametrize("progression", PROGRESSIONS)
def test_names_in_c(progression: str) -> None:
    assert [chord.symbol for chord in played(progression, home(progression))] == IN_C[progression].split()


@pytest.mark.parametrize("progression", PROGRESSIONS)
def test_pitch_classes_in_c(progression: str) -> None:
    digits = "0123456789te"
    expected = [
        {digits.index(char) for char in word if char != "+"}
        for word in PITCH_CLASSES_IN_C[progression].split()
    ]
    chords = played(progression, home(progression))
    assert [{tone.pitch_class for tone in chord.required} for chord in chords] == expected


@pytest.mark.parametrize(("key", "progression"), ELSEWHERE)
def test_names_elsewhere(key: str, progression: str) -> None:
    assert [chord.symbol for chord in played(progression, key)] == ELSEWHERE[key, progression].split()


def test_the_bass_falls_by_half_steps() -> None:
    # The second progression: #4 4 3 b3 2 b2 1.
    for key in ("C", "Db", "F#", "Gb", "B"):
        tonic = Key.from_text(key).tonic.pitch_class
        heights = [(chord.bass.pitch_class - tonic) % 12 for chord in played("2", key)]
        assert heights == [6, 5, 4, 3, 2, 1, 0]


def test_targets_of_the_chain_fall_by_step() -> None:
    # The fifth progression: minor two-fives into three, two and one.
    chords = played("5", "C")
    assert [(chord.root.pitch_class + 5) % 12 for chord in chords[1:6:2]] == [4, 2, 0]
    assert [str(chords[index + 1].root) for index in (1, 3)] == ["E", "D"]


# Progressions as printed elsewhere, with where: SE2 = music.stackexchange.com/a/64394 (in D); TA2 =
# segmentmultimedia.com, lesson 3; MI = musicogram.com, minor turnaround; CT = encyclopedia article on this
# chromatic turnaround, citing Rawlins & Bahha 2005 p. 103; BD = encyclopedia article "Backdoor
# progression"; TP2 = thejazzpianosite.com, minor ii-V-I; OMT = Open Music Theory, Substitutions (the chain;
# its spelling from memory). Printed in numerals; the names in a key are ours but for SE2, which prints
# both.
PRINTED = [
    ("SE2", "#ivø7 iv iii biii ii V7 I", "D", "G#m7b5 Gm F#m Fm Em A7 D"),
    ("TA2", "I vi ii V", "C", "C Am Dm G"),
    ("TA2", "I VI7 ii V", "C", "C A7 Dm G"),
    ("TA2", "iii VI7 ii V", "C", "Em A7 Dm G"),
    ("MI", "i bVImaj7 iiø7 V7", "C minor", "Cm Abmaj7 Dm7b5 G7"),
    ("CT", "I bIIImaj7 bVImaj7 bIImaj7", "C", "C Ebmaj7 Abmaj7 Dbmaj7"),
    ("BD", "iv7 bVII7 I", "C", "Fm7 Bb7 C"),
    ("TP2", "iiø7 V7alt Imaj7", "C", "Dm7b5 G7alt Cmaj7"),
    ("OMT", "III7 VI7 II7 V7", "C", "E7 A7 D7 G7"),
]


@pytest.mark.parametrize(("source", "numerals", "key", "symbols"), PRINTED)
def test_printed_progressions(source: str, numerals: str, key: str, symbols: str) -> None:
    made = [chord_of(Numeral.from_text(text), Key.from_text(key)).symbol for text in numerals.split()]
    assert made == symbols.split(), source


def test_a_tritone_substitute_lies_a_half_step_above_its_target() -> None:
    # Open Music Theory, Substitutions; Watkins, Fundamentals of Jazz Improvisation: bII7 for V7, same
    # guide tones.
    for key in ("C", "Eb", "F#", "A minor", "G# minor"):
        home_key = Key.from_text(key)
        dominant, substitute = (chord_of(Numeral.from_text(text), home_key) for text in ("V7", "bII7"))
        assert (substitute.root.pitch_class - home_key.tonic.pitch_class) % 12 == 1
        assert {tone.pitch_class for tone in substitute.guide_tones} == {
            tone.pitch_class for tone in dominant.guide_tones
        }
