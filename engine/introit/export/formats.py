"""The formats of files by their endings: who writes what.

A new one is a module of its own and a line in `FORMATS`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import NamedTuple

from introit.errors import UsageError, did_you_mean
from introit.export.atomic import write_all_atomically, write_atomically
from introit.export.piece import Choices, Piece
from introit.export.routes import routes_of

Writer = Callable[[Iterable[Piece], Path, Choices], list[Path]]
"""Writes pieces, one where the format does not hold many, and returns the files that there are then."""


class Format(NamedTuple):
    """A format of files.

    Attributes:
        ending: with its dot.
        about: what it is, in a few words.
        write: writes it; libraries that it takes are loaded then.
        holds_many: whether one file holds several pieces.
        on_paper: whether it is read, not heard.
    """

    ending: str
    about: str
    write: Writer
    holds_many: bool = False
    on_paper: bool = False


def _midi(pieces: Iterable[Piece], path: Path, choices: Choices) -> list[Path]:
    from introit.export.midi_file import write_midi

    (piece,) = pieces
    performance = piece.straight if choices.straight else piece.played
    write_midi(performance, path, routes={**routes_of(piece.score), **choices.routes})
    return [path]


def _wav(pieces: Iterable[Piece], path: Path, choices: Choices) -> list[Path]:
    from introit.export.wav import write_wav

    (piece,) = pieces
    written = write_wav(
        piece.straight if choices.straight else piece.played,
        path,
        rate=choices.rate,
        bits=choices.bits,
        routes={**routes_of(piece.score), **choices.routes},
        soundfont=choices.soundfont,
        count_off=True,  # where there is one, it was asked for
        stems=choices.stems,
    )
    return list(written.files)


def _music_xml(pieces: Iterable[Piece], path: Path, choices: Choices) -> list[Path]:
    from introit.export.diagram import diagrams
    from introit.export.music_xml import compressed, music_xml
    from introit.export.sheet.builder import sheet_of

    (piece,) = pieces
    data = music_xml(sheet_of(piece.score, piece.library, tune=piece.tune), diagrams(piece.score))
    write_atomically(path, compressed(data) if path.suffix.lower() == ".mxl" else data)
    return [path]


def _page(pieces: Iterable[Piece], path: Path, choices: Choices) -> list[Path]:
    from introit.export.diagram import diagrams
    from introit.export.page import Page, printed_pages
    from introit.export.sheet.builder import sheet_of

    pages = (
        Page(sheet_of(piece.score, piece.library, tune=piece.tune), diagrams(piece.score)) for piece in pieces
    )
    made = printed_pages(pages, path.suffix.lower(), paper=choices.paper, booklet=choices.booklet)
    paths = (
        [path] if len(made) == 1 else [path.with_stem(f"{path.stem}-{at}") for at in range(1, len(made) + 1)]
    )
    write_all_atomically(dict(zip(paths, made, strict=True)))
    return paths


FORMATS: dict[str, Format] = {
    one.ending: one
    for one in (
        Format(".mid", "Standard MIDI File", _midi),
        Format(".midi", "Standard MIDI File", _midi),
        Format(".wav", "sound", _wav),
        Format(".musicxml", "MusicXML 4.0", _music_xml, on_paper=True),
        Format(".mxl", "MusicXML 4.0, compressed", _music_xml, on_paper=True),
        Format(".pdf", "page, or booklet", _page, holds_many=True, on_paper=True),
        Format(".svg", "page as a drawing", _page, on_paper=True),
        Format(".png", "page as a picture", _page, on_paper=True),
    )
}


def format_of(path: Path) -> Format:
    """The format that a file's ending names.

    Raises:
        UsageError: for another ending.
    """
    ending = path.suffix.lower()
    if ending in FORMATS:
        return FORMATS[ending]
    given = f"ends in {path.suffix!r}" if path.suffix else "has no ending"
    hint = did_you_mean(ending, FORMATS) if ending else ""
    raise UsageError(f"{path}: the file {given}; allowed are {', '.join(FORMATS)}. {hint}".strip())
