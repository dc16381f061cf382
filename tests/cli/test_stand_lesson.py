"""What the stand page teaches from, held against the score: places in time, grips, degrees, sentences."""

from __future__ import annotations

import json

import music21
import pytest

from introit.arrange.arranger import arrange, symbol_of
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro, suits
from introit.arrange.score import Score, Touch
from introit.cli.stand_lesson import Lessons, degree_of, lesson_of, signed
from introit.library.model import Library, Tune
from introit.stand.link import MAX_LINE, encode
from introit.theory.chord import chord_from_symbol
from introit.theory.key import Key
from introit.theory.numeral import Numeral
from introit.units import TICKS_PER_QUARTER


def score_of(
    library: Library, name: str, key: str, line_up: LineUp = LineUp.SOLO_GUITAR, seed: int = 1
) -> Score:
    intro, called = library.intros[name], Key.from_text(key)
    first = Numeral.from_text("i" if called.is_minor else "I")
    tune = Tune("t", "T", called, intro.meters[0], sum(intro.tempo) / 2, intro.feels[0], first)
    return arrange(plan_intro(intro, tune, called), library, stage=Stage(line_up), seed=seed)


@pytest.fixture(scope="module")
def scores(library: Library) -> list[Score]:
    """Every third intro in a key with many flats, for a guitar alone."""
    found = []
    for name in list(library.intros)[::3]:
        intro = library.intros[name]
        minor = all(str(form.mode) == "minor" for form in intro.forms)
        key = "Eb minor" if minor else "Gb"
        tune = Tune(
            "t",
            "T",
            Key.from_text(key),
            intro.meters[0],
            120,
            intro.feels[0],
            Numeral.from_text("i" if minor else "I"),
        )
        if suits(intro, tune, tune.key) is None and "solo guitar" in intro.line_ups:
            found.append(score_of(library, name, key))
    assert len(found) > 12
    return found


def test_the_cursor_goes_from_left_to_right_and_stands_at_what_begins(
    scores: list[Score], library: Library
) -> None:
    """Each moment at which something is struck has its place; a grace note may push it by a little."""
    for score in scores:
        lesson = lesson_of(score, library, tune=0, key="x")
        places = [place for system in lesson["systems"] for place in system["beats"]]
        assert [beat for beat, _ in places] == sorted(beat for beat, _ in places)
        for system in lesson["systems"]:
            across = [x for _, x in system["beats"]]
            assert across == sorted(across)
            assert 0 < across[0] < across[-1] < 1
        main = [note for note in score.notes if note.touch is not Touch.ORNAMENT]
        struck = {note.onset / TICKS_PER_QUARTER for note in main}
        for beat in struck:
            assert min(abs(beat - place) for place, _ in places) < 0.1, (lesson["title"], beat)


def test_the_cursor_stands_on_the_frets_of_its_moment(scores: list[Score], library: Library) -> None:
    """Frets are letters in the middle of their note, and come by another way than the cursor does."""
    near = 0
    for score in scores:
        for system in lesson_of(score, library, tune=0, key="x")["systems"]:
            frets = [one["x"] / system["width"] for one in system["letters"] if one["anchor"] == "middle"]
            frets = [x for x in frets if x > 0.1]
            for _, x in system["beats"]:
                distance = min((abs(fret - x) for fret in frets), default=1.0)
                near += distance < 0.012
    assert near > 200


def test_a_grip_is_named_by_degrees_that_music21_finds(scores: list[Score], library: Library) -> None:
    """The degree of each place, put on the chord's root by music21's intervals, is the note that sounds."""
    seen = 0
    for score in scores:
        lesson = lesson_of(score, library, tune=0, key="x")
        neck = score.scene.stage.fretboard
        by_symbol = {
            symbol_of(chord).replace("#", "♯").replace("b", "♭"): chord.chord for chord in score.plan.chords
        }
        for grip in lesson["grips"]:
            chord = by_symbol.get(grip["symbol"])
            if chord is None:
                continue  # the head's
            for place in grip["places"]:
                pitch = neck.open_pitches[-place["string"]] + place["fret"]
                seen += 1
                assert (chord.root.pitch_class + semitones(place["degree"])) % 12 == pitch % 12
    assert seen > 200


def test_a_grip_is_told_with_the_chord_that_it_is_of(scores: list[Score], library: Library) -> None:
    """The chord's name is the grip's; one that is struck early is of the chord to come."""
    early = 0
    for score in scores:
        lesson = lesson_of(score, library, tune=0, key="x")
        names = {chord["beat"]: chord["symbol"] for chord in lesson["chords"]}
        for grip in lesson["grips"]:
            if grip["of"] < lesson["beats"]:
                assert names[grip["of"]] == grip["symbol"], lesson["title"]
            early += grip["beat"] < grip["of"]
    assert early


def semitones(degree: str) -> int:
    """Of a degree's name above the root, as music21 counts intervals."""
    if degree == "R":
        return 0
    number = int(degree.lstrip("♭♯"))
    quality = "P" if number in (4, 5, 11) else "M"
    plain = music21.interval.Interval(f"{quality}{number}").semitones
    return int(plain) + degree.count("♯") - degree.count("♭")


@pytest.mark.parametrize(
    ("pitch", "chord", "degree"),
    [
        (60, "C7", "R"),
        (63, "C7(#9)", "#9"),
        (63, "Cm7", "b3"),
        (68, "C7(b13)", "b13"),
        (69, "C°7", "bb7"),
        (66, "C7alt", "b5"),
    ],
)
def test_degrees_by_hand(pitch: int, chord: str, degree: str) -> None:
    found = degree_of(pitch, chord_from_symbol(chord))
    assert found in ({degree, "#11"} if degree == "b5" else {degree})


def test_each_chord_has_its_sentences(scores: list[Score], library: Library) -> None:
    for score in scores:
        lesson = lesson_of(score, library, tune=0, key="x")
        assert [chord["beat"] for chord in lesson["chords"]] == [
            chord.onset / TICKS_PER_QUARTER for chord in score.plan.chords
        ]
        assert all(chord["does"].endswith(".") and chord["lesson"] for chord in lesson["chords"])


def test_the_motif_is_told_by_beats_of_the_passage(scores: list[Score], library: Library) -> None:
    told = 0
    for score in scores:
        lesson = lesson_of(score, library, tune=0, key="x")
        for said in lesson["motif"]:
            assert 0 <= said["beat"] < said["end"] <= lesson["beats"] + lesson["bar"]
            told += 1
        assert lesson["beats"] % lesson["bar"] == 0
    assert told


@pytest.mark.parametrize(
    ("text", "signed_text"),
    [
        ("hear Eb (seventh) fall to D", "hear E♭ (seventh) fall to D"),
        ("its flat nine, Cb, is borrowed", "its flat nine, C♭, is borrowed"),
        ("Goes to Bb13(b9): down", "Goes to B♭13(♭9): down"),
        ("to F#m7b5, Cm7b5 and G7(b9)/Bb.", "to F♯m7♭5, Cm7♭5 and G7(♭9)/B♭."),
        ("Borrowed by the bass. Above it, abstract", "Borrowed by the bass. Above it, abstract"),
        ("Abstract. Gbmaj7 Ebsus4", "Abstract. G♭maj7 E♭sus4"),
    ],
)
def test_sentences_have_the_signs_of_music_in_names_alone(text: str, signed_text: str) -> None:
    assert signed(text) == signed_text


def test_it_fits_a_line_of_the_link(library: Library) -> None:
    longest = max(library.intros.values(), key=lambda intro: max(len(form.bars) for form in intro.forms))
    score = score_of(
        library, longest.id, "Eb minor" if longest.id.startswith("minor") else "Gb", LineUp.WITH_KEYS
    )
    lesson = lesson_of(score, library, tune=0, key="x")
    assert len(encode({"kind": "lesson", **lesson})) < MAX_LINE
    assert json.loads(json.dumps(lesson)) == lesson


def test_a_lesson_is_given_once_until_it_is_another(library: Library) -> None:
    lessons = Lessons(lambda: library)
    first, other = (score_of(library, "three-six-two-five", "Gb", seed=seed) for seed in (1, 2))
    assert lessons.lesson(0, "Gb") is None
    lessons.keep(0, "Gb", first)
    assert lessons.lesson(0, "Gb") is not None
    assert lessons.lesson(0, "Gb") is None
    lessons.forget()
    assert lessons.lesson(0, "Gb") is not None
    lessons.keep(0, "Gb", other)
    assert lessons.lesson(0, "Gb") is not None
    assert lessons.lesson(0, "C") is None
    for number in range(100):
        lessons.keep(number + 1, "C", first)
    assert lessons.lesson(100, "C") is not None
    lessons.forget()
    assert lessons.lesson(0, "Gb") is None, "not everything of an evening is kept"
