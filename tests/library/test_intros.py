"""The ten first intros as they were asked for: common practice, no source. And how an intro file is read."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from introit.errors import Problem
from introit.library.model import Form, Intro, Library
from introit.theory.key import Mode
from introit.theory.numeral import Numeral

Read = Callable[[str, str], tuple[object | None, list[Problem]]]

MAJOR, MINOR = Mode.MAJOR, Mode.MINOR

# Each: mode, the first chords the form is for (none: any), its bars. Common practice, no source.
PROGRESSIONS: dict[str, list[tuple[Mode, str, str]]] = {
    "three-six-two-five": [
        (MAJOR, "", "iii11 VI7 | ii9 V13(b9) | Imaj9 VI7(b13) | ii9 V7(b13)"),
        (MINOR, "", "iiiø7 VI7(b9,b13) | iiø7 V7(b9,b13) | i6/9 VI7(b9,b13) | iiø7 V7alt"),
    ],
    "sharp-four-descent": [
        (MAJOR, "I", "#ivø7 iv6 | iii7 bIII°7 | ii7 | bIImaj7"),
        (MAJOR, "", "#ivø7 iv6 | iii7 bIII°7 | ii7 bIImaj7 | Imaj9 H"),
    ],
    "two-five-to-flat-six": [
        (MAJOR, "", "ii9 V13 | bVImaj9 | bIImaj7(#11) | Imaj9 H"),
        (MINOR, "", "iiø7 V7(b9,b13) | bVImaj9 | bIImaj7(#11) | i6/9 H"),
    ],
    "two-fives-over-the-fifth": [
        (MAJOR, "", "iii7 VI7(b9) | ii7 V7 | iii7 VI7(b9) | ii7 V13"),
        (MINOR, "", "iiiø7 VI7(b9) | iiø7 V7(b9,b13) | iiiø7 VI7(b9) | iiø7 V7(b9,b13)"),
    ],
    "three-falling-two-fives": [
        (MAJOR, "", "#ivø7 VII7 | iiiø7 VI7 | iiø7 V7alt | Imaj9 V7sus4"),
        (MINOR, "", "#ivø7 VII7 | iiiø7 VI7 | iiø7 V7alt | i6/9 V7sus4(b9)"),
    ],
    "riff-turnaround": [
        (MAJOR, "", "Imaj7 #i°7 | ii7 V7 | Imaj7 #i°7 | ii7 V7"),
        (MINOR, "", "i6 viø7 | iiø7 V7(b9) | i6 viø7 | iiø7 V7(b9)"),
    ],
    "flat-seven-six-two-five": [
        (MAJOR, "", "bVII7 VI7 | ii9 V7(b13) | bVII7 VI7 | ii9 V7alt"),
        (MINOR, "", "bVII7 VI7(b9) | iiø7 V7(b13) | bVII7 VI7(b9) | iiø7 V7alt"),
    ],
    "dominant-vamp": [
        (MAJOR, "", "V7sus4 | V13 | V7sus4 | V7alt"),
        (MINOR, "", "V7sus4 | V7(b9,b13) | V7sus4(b9) | V7alt"),
    ],
    "substitute-turnaround": [
        (MAJOR, "", "I6/9 | bIII13 | bVImaj9 | bII13(#11)"),
        (MINOR, "", "i6/9 | bIII13 | bVImaj9 | V7alt"),
    ],
    "sus-from-the-minor": [
        (MAJOR, "", "V7sus4(b9) iiø7/5 | V7sus4(b9) iv6/5 | V7sus4(b9) bVImaj7/5 | V7alt"),
        (MINOR, "", "V7sus4(b9) iiø7/5 | V7sus4(b9) iv6/5 | V7sus4(b9) bVImaj7/5 | V7alt"),
    ],
    "sus-from-the-major": [(MINOR, "", "V9sus4 | V13 | V9sus4 | V13")],
}
OVER_THE_FIFTH = {
    "two-fives-over-the-fifth", "dominant-vamp", "sus-from-the-minor", "sus-from-the-major",
}  # fmt: skip


def bars_of(form: Form) -> list[list[str]]:
    return [[str(slot.chord) for slot in bar.slots] for bar in form.bars]


def bars_in(text: str) -> list[list[str]]:
    return [
        [token if token == "H" else str(Numeral.from_text(token)) for token in bar.split()]
        for bar in text.split("|")
    ]


def ten(library: Library) -> list[Intro]:
    """The ten and the tenth's mirror; for the rest of the library see `test_repertoire.py`."""
    return [library.intros[name] for name in PROGRESSIONS]


@pytest.mark.parametrize("name", PROGRESSIONS)
def test_progression(name: str, library: Library) -> None:
    forms = [(form.mode, " ".join(form.heads), bars_of(form)) for form in library.intros[name].forms]
    assert forms == [(mode, heads, bars_in(text)) for mode, heads, text in PROGRESSIONS[name]]


@pytest.mark.parametrize("name", PROGRESSIONS)
def test_pedal_point(name: str, library: Library) -> None:
    pedal = library.intros[name].pedal
    assert (pedal.degree if pedal else None) == ("5" if name in OVER_THE_FIFTH else None)


def test_a_form_leads_to_its_own_tonic_or_ends_on_the_heads_dominant(library: Library) -> None:
    for intro in ten(library):
        for form in intro.forms:
            ends_on_head = bars_of(form)[-1][-1] == "H"
            assert form.leads_to == (() if ends_on_head else (("I",) if form.mode is MAJOR else ("i",)))


def test_of_the_ten_only_the_descent_is_without_a_minor_form(library: Library) -> None:
    without = {intro.id for intro in ten(library) if not any(form.mode is MINOR for form in intro.forms)}
    assert without == {"sharp-four-descent"}


def test_fast_tempi_stretch_each_of_the_ten(library: Library) -> None:
    """Four bars pass in 3.4 s at 280 (4 x 4 x 60 / 280): too short to be followed."""
    assert all(intro.stretch_above is not None and intro.stretch_above < 280 for intro in ten(library))


def test_the_riff_leaves_gaps_in_which_the_comping_answers(library: Library) -> None:
    intro = library.intros["riff-turnaround"]
    assert intro.comping == "gaps-after-riff"
    assert (intro.melody.bars, intro.melody.motif_bars, intro.melody.change) == ((1, 3), 2, "end")
    assert intro.melody.motif[0].position == 0
    ends = max(note.position + note.length for note in intro.melody.motif)
    hits = [hit for bar in library.comping[intro.comping].bars for hit in bar]
    assert ends <= 2
    assert all(hit.position >= ends and hit.accent for hit in hits)


HEAD = "name: x\nmeters: {meters}\ntempo: [60, 240]\nfeels: [{feel}]\nwhy: because\n"
FORM = "forms:\n  - mode: major\n    leads_to: [I, vi]\n    harmony: |\n"


def read_intro(read: Read, harmony: str, *, meters: str = "4/4", more: str = "") -> Intro:
    feel = {"4/4": "bossa", "3/4": "jazz-waltz", "5/4": "five-four-swing"}[meters]
    thing, problems = read("intro", HEAD.format(meters=meters, feel=feel) + more + FORM + harmony)
    assert problems == []
    assert isinstance(thing, Intro)
    return thing


def shares(intro: Intro) -> list[list[int]]:
    return [[slot.share for slot in bar.slots] for bar in intro.forms[0].bars]


@pytest.mark.parametrize(
    ("harmony", "meters", "expected"),
    [
        ("      I | ii7 V7\n", "4/4", [[1], [1, 1]]),
        ("      ii7 . . V7\n", "4/4", [[3, 1]]),
        ("      ii7 .\n      % |\n", "4/4", [[2], [2]]),
        ("      | I . V7 |\n", "3/4", [[2, 1]]),
        ("      I V7 . . .\n", "5/4", [[1, 4]]),
        ("      # first\n      I | V7   # second\n\n      %\n", "4/4", [[1], [1], [1]]),
    ],
)
def test_bars_and_shares(harmony: str, meters: str, expected: list[list[int]], read: Read) -> None:
    assert shares(read_intro(read, harmony, meters=meters)) == expected


def test_what_is_left_out_has_a_plain_default(read: Read) -> None:
    intro = read_intro(read, "      I\n")
    assert (intro.passages[0].texture, intro.melody.style) == ("block", "line")
    assert (intro.comping, intro.bass, intro.pedal) == (None, None, None)
    assert (intro.stretch_above, intro.halve_below) == (None, None)
    assert intro.forms[0].leads_to == ("I", "vi")
