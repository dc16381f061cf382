"""How a feel's file is read: drift, strums, endings, ornaments and light time, and every mistake in them."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

import pytest

from introit.errors import Problem
from introit.library.model import Feel, Library, Tap, TimeLine
from introit.performance import PLAYED_PARTS
from introit.theory.meter import Meter

Read = Callable[[str, str], tuple[object | None, list[Problem]]]
ProblemAt = Callable[[str, str], Problem]

PLAIN = "name: x\nmeters: 4/4\ntempo: [60, 200]\ntypical_tempo: 100\ncomping: held\nbass: roots\n"
HALF = Fraction(1, 2)


def read_feel(read: Read, text: str) -> Feel:
    thing, problems = read("feel", PLAIN + text)
    assert problems == []
    assert isinstance(thing, Feel)
    return thing


def taps(*positions: Fraction | int) -> tuple[Tap, ...]:
    return tuple(Tap(Fraction(position)) for position in positions)


def test_what_is_left_out_moves_nothing(read: Read) -> None:
    feel = read_feel(read, "")
    assert (feel.strum_ms, feel.late_line_ms, feel.drift_ms, feel.roll_ms) == (0, 0, 0, 45)
    assert (feel.last_bar, feel.ornaments, feel.time) == ("lets go", (), {})
    assert {value for points in feel.swing.values() for _, value in points} == {1.0}


def test_swing_points_are_sorted_and_one_ratio_is_for_every_tempo(read: Read) -> None:
    feel = read_feel(read, "swing:\n  ride: {200: 1.5, 100: 2.5}\n  line: 1.25\n")
    assert feel.swing == {"ride": ((100, 2.5), (200, 1.5)), "comp": ((30, 1),), "line": ((30, 1.25),)}


def test_the_players_habits_are_read(read: Read) -> None:
    feel = read_feel(
        read, "drift_ms: 4.5\nroll_ms: 60\nstrum_ms: 8\nlast_bar: digs in\nornaments: [slide, grace]\n"
    )
    assert (feel.drift_ms, feel.roll_ms, feel.strum_ms) == (4.5, 60, 8)
    assert (feel.last_bar, feel.ornaments) == ("digs in", ("slide", "grace"))


def test_light_time_is_read_line_by_line(read: Read) -> None:
    feel = read_feel(
        read,
        "time:\n  4/4: |\n    # a comment\n    ride: 1, 2 accent, &2 | rest | &4\n    hat: 2, 4\n"
        "    fourth ride: 1\n    fourth ride: rest | 1\n".replace("rest | 1\n", "3\n"),
    )
    assert feel.time == {
        Meter(4): (
            TimeLine(
                "ride", ((Tap(Fraction(0)), Tap(Fraction(1), accent=True), Tap(3 * HALF)), (), taps(7 * HALF))
            ),
            TimeLine("hat", (taps(1, 3),)),
            TimeLine("ride", (taps(0),), fourth=True),
            TimeLine("ride", (taps(2),), fourth=True),
        )
    }


HEAD = PLAIN + "time:\n  4/4: |\n    "
MISTAKES = {
    "a line without a meter": (PLAIN + "time: §|\n  ride: 1\n", "wrong-type", "a block is needed", "4/4: |"),
    "a meter that is none": (PLAIN + "time:\n  §7/8: |\n    ride: 1\n", "bad-meter", "'7/8'", ""),
    "a meter of another feel": (
        PLAIN + "§time:\n  3/4: |\n    ride: 1\n",
        "does-not-fit",
        "light time in 3/4, which is none of the feel's meters",
        "",
    ),
    "a list for lines": (PLAIN + "time:\n  4/4: §[1, 2]\n", "wrong-type", "`ride: 1, 2, &2", ""),
    "no instrument": (HEAD + "§1, 2\n", "bad-figure", "an instrument and a colon", ""),
    "nothing before the colon": (HEAD + "§: 1, 2\n", "bad-figure", "ride, bell, hat, closed, stick", ""),
    "instrument misspelt": (HEAD + "§rid: 1\n", "bad-figure", "'rid' is no", "Did you mean 'ride'?"),
    "fourth misspelt": (HEAD + "ride: 1\n    §forth ride: 2\n", "bad-figure", "is no instrument", ""),
    "fourth of nothing": (HEAD + "§fourth ride: 2\n", "bad-figure", "a line of its own before", ""),
    "fourth of two bars": (HEAD + "ride: 1\n    §fourth ride: 2 | 3\n", "bad-figure", "one bar", ""),
    "instrument twice": (HEAD + "ride: 1\n    §ride: 2\n", "bad-figure", "'ride' has a line already", ""),
    "no position": (HEAD + "ride: 1, §x\n", "bad-figure", "'x' is no position in 4/4", ""),
    "beyond the bar": (HEAD + "ride: 1, §&5\n", "bad-figure", "&1 to &4", ""),
    "out of order": (HEAD + "ride: 2, §1\n", "bad-figure", "'1' does not come after", ""),
    "two commas": (HEAD + "ride: 1,§, 2\n", "bad-figure", "nothing stands here", ""),
    "empty bar": (HEAD + "ride: 1 |§\n", "bad-figure", "a bar without a stroke is `rest`", ""),
    "only rests": (HEAD + "§ride: rest | rest\n", "bad-figure", "has no stroke", ""),
    "a word too many": (HEAD + "ride: 1 §soft\n", "bad-figure", "only accent is allowed", ""),
    "accent misspelt": (HEAD + "ride: 1 §acent\n", "bad-figure", "'acent'", "Did you mean 'accent'?"),
    "a drift too far": (PLAIN + "drift_ms: §8.1\n", "out-of-range", "allowed is 0 to 8 ms", ""),
    "a roll too fast": (PLAIN + "roll_ms: §29\n", "out-of-range", "allowed is 30 to 70 ms", ""),
    "a strum too slow": (PLAIN + "strum_ms: §26\n", "out-of-range", "allowed is 0 to 25 ms", ""),
    "a strum that is none": (
        PLAIN + "strum_ms: §5\n",
        "out-of-range",
        "0 (plucked together), or 8 to 25 ms",
        "",
    ),
    "an ending that is none": (
        PLAIN + "last_bar: §dig in\n",
        "not-allowed",
        "lets go, digs in",
        "Did you mean",
    ),
    "an ornament that is none": (PLAIN + "ornaments: [grace, §trill]\n", "not-allowed", "grace, slide", ""),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_mistake(name: str, problem_at: ProblemAt) -> None:
    text, code, said, hint = MISTAKES[name]
    problem = problem_at("feel", text)
    assert problem.code == code
    assert said in problem.message
    assert hint in problem.hint


def test_every_feel_has_what_it_needs(library: Library) -> None:
    for feel in library.feels.values():
        assert set(feel.velocity) == set(PLAYED_PARTS)
        for meter in feel.meters:
            assert any(meter in library.comping[name].meters for name in feel.comping)
            assert any(meter in library.bass[name].meters for name in feel.bass)


def test_every_meter_has_a_feel(library: Library) -> None:
    assert {str(meter) for feel in library.feels.values() for meter in feel.meters} == {"3/4", "4/4", "5/4"}


def test_ballads_are_slow(library: Library) -> None:
    """quixoteconsulting.com 2017: ballads 50 to 90 to the minute."""
    assert library.feels["ballad"].tempo == (50, 90)


def test_points_of_the_shipped_feels_fall_with_the_tempo(library: Library) -> None:
    """Friberg & Sundstroem 1997, abstract: the ratio falls, about linearly, with the tempo."""
    for feel in library.feels.values():
        for points in feel.swing.values():
            assert all(slow > fast for (_, slow), (_, fast) in pairwise(points)), feel.id


def test_slides_belong_to_swing_and_blues_alone(library: Library) -> None:
    """Common practice, no source: not in ballads, waltzes or even feels."""
    sliding = {feel.id for feel in library.feels.values() if "slide" in feel.ornaments}
    assert sliding == {"medium-swing", "up-tempo-swing", "slow-swing", "shuffle", "five-four-swing"}
