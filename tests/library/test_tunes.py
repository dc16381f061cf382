"""Tunes from files, from entries of a set, and from calls."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from introit.errors import NotationError, Problem
from introit.library.calls import HEADS, called_tune, ready_made
from introit.library.model import Library, SetList, Tune
from introit.theory.function import head_dominant

Read = Callable[[str, str], tuple[object | None, list[Problem]]]


def read_tune(read: Read, text: str) -> Tune:
    thing, problems = read("tune", text)
    assert problems == []
    assert isinstance(thing, Tune)
    return thing


def read_set(read: Read, entries: str) -> tuple[Tune, ...]:
    thing, problems = read("set", "title: x\ntunes:\n" + entries)
    assert problems == []
    assert isinstance(thing, SetList)
    return thing.tunes


def test_a_tune_needs_little(read: Read) -> None:
    tune = read_tune(read, "title: x\nkey: F#m\nfeel: jazz-waltz\n")
    assert (str(tune.key), str(tune.meter), tune.tempo, str(tune.first_chord)) == (
        "F# minor",
        "3/4",
        152,
        "i",
    )
    assert (tune.pickup, tune.count_off, tune.landing, tune.intro) == (0, 0, "cut", None)


@pytest.mark.parametrize(("written", "beats"), [("1.5", "3/2"), ("1/2", "1/2"), ("2", "2"), ("0", "0")])
def test_pickup_in_beats(written: str, beats: str, read: Read) -> None:
    tune = read_tune(read, f"title: x\nkey: C\nfeel: bossa\npickup: {written}\n")
    assert tune.pickup == Fraction(beats)


@pytest.mark.parametrize(
    ("title", "cleaned"),
    [
        (r'"a\x1b[31mb\x07"', "a[31mb"),
        (r'"a\u202Eb\u200B"', "ab"),
        (r'"two\nlines\t here"', "two lines here"),
        ("../../etc/passwd", "../../etc/passwd"),
        ("x" * 300, "x" * 200),
    ],
    ids=["escape sequence", "bidi override", "line break", "path", "long"],
)
def test_titles_are_cleaned_and_only_shown(title: str, cleaned: str, read: Read) -> None:
    tune = read_tune(read, f"title: {title}\nkey: C\nfeel: bossa\n")
    assert tune.title == cleaned
    assert tune.id == "example"


def test_a_title_in_a_set_makes_an_id_that_is_no_path(read: Read) -> None:
    entry = '  - title: "../Über: Café/ø"\n    key: C\n    feel: bossa\n'
    assert [tune.id for tune in read_set(read, entry)] == ["uber-cafe"]


def test_an_entry_changes_a_tune_for_tonight(read: Read, library: Library) -> None:
    changes = ["key: G", "tempo: 150", "intro: dominant-vamp", "count_off: 0"]
    entry = "\n    ".join(["  - tune: late-bus-to-orrin", *changes]) + "\n"
    (tune,) = read_set(read, entry)
    own = library.tunes["late-bus-to-orrin"]
    assert (str(tune.key), tune.tempo, tune.intro, tune.count_off) == ("G", 150, "dominant-vamp", 0)
    assert (tune.id, tune.title, tune.first_chord, tune.pickup) == (
        own.id,
        own.title,
        own.first_chord,
        own.pickup,
    )


def test_a_change_of_mode_takes_the_tonic_with_it(read: Read) -> None:
    (tune,) = read_set(read, "  - call: medium swing, C\n    key: C minor\n")
    assert str(tune.first_chord) == "i"


def test_a_change_must_fit_too(read: Read) -> None:
    thing, problems = read("set", "title: x\ntunes:\n  - tune: lantern-for-edda\n    key: C minor\n")
    assert thing is None
    assert [(problem.code, problem.line) for problem in problems] == [("does-not-fit", 3)]


def test_ready_made_entries_are_every_feel_mode_and_first_chord(library: Library) -> None:
    entries = ready_made(library)
    assert len(entries) == len(library.feels) * 5
    assert len({entry.id for entry in entries}) == len(entries)
    assert {(entry.mode, entry.first_chord) for entry in entries} == {
        (mode, head) for mode, heads in HEADS.items() for head in heads
    }


def test_every_ready_made_entry_can_be_called(library: Library) -> None:
    for entry in ready_made(library):
        tune = called_tune(entry.call, library)
        assert (tune.id, tune.feel, tune.tempo) == (entry.id, entry.feel, entry.tempo)
        assert (tune.key.mode, str(tune.first_chord)) == (entry.mode, entry.first_chord)
        assert tune.meter == library.feels[entry.feel].meters[0]
        assert head_dominant(tune.first_chord, tune.key.mode) is not None


@pytest.mark.parametrize(
    ("call", "feel", "key", "tempo", "first"),
    [
        ("medium swing, Ab, starts on two, 140", "medium-swing", "Ab", 140, "ii"),
        ("Medium Swing, 152, Ab, starts on two", "medium-swing", "Ab", 152, "ii"),
        ("medium-swing,starts on the six,in B flat", "medium-swing", "Bb", 140, "vi"),
        ("bossa, C minor", "bossa", "C minor", 128, "i"),
        ("bossa, f#m, starts on bVImaj7, at 118 bpm", "bossa", "F# minor", 118, "bVImaj7"),
        ("jazz waltz, F, starts on four, 3/4", "jazz-waltz", "F", 152, "IV"),
        ("ballad, Eb major, 54.5", "ballad", "Eb", 54.5, "I"),
        ("up-tempo swing, D, starts on iii7", "up-tempo-swing", "D", 236, "iii7"),
        ("medium swing, C minor, starts on two", "medium-swing", "C minor", 140, "iiø7"),
    ],
)
def test_calls(call: str, feel: str, key: str, tempo: float, first: str, library: Library) -> None:
    tune = called_tune(call, library)
    assert (tune.feel, str(tune.key), tune.tempo, str(tune.first_chord)) == (feel, key, tempo, first)


def test_a_call_may_choose_a_meter_of_its_feel(library: Library) -> None:
    assert str(called_tune("straight eighths, C, 3/4", library).meter) == "3/4"


@pytest.mark.parametrize(
    ("call", "position", "said"),
    [
        ("medum swing, Ab", 0, "Did you mean 'medium swing'?"),
        ("", 0, "a call begins with a feel"),
        ("Ab, medium swing", 0, "feels are ballad, bossa"),
        ("medium swing", 12, "the key is missing"),
        ("medium swing, D# minor", 14, "Did you mean 'Eb minor'?"),
        ("medium swing, Ab, 500", 18, "allowed is 30 to 400"),
        ("medium swing, Ab, 20", 18, "allowed is 30 to 400"),
        ("medium swing, Ab, 3/4", 18, "felt in 4/4, not in 3/4"),
        ("medium swing, Ab, 7/8", 18, "a meter is one of"),
        ("medium swing, Ab, 140, 150", 23, "a second tempo; the first is '140'"),
        ("medium swing, Ab, loud", 18, "'loud' cannot be read here; after the feel come"),
        ("medium swing,, Ab", 13, "nothing cannot be read here"),
        ("medium swing, Ab, starts on tow", 28, "Did you mean 'two'?"),
        ("medium swing, Ab, starts on iiq", 30, "or one of one, two"),
    ],
)
def test_calls_that_cannot_be_read(call: str, position: int, said: str, library: Library) -> None:
    with pytest.raises(NotationError) as caught:
        called_tune(call, library)
    assert caught.value.position == position
    assert said in caught.value.reason


@pytest.mark.parametrize(
    ("written", "landing", "ring"),
    [("cut", "cut", 0), ("chord", "chord", 0), ("ring 4", "ring", 4), ("ring  16", "ring", 16)],
)
def test_landings(written: str, landing: str, ring: int, read: Read) -> None:
    tune = read_tune(read, f"title: x\nkey: C\nfeel: bossa\nlanding: {written}\n")
    assert (tune.landing, tune.ring) == (landing, ring)


@pytest.mark.parametrize(
    "written", ["ring", "ring 0", "ring 17", "ring 1.5", "ring 4 beats", "crash", "cut 2"]
)
def test_a_landing_that_cannot_be(written: str, read: Read) -> None:
    thing, problems = read("tune", f"title: x\nkey: C\nfeel: bossa\nlanding: {written}\n")
    assert thing is None
    assert [(problem.code, problem.line, problem.column) for problem in problems] == [("not-allowed", 4, 10)]
    assert "`ring 4`" in problems[0].message


def test_who_plays_and_the_first_note(read: Read) -> None:
    tune = read_tune(read, "title: x\nkey: C\nfeel: bossa\nline_up: solo guitar\nfirst_note: b3\n")
    assert (tune.line_up, tune.first_note) == ("solo guitar", "b3")


@pytest.mark.parametrize(
    ("written", "hint"), [("line_up: solo guitr", "solo guitar"), ("first_note: 8", "1 to 7")]
)
def test_nobody_plays_it_and_no_such_note(written: str, hint: str, read: Read) -> None:
    thing, problems = read("tune", f"title: x\nkey: C\nfeel: bossa\n{written}\n")
    assert thing is None
    assert [problem.code for problem in problems] == ["not-allowed"]
    assert hint in str(problems[0])


def test_an_entry_of_a_set_may_change_the_landing_and_the_line_up(read: Read) -> None:
    (tune,) = read_set(read, "  - {title: x, key: C, feel: bossa, landing: ring 2, line_up: trio}\n")
    assert (tune.landing, tune.ring, tune.line_up) == ("ring", 2, "trio")
