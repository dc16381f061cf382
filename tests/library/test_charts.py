"""A tune's chart: what its text says, and in which order its bars are played.

Repeat signs and endings are held to music21's expansion of the same measures; the forms of whole tunes, and
the coda on the last chorus alone, were worked out by hand (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import bar as m21_bar
from music21 import note as m21_note
from music21 import spanner as m21_spanner
from music21 import stream as m21_stream

from introit.errors import Problem
from introit.library.bars import Bar, Slot
from introit.library.chart import Chart, Ending, Measure, Section, Strain, chorus_bars, leaves_after
from introit.library.model import Library, SetList, Tune
from introit.library.set_editing import Change, Move, edited_set
from introit.theory.chord import chord_of
from introit.theory.key import Key, Mode
from introit.theory.numeral import Numeral

Read = Callable[[str, str], tuple[object | None, list[Problem]]]

HEAD = "title: x\nkey: C\nmeter: 4/4\nfeel: medium-swing\n"
QUALITIES = ("", "m", "7", "maj7", "m7", "6", "9", "13", "maj9", "m6", "sus4", "m9")
ROOTS = {"A": "C", "B": "D", "C": "E", "K": "G"}


def named(label: str) -> str:
    """The chord that stands for a label in these tests: B3 is the third bar of B. No two are alike."""
    return ROOTS[label[0]] + QUALITIES[int(label[1:]) - 1]


def filled(text: str) -> str:
    """A chart's text with each label as the chord that stands for it."""
    return re.sub(r"\b[ABCK]\d+\b", lambda found: named(found[0]), text)


def read_chart(read: Read, text: str) -> Chart:
    thing, problems = read("tune", HEAD + text)
    assert problems == [], [str(problem) for problem in problems]
    assert isinstance(thing, Tune)
    assert thing.chart is not None
    return thing.chart


def chords_of(chart: Chart, *, last: bool) -> list[str]:
    key = Key.from_text("C")
    found = []
    for played in chorus_bars(chart, last=last):
        (slot,) = played.bar.slots
        assert isinstance(slot.chord, Numeral)
        found.append(chord_of(slot.chord, key).symbol)
    return found


AABA = """
chart:
  order: A A B A
  A: |
    A1 | A2 | A3 | A4
    A5 | A6
    1. A7 | A8
    2. A9 | A10
  B: |
    B1 | B2 | B3 | B4
    B5 | B6 | B7 | B8
"""
AABA_BARS = """
A1 A2 A3 A4 A5 A6 A7 A8
A1 A2 A3 A4 A5 A6 A9 A10
B1 B2 B3 B4 B5 B6 B7 B8
A1 A2 A3 A4 A5 A6 A9 A10
"""
ABAC = """
chart:
  order: ABAC
  A: |
    A1 | A2 | A3 | A4
  B: B1 | B2 | B3 | B4
  C: |
    C1 | C2
    C3 | C4 |
"""
ABAC_BARS = "A1 A2 A3 A4 B1 B2 B3 B4 A1 A2 A3 A4 C1 C2 C3 C4"
TWELVE = """
chart: |
  A1 | A2 | A3 | A4
  A5 | A6 | A7 | A8
  A9 | A10 | A11 | A12
"""
TWELVE_BARS = "A1 A2 A3 A4 A5 A6 A7 A8 A9 A10 A11 A12"
REPEATED = """
chart: |
  |: A1 | A2 | 1. A3 :| 2. A4 || A5 | A6 |
"""
REPEATED_BARS = "A1 A2 A3 A1 A2 A4 A5 A6"
FROM_THE_TOP = "\nchart: |\n  A1 | A2 :| A3 |: A4 :| A5\n"
FROM_THE_TOP_BARS = "A1 A2 A1 A2 A3 A4 A4 A5"
THREE_TIMES = "\nchart: |\n  |: A1 | 1,3. A2 | A3 :| 2. A4 :|: A5 :|\n"
THREE_TIMES_BARS = "A1 A2 A3 A1 A4 A1 A2 A3 A5 A5"
HELD = "\nchart: |\n  A1 | A2 | 1. % | A3 :| 2. %\n"
HELD_BARS = "A1 A2 A2 A3 A1 A2 A2"
REPEAT_AND_BACK = """
chart:
  order: A, B, A
  A: |
    |: A1 | 1. A2 :| 2. A3
  B: |
    B1
"""
REPEAT_AND_BACK_BARS = "A1 A2 A1 A3 B1 A1 A2 A1 A3"
AFTER_THE_ENDINGS = "\nchart:\n  order: A A\n  A: |\n    A1 | 1. A2 | 2. A3 || A4\n"
AFTER_THE_ENDINGS_BARS = "A1 A2 A4 A1 A3 A4"
AS_THEY_STAND = "\nchart:\n  B: B1\n  A: A1\n"


@pytest.mark.parametrize(
    ("text", "bars"),
    [
        (AABA, AABA_BARS),
        (ABAC, ABAC_BARS),
        (TWELVE, TWELVE_BARS),
        (REPEATED, REPEATED_BARS),
        (FROM_THE_TOP, FROM_THE_TOP_BARS),
        (THREE_TIMES, THREE_TIMES_BARS),
        (HELD, HELD_BARS),
        (REPEAT_AND_BACK, REPEAT_AND_BACK_BARS),
        (AFTER_THE_ENDINGS, AFTER_THE_ENDINGS_BARS),
        (AS_THEY_STAND, "B1 A1"),
    ],
    ids=[
        "AABA",
        "ABAC",
        "12 bars",
        "endings",
        "from the top",
        "1,3.",
        "%",
        "repeats twice",
        "after the endings",
        "no order",
    ],
)
def test_bars_come_in_the_order_worked_out_by_hand(text: str, bars: str, read: Read) -> None:
    chart = read_chart(read, filled(text))
    expected = [named(label) for label in bars.split()]
    assert chords_of(chart, last=False) == expected
    assert chords_of(chart, last=True) == expected


CODA = """
chart:
  order: AABA
  A: |
    A1 | A2 | A3
    1. A4
    2. A5 | to coda | A6
  B: B1 | B2
  coda: |
    K1 | K2
"""
CODA_BARS = "A1 A2 A3 A4 A1 A2 A3 A5 A6 B1 B2 A1 A2 A3 A5 A6"
CODA_LAST = "A1 A2 A3 A4 A1 A2 A3 A5 A6 B1 B2 A1 A2 A3 A5 K1 K2"
CODA_BEFORE_AN_ENDING = """
chart:
  order: A A
  A: |
    A1 | A2 to coda | A3
  coda: K1
"""
CODA_AT_THE_END = "\nchart:\n  A: A1 | A2 to coda\n  coda: K1 | K2\n"


@pytest.mark.parametrize(
    ("text", "bars", "last", "leaves"),
    [
        (CODA, CODA_BARS, CODA_LAST, 15),
        (CODA_BEFORE_AN_ENDING, "A1 A2 A3 A1 A2 A3", "A1 A2 A3 A1 A2 K1", 5),
        (CODA_AT_THE_END, "A1 A2", "A1 A2 K1 K2", 2),
    ],
    ids=["in the second ending", "passed twice", "after the last bar"],
)
def test_the_coda_is_gone_to_on_the_last_chorus_alone(
    text: str, bars: str, last: str, leaves: int, read: Read
) -> None:
    chart = read_chart(read, filled(text))
    assert chords_of(chart, last=False) == [named(label) for label in bars.split()]
    assert chords_of(chart, last=True) == [named(label) for label in last.split()]
    assert leaves_after(chart) == leaves
    assert [played.section for played in chorus_bars(chart, last=True)][leaves:] == ["coda"] * (
        len(last.split()) - leaves
    )


# --- against music21 --------------------------------------------------------------------------------


def bar_of(number: int) -> Bar:
    """One of many bars that are told apart by their chord."""
    return Bar((Slot(Numeral(number % 7 + 1, 0, quality=("", "7", "maj7", "6", "9")[number // 7 % 5])),))


@st.composite
def strains(draw: st.DrawFn) -> tuple[Strain, ...]:
    """A section's strains as repeat signs make them: no two bars alike."""
    numbers = iter(range(35))

    def measures(most: int) -> tuple[Measure, ...]:
        return tuple(Measure(bar_of(next(numbers))) for _ in range(draw(st.integers(1, most))))

    found = []
    for _ in range(draw(st.integers(1, 3))):
        kind = draw(st.sampled_from(["once", "twice", "endings"]))
        body = measures(3)
        if kind == "endings":
            endings = (Ending((1,), measures(2)), Ending((2,), measures(2)))
            found.append(Strain(body, 2, endings))
        else:
            found.append(Strain(body, 2 if kind == "twice" else 1))
    return tuple(found)


def expanded_by_music21(section: tuple[Strain, ...]) -> list[int]:
    """The order of bars (counted as written, from 0), as music21 plays the repeat signs and brackets."""
    part = m21_stream.Part()
    count = 0

    def add(number_of_bars: int) -> list[m21_stream.Measure]:
        nonlocal count
        added = []
        for _ in range(number_of_bars):
            measure = m21_stream.Measure(number=count + 1)
            measure.append(m21_note.Note(36 + count, quarterLength=4))
            part.append(measure)
            added.append(measure)
            count += 1
        return added

    for strain in section:
        body = add(len(strain.measures))
        if strain.times == 1:
            continue
        body[0].leftBarline = m21_bar.Repeat(direction="start")
        if not strain.endings:
            body[-1].rightBarline = m21_bar.Repeat(direction="end")
            continue
        for number, ending in enumerate(strain.endings, start=1):
            bracketed = add(len(ending.measures))
            part.insert(0, m21_spanner.RepeatBracket(bracketed, number=number))
            if number < len(strain.endings):
                bracketed[-1].rightBarline = m21_bar.Repeat(direction="end")
    return [note.pitch.midi - 36 for note in part.expandRepeats().flatten().notes]


@given(section=strains())
@settings(max_examples=60, deadline=None)
def test_repeats_and_endings_are_played_as_music21_plays_them(section: tuple[Strain, ...]) -> None:
    written: list[Bar] = []
    for strain in section:
        for measures in (strain.measures, *(ending.measures for ending in strain.endings)):
            written += [measure.bar for measure in measures]
    chart = Chart(Mode.MAJOR, (Section("A", section),), ("A",))
    played = [written.index(one.bar) for one in chorus_bars(chart)]
    assert played == expanded_by_music21(section)


# --- properties -------------------------------------------------------------------------------------


@given(
    sections=st.lists(strains(), min_size=1, max_size=3),
    order=st.lists(st.integers(0, 2), min_size=1, max_size=5),
    mark=st.integers(0, 40),
    coda=st.integers(0, 3),
)
@settings(max_examples=100, deadline=None)
def test_a_last_chorus_is_any_chorus_until_it_leaves(
    sections: list[tuple[Strain, ...]], order: list[int], mark: int, coda: int
) -> None:
    names = "ABC"[: len(sections)]
    places = tuple(names[number % len(names)] for number in order)
    whole = tuple(Section(name, one) for name, one in zip(names, sections, strict=True))
    plain = Chart(Mode.MAJOR, whole, places)
    bars = chorus_bars(plain)
    assert [one.section for one in bars if one.begins] == list(places)
    assert chorus_bars(plain, last=True) == bars
    marked = mark % len(sections[0])
    with_mark = replace(whole[0], strains=_marked(whole[0].strains, marked))
    chart = Chart(Mode.MAJOR, (with_mark, *whole[1:]), places, tuple(map(bar_of, range(coda))))
    leaves = leaves_after(chart)
    last = chorus_bars(chart, last=True)
    assert [one.bar for one in chorus_bars(chart)] == [one.bar for one in bars]
    if leaves:
        assert [one.bar for one in last] == [*(one.bar for one in bars[:leaves]), *chart.coda]
        assert chorus_bars(chart)[leaves - 1].to_coda
        assert not any(one.to_coda for one in chorus_bars(chart)[leaves:])
    else:
        assert last == chorus_bars(chart)


def _marked(section: tuple[Strain, ...], number: int) -> tuple[Strain, ...]:
    """The strains, the last bar of the body of one of them marked."""
    strain = section[number]
    *before, bar = strain.measures
    marked = replace(strain, measures=(*before, replace(bar, to_coda=True)))
    return (*section[:number], marked, *section[number + 1 :])


# --- chords -----------------------------------------------------------------------------------------


def numerals_of(chart: Chart) -> str:
    return " | ".join(" ".join(str(slot.chord) for slot in one.bar.slots) for one in chorus_bars(chart))


def test_names_are_read_in_the_tunes_key_and_numerals_beside_them(read: Read) -> None:
    text = HEAD.replace("key: C", "key: Eb") + "chart: |\n  Ebmaj7 | F#m7b5 | ii7 Bb7(b9) | E7 . D/F# Hsus\n"
    thing, problems = read("tune", text)
    assert problems == []
    assert isinstance(thing, Tune)
    assert thing.chart is not None
    assert numerals_of(thing.chart) == "Imaj7 | #iiø7 | ii7 V7(b9) | bII7 VII/#2 Hsus"
    assert thing.chart.mode is Mode.MAJOR


def test_a_tune_starts_on_its_charts_first_chord(read: Read) -> None:
    thing, problems = read("tune", HEAD + "chart: |\n  Dm9 | G7\n")
    assert (problems, str(getattr(thing, "first_chord", ""))) == ([], "ii9")
    thing, problems = read("tune", HEAD + "first_chord: ii\nchart: |\n  Dm9 | G7\n")
    assert (problems, str(getattr(thing, "first_chord", ""))) == ([], "ii")


def test_an_entry_takes_the_chart_into_its_own_key_and_can_have_another(read: Read, library: Library) -> None:
    entry = "title: x\ntunes:\n  - tune: late-bus-to-orrin\n    key: F\n"
    thing, problems = read("set", entry)
    assert problems == []
    assert isinstance(thing, SetList)
    assert thing.tunes[0].chart == library.tunes["late-bus-to-orrin"].chart
    thing, problems = read("set", entry + "    chart: |\n      Bbmaj7 | C7\n")
    assert problems == []
    assert isinstance(thing, SetList)
    (tune,) = thing.tunes
    assert tune.chart is not None
    assert (numerals_of(tune.chart), str(tune.first_chord)) == ("IVmaj7 | V7", "IVmaj7")


def test_every_tune_that_comes_with_the_program_has_a_chart(library: Library) -> None:
    for tune in library.tunes.values():
        assert tune.chart is not None, tune.id
        assert tune.chart.mode is tune.key.mode
        assert len(chorus_bars(tune.chart)) in (16, 24, 32)


# --- mistakes ---------------------------------------------------------------------------------------

MISTAKES = [
    ("chart: |\n  Imaj7 | Ab§mja7\n", "bad-chord", "Did you mean"),
    ("chart: |\n  Imaj7 | §c7\n", "bad-chord", "capital letter"),
    ("chart: |\n  Imaj7 | V§x7\n", "bad-numeral", "belong here"),
    ("chart: |\n  Imaj7 | §ii7 V7 I6\n", "bad-bar", "a bar holds 1, 2 or 4"),
    ("chart: |\n  §% | I6\n", "bad-bar", "there is none"),
    ("chart: |\n  I6 | §| I6\n", "bad-bar", "Write %"),
    ("chart: |\n  §|: I6 | ii7\n", "bad-chart", "closed nowhere"),
    ("chart: |\n  §:| I6 | ii7\n", "bad-chart", "no bar before it"),
    ("chart: |\n  I6 :| §:|\n", "bad-chart", "second repeat sign"),
    ("chart: |\n  §1. I6 :| 2. V7\n", "bad-chart", "no bar before it"),
    ("chart: |\n  I6 | §1. V7 :|\n", "bad-chart", "endings are 1."),
    ("chart: |\n  I6 | §1. V7 :| 3. IV6\n", "bad-chart", "endings are 1., 3."),
    ("chart: |\n  |: I6 :| §1. V7 :| 2. IV6\n", "bad-chart", "behind the repeat sign"),
    ("chart: |\n  I6 | §1. :| 2. IV6\n", "bad-chart", "ending 1. has no bar"),
    ("chart: §|\n  I6 | 1. V7 | 2. IV6\n", "does-not-fit", "played once in a chorus"),
    ("chart: |\n  §to coda | I6\n", "bad-chart", "behind the last bar before the coda"),
    ("chart: |\n  I6 | §to coda | IV6\n", "bad-chart", "the chart has none"),
    ("chart:\n  A: I6\n  §coda: IV6\n", "bad-chart", "Write `to coda`"),
    ("chart:\n  A: I6 to coda\n  coda: |\n    §|: IV6 :|\n", "bad-chart", "no repeat signs"),
    ("chart:\n  order: A §C\n  A: I6\n", "not-allowed", "there are A"),
    ("chart:\n  order: A §coda\n  A: I6 to coda\n  coda: I6\n", "not-allowed", "not in the order"),
    ("chart:\n  order: A\n  A: I6\n  §B: IV6\n", "does-not-fit", "not in the order A"),
    ("chart:\n  order: §{}\n  A: I6\n", "wrong-type", "A A B A"),
    ("chart:\n  §ordr: AA\n  A: I6\n", "unknown-key", "Did you mean 'order'?"),
    ("chart:\n  §first part: I6\n  A: I6\n", "unknown-key", "no name of a section"),
    ("chart:\n  A: I6\n  §A: I6\n", "duplicate-key", "given twice"),
    ("chart:\n  §order: A\n", "missing-key", "needs a section"),
    ("chart: §[I6, V7]\n", "wrong-type", "a list is given"),
    ("chart: §|\n  H | I6\n", "bad-chart", "cannot be the first"),
    ("chart: I6 | ii7 §#iv7\n", "yaml-comment", "block text"),
    ("§first_chord: ii7\nchart: |\n  I6 | V7\n", "does-not-fit", "Leave `first_chord` out"),
    ("chart: §|\n  " + "I6 | " * 65 + "\n", "out-of-range", "at most 64"),
    ("chart:\n  §order: " + "A" * 9 + "\n  A: |\n    " + "I6 | " * 16 + "\n", "out-of-range", "128 bars"),
]


@pytest.mark.parametrize(("text", "code", "says"), MISTAKES, ids=[str(n) for n in range(len(MISTAKES))])
def test_mistakes_are_told_where_they_are(
    text: str, code: str, says: str, problem_at: Callable[[str, str], Problem]
) -> None:
    problem = problem_at("tune", HEAD + text)
    assert problem.code == code, str(problem)
    assert says in str(problem)


def test_all_mistakes_of_a_chart_are_told_at_once(read: Read) -> None:
    text = "chart:\n  A: |\n    Q7 | I6\n    ii7 V7 I6\n  B: |\n    Hm | x\n"
    _, problems = read("tune", HEAD + text)
    assert [(problem.line, problem.code) for problem in problems] == [
        (7, "bad-numeral"),
        (8, "bad-bar"),
        (10, "bad-numeral"),
        (10, "bad-numeral"),
    ]


def test_a_chart_must_go_in_the_meter_that_an_entry_asks_for(read: Read) -> None:
    entries = (
        "title: x\ntunes:\n  - title: y\n    key: C\n    feel: medium-swing\n    chart: |\n      I6 . . V7\n"
    )
    _, problems = read("set", entries)
    assert problems == []
    _, problems = read("set", entries.replace("medium-swing", "jazz-waltz"))
    assert [problem.code for problem in problems] == ["bad-bar"]


# --- a set's file is edited beside a chart ----------------------------------------------------------

EDITED = """\
title: x
tunes:
  - title: With a chart
    key: C
    feel: medium-swing
    chart:               # tonight only
      order: AAB
      A: |
        |: I6 | 1. V7 :| 2. IV6
      B: |
        ii7 | V7
  - tune: late-bus-to-orrin
"""


@pytest.mark.parametrize(
    "edit",
    [
        Move(0, 1),
        Move(1, 0),
        Change(0, {"tempo": 150.0}),
        Change(0, {"key": "F", "landing": "chord"}),
        Change(1, {"intro": "dominant-vamp"}),
    ],
    ids=["down", "up", "tempo", "key and landing", "the other's intro"],
)
def test_an_edit_of_a_set_leaves_a_chart_as_it_is(edit: Move | Change, read: Read) -> None:
    def charts(text: str) -> dict[str, Chart | None]:
        thing, problems = read("set", text)
        assert problems == []
        assert isinstance(thing, SetList)
        return {tune.title: tune.chart for tune in thing.tunes}

    edited = edited_set(EDITED, edit)
    assert edited != EDITED
    assert charts(edited) == charts(EDITED)
    assert "# tonight only" in edited
