"""The intros that a tune names, in rotation, and the sounds that it asks for."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from introit.errors import Problem
from introit.library.model import Library, SetList, Tune
from introit.library.tune import PartSound

Read = Callable[[str, str], tuple[object | None, list[Problem]]]
ProblemAt = Callable[[str, str], Problem]
TUNE = "title: x\nkey: C\nfeel: medium-swing\n"
EVENING = "title: x\ntunes:\n  - title: y\n    key: C\n    feel: medium-swing\n"


def read_tune(read: Read, more: str) -> Tune:
    tune, problems = read("tune", TUNE + more)
    assert problems == []
    assert isinstance(tune, Tune)
    return tune


@pytest.mark.parametrize(
    ("written", "intros"),
    [
        ("", ()),
        ("intro: dominant-vamp\n", ("dominant-vamp",)),
        ("intro: [dominant-vamp]\n", ("dominant-vamp",)),
        ("intro: [dominant-vamp, three-six-two-five]\n", ("dominant-vamp", "three-six-two-five")),
        ("intro:\n  - three-six-two-five\n  - dominant-vamp\n", ("three-six-two-five", "dominant-vamp")),
    ],
)
def test_one_intro_or_several_in_rotation(written: str, intros: tuple[str, ...], read: Read) -> None:
    tune = read_tune(read, written)
    assert tune.intros == intros
    assert tune.intro == (intros[0] if intros else None)


@pytest.mark.parametrize("tonight", ["intro: back-door", "intro: [back-door, one-bar]"])
def test_what_a_set_says_takes_the_place_of_all_that_the_tune_names(
    tonight: str, read: Read, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(
        library.tunes, "turns", read_tune(read, "intro: [dominant-vamp, three-six-two-five]\n")
    )
    evening, problems = read("set", f"title: x\ntunes:\n  - tune: turns\n  - tune: turns\n    {tonight}\n")
    assert problems == []
    assert isinstance(evening, SetList)
    as_it_is, changed = evening.tunes
    assert as_it_is.intros == ("dominant-vamp", "three-six-two-five")
    assert ", ".join(changed.intros) == tonight.removeprefix("intro: ").strip("[]")


@pytest.mark.parametrize(
    ("kind", "marked", "code", "said", "hint"),
    [
        (
            "tune",
            TUNE + "intro: [dominant-vamp, §dominant-vam]\n",
            "not-there",
            "there is no intro 'dominant-vam'",
            "Did you mean 'dominant-vamp'?",
        ),
        (
            "tune",
            TUNE + "intro:\n  - dominant-vamp\n  - one-bar\n  - §dominant-vamp\n",
            "not-allowed",
            "'dominant-vamp' is named twice; the first is in line 5",
            "Each takes its turn once.",
        ),
        ("tune", TUNE + "intro: §[]\n", "wrong-type", "the list of intros is empty", ""),
        ("tune", TUNE + "intro: [dominant-vamp, §[one-bar]]\n", "wrong-type", "a list is given", ""),
        (
            "tune",
            "title: x\nkey: C\nfeel: five-four-swing\nintro: [dominant-vamp, §bells-at-a-distance]\n",
            "does-not-fit",
            "the tune is in 5/4",
            "",
        ),
        (
            "tune",
            TUNE + "intro: [dominant-vamp, §steps-down-in-minor]\n",
            "does-not-fit",
            "no major form",
            "",
        ),
        (
            "set",
            EVENING + "    intro: [dominant-vamp, §one-barr]\n",
            "not-there",
            "'one-barr'",
            "Did you mean 'one-bar'?",
        ),
    ],
    ids=["unknown", "twice", "empty", "a list in it", "another meter", "another mode", "in a set"],
)
def test_a_mistake_is_told_where_it_stands(
    kind: str, marked: str, code: str, said: str, hint: str, problem_at: ProblemAt
) -> None:
    problem = problem_at(kind, marked)
    assert problem.code == code
    assert said in problem.message
    assert hint in problem.hint


@pytest.mark.parametrize(
    ("written", "sounds"),
    [
        ("sounds: {comp: 5}", (PartSound("comp", 5),)),
        (
            "sounds: {comp: 5, melody: {program: 27, level: 90}}",
            (PartSound("melody", 27, 90), PartSound("comp", 5)),
        ),
        ("sounds: {bass: {level: 0}}", (PartSound("bass", None, 0),)),
        ("sounds: {}", ()),
    ],
)
def test_a_part_may_sound_otherwise_in_one_tune(
    written: str, sounds: tuple[PartSound, ...], read: Read
) -> None:
    assert read_tune(read, written + "\n").sounds == sounds


@pytest.mark.parametrize(
    ("marked", "code", "said", "hint"),
    [
        ("sounds: {§cmop: 5}", "unknown-key", "'cmop' means nothing", "Did you mean 'comp'?"),
        ("sounds: {comp: §0}", "out-of-range", "allowed is 1 to 128", ""),
        ("sounds: {comp: §piano}", "wrong-type", "a whole number from 1 to 128", ""),
        ("sounds: {comp: {program: 5, §levle: 3}}", "unknown-key", "'levle'", "Did you mean 'level'?"),
        ("sounds: {comp: {level: §128}}", "out-of-range", "allowed is 0 to 127", ""),
        ("sounds: {comp: §[5, 90]}", "wrong-type", "`program:` and `level:`", ""),
        ("sounds: §5", "wrong-type", "the sounds of a tune", ""),
    ],
)
def test_a_mistake_in_a_sound(marked: str, code: str, said: str, hint: str, problem_at: ProblemAt) -> None:
    problem = problem_at("tune", TUNE + marked + "\n")
    assert problem.code == code
    assert said in problem.message
    assert hint in problem.hint


def test_notes_to_oneself_are_kept_without_what_steers_a_terminal(read: Read) -> None:
    assert read_tune(read, r'notes: "Watch\x1b[2J the bridge"' + "\n").notes == "Watch[2J the bridge"


def test_every_key_that_a_stage_needs_is_there(read: Read) -> None:
    more = (
        "meter: 4/4\ntempo: 144\nline_up: with bass\npickup: 1.5\nfirst_chord: ii7\nfirst_note: 5\n"
        "intro: [dominant-vamp, one-bar]\ncount_off: 1\nlanding: ring 4\nsounds: {comp: 5}\nnotes: Slow.\n"
    )
    tune = read_tune(read, more)
    assert (str(tune.meter), tune.tempo, tune.line_up, tune.pickup) == ("4/4", 144, "with bass", 1.5)
    assert (str(tune.first_chord), tune.first_note, tune.intros) == ("ii7", "5", ("dominant-vamp", "one-bar"))
    assert (tune.count_off, tune.landing, tune.ring, tune.notes) == (1, "ring", 4, "Slow.")
