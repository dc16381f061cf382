"""Chord diagrams are read back by where their signs stand, and held against what they were drawn from."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

import pytest

from introit.arrange.score import Score
from introit.export.diagram import Diagram, Dot, diagrams
from introit.export.plain.boxes import box, box_lines
from introit.export.plain.signs import DRAWN, TYPED, Signs

TOPS = {DRAWN: re.compile(r"[╒┌][═╤─┬]+[╕┐]"), TYPED: re.compile(r"=[=]{9,}|\+(?:-\+)+")}


class Box(NamedTuple):
    name: str
    first_fret: int
    dots: dict[int, tuple[int, str]]
    open_strings: set[int]
    muted: set[int]
    flat: set[tuple[int, int]]


def boxes(lines: list[str], signs: Signs) -> Iterator[Box]:
    for at, line in enumerate(lines):
        for top in TOPS[signs].finditer(line):
            yield _box(lines, at, top.start(), top.end(), signs, nut=top.group()[1] in "═=")


def _box(lines: list[str], at: int, start: int, end: int, signs: Signs, *, nut: bool) -> Box:
    strings = (end - start + 1) // 2
    number = {start + 2 * index: strings - index for index in range(strings)}
    below = at + 1
    while below < len(lines) and lines[below][start : start + 1] in {signs.string, signs.dot}:
        below += 1
    rows = [line.ljust(end) for line in lines[at + 1 : below]]
    label = rows[0][start - 3 : start].strip()
    assert bool(label) != nut, "a number beside the top row, or a nut"
    first = int(label) if label else 1
    fingers, over = lines[below].ljust(end), lines[at - 1].ljust(end)
    dots = {
        string: (first + row, fingers[column])
        for row, text in enumerate(rows)
        for column, string in number.items()
        if text[column] == signs.dot
    }
    flat = {
        (first + row, number[column - 1])
        for row, text in enumerate(rows)
        for column in range(start + 1, end, 2)
        if text[column] == signs.barre
    }
    return Box(
        name=re.split(r"\s{2,}", lines[at - 3][start - 3 :])[0],
        first_fret=first,
        dots=dots,
        open_strings={string for column, string in number.items() if over[column] == "o"},
        muted={string for column, string in number.items() if over[column] == "x"},
        flat=flat,
    )


def as_drawn(diagram: Diagram, signs: Signs) -> Box:
    fingers = {dot.string: "T" if dot.finger == 5 else str(dot.finger) for dot in diagram.dots}
    barre = diagram.barre
    return Box(
        name=signs.word(diagram.symbol),
        first_fret=diagram.first_fret,
        dots={dot.string: (dot.fret, fingers[dot.string]) for dot in diagram.dots},
        open_strings=set(diagram.open_strings),
        muted=set(diagram.muted),
        flat={(barre.fret, string) for string in range(barre.highest + 1, barre.lowest + 1)}
        if barre
        else set(),
    )


@pytest.mark.parametrize("signs", [DRAWN, TYPED], ids=["drawn", "typed"])
def test_every_diagram_is_read_back(scores: Mapping[object, Score], signs: Signs) -> None:
    seen = 0
    for name, score in scores.items():
        found = list(boxes(box_lines(score, width=80, signs=signs), signs))
        assert found == [as_drawn(diagram, signs) for _, diagram in diagrams(score)], name
        seen += len(found)
    assert seen > 3000


@pytest.mark.parametrize("width", [80, 113, 160])
def test_no_row_is_wider_than_the_terminal(scores: Mapping[object, Score], width: int) -> None:
    for name, score in scores.items():
        for signs in (DRAWN, TYPED):
            lines = box_lines(score, width=width, signs=signs)
            assert all(len(line) <= width for line in lines), (name, max(lines, key=len))


def test_typed_diagrams_are_typed(scores: Mapping[object, Score]) -> None:
    for score in scores.values():
        assert "\n".join(box_lines(score, width=80, signs=TYPED)).isascii()


def test_where_it_is_struck_stands_under_its_name(arranged: Callable[..., Score]) -> None:
    score = arranged("three-six-two-five", "Eb")
    lines = box_lines(score, width=80)
    places = re.findall(r"bar (\d+) beat ([\d.]+)", "\n".join(lines))
    bar = score.plan.bar_ticks
    told = [(tick // bar + 1, tick % bar / 960 + 1) for tick, _ in diagrams(score)]
    assert [(int(number), float(beat)) for number, beat in places] == told


def test_seven_strings_and_a_thumb() -> None:
    dots = (Dot(2, 9, 1), Dot(3, 10, 2), Dot(7, 10, 5))
    diagram = Diagram("Db7", 7, 9, 4, dots, (), (1, 4, 5, 6))
    (found,) = boxes(box(diagram, "bar 1 beat 1", rows=4, signs=DRAWN), DRAWN)
    assert found == as_drawn(diagram, DRAWN)
