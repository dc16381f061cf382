import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import NotationError
from introit.theory.numeral import MAX_LENGTH, Numeral
from introit.theory.quality import ALTERATIONS, QUALITIES, Case


# As the trade writes them; each is its own canonical form.
def words(text: str) -> list[str]:
    return text.split()


CANONICAL = words("""
I IV V bVI bII ii iii vi iv i vii° I+ V+ Imaj7 IVmaj7 bIIImaj7 bVImaj7 bIImaj7(#11) Imaj9 bVImaj9 Imaj13
I6 I6/9
i6 i6/9 iv6 i(maj7) i(maj9) i(add9) Iadd9 i7 ii7 ii9 iii7 iii11
ii11 ii13 vi7 v7 I7 V7 V9 V13 VI7 VII7 III7 bII7
bVII7 bVII13 VI7(b9) VI7(b13) VI7(b9,b13) V7(#11) V7(b5) V7(#5) V7(#9,b13) V13(b9) V13(#11) bII13(#11) V7alt
V7sus4 V9sus4 V13sus4 V7sus4(b9) Vsus4 Isus2
#ivø7 viø7 iiiø7 iiø9 iiø11 bIII°7 #i°7
vii°7(9) ii7/5 bVImaj7/5 I6/9/5 iiø7/5 I/b6 I/#4 V7/ii iiø7/vi V7/bII V7/ii/5 V7/V/ii
""")

SYNONYMS = {
    "Imaj7": "IM7|IMaj7|Ima7|IΔ|IΔ7|I∆7",
    "Imaj9": "IM9|IΔ9|Imaj7(9)|Imaj7add9",
    "ii7": "iim7|ii-7|iimin7|IIm7|II-7|IImin7|ii−7",
    "ii9": "iim9|ii7(9)|IIm9",
    "iii11": "iii7(11)|iiim11|III-11",
    "iiø7": "iiø|iim7b5|ii7b5|ii7(b5)|ii-7b5|iimin7b5|iim7-5|iiØ7|ii∅7|ii7♭5",
    "IIø7": "IIm7b5|IIØ7",
    "vii°7": "viio7|viidim7|viiº7",
    "vii°": "viio|viidim|vii(b5)",
    "V+": "Vaug|V(#5)",
    "V7(#5)": "V+7|Vaug7|V7#5|V7+5|V7+",
    "V7(b9)": "V7b9|V7-9|V7(♭9)|V7( b9 )",
    "V7(b9,b13)": "V7(b9b13)|V7b9b13|V7(b13,b9)|V7(b9 b13)|V7(b9, b13)",
    "V7(#9)": "V7#9|V7+9|V7(♯9)",
    "V13": "V7(13)|V9(13)|Vdom13",
    "V7sus4": "V7sus",
    "V9sus4": "V9sus|V11|V7sus4(9)",
    "V7alt": "Valt|V7(alt)",
    "i(maj7)": "imaj7|iM7|iΔ7|im(maj7)|imM7|Im(maj7)|i-Δ7|i-maj7",
    "i6/9": "i69|im6/9|im69|i6(9)",
    "I6/9": "I69|I6(9)",
    "I6/9/5": "I69/5",
    "I": "Imaj|IM",
    "i": "im|imin|i-|Im",
    "bIII°7": "♭III°7|bIIIo7",
    "#ivø7": "♯ivø7|#ivm7b5",
}


@pytest.mark.parametrize("text", CANONICAL)
def test_canonical_numerals_print_as_they_were_read(text: str) -> None:
    numeral = Numeral.from_text(text)
    assert str(numeral) == text
    assert Numeral.from_text(str(numeral)) == numeral


@pytest.mark.parametrize(
    ("written", "canonical"), [(one, name) for name, many in SYNONYMS.items() for one in many.split("|")]
)
def test_synonyms_are_printed_in_one_form(written: str, canonical: str) -> None:
    assert str(Numeral.from_text(written)) == canonical


def test_parts_of_a_numeral() -> None:
    numeral = Numeral.from_text("bII13(#11)")
    assert (numeral.degree, numeral.alter, numeral.upper) == (2, -1, True)
    assert (numeral.quality, numeral.alterations) == ("13", ("#11",))
    assert not numeral.is_minor
    assert Numeral.from_text("#ivø7").is_minor


def test_six_nine_is_one_token_and_read_first() -> None:
    assert Numeral.from_text("I6/9").bass_degree is None
    over_five = Numeral.from_text("I6/9/5")
    assert (over_five.quality, over_five.bass_degree) == ("6/9", 5)
    assert Numeral.from_text("I6/5").quality == "6"


def test_an_arabic_degree_is_a_bass_note_and_a_numeral_an_applied_chord() -> None:
    over_five = Numeral.from_text("ii7/5")
    assert (over_five.bass_degree, over_five.bass_alter, over_five.applied) == (5, 0, None)
    over_flat_six = Numeral.from_text("I/b6")
    assert (over_flat_six.bass_degree, over_flat_six.bass_alter) == (6, -1)
    applied = Numeral.from_text("V7/ii")
    assert (applied.bass_degree, applied.applied) == (None, Numeral.from_text("ii"))
    assert Numeral.from_text("V7/bII").applied == Numeral.from_text("bII")


# Text, index of the character, words of the reason.
MISTAKES = [
    ("", 0, "starts with I to VII"),
    ("   ", 0, "starts with I to VII"),
    ("Dm7", 0, "note name"),
    ("7", 0, "starts with I to VII"),
    ("IIII", 0, "no numeral 'IIII'"),
    ("Vi7", 0, "no numeral 'Vi'"),
    ("bbVII7", 1, "only one b or #"),
    ("b", 1, "starts with I to VII"),
    ("V7x", 2, "'x' is neither"),
    ("IMAJ7", 1, "Did you mean 'Maj7'"),
    ("V7sut4", 2, "'sut4' is neither"),
    ("V7 I", 2, "neither"),
    ("V7altx", 2, "Did you mean 'alt'"),
    ("iimajor7", 2, "neither"),
    ("v7alt", 2, "capital letters, as in V7alt"),
    ("V7(b9", 5, "not closed"),
    ("V7(", 3, "not closed"),
    ("V7()", 3, "in brackets stand tensions"),
    ("V7(x9)", 3, "in brackets stand tensions"),
    ("V7b9)", 4, "without its ("),
    ("V7(#13)", 3, "allowed are b5, #5, b9, 9, #9, #11, b13, 13. Did you mean '13'"),
    ("V7(b10)", 3, "a tension is 9, 11 or 13"),
    ("V7(b9,13,b13)", 9, "contradicts the 13"),
    ("V9(b9)", 3, "contradicts the 9"),
    ("V7(b9,9,13)", 6, "contradicts the b9"),
    ("V9(13,b9)", 6, "contradicts the 9"),
    ("V13(b13)", 4, "contradicts the 13"),
    ("V13(11)", 4, "a 13 chord holds no 11"),
    ("V7alt(9)", 6, "no natural 9"),
    ("V7alt(13)", 6, "no natural 13"),
    ("V7(b9,b9)", 6, "there already"),
    ("V7(#5,b13)", 6, "sounds the same as #5"),
    ("Imaj7(b9)", 6, "maj7 takes no b9"),
    ("ii7/", 4, "after a slash"),
    ("ii7/x", 4, "after a slash"),
    ("ii7/9", 4, "degree of the key, 1 to 7"),
    ("ii7/0", 4, "degree of the key, 1 to 7"),
    ("ii7/5/5", 5, "nothing can follow the bass note"),
    ("ii7/5/V", 5, "nothing can follow the bass note"),
    ("V7/bbII", 4, "only one b or #"),
    ("V/V/V/V", 5, "at most 2 targets"),
    ("I" * 200, MAX_LENGTH, "at most 120 characters"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "position", "says"), MISTAKES)
def test_a_mistake_points_at_the_character(text: str, position: int, says: str) -> None:
    with pytest.raises(NotationError) as caught:
        Numeral.from_text(text)
    assert caught.value.position == position
    assert says in caught.value.reason
    assert caught.value.text == text


PIECES = st.sampled_from(
    words("""
    b # ♭ ♯ I II III IV V VI VII
    i ii iv v vi ( ) , / + - 5 6 7 9 11 13 b9 #11 b13 maj7 m M Δ ø ° o dim alt sus4
    6/9 add
    """)
)


@given(st.one_of(st.text(max_size=20), st.lists(PIECES, max_size=8).map("".join)))
def test_no_text_crashes_and_what_is_read_prints_back_the_same(text: str) -> None:
    try:
        numeral = Numeral.from_text(text)
    except NotationError as error:
        place, mark = error.position, error.pointed().removeprefix(f"{text}\n")
    else:
        place, mark = 0, "^"
        assert Numeral.from_text(str(numeral)) == numeral
    assert 0 <= place <= len(text)
    assert mark.startswith(" " * place + "^")


@st.composite
def numerals(draw: st.DrawFn) -> Numeral:
    quality = QUALITIES[draw(st.sampled_from(sorted(QUALITIES)))]
    upper = quality.case is Case.UPPER or (quality.case is Case.EITHER and draw(st.booleans()))
    body = Numeral(draw(st.integers(1, 7)), draw(st.integers(-1, 1)), upper, quality.name)
    tensions = draw(st.lists(st.sampled_from(ALTERATIONS[quality.family]), max_size=3, unique=True))
    bracket = f"({','.join(tensions)})" if tensions else ""
    bass = draw(st.sampled_from(["", "/5", "/b6", "/1"]))
    target = draw(st.sampled_from(["", "/ii", "/bVI", "/V", "/#VII7sus4(b9,#9,b13)/#VII13sus4(b9,#9)"]))
    try:
        return Numeral.from_text(f"{body}{bracket}{target}{bass}")
    except NotationError:  # two tensions that contradict each other
        return Numeral.from_text(f"{body}{target}{bass}")


@given(numerals())
def test_every_numeral_prints_and_reads_back_equal(numeral: Numeral) -> None:
    again = Numeral.from_text(str(numeral))
    assert again == numeral
    assert hash(again) == hash(numeral)
    assert str(again) == str(numeral)


@pytest.mark.parametrize("name", sorted(QUALITIES))
def test_every_quality_can_be_written_in_a_numeral(name: str) -> None:
    quality = QUALITIES[name]
    letters = "v" if quality.case is Case.LOWER else "V"
    numeral = Numeral.from_text(letters + quality.numeral)
    assert numeral.quality == name
    for alteration in ALTERATIONS[quality.family]:
        try:
            again = Numeral.from_text(f"{letters}{quality.numeral}({alteration})")
        except NotationError as error:
            reason = error.reason
        else:
            reason = "already"
            assert Numeral.from_text(str(again)) == again
        assert any(word in reason for word in ("contradicts", "already", "natural"))
