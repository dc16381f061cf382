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
        ("iiø7/5", "C", None, "over five in the bass it sounds as the five, suspended"),
        ("I6/9/5", "C", None, "over five in the bass: the colour of a pedal point"),
        ("V7/ii", "C", "ii", "dominant of two"),
        ("ii7/IV", "C", "V7/IV", "two of a two-five into four"),
        ("viø7", "C minor", "iiø7", "melodic minor"),
    ],
)
def test_what_a_chord_does(numeral: str, key: str, following: str | None, words: str) -> None:
    after = Numeral.from_text(following) if following else None
    sentence = explain(Numeral.from_text(numeral), Key.from_text(key), after)
    assert words.lower() in sentence.lower()


# Whole sentences, as a teacher would say them; what a chord leads to is said only where it follows.
@pytest.mark.parametrize(
    ("numeral", "key", "following", "sentence"),
    [
        ("IV7", "C", "I", "Four with a flat seventh: the four of the blues."),
        ("IV7", "C", "bVIImaj7", "The dominant of flat seven."),
        (
            "IV7",
            "C minor",
            "i6",
            "Four with a flat seventh: its third is the raised six of the melodic minor.",
        ),
        ("#ivø7", "C", "V7", "Half-diminished on the raised fourth: slides up a half step to five."),
        ("#ivø7", "C", "I/5", "Half-diminished on the raised fourth."),
        (
            "#ivø7",
            "C",
            "iv6",
            "Half-diminished on the raised fourth: starts the descent, a half step down to four.",
        ),
        ("ii7", "C", "V7", "The two: prepares the dominant that follows."),
        ("ii7", "C", "V", "The two: prepares the dominant that follows."),
        ("ii7", "C", "V9sus4", "The two: prepares the dominant that follows."),
        ("ii7", "C", "bIImaj7", "The two: slides down a half step to flat two."),
        ("ii7", "C", "bII7", "The two: prepares the dominant's tritone substitute that follows."),
        ("ii7", "C", "I7", "The two: moves to one."),
        ("ii7", "C", "VI7", "The two: moves to six."),
        ("ii7", "C", "v7", "The two: moves to five."),
        ("ii7", "C", "II7", "The two: stays on its root."),
        ("iiø7", "C minor", "i6", "The two of the minor key: moves to one."),
        (
            "iiø7",
            "C",
            "V7alt",
            "The two, borrowed from the parallel minor: prepares the dominant that follows.",
        ),
        (
            "bIImaj7",
            "C",
            "Imaj9",
            "Flat two, major: stands where the dominant would, a half step above home, and falls into one.",
        ),
        (
            "bIImaj7",
            "C",
            "V7",
            "Flat two, major: a half step above home, prepares the dominant that follows.",
        ),
        ("bIImaj7", "C", "IVmaj7", "Flat two, major: a dark colour from a half step above home."),
        ("V7", "C", "Imaj7", "The dominant: leads to one."),
        ("V7", "C", "vi7", "The dominant, answered by six instead of one."),
        ("V7", "C", "bII7", "The dominant: gives way to its tritone substitute."),
        ("V7", "C", "V7", "The dominant: goes on."),
        ("V", "C", "IV", "The dominant as a plain major chord, answered by four instead of one."),
        ("V13", "C minor", "i6/9", "The dominant: leads to one, with the thirteen of the parallel major."),
        (
            "V7alt",
            "C",
            "iii7",
            "The dominant, answered by three instead of one; fifth and ninth are altered.",
        ),
        ("VI7", "C", "IVmaj7", "The dominant of two, answered by four instead."),
        ("bVI7", "C", "I", "A dominant seventh on flat six: moves to one."),
        (
            "bVII7",
            "C",
            "V7",
            "A dominant seventh on flat seven: borrowed from the parallel minor; moves to five.",
        ),
        (
            "bVII7",
            "C minor",
            "i6",
            "A dominant seventh on flat seven: the key's own; rises a whole step to one.",
        ),
        ("bVII7", "C minor", "bIIImaj7", "The dominant of flat three."),
        ("bIII7sus4", "C", "IV", "A suspended chord on flat three: the fourth waits in place of the third."),
        ("Vsus4", "C", "V", "Five suspended: the third is still to come."),
        ("Vsus4", "C", "I", "Five suspended: the fourth stands in place of the third."),
        (
            "iii7",
            "C",
            "VI7",
            "The three: stands in for one, sharing its tones; also the two of a two-five into two.",
        ),
        (
            "iv7",
            "C",
            "bVII7",
            "Four made minor: borrowed from the parallel minor; prepares the flat seven that follows.",
        ),
        ("IV", "C minor", "i", "The four made major: borrowed from the parallel major."),
        ("I", "C minor", "iv", "The tonic made major: borrowed from the parallel major."),
        ("II", "C", "V", "The dominant of five as a plain major chord."),
        (
            "vii°7",
            "C",
            "I",
            "Diminished on the leading tone: a dominant without its root, and rises into one.",
        ),
        ("#i°7", "C", "IV", "Diminished on raised one: tension without a root of its own."),
        ("ii7/IV", "C", "V7/IV", "The two of a two-five into four."),
    ],
)
def test_sentences_keep_to_what_follows(numeral: str, key: str, following: str | None, sentence: str) -> None:
    after = Numeral.from_text(following) if following else None
    assert explain(Numeral.from_text(numeral), Key.from_text(key), after) == sentence


@given(numerals, st.sampled_from(ALL_KEYS), numerals)
def test_nothing_is_promised_that_does_not_follow(numeral: Numeral, key: Key, following: Numeral) -> None:
    sentence = explain(numeral, key, following)
    moved = (chord_of(following, key).root.pitch_class - chord_of(numeral, key).root.pitch_class) % 12
    above_tonic = (chord_of(following, key).root.pitch_class - key.tonic.pitch_class) % 12
    if "leads to one" in sentence or "into one" in sentence or "to one" in sentence:
        assert above_tonic == 0 or "two-five into one" in sentence
    if "prepares the dominant that follows" in sentence:
        assert above_tonic == 7
    if "starts the descent" in sentence or "falls a half step" in sentence:
        assert moved == 11
    if "that follows" in sentence:
        assert moved in {5, 11} or above_tonic == 7


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
