"""`goals:` in a set: what is asked for of each tune, and every mistake at its place."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from introit.errors import Problem
from introit.library.cache import Cache
from introit.library.goals import Goal
from introit.library.kinds import FOLDERS
from introit.library.loader import load_library
from introit.library.model import SetList
from introit.theory.key import Key

ProblemAt = Callable[[str, str], Problem]
Read = Callable[[str, str], tuple[object | None, list[Problem]]]

MAJOR = "  - {title: One, key: Bb, feel: medium-swing%s}\n"
MINOR = "  - {title: Two, key: C minor, feel: medium-swing%s}\n"


def asked(read: Read, text: str) -> tuple[Goal | None, ...]:
    thing, problems = read("set", text)
    assert problems == []
    assert isinstance(thing, SetList)
    return thing.goals


def names(goal: Goal | None) -> str:
    assert goal is not None
    return " ".join(map(str, goal.keys))


def test_a_set_without_goals_has_none(read: Read) -> None:
    assert asked(read, "title: x\ntunes:\n" + MAJOR % "") == ()


def test_what_a_tune_leaves_out_is_what_the_set_says(read: Read) -> None:
    one, two = asked(
        read,
        "title: x\ngoals: {keys: all, clean: 2, by: 2026-12-10}\ntunes:\n"
        + MAJOR % ", goals: {keys: [Bb, Eb], tempo: 150, since: 2026-12-03}"
        + MINOR % "",
    )
    bb, eb = Key.from_text("Bb"), Key.from_text("Eb")
    assert one == Goal((bb, eb), 150.0, 2, "2026-12-10", "2026-12-03")
    assert (one.last_day, one.first_day) == (date(2026, 12, 10), date(2026, 12, 3))
    assert two is not None
    assert (two.tempo, two.clean, two.by, two.since) == (None, 2, "2026-12-10", None)
    # the cycle of fourths (no source: common practice), in the tune's own mode
    assert " ".join(map(str, two.keys)).replace(" minor", "") == "C F Bb Eb G# C# F# B E A D G"
    assert all(key.is_minor for key in two.keys)


def test_the_set_says_tempo_and_days_for_all(read: Read) -> None:
    (one,) = asked(
        read,
        "title: x\ngoals: {tempo: 140, since: 2026-12-10, by: 2026-12-10}\ntunes:\n"
        + MAJOR % ", goals: {keys: F}",
    )
    assert one == Goal((Key.from_text("F"),), 140.0, 1, "2026-12-10", "2026-12-10")


def test_left_out_everywhere_it_is_the_tunes_own_key_once(read: Read) -> None:
    (one,) = asked(read, "title: x\ntunes:\n" + MAJOR % ", goals: {by: 2026-12-10}")
    assert one == Goal((Key.from_text("Bb"),), None, 1, "2026-12-10", None)


def test_goals_of_one_tune_are_asked_of_that_tune_alone(read: Read) -> None:
    one, two = asked(read, "title: x\ntunes:\n" + MAJOR % ", goals: {keys: F}" + MINOR % "")
    assert names(one) == "F"
    assert two is None


def test_a_tune_can_be_without_homework(read: Read) -> None:
    one, two = asked(read, "title: x\ngoals: {keys: all}\ntunes:\n" + MAJOR % "" + MINOR % ", goals: none")
    assert len(names(one).split()) == 12
    assert two is None
    assert asked(read, "title: x\ngoals: none\ntunes:\n" + MAJOR % "") == ()


def test_of_the_sets_keys_those_in_the_tunes_mode_are_asked(read: Read) -> None:
    one, two = asked(read, "title: x\ngoals: {keys: [F, C minor, Bb]}\ntunes:\n" + MAJOR % "" + MINOR % "")
    assert (names(one), names(two)) == ("F Bb", "C minor")


def test_goals_stay_with_their_tune_when_another_is_left_out(read: Read) -> None:
    thing, problems = read(
        "set",
        "title: x\ntunes:\n" + MAJOR % ", goals: {keys: F}, tempo: fast" + MINOR % ", goals: {keys: Cm}",
    )
    assert [problem.code for problem in problems] == ["wrong-type"]
    assert isinstance(thing, SetList)
    assert [tune.title for tune in thing.tunes] == ["Two"]
    assert names(thing.goals[0]) == "C minor"


def test_goals_are_kept_from_one_start_to_the_next(tmp_path: Path, root: Path) -> None:
    folder = tmp_path / FOLDERS["set"]
    folder.mkdir(parents=True)
    text = "title: x\ngoals: {keys: all, by: 2026-12-10}\ntunes:\n" + MAJOR % "" + MINOR % ", goals: none"
    (folder / "lesson.yaml").write_text(text)
    roots = [root, tmp_path]
    first = Cache(None, roots, now_ns=2**62)
    before, _ = load_library(roots, cache=first)
    second = Cache(first.to_bytes(), roots, now_ns=2**62)
    after, _ = load_library(roots, cache=second)
    assert not second.changed
    assert after.sets["lesson"] == before.sets["lesson"]
    assert after.sets["lesson"].goals[0] is not None
    assert after.sets["lesson"].goals[1] is None


@pytest.mark.parametrize(
    ("goals", "code", "says", "hint"),
    [
        ("§often", "wrong-type", "goals is described by keys and values; 'often' is given", ""),
        ("{§key: Bb}", "unknown-key", "keys are keys, tempo, clean, since, by", "Did you mean 'keys'?"),
        ("{keys: §H}", "bad-key", "a key is a note name", ""),
        ("{keys: §al}", "bad-key", "or `all` for the twelve", "Did you mean 'all'?"),
        ("{keys: §[]}", "wrong-type", "the list is empty", ""),
        ("{keys: [F, §H]}", "bad-key", "a key is a note name", ""),
        ("{keys: [Gb, C, §F#]}", "not-allowed", "the key F# is named twice; the first is Gb", ""),
        ("{tempo: §600}", "out-of-range", "allowed is 30 to 400", ""),
        ("{clean: §0}", "out-of-range", "allowed is 1 to 99 passes", ""),
        ("{clean: §1.5}", "wrong-type", "a whole number from 1 to 99", ""),
        ("{clean: §yes}", "yaml-word", "a whole number", ""),
        ("{by: §Thursday}", "bad-date", "its year first, such as 2026-12-10; 'Thursday' is given", ""),
        ("{by: §10.12.2026}", "bad-date", "its year first", ""),
        ("{by: §2026-12-1}", "bad-date", "its year first", ""),
        ("{by: §2026-02-29}", "bad-date", "there is no day '2026-02-29' in the calendar", ""),
        ("{since: §soon}", "bad-date", "a day is needed", ""),
        ("{since: 2026-12-10, §by: 2026-12-03}", "out-of-range", "comes before the first, 2026-12-10", ""),
        ("{§by: 2026-12-03, since: 2026-12-10}", "out-of-range", "comes before the first, 2026-12-10", ""),
    ],
)
@pytest.mark.parametrize("place", ["set", "tune"])
def test_a_mistake_is_told_at_its_place(
    problem_at: ProblemAt, place: str, goals: str, code: str, says: str, hint: str
) -> None:
    text = f"goals: {goals}"
    if place == "set":
        problem = problem_at("set", f"title: x\n{text}\ntunes:\n" + MAJOR % "")
    else:
        problem = problem_at("set", "title: x\ntunes:\n" + MAJOR % f", {text}")
    assert problem.code == code
    assert says in problem.message
    assert problem.hint == hint


def test_a_tunes_own_keys_must_be_in_its_mode(problem_at: ProblemAt) -> None:
    problem = problem_at("set", "title: x\ntunes:\n" + MINOR % ", goals: {keys: §[C minor, Db]}")
    assert (problem.code, problem.hint) == ("does-not-fit", "Did you mean 'C# minor'?")
    assert problem.message == "'Two' is in C minor, and Db is major"
    problem = problem_at("set", "title: x\ntunes:\n" + MAJOR % ", goals: {keys: §G# minor}")
    assert problem.hint == "Did you mean 'Ab'?"


def test_the_sets_keys_must_hold_one_for_each_tune(problem_at: ProblemAt) -> None:
    problem = problem_at("set", "title: x\ngoals: {keys: §[F, Bb]}\ntunes:\n" + MAJOR % "" + MINOR % "")
    assert problem.code == "does-not-fit"
    assert problem.message == "none of these keys is minor, and 'Two' is in C minor"
    assert problem.hint == "Write `all`, or give that tune goals of its own."
