"""`introit write`: intros as files to hear, to print, to open elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import click

from introit.cli.content import find_rig, find_set, open_library
from introit.cli.options import intro_options, outside_its_tempi
from introit.cli.rig_sounds import routes_on, soundfont_on
from introit.cli.written import Wanted, file_name, piece_of, wanted_intro, wanted_library, wanted_set
from introit.errors import IntroitError, UsageError, did_you_mean
from introit.export.formats import FORMATS, Format, format_of
from introit.export.page import PAPERS
from introit.export.piece import Choices, Piece
from introit.library.model import Library

Arranger = Callable[[Wanted], Piece]


@click.command()
@click.argument("intro", required=False)
@intro_options
@click.option("--set", "set_name", metavar="SET", help="A set or a tune in place of INTRO.")
@click.option("--library", "everything", is_flag=True, help="Every intro in place of INTRO.")
@click.option("--all-keys", is_flag=True, help="In twelve keys.")
@click.option("--rig", help="A rig's id or file: its guitar, line-up and sounds.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help=f"A file, by its ending: {', '.join(FORMATS)}. Or a folder, with --as. INTRO-KEY.mid by default.",
)
@click.option(
    "--as", "endings", metavar="ENDING", multiple=True, help="What to write into a folder: mid, pdf, ..."
)
@click.option("--straight", is_flag=True, help="As it is written: even eighths, no strum, no drift.")
@click.option("--stems", is_flag=True, help="Of a WAV: each part alone as well, in NAME-PART.wav.")
@click.option(
    "--rate", type=click.Choice(["44100", "48000"]), default="48000", show_default=True, help="Of a WAV."
)
@click.option("--bits", type=click.Choice(["16", "24"]), default="16", show_default=True, help="Of a WAV.")
@click.option("--soundfont", metavar="FILE", default="", help="Of a WAV: the first there is when left out.")
@click.option("--paper", type=click.Choice(list(PAPERS)), default="a4", show_default=True, help="Of a page.")
def write(
    intro: str | None,
    set_name: str | None,
    everything: bool,
    all_keys: bool,
    rig: str | None,
    output: Path | None,
    endings: Sequence[str],
    straight: bool,
    stems: bool,
    rate: str,
    bits: str,
    soundfont: str,
    paper: str,
    seed: int | None,
    **options: Any,
) -> None:
    """Writes INTRO to a file: MIDI as it would be played, sound, MusicXML, or a page to print.

    Several intros (a set, the library, twelve keys) go into a folder, a file each, or into one PDF as a
    booklet.

    Where neither --line-up nor tune nor rig says who plays, a page and MusicXML are for one guitar alone
    (where the intro does not suit that, for its first line-up with a guitar), and so is what is written with
    them. MIDI and sound by themselves are as `play` has it: with keys.
    """
    library = open_library()
    wanted = _wanted(library, intro, set_name, everything=everything, all_keys=all_keys, options=options)
    stage = None if rig is None else find_rig(library, rig)
    choices = Choices(
        straight=straight, paper=paper, rate=int(rate), bits=int(bits), stems=stems, soundfont=soundfont
    )
    if stage is not None:
        choices = replace(choices, soundfont=soundfont or soundfont_on(stage), routes=routes_on(stage))
    formats = list({format_.ending: format_ for format_ in map(_ending, endings)}.values())
    arranged = partial(
        piece_of, library=library, seed=seed or 0, rig=stage, to_read=_to_read(output, formats)
    )
    is_a_folder = output is not None and output.is_dir()
    if output is not None and output.suffix.lower() in FORMATS:
        if formats and not is_a_folder:
            raise UsageError(f"{output} is a file by its ending; --as goes with a folder")
        if is_a_folder and not formats:
            raise UsageError(f"{output} is a folder; what goes into it is named with --as")
    if len(wanted) == 1 and not formats and not is_a_folder:
        _one(wanted[0], output, choices, arranged)
    elif output is not None and output.suffix and not formats and not is_a_folder:
        title = _title(wanted, set_name, everything, library)
        _in_one_file(wanted, output, replace(choices, booklet=title), arranged)
    else:
        _in_a_folder(wanted, output or Path(), formats or [FORMATS[".mid"]], choices, arranged)


def _to_read(output: Path | None, formats: Sequence[Format]) -> bool:
    """Whether any of what is written is read; the same playing goes into all of it."""
    by_ending = FORMATS.get(output.suffix.lower()) if output is not None and not formats else None
    return any(each.on_paper for each in (*formats, by_ending) if each is not None)


def _wanted(
    library: Library,
    intro: str | None,
    set_name: str | None,
    *,
    everything: bool,
    all_keys: bool,
    options: dict[str, Any],
) -> list[Wanted]:
    named = [
        name for name, given in (("INTRO", intro), ("--set", set_name), ("--library", everything)) if given
    ]
    if len(named) != 1:
        given = "nothing is" if not named else f"{' and '.join(named)} are"
        raise UsageError(f"{given} given; one of INTRO, --set and --library is needed")
    if all_keys and options["key"] is not None:
        raise UsageError("--key and --all-keys do not go together")
    if set_name is not None:
        ours = [f"--{name.replace('_', '-')}" for name, value in options.items() if value and name != "key"]
        if ours:
            raise UsageError(f"a set's tunes have their own; {', '.join(ours)} cannot be given with --set")
        return wanted_set(find_set(library, set_name), library, key=options["key"], all_keys=all_keys)
    if everything:
        return wanted_library(library, options, all_keys=all_keys)
    return wanted_intro(library, intro or "", options, all_keys=all_keys)


def _title(wanted: Sequence[Wanted], set_name: str | None, everything: bool, library: Library) -> str:
    if set_name is not None:
        return find_set(library, set_name).title
    return "Intros" if everything else wanted[0].intro.name


def _one(wanted: Wanted, output: Path | None, choices: Choices, arranged: Arranger) -> None:
    path = output or Path(file_name(wanted, ".mid"))
    chosen = _format_for(path)
    if remark := outside_its_tempi(wanted.intro, wanted.tune.tempo):
        click.echo(remark, err=True)
    piece = arranged(wanted)
    paths = chosen.write([piece], path, choices)
    tune, plan = wanted.tune, piece.score.plan
    bars = f"{plan.bars} {'bar' if plan.bars == 1 else 'bars'} to the head"
    click.echo(
        f"{paths[0]}: {wanted.intro.name} in {plan.key}, {_who(piece)}, {tune.tempo:g}, {tune.meter}, {bars}"
    )
    for path in paths[1:]:
        click.echo(str(path))


def _who(piece: Piece) -> str:
    return piece.score.scene.stage.line_up.value


def _in_one_file(wanted: Sequence[Wanted], output: Path, choices: Choices, arranged: Arranger) -> None:
    chosen = _format_for(output)
    if not chosen.holds_many:
        many = ", ".join(one.ending for one in FORMATS.values() if one.holds_many)
        raise UsageError(
            f"{output}: {len(wanted)} intros do not go into one {chosen.ending} file, only into {many}; "
            f"a folder and --as {chosen.ending.removeprefix('.')} make a file each"
        )
    with _progress(wanted, "writing") as bar:
        paths = chosen.write((arranged(one) for one in bar), output, choices)
    click.echo(f"{paths[0]}: {len(wanted)} intros")


def _in_a_folder(
    wanted: Sequence[Wanted], folder: Path, chosen: Sequence[Format], choices: Choices, arranged: Arranger
) -> None:
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"{folder} is a file; several files go into a folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise IntroitError(f"{folder} cannot be made: {error.strerror}") from error
    written = 0
    digits = len(str(len(wanted)))
    with _progress(wanted, "writing") as bar:
        for number, one in enumerate(bar, 1):
            piece = arranged(one)
            for format_ in chosen:
                path = folder / file_name(
                    one, format_.ending, number=f"{number:0{digits}}" if one.is_numbered else ""
                )
                written += len(format_.write([piece], path, choices))
    click.echo(f"{folder}: {written} {'file' if written == 1 else 'files'}")


def _format_for(path: Path) -> Format:
    """The format of a file that is still to be arranged, so that what cannot be written is told first."""
    chosen = format_of(path)
    if not path.parent.is_dir():
        kind = "is no folder" if path.parent.exists() else "is not there"
        raise IntroitError(f"{path} cannot be written: {path.parent} {kind}")
    return chosen


def _progress(wanted: Sequence[Wanted], label: str) -> Any:
    """A bar on standard error, where that is a terminal."""
    return click.progressbar(wanted, label=label, file=sys.stderr, hidden=not sys.stderr.isatty())


def _ending(text: str) -> Format:
    ending = "." + text.lower().removeprefix(".")
    if ending not in FORMATS:
        allowed = [name.removeprefix(".") for name in FORMATS]
        hint = did_you_mean(text, allowed)
        raise UsageError(f"--as {text}: no such format; allowed are {', '.join(allowed)}. {hint}".strip())
    return FORMATS[ending]
