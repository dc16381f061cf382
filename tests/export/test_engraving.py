"""Engraved music: what stands on it, and that no letters meet, hang out or are left to others' fonts."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import combinations, pairwise
from typing import Any, NamedTuple
from xml.etree import ElementTree

import pytest
import typst

from introit.arrange.arranger import arrange, symbol_of
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.score import Score
from introit.export.engraving import System, engrave
from introit.export.lettering import printed
from introit.export.picture import Letter
from introit.export.sheet.builder import sheet_of
from introit.export.sheet.model import Clef, Sheet
from introit.library.model import Library, Tune
from introit.theory.key import Key
from introit.theory.numeral import Numeral

MEASURE = """
#set text(font: "Libertinus Serif", size: 1000pt)
#let asked = json(bytes(sys.inputs.at("asked")))
#let width(one) = measure(text(style: one.at(1), weight: one.at(2), one.at(0))).width.pt()
#context [#metadata(asked.map(width)) <found>]
"""
"""Typst tells the advance widths of its own font, with nothing of ours between."""
ABOVE, BELOW = 0.66, 0.22
"""Of the font's size: capitals and figures over the base line, tails under it (Libertinus Serif)."""

NARROWEST = 0.65
"""Of a text that is made narrower to fit: what is less looks squeezed (no source)."""
LEAST_ROOM = 0.19
"""Between two chord names: little less than a space is wide, which is 0.25 (no source)."""


class Engraved(NamedTuple):
    sheet: Sheet
    systems: list[System]


class Box(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


def engraved_from(score: Score, library: Library) -> Engraved:
    sheet = sheet_of(score, library)
    return Engraved(sheet, engrave(sheet))


@pytest.fixture(scope="module")
def engraved(scores: Mapping[Any, Score], library: Library) -> dict[str, Engraved]:
    """Every intro of the library, line-ups and keys in turn."""
    own = {name: [called for called in scores if called.intro == name] for name in library.intros}
    chosen = [called[number % len(called)] for number, called in enumerate(own.values())]
    found = {" ".join(called): engraved_from(scores[called], library) for called in chosen}
    assert len(found) == len(library.intros)
    assert {called.line_up for called in chosen} == {"solo guitar", "with bass", "with keys", "trio"}
    return found


@pytest.fixture(scope="module")
def widths(engraved: Mapping[str, Engraved]) -> dict[tuple[str, str, str], float]:
    """Widths of all words there are, in parts of the font's size."""
    asked = sorted({kind(letter) for _, letter in all_letters(engraved)})
    found = typst.query(
        MEASURE.encode(),
        "<found>",
        field="value",
        one=True,
        ignore_system_fonts=True,
        sys_inputs={"asked": json.dumps(asked)},
    )
    return dict(zip(asked, (width / 1000 for width in json.loads(found)), strict=True))


def kind(letter: Letter) -> tuple[str, str, str]:
    return letter.text, letter.style, letter.weight


def all_letters(engraved: Mapping[str, Engraved]) -> Iterator[tuple[str, Letter]]:
    for name, one in engraved.items():
        for system in one.systems:
            for letter in system.picture.letters:
                yield name, letter


def box(letter: Letter, widths: Mapping[tuple[str, str, str], float]) -> Box:
    width = widths[kind(letter)] * letter.size
    if letter.room:
        assert letter.room > NARROWEST * width, letter
        width = min(width, letter.room)
    left = letter.x - {"start": 0, "middle": width / 2, "end": width}[letter.anchor]
    return Box(left, letter.y - ABOVE * letter.size, left + width, letter.y + BELOW * letter.size)


def in_row(systems: Iterable[System], row: str) -> list[str]:
    return [letter.text for system in systems for letter in system.picture.letters if letter.row == row]


def test_names_numerals_and_frets_are_those_of_the_sheet(engraved: Mapping[str, Engraved]) -> None:
    for name, (sheet, systems) in engraved.items():
        assert in_row(systems, "name") == [printed(symbol_of(chord)) for chord in sheet.chords], name
        assert in_row(systems, "numeral") == [printed(str(chord.numeral)) for chord in sheet.chords], name
        frets = [
            str(head.fret)
            for part in sheet.parts
            for voices in part.bars
            for voice in voices
            if part.clefs[voice.staff - 1] is Clef.TAB
            for event in voice.events
            for head in (*event.grace, *event.heads)
            if not head.tied_from
        ]
        assert sorted(in_row(systems, "fret")) == sorted(frets), name


def test_a_line_has_four_bars_at_most_and_a_shorter_one_is_narrower(engraved: Mapping[str, Engraved]) -> None:
    seen = set()
    for sheet, systems in engraved.values():
        bars = len(sheet.parts[0].bars)
        assert len(systems) == -(-bars // 4)
        assert [system.share for system in systems[: bars // 4]] == [1.0] * (bars // 4)
        if bars % 4:
            assert 0.2 < systems[-1].share < 1
        for system in systems:
            root = ElementTree.fromstring(system.picture.drawing)
            measures = [one for one in root.iter() if one.get("class") == "measure"]
            assert 1 <= len(measures) <= 4
            seen.add(len(measures))
    assert seen >= {1, 2, 4}


def test_rows_are_rows(engraved: Mapping[str, Engraved]) -> None:
    for name, one in engraved.items():
        for system in one.systems:
            for row in ("name", "numeral"):
                assert len({letter.y for letter in system.picture.letters if letter.row == row}) == 1, name


def test_no_letters_meet(
    engraved: Mapping[str, Engraved], widths: Mapping[tuple[str, str, str], float]
) -> None:
    met = [
        (name, one.text, other.text, one.row, other.row)
        for name, found in engraved.items()
        for system in found.systems
        for one, other in combinations(system.picture.letters, 2)
        if abs(one.y - other.y) < one.size + other.size and box(one, widths).meets(box(other, widths))
    ]
    assert met == []


def test_there_is_room_between_names_and_between_numerals(
    engraved: Mapping[str, Engraved], widths: Mapping[tuple[str, str, str], float]
) -> None:
    crowded = [
        (name, one.text, following.text)
        for name, found in engraved.items()
        for system in found.systems
        for row in ("name", "numeral")
        for one, following in pairwise(letter for letter in system.picture.letters if letter.row == row)
        if box(following, widths).left - box(one, widths).right < LEAST_ROOM * one.size
    ]
    assert crowded == []


def test_no_letters_hang_out(
    engraved: Mapping[str, Engraved], widths: Mapping[tuple[str, str, str], float]
) -> None:
    for name, found in engraved.items():
        for system in found.systems:
            for letter in system.picture.letters:
                place = box(letter, widths)
                assert place.left >= 0, (name, letter)
                assert place.top >= 0, (name, letter)
                assert place.right <= system.picture.width, (name, letter)
                assert place.bottom <= system.picture.height, (name, letter)


def test_no_line_has_an_empty_tab(scores: Mapping[Any, Score], library: Library) -> None:
    """A line in which nothing lies on the neck has no tab; the others have one, in every intro with keys."""
    without = 0
    for called, score in scores.items():
        if called.line_up != "with keys":
            continue
        sheet, systems = engraved_from(score, library)
        assert in_row(systems, "name") == [printed(symbol_of(chord)) for chord in sheet.chords], called
        for system in systems:
            root = ElementTree.fromstring(system.picture.drawing)
            assert any(letter.row == "fret" for letter in system.picture.letters) == has_tab(root), called
            without += not has_tab(root)
    assert without > 5


def has_tab(root: ElementTree.Element) -> bool:
    """A tab staff has six lines, or more where numbers break them; any other has five."""
    staves = [one for one in root.iter() if one.get("class") == "staff"]
    return any(sum(child.tag.endswith("path") for child in staff) > 5 for staff in staves)


def test_a_landing_is_named_where_it_rings(library: Library) -> None:
    intro = library.intros["three-six-two-five"]
    tune = Tune(
        "t", "T", Key.from_text("Db"), intro.meters[0], 140, intro.feels[0], Numeral.from_text("IVmaj7"),
        landing="ring", ring=Fraction(4),
    )  # fmt: skip
    score = arrange(plan_intro(intro, tune, tune.key), library, stage=Stage(LineUp.WITH_BASS))
    sheet, systems = engraved_from(score, library)
    assert len(systems) == 2
    assert in_row(systems[1:], "name") == ["G♭maj7"]
    assert in_row(systems[1:], "numeral") == ["IVmaj7"]
    assert in_row(systems[:1], "name") == [printed(symbol_of(chord)) for chord in sheet.chords]


def test_a_drawing_leaves_nothing_to_other_fonts(engraved: Mapping[str, Engraved]) -> None:
    for found in engraved.values():
        for system in found.systems:
            assert "<text" not in system.picture.drawing
            assert "bounding-box" not in system.picture.drawing
    private = {
        letter.text
        for _, letter in all_letters(engraved)
        if any("\ue000" <= sign <= "\uf8ff" for sign in letter.text)
    }
    assert private == set()


def test_the_same_music_is_the_same_drawing(scores: Mapping[Any, Score], library: Library) -> None:
    score = next(iter(scores.values()))
    assert engraved_from(score, library).systems == engraved_from(score, library).systems
