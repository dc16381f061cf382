"""YAML's traps for music: named, with the place, what was lost and what to write instead."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import yaml

from introit.errors import Problem

ProblemAt = Callable[[str, str], Problem]
Read = Callable[[str, str], tuple[object | None, list[Problem]]]

HEAD = "name: x\nmeters: [4/4]\ntempo: [60, 240]\nfeels: [medium-swing]\nwhy: because\n"
FORM = HEAD + "forms:\n  - mode: major\n    leads_to: I\n    harmony: "
TUNE = "title: Six Pears\nkey: Bb\nfeel: medium-swing\n"
BLOCK_HINT = "Write the music as block text: `harmony: |`"


def test_yaml_itself_says_nothing() -> None:
    """Why the traps must be looked for: an independent reading with PyYAML finds no fault and loses music."""
    assert yaml.safe_load("harmony: V7 #ivø7") == {"harmony": "V7"}
    assert yaml.safe_load("harmony: #ivø7 iv6") == {"harmony": None}
    assert yaml.safe_load("rhythm: &2 short") == {"rhythm": "short"}
    assert yaml.safe_load("x: off") == {"x": False}
    assert yaml.safe_load("x: 4:30") == {"x": 270}


@pytest.mark.parametrize(
    ("harmony", "lost"),
    [
        ("V7 §#ivø7\n", "#ivø7"),
        ("§#ivø7 iv6\n", "#ivø7 iv6"),
        ("\n      §#ivø7 iv6 | I\n", "#ivø7 iv6 | I"),
        ("\n      ii7 V7 |\n      I §#i°7\n", "#i°7"),
        ("| §#ivø7 iv6\n      ii7 V7\n", "#ivø7 iv6"),
    ],
    ids=["tail", "whole", "whole line below", "tail of two lines", "beside the block sign"],
)
def test_sharp_read_as_comment(harmony: str, lost: str, problem_at: ProblemAt) -> None:
    problem = problem_at("intro", FORM + harmony)
    assert problem.code == "yaml-comment"
    assert repr(lost) in problem.message
    assert problem.hint.startswith(BLOCK_HINT)


def test_sharp_that_makes_the_rest_unreadable(problem_at: ProblemAt) -> None:
    problem = problem_at("intro", FORM + "\n      ii7 V7\n      #ivø7 iv6\n      §I\n")
    assert problem.code == "syntax"
    assert "a sharp above was read as a comment" in problem.message
    assert problem.hint.startswith("Line 11, column 7: " + BLOCK_HINT)


def test_sharp_in_a_list(problem_at: ProblemAt) -> None:
    problem = problem_at("intro", HEAD + "forms:\n  - mode: major\n    heads: [I, #iv]\n§")
    assert problem.code == "syntax"
    assert problem.hint.startswith("Line 8, column 16: ")


def test_sharp_in_a_single_numeral(problem_at: ProblemAt) -> None:
    problem = problem_at("tune", TUNE + "first_chord: §#ivø7\n")
    assert problem.code == "yaml-comment"
    assert "quotes" in problem.hint


def test_sharp_in_a_title(problem_at: ProblemAt) -> None:
    problem = problem_at("tune", "title: Walk §#2\nkey: C\nfeel: bossa\n")
    assert problem.code == "yaml-comment"
    assert "only 'Walk' was left" in problem.message


@pytest.mark.parametrize(
    "text",
    [
        FORM + "|  # two chords a bar\n      #ivø7 iv6 | I   # home\n      # and so on\n      ii7 #i°7\n",
        FORM + '"#ivø7 iv6 | I"\n',
        FORM + "V7 | I  # a comment has a space\n",
    ],
    ids=["block", "quoted", "plain"],
)
def test_sharps_and_comments_where_they_are_safe(text: str, read: Read) -> None:
    thing, problems = read("intro", text)
    assert problems == []
    assert thing is not None


def test_a_quoted_sharp_is_a_numeral(read: Read) -> None:
    thing, problems = read("tune", TUNE + 'first_chord: "#ivø7"\n')
    assert problems == []
    assert str(thing.first_chord) == "#ivø7"  # type: ignore[union-attr]


def test_off_beat_read_as_anchor(problem_at: ProblemAt) -> None:
    problem = problem_at("comping", "name: x\nmeter: 4/4\nrhythm: §&2 short\n")
    assert problem.code == "yaml-anchor"
    assert "'&2'" in problem.message
    assert "block text" in problem.hint


@pytest.mark.parametrize(
    ("line", "code"),
    [("count_off: §off", "yaml-word"), ("tempo: §on", "yaml-word"), ("count_off: §no", "yaml-word"),
     ("tempo: §2:00", "yaml-clock"), ("pickup: §1:30", "yaml-clock")],
)  # fmt: skip
def test_words_and_clocks_for_numbers(line: str, code: str, problem_at: ProblemAt) -> None:
    assert problem_at("tune", TUNE + line + "\n").code == code


@pytest.mark.parametrize(
    ("word", "meant"), [("off", "false"), ("yes", "true"), ("On", "true"), ("n", "false")]
)
def test_words_for_true_and_false(word: str, meant: str, problem_at: ProblemAt) -> None:
    rig = (
        "name: x\nports:\n  main: {to: any}\nparts:\n  comp: {port: main, channel: 1, muted: §" + word + "}\n"
    )
    problem = problem_at("rig", rig)
    assert problem.code == "yaml-word"
    assert problem.hint == f"Write {meant}."


@pytest.mark.parametrize("title", ["off", "On", "No", "4:30", "12", "true", "1e3", "2024-05-01"])
def test_titles_are_what_was_written(title: str, read: Read) -> None:
    thing, problems = read("tune", f"title: {title}\nkey: C\nfeel: bossa\n")
    assert problems == []
    assert thing.title == title  # type: ignore[union-attr]
