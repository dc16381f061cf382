"""How a melody is read, and every mistake in one: its code, its exact line and column (marked by §)."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from introit.errors import Problem
from introit.library.model import Intro, Melody, MotifNote

Read = Callable[[str, str], tuple[object | None, list[Problem]]]
ProblemAt = Callable[[str, str], Problem]


def intro(melody: str, meters: str = "[4/4]", feel: str = "medium-swing") -> str:
    return (
        f"name: x\nmeters: {meters}\ntempo: [60, 240]\nfeels: [{feel}]\nwhy: because\n{melody}"
        "forms:\n  - mode: major\n    leads_to: I\n    harmony: |\n      Imaj7 | V7\n"
    )


def motif(text: str, more: str = "", *, tones: str = "chord") -> str:
    return intro(f"melody:\n  style: motif\n  as: {tones}\n{more}  motif: |\n    {text}\n")


def melody_of(read: Read, text: str) -> Melody:
    thing, problems = read("intro", text)
    assert problems == []
    assert isinstance(thing, Intro)
    return thing.melody


def note(bar: int, position: str, tone: str, length: str) -> MotifNote:
    return MotifNote(bar, Fraction(position), tone, Fraction(length))


def test_a_motif_is_read_in_exact_fractions(read: Read) -> None:
    melody = melody_of(read, motif("1 3 1/2, &1 b9 1.5, &3 5+"))
    assert melody.motif == (
        note(0, "0", "3", "1/2"),
        note(0, "1/2", "b9", "3/2"),
        note(0, "5/2", "5+", "3/2"),
    )
    assert (melody.style, melody.tones, melody.bars, melody.change) == ("motif", "chord", (), "end")
    assert melody.has_motif
    assert melody.motif_bars == 1


def test_two_lines_are_two_bars_and_a_note_lasts_into_the_second(read: Read) -> None:
    melody = melody_of(read, motif("2 5 1/2, &4 3\n    2 5-"))
    assert melody.motif == (note(0, "1", "5", "1/2"), note(0, "7/2", "3", "3/2"), note(1, "1", "5-", "3"))
    assert melody.motif_bars == 2


def test_a_pickup_stands_before_the_first_bar(read: Read) -> None:
    melody = melody_of(read, motif("pickup 4 5 1/2, &4 6\n    # then\n    &1 1+ 1"))
    assert melody.motif == (
        note(0, "-1", "5", "1/2"), note(0, "-1/2", "6", "1"), note(0, "1/2", "1+", "1"),
    )  # fmt: skip


def test_a_pickup_counts_in_the_shortest_meter(read: Read) -> None:
    text = "melody:\n  style: motif\n  motif: |\n    pickup &3 5 1/2\n    1 3 1\n"
    melody = melody_of(read, intro(text, "[4/4, 3/4]"))
    assert melody.motif[0] == note(0, "-1/2", "5", "1/2")


def test_a_contour_begins_on_a_degree_and_goes_on_by_steps(read: Read) -> None:
    melody = melody_of(read, motif("&1 3 1/2, 2 +1 1/2, 3 0 1/2, &3 -2", tones="contour"))
    assert [one.tone for one in melody.motif] == ["3", "+1", "0", "-2"]
    assert melody.tones == "contour"


def test_everything_a_motif_may_say(read: Read) -> None:
    more = "  bars: [1, 3]\n  change: inner\n"
    melody = melody_of(read, motif("1 b3 1, 2 5 1, 3 7- 1", more, tones="key"))
    assert (melody.tones, melody.bars, melody.change) == ("key", (1, 3), "inner")


@pytest.mark.parametrize("word", ["line", "none"])
def test_a_word_is_enough_without_a_motif(word: str, read: Read) -> None:
    assert melody_of(read, intro(f"melody: {word}\n")) == Melody(word)
    assert melody_of(read, intro("")) == Melody("line")


MISTAKES = {
    "a style that is none": (intro("melody: §lines\n"), "not-allowed", "line, none"),
    "the motif's style as a word": (intro("melody: §motif\n"), "not-allowed", "line, none"),
    "a style that is none, in a block": (
        intro("melody:\n  style: §riff\n"), "not-allowed", "line, motif, none",
    ),
    "no style": (
        intro("melody:\n  §as: key\n  motif: |\n    1 3 1\n"), "missing-key", "a melody needs 'style'",
    ),
    "no motif": (intro("melody:\n  §style: motif\n"), "does-not-fit", "style motif needs a `motif`"),
    "a motif without its style": (
        intro("melody:\n  style: line\n  §motif: |\n    1 3 1\n"),
        "does-not-fit", "belongs to the style motif",
    ),
    "a change without a motif": (
        intro("melody:\n  style: none\n  §change: end\n"), "does-not-fit", "belongs to the style motif",
    ),
    "tones that are none": (
        motif("1 3 1").replace("as: chord", "as: §chords"), "not-allowed", "chord, key, contour",
    ),
    "a change that is none": (
        motif("1 3 1", "  change: §middle\n"), "not-allowed", "end, octave, inner, none",
    ),
    "a bar that is none": (motif("1 3 1", "  bars: [1, §0]\n"), "out-of-range", "allowed is 1 to 64"),
    "a key that is none": (motif("1 3 1", "  §bar: [1]\n"), "unknown-key", "means nothing in a melody"),
    "no inner note": (
        motif("1 3 1, 2 5 1", "  §change: inner\n"), "does-not-fit", "between the first and the last",
    ),
    "two bars said in every bar": (
        motif("1 3 1\n    1 5 1", "  §bars: [1, 2]\n"),
        "does-not-fit", "cannot begin in bar 1 and in the bar after",
    ),
    "no degree": (motif("1 §x 1"), "bad-figure", "a degree of the chord"),
    "no tone": (motif("1 3 1, §2"), "bad-figure", "a degree of the chord"),
    "a degree over 13": (motif("1 §14 1"), "bad-figure", "a degree of the chord"),
    "a tension as a degree of the key": (motif("1 §9 1", tones="key"), "bad-figure", "a degree of the key"),
    "steps where a contour begins": (
        motif("1 §+1 1", tones="contour"), "bad-figure", "a degree of the chord",
    ),
    "a degree inside a contour": (
        motif("1 3 1, 2 §5 1", tones="contour"), "bad-figure", "steps in the chord's scale",
    ),
    "steps that say nothing": (
        motif("1 3 1, 2 §+0 1", tones="contour"), "bad-figure", "steps in the chord's scale",
    ),
    "no position": (motif("§e 3 1"), "bad-figure", "is no position"),
    "a position behind the bar": (motif("§5 3 1"), "bad-bar", "outside the bar, which has 4 beats"),
    "backwards": (motif("2 3 1, §1 5 1"), "bad-figure", "does not come after"),
    "an empty place": (motif("1 3 1, §, 3 5 1"), "bad-figure", "nothing stands between two commas"),
    "a length that is none": (motif("1 3 §long"), "bad-figure", "a length in beats"),
    "too long for its room": (motif("§1 3 1.5, 2 5 1"), "bad-bar", "1 beats are left"),
    "too long in the second bar": (motif("1 3 1\n    §3 5 3"), "bad-bar", "2 beats are left"),
    "a word too many": (motif("1 3 1 §2"), "bad-figure", "a word too many"),
    "a third bar": (motif("1 3 1\n    1 5 1\n    §1 6 1"), "bad-figure", "a third begins here"),
    "a pickup into nothing": (motif("pickup §4 3 1"), "bad-figure", "a pick-up leads into a bar"),
    "a pickup without notes": (
        motif("pickup§\n    1 3 1"), "bad-figure", "nothing stands between two commas",
    ),
    "a pickup that is too long": (motif("pickup §4 3 2\n    1 3 1"), "bad-bar", "1 beats are left"),
    "a pickup in the second line": (motif("1 3 1\n    §pickup 4 3 1"), "bad-figure", "is no position"),
    "only a rest": (motif("§rest"), "bad-figure", "at least one note is needed"),
    "an anchor": (
        intro("melody:\n  style: motif\n  motif: §&1 3 1\n"), "yaml-anchor", "",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("marked", "code", "said"), MISTAKES.values(), ids=MISTAKES)
def test_mistake(marked: str, code: str, said: str, problem_at: ProblemAt) -> None:
    problem = problem_at("intro", marked)
    assert problem.code == code, str(problem)
    assert said in problem.message, str(problem)
