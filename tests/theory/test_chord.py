import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import NotationError
from introit.theory.chord import Chord, ChordTone, chord_from_symbol, chord_of
from introit.theory.key import Key, Mode, keys
from introit.theory.numeral import ROMAN, Numeral
from introit.theory.pitch import LETTERS, MAJOR_SCALE
from introit.theory.quality import ALTERATIONS, QUALITIES, Case

ALL_KEYS = (
    *keys(Mode.MAJOR),
    *keys(Mode.MINOR),
    Key.from_text("F#"),
    Key.from_text("Ab minor"),
)
ALL_NUMERALS = [
    Numeral(degree, alter, quality.case is not Case.LOWER, name)
    for degree in range(1, 8)
    for alter in (-1, 0, 1)
    for name, quality in QUALITIES.items()
]


DOMINANTS_BESIDE_THEIR_TWO = {("B", 7): "Bb", ("F#", 7): "F", ("G# minor", 2): "Bb"}
"""Unaltered degrees of the signature that give up its name: their two is F, C and F."""


def made_like_a_dominant(numeral: Numeral) -> bool:
    return numeral.alter == 0 and "b3" not in QUALITIES[numeral.quality].required


def names(tones: tuple[ChordTone, ...]) -> list[str]:
    return [tone.name for tone in tones]


def chord(numeral: str, key: str = "C", following: str | None = None) -> Chord:
    after = Numeral.from_text(following) if following else None
    return chord_of(Numeral.from_text(numeral), Key.from_text(key), following=after)


@pytest.mark.parametrize("key", ALL_KEYS, ids=str)
def test_every_chord_is_spelled_from_its_own_root(key: Key) -> None:
    for numeral in ALL_NUMERALS:
        made = chord_of(numeral, key)
        assert (
            made.root.pitch_class
            == (key.tonic.pitch_class + MAJOR_SCALE[numeral.degree - 1] + numeral.alter) % 12
        )
        for tone in (*made.required, *made.optional, *made.avoid):
            letters = LETTERS.index(tone.tone.letter) - LETTERS.index(made.root.letter)
            semitones = MAJOR_SCALE[(tone.degree - 1) % 7] + tone.alter
            assert letters % 7 == (tone.degree - 1) % 7
            assert (tone.pitch_class - made.root.pitch_class) % 12 == semitones % 12


@pytest.mark.parametrize("key", ALL_KEYS, ids=str)
def test_roots_by_signature_or_by_their_plainest_name(key: Key) -> None:
    for numeral in ALL_NUMERALS:
        root = chord_of(numeral, key).root
        same_sound = root.names()
        if made_like_a_dominant(numeral) and (str(key), numeral.degree) in DOMINANTS_BESIDE_THEIR_TWO:
            assert str(root) == DOMINANTS_BESIDE_THEIR_TWO[str(key), numeral.degree]
        elif any(key.holds(name) for name in same_sound):
            written = key.tonic.up(numeral.degree, numeral.alter)
            assert key.holds(root) or not key.holds(written)
        if not key.holds(root):
            assert abs(root.alter) == min(abs(name.alter) for name in same_sound)
            assert abs(root.alter) <= 1


# Common practice, no source: both halves of a two-five are sharp or both are flat.
@pytest.mark.parametrize(
    ("key", "numerals", "symbols"),
    [
        ("F#", "#ivø7 VII7 iiiø7 VI7", "Cm7b5 F7 A#m7b5 D#7"),
        ("B", "#ivø7 VII7 iiiø7 VI7", "Fm7b5 Bb7 D#m7b5 G#7"),
        ("E", "#ivø7 VII7 iiiø7 VI7", "A#m7b5 D#7 G#m7b5 C#7"),
        ("Gb", "#ivø7 VII7 iiiø7 VI7", "Cm7b5 F7 Bbm7b5 Eb7"),
        ("Db", "#ivø7 VII7 iiiø7 VI7", "Gm7b5 C7 Fm7b5 Bb7"),
        ("F#", "viiø7 III7 vi7", "E#m7b5 A#7 D#m7"),  # notes of the key on both sides: the signature's names
        ("B", "V7/iii V7/vi", "Bb7 D#7"),
        ("B", "VII7sus4 VII", "Bb7sus4 Bb"),
        ("E minor", "#ivø7 VII7 iiiø7 VI7", "A#m7b5 D#7 G#m7b5 C#7"),
        ("F# minor", "#ivø7 VII7 iiiø7 VI7", "Cm7b5 F7 A#m7b5 D#7"),
        ("B minor", "#ivø7 VII7 iiiø7 VI7", "Fm7b5 Bb7 D#m7b5 G#7"),
        ("C# minor", "#ivø7 VII7 iiiø7 VI7", "Gm7b5 C7 Fm7b5 Bb7"),
        ("G# minor", "#ivø7 VII7 iiiø7 VI7", "Dm7b5 G7 Cm7b5 F7"),
        ("G# minor", "viø7 II7 V7", "Fm7b5 Bb7 D#7"),
    ],
)
def test_a_two_five_is_sharp_or_flat_as_a_whole(key: str, numerals: str, symbols: str) -> None:
    assert [chord(numeral, key).symbol for numeral in numerals.split()] == symbols.split()


@pytest.mark.parametrize("key", ALL_KEYS, ids=str)
def test_each_pitch_has_one_place(key: Key) -> None:
    for numeral in ALL_NUMERALS:
        made = chord_of(numeral, key)
        groups = [
            {tone.pitch_class for tone in group} for group in (made.required, made.optional, made.avoid)
        ]
        assert sum(map(len, groups)) == len(set().union(*groups))
        assert names(made.required)[0] == "1"
        assert set(made.guide_tones) <= set(made.required)
        scale = {tone.pitch_class for tone in made.scale}
        assert {tone.pitch_class for tone in made.required} <= scale
        assert made.scale[0] == made.root


@pytest.mark.parametrize("key", ALL_KEYS, ids=str)
def test_a_symbol_reads_back_as_the_same_chord(key: Key) -> None:
    for numeral in ALL_NUMERALS:
        made = chord_of(numeral, key)
        again = chord_from_symbol(made.symbol)
        assert (again.root, again.bass, again.quality) == (made.root, made.bass, made.quality)
        assert again.required == made.required
        assert made.symbol.replace("°", "o").isascii()


# Spelling of whole chords (common practice, no source).
@pytest.mark.parametrize(
    ("numeral", "key", "tones"),
    [
        ("bIImaj7", "Db", "D F# C#"),
        ("bII", "Db", "D F# A"),
        ("V7", "C# minor", "G# B# F#"),
        ("VI7", "C", "A C# G"),
        ("bIII°7", "C", "Eb Gb Bbb Dbb"),
        ("#i°7", "C", "C# E G Bb"),
        ("iiø7", "Eb minor", "F Ab Cb Eb"),
        ("iv6", "Gb", "Cb Ebb Ab"),
        ("bII13(#11)", "C", "Db F Cb G Bb"),
        ("bVImaj9", "Ab minor", "Fb Ab Eb Gb"),
        ("V7(b9,b13)", "F minor", "C E Bb Db Ab"),
        ("bVII7", "Db", "B D# A"),
        ("V7/bII", "Db", "A C# G"),
        ("V7/ii", "Bb", "G B F"),
    ],
)
def test_spelling_of_chords(numeral: str, key: str, tones: str) -> None:
    assert [str(tone.tone) for tone in chord(numeral, key).required] == tones.split()


@pytest.mark.parametrize(
    ("numeral", "key", "symbol", "bass"),
    [
        ("ii7/5", "C", "Dm7/G", "G"),
        ("bVImaj7/5", "C", "Abmaj7/G", "G"),
        (
            "bVImaj7/5",
            "Db",
            "Amaj7/G#",
            "G#",
        ),  # the seventh of the chord lies in the bass: spelled with the chord
        # A lowered degree keeps its degree's name where that is one flat, and the key's five its own.
        ("bVImaj7/5", "Eb", "Cbmaj7/Bb", "Bb"),
        ("bVImaj7/5", "Ab", "Fbmaj7/Eb", "Eb"),
        ("bVImaj7/5", "Gb", "Dmaj7/C#", "C#"),
        ("bVImaj7/5", "Bb", "Gbmaj7/F", "F"),
        ("bVImaj7/5", "B", "Gmaj7/F#", "F#"),
        ("bVImaj7/5", "C# minor", "Amaj7/G#", "G#"),
        ("bVImaj7/5", "Eb minor", "Cbmaj7/Bb", "Bb"),
        ("bVImaj7", "Eb", "Bmaj7", "B"),
        ("bVI/1", "Eb", "Cb/Eb", "Eb"),
        ("bVI7/5", "Eb", "B7/Bb", "Bb"),  # no member of the chord: named by the key
        ("iiiø7/5", "C# minor", "Fm7b5/Ab", "Ab"),
        ("iiiø7/5", "G# minor", "Cm7b5/Eb", "Eb"),
        ("VI7(b9)/5", "G# minor", "F7(b9)/Eb", "Eb"),
        ("VI7(b9)/5", "C# minor", "Bb7(b9)/Ab", "Ab"),
        ("V7sus4/5", "Eb", "Bb7sus4", "Bb"),
        ("I6/9/5", "Bb", "Bb6/9/F", "F"),
        ("iiø7/5", "C# minor", "D#m7b5/G#", "G#"),
        ("I/b6", "C", "C/Ab", "Ab"),
        ("V7/5", "C", "G7", "G"),
        ("V7/ii/5", "C", "A7/G", "G"),
        ("i(maj9)", "C minor", "Cm(maj9)", "C"),
        ("vii°", "C", "B°", "B"),
        ("I+", "C", "C+", "C"),
        ("Iadd9", "C", "Cadd9", "C"),
    ],
)
def test_symbols(numeral: str, key: str, symbol: str, bass: str) -> None:
    made = chord(numeral, key)
    assert (made.symbol, str(made.bass)) == (symbol, bass)


# A pedal point is spelled as a slash bass is.
@pytest.mark.parametrize(
    ("numeral", "key", "symbol"),
    [
        ("iiiø7", "C# minor", "Fm7b5/Ab"),
        ("VI7(b9)", "C# minor", "Bb7(b9)/Ab"),
        ("iiø7", "C# minor", "D#m7b5/G#"),
        ("V7(b9,b13)", "C# minor", "G#7(b9,b13)"),
        ("iiiø7", "G# minor", "Cm7b5/Eb"),
        ("bVImaj7", "Eb", "Cbmaj7/Bb"),
        ("bVImaj7", "Db", "Amaj7/G#"),
        ("iii7", "C", "Em7/G"),
        ("ii7/5", "C", "Dm7/G"),
        ("ii7/6", "C", "Dm7/A/G"),
    ],
)
def test_symbols_over_a_pedal_point_on_five(numeral: str, key: str, symbol: str) -> None:
    made = chord(numeral, key)
    five = Key.from_text(key).degree(5)
    assert made.symbol_over(five, lowered=numeral.startswith("b")) == symbol


# Tensions where the chord stands. Columns: numeral, key, available, avoided.
# Sources: AN = encyclopedia article "Avoid note", tables 1 and 2; MN = netplaces.com, "Minor ii-V-I
# progressions"; TR1 = thejazzresource.com, chord tensions; CP = common practice, no source.
TENSIONS = [
    ("Imaj7", "C", "9 13", "11"),  # AN table 1
    ("IVmaj7", "C", "9 #11 13", "11"),  # AN table 1, TR1
    ("ii7", "C", "9 11", "13"),  # AN table 1: the 13 makes a tritone with the b3
    ("iii7", "C", "11", "b9 b13"),  # AN table 1
    ("vi7", "C", "9 11", "b13"),  # AN table 1
    ("V7", "C", "9 13", "11"),  # AN table 1
    ("viiø7", "C", "11 b13", "b9"),  # AN table 1 (Locrian)
    ("i(maj7)", "C minor", "9 11 13", ""),  # AN table 2
    ("V7", "C minor", "b9 #9 b13", "9 13"),  # MN; b13 rather than 13 is CP
    ("bII7", "C", "9 #11 13", "b9"),  # CP
    ("bVII7", "C", "9 #11 13", "b9"),  # CP
    ("VI7", "C", "b9 #9 b13", "9 13"),  # CP; #9 as for any dominant of a minor chord, MN
    ("III7", "C", "b9 #9 b13", "9 13"),  # CP
    ("VII7", "C", "b9 #9 b13", "9 13"),  # CP
    ("bVImaj7", "C", "9 #11 13", "11"),  # TR1: major sevenths that are not the tonic
    ("bIImaj7", "C", "9 #11 13", "11"),  # TR1
]


@pytest.mark.parametrize(("numeral", "key", "available", "avoided"), TENSIONS)
def test_tensions_and_avoid_notes(numeral: str, key: str, available: str, avoided: str) -> None:
    made = chord(numeral, key)
    assert set(names(made.optional)) - {"5"} == set(available.split())
    assert set(avoided.split()) <= set(names(made.avoid))


@pytest.mark.parametrize("key", ALL_KEYS, ids=str)
@pytest.mark.parametrize("target", ["ii", "ii7", "iiø7", "iii", "iiiø7", "vi", "iv", "i6/9", "v"])
def test_a_dominant_of_a_minor_chord_takes_no_plain_9_or_13(key: Key, target: str) -> None:
    goal = Numeral.from_text(target)
    dominant = Numeral.from_text(f"V7/{target}")
    for following in (goal, None):
        made = chord_of(dominant, key, following=following)
        assert {"b9", "b13"} <= set(names(made.optional))
        assert {"9", "13"} <= set(names(made.avoid))


# What is added to a dominant of a minor chord is b9 and b13; what is written is written, and a written 13 or
# suspended 9 brings the natural tension beside it (common practice, no source).
@pytest.mark.parametrize(
    ("quality", "tones", "offered", "scale"),
    [
        ("7", "1 3 b7", "5 b9 b13 #9", "Phrygian dominant"),
        ("7sus4", "1 4 b7", "5 b9 b13", "suspended Phrygian"),
        ("7sus4(b9)", "1 4 b7 b9", "5 b13", "suspended Phrygian"),
        ("9", "1 3 b7 9", "5 b13", "Mixolydian flat 6"),
        ("13", "1 3 b7 13", "5 9", "Mixolydian"),
        ("9sus4", "1 4 b7 9", "5 13", "suspended Mixolydian"),
        ("13sus4", "1 4 b7 13", "5 9", "suspended Mixolydian"),
        ("13(b9)", "1 3 b7 b9 13", "5 #9 #11", "half-whole diminished"),
        ("13sus4(b9)", "1 4 b7 b9 13", "5", "suspended Phrygian natural 6"),
        ("9sus4(b13)", "1 4 b7 9 b13", "", "suspended Aeolian"),
    ],
)
@pytest.mark.parametrize("target", ["i6/9", "i"])
def test_a_dominant_of_a_minor_chord_keeps_what_is_written(
    quality: str, tones: str, offered: str, scale: str, target: str
) -> None:
    made = chord(f"V{quality}", "C minor", target)
    assert names(made.required) == tones.split()
    assert (names(made.optional), made.scale_name) == (offered.split(), scale)


@pytest.mark.parametrize("following", ["V13", "i6/9"])
def test_major_colours_before_a_minor_head_hold_no_flat_tension(following: str) -> None:
    # The mirror of the intro with minor colours: over G just G B C D F A E.
    heard = {"G", "B", "C", "D", "F", "A", "E"}
    for numeral in ("V9sus4", "V13"):
        made = chord(numeral, "C minor", following)
        assert {str(tone.tone) for tone in (*made.required, *made.optional)} <= heard
        assert {str(tone) for tone in made.scale} <= heard


def test_the_half_diminished_two_is_offered_no_ninth_but_keeps_a_written_one() -> None:
    # netplaces.com, "Minor ii-V-I progressions": a natural nine is often used, the flat one mostly in lines.
    for key in ("C", "C minor"):
        assert names(chord("iiø7", key).optional) == ["11", "b13"]
        assert "9" in names(chord("iiø9", key).required)


@pytest.mark.parametrize(
    ("numeral", "following", "available"),
    [
        ("V7", "I", "9 13"),
        ("V7", "i6/9", "b9 b13 #9"),  # the target decides, not the key
        ("VI7", "II7", "9 13"),
        ("VI7", "ii9", "b9 b13 #9"),
        ("VII7", "Imaj9", "b9 b13 #9"),  # answered elsewhere: its own target still colours it
        ("bVII7", "VI7", "9 13 #11"),
        ("bIII7", "ii7", "9 13 #11"),
        ("bIII13", "bVImaj9", "9"),
        ("I7", "IVmaj7", "9 13"),
        ("I7", "iv6", "b9 b13 #9"),
    ],
)
def test_the_following_chord_decides(numeral: str, following: str, available: str) -> None:
    made = chord(numeral, "C", following)
    assert [name for name in names(made.optional) if name != "5"] == available.split()


def test_b13_drops_the_fifth() -> None:
    for written in ("V7(b13)", "VI7(b9,b13)", "V7(#9,b13)"):
        for key in ("C", "C minor"):
            made = chord(written, key)
            assert made.tone("5") is None
            assert "5" in names(made.avoid)


def test_altered_has_no_natural_five_nine_or_thirteen() -> None:
    made = chord("V7alt")
    assert names(made.required) == ["1", "3", "b7"]
    assert set(names(made.optional)) == {"b9", "#9", "#11", "b13"}
    assert {"5", "9", "13"} <= set(names(made.avoid))


def test_three_eleven_is_three_seven_with_the_eleventh_and_no_ninth() -> None:
    made = chord("iii11")
    assert names(made.required) == ["1", "b3", "b7", "11"]
    assert made.tone("9") is None
    assert {"b9", "9"} <= set(names(made.avoid))


@pytest.mark.parametrize("symbol", ["C13", "C13(b9)", "C13(#11)", "Cmaj13"])
def test_a_thirteenth_chord_holds_no_eleventh(symbol: str) -> None:
    made = chord_from_symbol(symbol)
    assert "11" not in names((*made.required, *made.optional))


def test_sus_has_the_fourth_and_not_the_third() -> None:
    made = chord("V7sus4")
    assert names(made.guide_tones) == ["4", "b7"]
    assert "3" in names(made.avoid)
    assert names(chord("V7sus4", "C minor").optional) == ["5", "b9", "b13"]
    assert names(chord("V7sus4(b9)").optional) == ["5", "b13"]


# Guide tones are third and seventh; the sixth stands in for the seventh and the fourth for the third
# (Music Theory for the 21st-Century Classroom, musictheory.pugetsound.edu, 31.7.1 and 31.7.2).
@pytest.mark.parametrize(
    ("symbol", "guides"),
    [("Cmaj7", "3 7"), ("C7", "3 b7"), ("Cm7", "b3 b7"), ("C6/9", "3 6"), ("Cm6", "b3 6"), ("C7sus4", "4 b7"),
     ("C°7", "b3 bb7"), ("Cm7b5", "b3 b7"), ("Cm(maj7)", "b3 7"), ("C", "3"), ("Csus2", "2")],
)  # fmt: skip
def test_guide_tones(symbol: str, guides: str) -> None:
    assert names(chord_from_symbol(symbol).guide_tones) == guides.split()


def test_guide_tones_are_shared_by_dominants_a_tritone_apart() -> None:
    # Same source, 31.7.1.
    for key in ALL_KEYS:
        five, flat_two = (chord_of(Numeral.from_text(text), key) for text in ("V7", "bII7"))
        assert {tone.pitch_class for tone in five.guide_tones} == {
            tone.pitch_class for tone in flat_two.guide_tones
        }


@pytest.mark.parametrize(
    ("symbol", "degree", "found"),
    [
        ("G7(b9)", "9", "b9"), ("G7(b9)", "b9", "b9"), ("G7(b9)", "#11", "#11"), ("Cm7", "3", "b3"),
        ("Cm7", "b3", "b3"), ("C7sus4", "3", "4"), ("C7sus4", "4", "4"), ("C6", "7", "6"), ("C6", "13", "6"),
        ("C13", "6", "13"), ("Cm11", "4", "11"), ("C°7", "7", "bb7"), ("C", "7", None), ("C7alt", "5", None),
        ("C7", "b5", None), ("Cmaj7", "11", None), ("C7", "8", "1"),
    ],
)  # fmt: skip
def test_finding_a_tone(symbol: str, degree: str, found: str | None) -> None:
    tone = chord_from_symbol(symbol).tone(degree)
    assert (tone.name if tone else None) == found


def test_a_tone_that_is_no_degree_is_refused() -> None:
    with pytest.raises(NotationError, match="1 to 13"):
        chord("I").tone("14")


# Chord-scales (any jazz theory book; no source).
@pytest.mark.parametrize(
    ("numeral", "key", "name", "tones"),
    [
        ("Imaj7", "C", "Ionian", "C D E F G A B"),
        ("ii7", "C", "Dorian", "D E F G A B C"),
        ("V7", "C", "Mixolydian", "G A B C D E F"),
        ("V7alt", "C", "altered", "G Ab A# B C# Eb F"),
        ("V7(b9)", "C minor", "Phrygian dominant", "G Ab B C D Eb F"),
        ("V13(b9)", "C", "half-whole diminished", "G Ab A# B C# D E F"),
        ("bVII7", "C", "Lydian dominant", "Bb C D E F G Ab"),
        ("iv6", "C", "melodic minor", "F G Ab Bb C D E"),
        ("viø7", "C minor", "Locrian natural 2", "A B C D Eb F G"),
        ("#i°7", "C", "whole-half diminished", "C# D# E F# G A Bb B#"),
        ("I+", "C", "whole tone", "C D E F# G# Bb"),
    ],
)
def test_chord_scales(numeral: str, key: str, name: str, tones: str) -> None:
    made = chord(numeral, key)
    assert (made.scale_name, [str(tone) for tone in made.scale]) == (name, tones.split())


@pytest.mark.parametrize("quality", QUALITIES)
def test_every_written_tone_is_in_the_scale(quality: str) -> None:
    choices = ALTERATIONS[QUALITIES[quality].family]
    made = 0
    for size in range(4):
        for tensions in itertools.combinations(choices, size):
            bracket = f"({','.join(tensions)})" if tensions else ""
            try:
                written = chord_from_symbol(f"C{quality}{bracket}")
            except NotationError:  # they contradict each other
                continue
            made += 1
            scale = [tone.pitch_class for tone in written.scale]
            assert {tone.pitch_class for tone in written.required} <= set(scale)
            assert scale == sorted(set(scale))
            assert len(scale) in {6, 7, 8}
            assert not set(names(written.avoid)) & {*tensions, *QUALITIES[quality].required} - {"5"}
    assert made > 1


@pytest.mark.parametrize(
    ("numeral", "dominant"),
    [("V7", True), ("V13(b9)", True), ("V7alt", True), ("V9sus4", True), ("Vsus4", False), ("V", False),
     ("Imaj7", False), ("ii7", False), ("viiø7", False), ("vii°7", False)],
)  # fmt: skip
def test_dominants(numeral: str, dominant: bool) -> None:
    assert chord(numeral).is_dominant is dominant


@pytest.mark.parametrize(
    ("text", "position"),
    [("", 0), ("H7", 0), ("C7x", 2), ("Cmaj7/", 5), ("C/H", 1), ("C7(b9", 5), ("C6/9/X", 4)],
)
def test_a_wrong_symbol_points_at_the_character(text: str, position: int) -> None:
    with pytest.raises(NotationError) as caught:
        chord_from_symbol(text)
    assert caught.value.position == position


@given(st.text(alphabet="ABCDEFGabm#♭♯7691135/()ø°sudit+,Δ- ", max_size=12))
def test_no_symbol_crashes_the_reader(text: str) -> None:
    try:
        made = chord_from_symbol(text)
    except NotationError as error:
        place = error.position
    else:
        place = 0
        assert chord_from_symbol(made.symbol).required == made.required
    assert 0 <= place <= len(text)


@given(
    st.sampled_from(ALL_NUMERALS),
    st.sampled_from(ALL_NUMERALS),
    st.sampled_from(ALL_KEYS),
    st.sampled_from([*ROMAN, "ii", "vi", "bVI"]),
)
def test_any_chord_before_any_chord(one: Numeral, other: Numeral, key: Key, target: str) -> None:
    applied = Numeral.from_text(f"{one}/{target}")
    for numeral in (one, applied):
        made = chord_of(numeral, key, following=other)
        assert made.required == chord_of(numeral, key).required
        assert len(made.scale) in {6, 7, 8}
