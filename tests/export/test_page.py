"""Pages as an independent reader finds them: how many, what stands on them, which signs they need."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pypdf
import pytest
import typst

from introit.arrange.score import Score
from introit.export.diagram import diagrams
from introit.export.diagram_svg import diagram_picture
from introit.export.page import PAPERS, Page, printed_pages
from introit.export.sheet.builder import sheet_of
from introit.export.sheet.model import Event, SheetPart
from introit.library.model import Library
from introit.theory.fretboard import Fretboard

MISSING = "\U0010fffd"
"""A sign for private use, which no font has."""
ALONE = """
#set text(font: "Libertinus Serif", size: 20pt)
#set page(width: 40pt, height: 40pt, margin: 0pt)
#let asked = json(bytes(sys.inputs.at("asked")))
#asked.map(one => text(style: one.at(1), weight: one.at(2), one.at(0))).join(pagebreak())
"""
SIZES = {"a4": (210, 297), "letter": (215.9, 279.4)}
"""Millimetres: ISO 216; ANSI/ASME Y14.1, letter."""
POINTS_A_MM = 72 / 25.4

Arranged = Callable[..., Score]


@pytest.fixture(scope="module")
def page_of(arranged: Arranged, library: Library) -> Callable[..., Page]:
    def make(intro: str, key: str, line_up: str = "solo guitar", tune: str = "", neck: Any = None) -> Page:
        score = arranged(intro, key, line_up, neck)
        return Page(sheet_of(score, library, tune=tune), tuple(diagrams(score)))

    return make


def read(pages: Iterable[Page], **choices: str) -> pypdf.PdfReader:
    (data,) = printed_pages(pages, ".pdf", **choices)
    return pypdf.PdfReader(io.BytesIO(data))


def words(page: pypdf.PageObject) -> str:
    return " ".join(page.extract_text().split())


def placed(page: pypdf.PageObject) -> list[tuple[str, float, float]]:
    """Texts with where they begin, in points from the lower left corner."""
    found: list[tuple[str, float, float]] = []

    def visit(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        if text.strip():
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            found.append((text.strip(), x, y))

    page.extract_text(visitor_text=visit)
    return found


def test_a_page_says_what_it_is(page_of: Callable[..., Page]) -> None:
    page = page_of("waltz-upstairs", "Gb", tune="Slow Water")
    (only,) = read([page]).pages
    said = words(only)
    for part in (
        "Waltz up the stairs",
        "Intro to Slow Water",
        "G♭ major",
        "Slow swing",
        "♩ = 88",
        "solo guitar",
    ):
        assert part in said
    for name in ("G♭maj7", "A♭m9", "D♭13"):  # as names, and over the grips
        assert said.count(name) >= 2
    for numeral in ("Imaj7/5", "♯iv°7", "VI7", "V13"):
        assert numeral in said
    assert " ".join(page.sheet.why.split()) in said
    assert "capo" not in said
    assert "tuning" not in said


@pytest.mark.parametrize(
    ("swing", "says"), [(Fraction(1), False), (Fraction(11, 10), False), (Fraction(3, 2), True)]
)
def test_it_says_where_eighths_swing(page_of: Callable[..., Page], swing: Fraction, says: bool) -> None:
    page = page_of("back-door", "Eb")
    said = words(read([replace(page, sheet=replace(page.sheet, swing=Fraction(swing)))]).pages[0])
    assert ("♫ =" in said) is says


def test_it_says_what_guitar_it_is_for(page_of: Callable[..., Page]) -> None:
    drop_d = page_of("back-door", "E", neck=Fretboard((38, 45, 50, 55, 59, 64), 3))
    assert "tuning D A D G B E capo 3" in words(read([drop_d]).pages[0])
    seven = page_of("back-door", "E", neck=Fretboard((35, 40, 45, 50, 55, 59, 64)))
    said = words(read([seven]).pages[0])
    assert "tuning B E A D G B E" in said
    assert "capo" not in said


def test_it_says_how_far_up_the_neck_it_goes_where_that_is_far(page_of: Callable[..., Page]) -> None:
    page = page_of("back-door", "Eb", "with bass")
    top = page.sheet.parts[0].highest_fret
    assert top == max(int(fret) for fret in re.findall(r"fret=(\d+)", repr(page.sheet)))
    for by, expected in ((15 - top, ""), (16 - top, "up to fret 16")):
        guitar, *others = page.sheet.parts
        moved = replace(page.sheet, parts=(higher(guitar, by), *others))
        said = words(read([replace(page, sheet=moved)]).pages[0])
        assert "with bass melody above, comping below" in said
        assert expected in said
        assert ("up to fret" in said) is bool(expected)
    alone = words(read([page_of("back-door", "Eb")]).pages[0])
    assert "comping below" not in alone


def higher(part: SheetPart, by: int) -> SheetPart:
    """The same frets further up, whatever that sounds like."""

    def moved(event: Event) -> Event:
        heads = tuple(
            head if head.fret is None else head._replace(fret=head.fret + by) for head in event.heads
        )
        return event._replace(heads=heads)

    bars = tuple(
        tuple(voice._replace(events=tuple(map(moved, voice.events))) for voice in bar) for bar in part.bars
    )
    return replace(part, bars=bars)


@pytest.mark.parametrize("paper", list(PAPERS))
def test_it_is_on_the_paper_that_is_asked_for_and_within_its_margins(
    page_of: Callable[..., Page], paper: str
) -> None:
    wide, high = (side * POINTS_A_MM for side in SIZES[paper])
    for line_up in ("solo guitar", "with keys", "trio"):
        for one in read([page_of("last-eight-bars", "Gb", line_up)], paper=paper).pages:
            assert one.mediabox.width == pytest.approx(wide, abs=0.5)
            assert one.mediabox.height == pytest.approx(high, abs=0.5)
            texts = placed(one)
            assert len(texts) > 40
            for text, x, y in texts:
                assert 15 * POINTS_A_MM < x < wide - 15 * POINTS_A_MM, text
                assert 5 * POINTS_A_MM < y < high - 15 * POINTS_A_MM, text


def test_every_intro_fits_on_one_page(page_of: Callable[..., Page], library: Library) -> None:
    pages = [
        page_of(
            intro.id,
            "Gb" if any(form.mode.value == "major" for form in intro.forms) else "Ab minor",
            "with keys" if "with keys" in intro.line_ups else intro.line_ups[0],
        )
        for intro in library.intros.values()
    ]
    lower = min(SIZES, key=lambda paper: SIZES[paper][1])
    assert len(read(pages, paper=lower).pages) == len(pages)


def test_a_booklets_contents_name_the_right_pages(page_of: Callable[..., Page]) -> None:
    pages = [
        page_of("waltz-riff", "B"),
        page_of("minor-blues-riff", "C# minor"),
        page_of("back-door", "Gb"),
        page_of("back-door", "C"),
        page_of("bells-over-the-five", "E"),
    ]
    reader = read(pages, booklet="Five intros")
    assert len(reader.pages) == 6
    contents = words(reader.pages[0])
    assert contents.startswith("Five intros")
    where = {(page.sheet.title, str(page.sheet.key)): None for page in pages}
    for number, one in enumerate(reader.pages[1:], 2):
        said = words(one)
        assert said.endswith(str(number))
        for page in pages:
            key = f"{page.sheet.key.tonic} {page.sheet.key.mode.value}".replace("b ", "♭ ").replace("#", "♯")
            if said.startswith(f"{page.sheet.title} {key}"):
                assert f"{page.sheet.title} {key}, begins on" in contents
                line = contents.partition(f"{page.sheet.title} {key}, begins on")[2]
                assert line.replace(".", " ").split()[1] == str(number), line[:60]
                where.pop((page.sheet.title, str(page.sheet.key)))
    assert where == {}
    # by mode, then by feel
    headings = ["Major, ballad", "Major, jazz waltz", "Major, medium swing", "Minor, shuffle"]
    places = [contents.index(heading) for heading in headings]
    assert places == sorted(places)


def test_a_sets_booklet_is_in_its_order(page_of: Callable[..., Page]) -> None:
    pages = [
        page_of("waltz-riff", "B", tune="Zinnia"),
        page_of("minor-blues-riff", "C# minor", tune="Aster"),
        page_of("bells-over-the-five", "E", tune="Marigold"),
    ]
    reader = read(pages, booklet="Friday")
    contents = words(reader.pages[0])
    for number, name in enumerate(("Zinnia", "Aster", "Marigold"), 2):
        assert f"Intro to {name}" in words(reader.pages[number - 1])
    assert contents.index("Zinnia") < contents.index("Aster") < contents.index("Marigold")


def drawn_alone(asked: list[tuple[str, str, str]]) -> list[bytes]:
    found = typst.compile(
        ALONE.encode(), format="svg", ignore_system_fonts=True, sys_inputs={"asked": json.dumps(asked)}
    )
    assert isinstance(found, list)
    return found


def test_every_sign_on_every_page_is_in_the_fonts(page_of: Callable[..., Page], library: Library) -> None:
    signs = {(sign, "normal", weight) for sign in "♫♩♪♭♯" for weight in ("regular", "bold", "semibold")}
    pages = [
        page_of(intro.id, key, line_up)
        for intro in library.intros.values()
        for line_up in intro.line_ups[:1]
        for key in (("Gb",) if any(form.mode.value == "major" for form in intro.forms) else ("C# minor",))
    ]
    for page in read(pages).pages:
        signs |= {
            (sign, "normal", "regular") for sign in page.extract_text() if sign.isprintable() and sign != " "
        }
    for page in pages:
        for _, diagram in page.diagrams:
            signs |= {(sign, "normal", "semibold") for sign in diagram.symbol}
            signs |= {
                (sign, "normal", "regular") for one in diagram_picture(diagram).letters for sign in one.text
            }
    assert len(signs) > 80
    asked = [(MISSING, "normal", "regular"), ("終", "normal", "regular"), *sorted(signs)]
    drawn = drawn_alone(asked)
    assert drawn[1] == drawn[0]  # the check sees what is missing
    assert [one for one, picture in zip(asked, drawn, strict=True) if picture == drawn[0]] == asked[:2]


def test_nothing_is_left_to_the_fonts_of_who_looks(page_of: Callable[..., Page]) -> None:
    (drawing,) = printed_pages([page_of("back-door", "Gb")], ".svg")
    assert b"<text" not in drawing
    assert b"font-family" not in drawing
    reader = read([page_of("back-door", "Gb")])
    for font in reader.pages[0]["/Resources"]["/Font"].values():  # type: ignore[index]
        (inner,) = font.get_object()["/DescendantFonts"]
        descriptor = inner.get_object()["/FontDescriptor"].get_object()
        # ISO 32000-1, 9.9: an embedded font has its programme in one of these.
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)
