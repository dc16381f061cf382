import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.theory.chord import chord_of
from introit.theory.function import explain, head_dominant
from introit.theory.key import Key, Mode, keys
from introit.theory.numeral import Numeral
from introit.theory.quality import QUALITIES, Case

ALL_KEYS = (*keys(Mode.MAJOR), *keys(Mode.MINOR))

numerals = st.builds(
    lambda degree, alter, name: Numeral(degree, alter, QUALITIES[name].case is not Case.LOWER, name),
    st.integers(1, 7),
    st.integers(-1, 1),
    st.sampled_from(sorted(QUALITIES)),
)


# Common practice, no source.
@pytest.mark.parametrize(
    ("first", "mode", "dominant", "suspended"),
    [
        ("I", Mode.MAJOR, "V7", "V7sus4"),
        ("Imaj7", Mode.MAJOR, "V7", "V7sus4"),
        ("ii", Mode.MAJOR, "VI7(b9,b13)", "VI7sus4(b9)"),
        ("ii7", Mode.MAJOR, "VI7(b9,b13)", "VI7sus4(b9)"),
        ("IV", Mode.MAJOR, "I7", "I7sus4"),
        ("vi", Mode.MAJOR, "III7(b9,b13)", "III7sus4(b9)"),
        ("iii", Mode.MAJOR, "VII7(b9,b13)", "VII7sus4(b9)"),
        ("i", Mode.MINOR, "V7(b9,b13)", "V7sus4(b9)"),
        ("iv", Mode.MINOR, "I7(b9,b13)", "I7sus4(b9)"),
        ("iiø7", Mode.MINOR, "VI7(b9,b13)", "VI7sus4(b9)"),
        ("bVI", Mode.MINOR, "bIII7", "bIII7sus4"),
        ("bIII", Mode.MINOR, "bVII7", "bVII7sus4"),
        ("bVII", Mode.MAJOR, "IV7", "IV7sus4"),
        ("V7/ii", Mode.MAJOR, "III7", "III7sus4"),
    ],
)
def test_the_dominant_of_the_head(first: str, mode: Mode, dominant: str, suspended: str) -> None:
    chord = Numeral.from_text(first)
    assert str(head_dominant(chord, mode)) == dominant
    assert str(head_dominant(chord, mode, sus=True)) == suspended


@given(numerals, st.sampled_from(ALL_KEYS), st.booleans())
def test_it_lies_a_fifth_above_and_takes_its_targets_tensions(first: Numeral, key: Key, sus: bool) -> None:
    dominant = head_dominant(first, key.mode, sus=sus)
    chord, target = chord_of(dominant, key, following=first), chord_of(first, key)
    assert (chord.root.pitch_class - target.root.pitch_class) % 12 == 7
    assert chord.is_dominant
    assert Numeral.from_text(str(dominant)) == dominant
    offered = {tone.name for tone in (*chord.required, *chord.optional)}
    assert bool({"9", "13"} & offered) is not first.is_minor


# What a student should read in them; the wording is ours.
@pytest.mark.parametrize(
    ("numeral", "key", "following", "words"),
    [
        ("Imaj9", "C", None, "tonic"),
        ("i6/9", "C minor", None, "tonic"),
        ("i7", "C minor", None, "less at rest"),
        ("VI7", "C", "ii9", "dominant of two"),
        ("VII7", "C", "iiiø7", "dominant of three"),
        ("VII7", "C", "Imaj9", "dominant of three, answered by one"),
        ("#ivø7", "C", "iv6", "raised fourth: starts the descent"),
        ("#ivø7", "C", "VII7", "two of a minor two-five into three"),
        ("iiiø7", "C minor", "VI7", "two of a minor two-five into two"),
        ("iii7", "C", "bIII°7", "stands in for one"),
        ("bIII°7", "C", "ii7", "passing diminished: falls a half step into two"),
        ("#i°7", "C", "ii7", "passing diminished: rises a half step into two"),
        ("iv6", "C", "iii7", "borrowed from the parallel minor"),
        ("iv6", "C minor", "V7", "four of the key"),
        ("bVImaj9", "C", "bIImaj7(#11)", "borrowed from the parallel minor"),
        ("bVImaj9", "C minor", "V7alt", "the key's own"),
        ("iiø7", "C", "V7alt", "borrowed from the parallel minor"),
        ("bVII7", "C", "VI7", "tritone substitute for the dominant of six"),
        ("bVII7", "C", "I", "backdoor"),
        ("bII13(#11)", "C", None, "tritone substitute for the dominant"),
        ("bIImaj7", "C", "Imaj9", "falls into one"),
        ("bIII13", "C", "bVImaj9", "dominant of flat six"),
        ("V7alt", "C", "Imaj9", "altered"),
        (
            "V7sus4(b9)",
            "C",
            None,
            "fourth waits in place of the third, with the flat nine of the parallel minor",
        ),
        ("iiø7/5", "C", None, "over five in the bass: the colour of a pedal point"),
        ("V7/ii", "C", "ii", "dominant of two"),
        ("ii7/IV", "C", "V7/IV", "two of a two-five into four"),
        ("viø7", "C minor", "iiø7", "melodic minor"),
    ],
)
def test_what_a_chord_does(numeral: str, key: str, following: str | None, words: str) -> None:
    after = Numeral.from_text(following) if following else None
    sentence = explain(Numeral.from_text(numeral), Key.from_text(key), after)
    assert words.lower() in sentence.lower()


@given(numerals, st.sampled_from(ALL_KEYS), st.one_of(st.none(), numerals))
def test_every_chord_has_one_short_sentence(numeral: Numeral, key: Key, following: Numeral | None) -> None:
    sentence = explain(numeral, key, following)
    assert sentence[0].isupper()
    assert sentence.endswith(".")
    assert sentence.count(".") == 1
    assert len(sentence) <= 160


@given(numerals, st.one_of(st.none(), numerals))
def test_the_sentence_is_the_same_in_every_key(numeral: Numeral, following: Numeral | None) -> None:
    for mode in Mode:
        assert len({explain(numeral, key, following) for key in keys(mode)}) == 1
