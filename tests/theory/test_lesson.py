"""What is said about chords, held against another library, published guide-tone lines and all shipped intros.

music21 names the pitches here, resolves the sevenths (its figured-bass rules) and builds the chords of the
keys that are named. The sentences themselves are ours.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import key as m21_key
from music21 import pitch as m21_pitch
from music21 import roman
from music21.figuredBass import resolution

from introit.arrange.arranger import symbol_of
from introit.arrange.plan import plan_intro
from introit.library.content import program_root
from introit.library.loader import load_library
from introit.library.model import Library, Tune
from introit.theory.chord import Chord, chord_from_symbol, chord_of
from introit.theory.guide_lines import guide_lines, role
from introit.theory.key import Key, Mode, keys
from introit.theory.lesson import Placed, lesson
from introit.theory.numeral import Numeral
from introit.theory.quality import QUALITIES, Case

ALL_KEYS = (*keys(Mode.MAJOR), *keys(Mode.MINOR))
THREE_KEYS = {Mode.MAJOR: ("Eb", "Gb", "B"), Mode.MINOR: ("C minor", "C# minor", "Ab minor")}
NOTE = r"[A-G](?:##?|bb?)?"
MOVE = re.compile(rf"({NOTE}) \([^)]*\) (fall|rise) a (half|whole) step to ({NOTE}) \(")
BASS = re.compile(rf"the bass (fall|rise) a (half|whole) step from ({NOTE}) to ({NOTE})")
STAY = re.compile(rf"({NOTE}) stay(?:, now called ({NOTE}))? \(")
NEW = re.compile(rf"({NOTE}) \([^)]*\) come in")
HOME = re.compile(rf"borrowed from ({NOTE}) (major|minor), where it is the (two|five)")
STANDS_FOR = re.compile(rf"it has the third and the seventh of ({NOTE})7")
ROOTLESS = re.compile(rf"it is ({NOTE})7\(b9\) without the root")
DARK = re.compile(rf"flat (?:nine|thirteen), ({NOTE}),")
STEPS = {("fall", "half"): -1, ("fall", "whole"): -2, ("rise", "half"): 1, ("rise", "whole"): 2}


def pitch_class(name: str) -> int:
    return int(m21_pitch.Pitch(name.replace("b", "-")).pitchClass)


def m21_name(name: str) -> str:
    return name.replace("b", "-")


def pitch_classes(chord: Chord) -> set[int]:
    return {tone.pitch_class for tone in (*chord.required, *chord.optional)}


def placed(chord: Chord, numeral: str = "I") -> Placed:
    return Placed(Numeral.from_text(numeral), chord, chord.symbol, chord.bass)


@pytest.fixture(scope="module")
def library() -> Library:
    loaded, problems = load_library([program_root()])
    assert problems == []
    return loaded


@pytest.fixture(scope="module")
def told(library: Library) -> list[tuple[Key, Placed, Placed, str]]:
    """Every chord of every shipped intro in three keys of each of its modes, and the sentence for it."""
    return list(_told(library))


def _told(library: Library) -> Iterator[tuple[Key, Placed, Placed, str]]:
    for intro in library.intros.values():
        for mode in sorted({form.mode for form in intro.forms}):
            for key in map(Key.from_text, THREE_KEYS[mode]):
                first = Numeral.from_text("i" if key.is_minor else "I")
                tune = Tune("t", "T", key, intro.meters[0], intro.tempo[0], intro.feels[0], first)
                plan = plan_intro(intro, tune, key)
                stand = [
                    Placed(each.numeral, each.chord, symbol_of(each), each.pedal or each.chord.bass)
                    for each in plan.chords
                ]
                stand.append(Placed(first, plan.head, plan.head.symbol, plan.head.bass))
                for here, following in pairwise(stand):
                    yield key, here, following, lesson(here, key, following)


def test_every_line_starts_in_its_chord_and_ends_in_the_next(
    told: list[tuple[Key, Placed, Placed, str]],
) -> None:
    seen = 0
    for _, here, following, text in told:
        before, after = pitch_classes(here.chord), pitch_classes(following.chord)
        for start, way, size, end in MOVE.findall(text):
            assert pitch_class(start) in before, text
            assert pitch_class(end) in after, text
            assert (pitch_class(start) + STEPS[way, size]) % 12 == pitch_class(end), text
            seen += 1
        for way, size, start, end in BASS.findall(text):
            assert (pitch_class(start), pitch_class(end)) == (
                here.bass.pitch_class,
                following.bass.pitch_class,
            )
            assert (pitch_class(start) + STEPS[way, size]) % 12 == pitch_class(end), text
        for name, called in STAY.findall(text):
            assert pitch_class(name) in before & after, text
            assert not called or pitch_class(called) == pitch_class(name), text
            seen += 1
        for name in NEW.findall(text):
            assert pitch_class(name) in after - before, text
    assert seen > 2000


def test_no_other_notes_are_named(told: list[tuple[Key, Placed, Placed, str]]) -> None:
    """Outside those patterns, keys and chord names, a sentence names no note."""
    for _, here, following, text in told:
        symbol = re.escape(following.symbol)
        rest = re.sub(rf"(?:Becomes|(?:Goes|Resolves|Leads on) [a-z ]+ to) {symbol}", "", text, count=1)
        for pattern in (MOVE, BASS, STAY, NEW, HOME, STANDS_FOR, ROOTLESS, DARK):
            rest = pattern.sub("", rest)
        assert not re.search(r"(?<![A-Za-z])(?:[B-G](?:#|b)*|A(?:#|b)+)(?![a-z])", rest), (here.symbol, rest)


def test_where_it_was_borrowed_is_where_the_chord_is_found(
    told: list[tuple[Key, Placed, Placed, str]],
) -> None:
    """Reference: music21's chords on two and five of the keys that are named."""
    found = set()
    for _, here, _, text in told:
        guides = {tone.pitch_class for tone in here.chord.guide_tones if tone.degree != 4}
        for tonic, mode, place in HOME.findall(text):
            home = m21_key.Key(m21_name(tonic), mode)
            figure = "V7" if place == "five" else "ii7" if mode == "major" else "iiø7"
            chord = roman.RomanNumeral(figure, home)
            assert guides | {here.chord.root.pitch_class} <= {p.pitchClass for p in chord.pitches}, text
            found.add(place)
    assert found == {"two", "five"}


def test_substitutes_and_rootless_chords_have_the_notes_of_what_they_stand_for(
    told: list[tuple[Key, Placed, Placed, str]],
) -> None:
    """Reference: dominant sevenths as music21 builds them, four notes from their root."""
    stood = rootless = 0
    for _, here, _, text in told:
        own = {tone.pitch_class for tone in here.chord.required}
        for name in STANDS_FOR.findall(text):
            root = m21_pitch.Pitch(m21_name(name))
            third, seventh = (root.transpose(interval).pitchClass for interval in ("M3", "m7"))
            assert {tone.pitch_class for tone in here.chord.guide_tones} == {third, seventh}, text
            stood += 1
        for name in ROOTLESS.findall(text):
            root = m21_pitch.Pitch(m21_name(name))
            assert own == {root.transpose(each).pitchClass for each in ("M3", "P5", "m7", "m9")}, text
            rootless += 1
    assert stood > 10
    assert rootless > 5


def test_what_is_of_the_parallel_minor_is_in_its_scale(told: list[tuple[Key, Placed, Placed, str]]) -> None:
    """Reference: music21's natural minor scales."""
    seen = 0
    for key, here, _, text in told:
        if "borrowed from the parallel minor" not in text.split(". ")[0] or key.is_minor:
            continue
        scale = {p.pitchClass for p in m21_key.Key(m21_name(str(key.tonic)), "minor").getPitches()}
        dark = DARK.findall(text.split(". ")[0])
        named = {pitch_class(name) for name in dark} or {
            tone.pitch_class for tone in here.chord.required if tone.degree < 8
        }
        assert named <= scale, (str(key), here.symbol, text)
        seen += 1
    assert seen > 50


@pytest.mark.parametrize("tonic", [str(key.tonic) for key in keys(Mode.MAJOR)])
@pytest.mark.parametrize("mode", ["major", "minor"])
def test_third_and_seventh_of_the_dominant_go_where_figured_bass_sends_them(tonic: str, mode: str) -> None:
    """Reference: music21's resolutions of V7 in root position to a triad."""
    root = m21_pitch.Pitch(m21_name(tonic) + "3").transpose("P5")
    chord = tuple(root.transpose(interval) for interval in ("m14", "P12", "M10", "P1"))
    rule = getattr(resolution, f"dominantSeventhTo{mode.capitalize()}Tonic")
    wanted = {
        (before.pitchClass, after.pitchClass)
        for before, after in zip(chord, rule(chord), strict=True)
        if before.pitchClass in {chord[0].pitchClass, chord[2].pitchClass}
    }
    dominant = chord_from_symbol(root.name.replace("-", "b") + "7")
    lines = guide_lines(dominant, chord_from_symbol(tonic + ("" if mode == "major" else "m")))
    assert {(line.tone.pitch_class, line.target.pitch_class) for line in lines} == wanted


@pytest.mark.parametrize("tonic", [str(key.tonic) for key in keys(Mode.MAJOR)])
@pytest.mark.parametrize("mode", ["major", "minor"])
def test_a_leading_diminished_chord_goes_where_figured_bass_sends_it(tonic: str, mode: str) -> None:
    """Reference: music21's resolutions of the diminished seventh: its root rises, its seventh falls."""
    root = m21_pitch.Pitch(m21_name(tonic) + "4").transpose("-m2")
    chord = tuple(root.transpose(interval) for interval in ("d7", "d5", "m3", "P1"))
    rule = getattr(resolution, f"diminishedSeventhTo{mode.capitalize()}Tonic")
    ends = dict(zip([each.pitchClass for each in chord], [p.pitchClass for p in rule(chord)], strict=True))
    name = root.name.replace("-", "b")
    lines = guide_lines(
        chord_from_symbol(name + "°7"), chord_from_symbol(tonic + ("" if mode == "major" else "m"))
    )
    ours = {line.tone.degree: line for line in lines}
    for degree in (1, 7):
        assert ours[degree].target.pitch_class == ends[ours[degree].tone.pitch_class]


@pytest.mark.parametrize("tonic", keys(Mode.MAJOR), ids=str)
def test_guide_tones_of_a_two_five_one(tonic: Key) -> None:
    """[GT1] the third becomes the seventh and the other way round; [GT2] the seventh falls a half step."""
    two, five, one = (chord_of(Numeral.from_text(text), tonic) for text in ("ii7", "V7", "Imaj7"))
    for before, after in ((two, five), (five, one)):
        falling, staying = guide_lines(before, after)
        assert (role(falling.tone), falling.step, role(falling.target)) == ("seventh", -1, "third")
        assert (role(staying.tone), staying.step, role(staying.target)) == ("third", 0, "seventh")


# How tendencies are taught; common practice, no source.
@pytest.mark.parametrize(
    ("chord", "following", "lines"),
    [
        ("C7", "Fm7", [("third", -1, "seventh"), ("seventh", -2, "third")]),
        ("Db7", "Cmaj7", [("third", -1, "third"), ("seventh", 0, "seventh")]),
        ("G7sus4", "G7", [("fourth", -1, "third"), ("seventh", 0, "seventh")]),
        ("G7(b9)", "C", [("seventh", -1, "third"), ("third", 1, "root"), ("flat nine", -1, "fifth")]),
        ("C+", "F", [("third", 1, "root"), ("raised fifth", 1, "third")]),
        ("Fm6", "C", [("third", -1, "fifth"), ("sixth", 2, "third")]),
        (
            "Dm7b5",
            "G7(b9)",
            [("seventh", -1, "third"), ("third", 0, "seventh"), ("flat fifth", 0, "flat nine")],
        ),
    ],
)
def test_lines(chord: str, following: str, lines: list[tuple[str, int, str]]) -> None:
    found = guide_lines(chord_from_symbol(chord), chord_from_symbol(following))
    assert sorted((role(line.tone), line.step, role(line.target)) for line in found) == sorted(lines)


# Whole lessons, as a teacher would say them; the wording is ours.
@pytest.mark.parametrize(
    ("numerals", "key", "text"),
    [
        (
            "ii9 V13(b9)",
            "Eb",
            "The two: prepares the dominant that follows. Goes down a fifth to Bb13(b9): hear Eb "
            "(seventh) fall a half step to D (third) and Ab stay (third, then seventh).",
        ),
        (
            "VI7(b9,b13) ii9",
            "Eb",
            "The dominant of two; borrowed from F minor, where it is the five. Resolves down a fifth "
            "to Fm9: hear E (third) fall a half step to Eb (seventh), Db (flat nine) fall a half step"
            " to C (fifth) and Ab (flat thirteen) fall a half step to G (nine).",
        ),
        (
            "bII13 Imaj7",
            "C",
            "Tritone substitute for the dominant: falls by a half step to one; it has the third and "
            "the seventh of G7. Resolves down a half step to Cmaj7: hear F (third) fall a half step "
            "to E (third) and Cb stay, now called B (the seventh of both).",
        ),
        (
            "#i°7 ii7",
            "C",
            "Passing diminished: rises a half step into two, standing for its dominant; it is A7(b9) "
            "without the root. Resolves up a half step to Dm7: hear Bb (seventh) fall a half step to "
            "A (fifth), E (third) rise a half step to F (third) and C# (root) rise a half step to D "
            "(root).",
        ),
        (
            "V7(b9) I",
            "C",
            "The dominant: leads to one; its flat nine, Ab, is borrowed from the parallel minor. "
            "Resolves down a fifth to C: hear F (seventh) fall a half step to E (third), B (third) "
            "rise a half step to C (root) and Ab (flat nine) fall a half step to G (fifth).",
        ),
        (
            "i7/b7 viø7",
            "C minor",
            "One with a minor seventh: less at rest than a sixth or major seventh; over flat seven in"
            " the bass. Goes down a minor third to Am7b5: hear Bb (seventh) fall a half step to A "
            "(root) in the bass and Eb stay (third, then flat fifth).",
        ),
        ("Imaj9 Imaj9", "C", "The tonic: home."),
        (
            "I I+",
            "Eb",
            "The tonic: home. Becomes Eb+ on the same root: hear G stay (the third of both) and B "
            "(raised fifth) come in.",
        ),
    ],
)
def test_whole_lessons(numerals: str, key: str, text: str) -> None:
    called = Key.from_text(key)
    one, other = map(Numeral.from_text, numerals.split())
    before = chord_of(one, called, following=other)
    after = chord_of(other, called)
    here = Placed(one, before, before.symbol, before.bass)
    assert lesson(here, called, Placed(other, after, after.symbol, after.bass)) == text


numerals = st.builds(
    lambda degree, alter, name: Numeral(degree, alter, QUALITIES[name].case is not Case.LOWER, name),
    st.integers(1, 7),
    st.integers(-1, 1),
    st.sampled_from(sorted(QUALITIES)),
)


@given(numerals, st.none() | numerals, st.sampled_from(ALL_KEYS))
def test_any_chord_has_a_lesson(numeral: Numeral, following: Numeral | None, key: Key) -> None:
    here = placed(chord_of(numeral, key, following=following))._replace(numeral=numeral)
    after = placed(chord_of(following, key))._replace(numeral=following) if following else None
    text = lesson(here, key, after)
    assert text.endswith(".")
    assert text[0].isupper()
    assert not re.search(r"[A-G](##|bb) ", text.split(": hear")[-1])
