"""How long a page, a MusicXML file and the whole booklet take, beside a general library that writes MusicXML.

    python tests/bench/paper.py [--short] [--json FILE]

From arranged scores on; the reference is music21 writing the same music, which it has read before the clock
starts. Milliseconds by the clock and of the processor, which tells what others on the same cores take.
Nothing is asserted: a figure is of its machine.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterable

from _figures import Table, options
from music21 import converter, musicxml

from introit.arrange.score import Score
from introit.cli.written import piece_of, wanted_library
from introit.export.diagram import diagrams
from introit.export.music_xml import music_xml
from introit.export.page import Page, printed_pages
from introit.export.sheet.builder import sheet_of
from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.library.model import Library

LINE_UPS = ("solo guitar", "with keys")


def timed(table: Table, what: str, works: Iterable[Callable[[], object]], **facts: object) -> None:
    """A row with what each of these took."""
    clocks, processors = [], []
    for work in works:
        clock, processor = time.perf_counter(), time.process_time()
        work()
        clocks.append((time.perf_counter() - clock) * 1000)
        processors.append((time.process_time() - processor) * 1000)
    figures = {
        "p50 ms": round(statistics.median(clocks), 1),
        "worst ms": round(max(clocks), 1),
        "cpu p50 ms": round(statistics.median(processors), 1),
    }
    table.add(what, count=len(clocks), **figures, **facts)


def scores_of(library: Library, line_up: str, step: int) -> list[Score]:
    """Every intro that has the line-up, or every so many, arranged in its own key."""
    nothing = dict.fromkeys(("key", "tempo", "meter", "feel", "first_chord"))
    wanted = wanted_library(library, {**nothing, "count_off": 0, "line_up": line_up}, all_keys=False)
    return [piece_of(one, library, 0).score for one in wanted[::step]]


def page_of(score: Score, library: Library) -> Page:
    return Page(sheet_of(score, library), diagrams(score))


def main() -> None:
    chosen = options(__doc__ or "", short="every eighth intro")
    library, problems = load_library(content_roots()[:1])
    if problems:
        raise SystemExit("\n".join(map(str, problems)))
    table = Table("paper")
    for line_up in LINE_UPS:
        scores = scores_of(library, line_up, 8 if chosen.short else 1)
        files = [music_xml(sheet_of(score, library), diagrams(score)) for score in scores]
        size = round(statistics.median(map(len, files)) / 1024)
        read = [converter.parseData(data.decode(), format="musicxml") for data in files]
        timed(
            table,
            f"MusicXML, {line_up}",
            (lambda score=score: music_xml(sheet_of(score, library), diagrams(score)) for score in scores),
            kbytes=size,
        )
        timed(
            table,
            f"reference: music21 writes it, {line_up}",
            (lambda one=one: musicxml.m21ToXml.GeneralObjectExporter(one).parse() for one in read),
        )
        for ending in (".pdf", ".png"):
            timed(
                table,
                f"one page, {line_up}, {ending}",
                (
                    lambda score=score, ending=ending: printed_pages([page_of(score, library)], ending)
                    for score in scores
                ),
            )
        timed(
            table,
            f"booklet of {len(scores)} intros, {line_up}",
            [
                lambda scores=scores: printed_pages(
                    (page_of(score, library) for score in scores), ".pdf", booklet="Intros"
                )
            ],
        )
    table.write(chosen.json)


if __name__ == "__main__":
    main()
