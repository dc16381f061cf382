"""`introit intros`, `tunes`, `sets`, `rigs`, `feels`: what there is. An `id` is what other commands take."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from typing import Any

import click

from introit.cli.content import open_library
from introit.cli.options import METER, TEMPO
from introit.library.calls import ReadyMade, ready_made
from introit.library.model import Intro, Library, Tune
from introit.theory.meter import Meter

Row = dict[str, Any]


def _print(rows: Sequence[Row], columns: Sequence[str], *, as_json: bool, kind: str) -> None:
    if as_json:
        click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    if not rows:
        click.echo(f"no {kind} fits")
        return
    texts = [[_cell(row[column]) for column in columns] for row in rows]
    widths = [max(len(text[place]) for text in [*texts, list(columns)]) for place in range(len(columns))]
    for text in [list(columns), *texts]:
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(text, widths, strict=True)).rstrip())


def _cell(value: object) -> str:
    if isinstance(value, list):
        return " ".join(str(part) for part in value)
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _json_option(command: Callable[..., Any]) -> Callable[..., Any]:
    return click.option("--json", "as_json", is_flag=True, help="As JSON.")(command)


@click.command()
@click.option("--mode", type=click.Choice(["major", "minor"]), help="Only those with a form for this mode.")
@click.option("--meter", type=METER, help="Only those that go in this meter.")
@click.option("--tempo", type=TEMPO, help="Only those that suit this tempo.")
@click.option("--feel", help="Only those that suit this feel.")
@_json_option
def intros(
    mode: str | None, meter: Meter | None, tempo: float | None, feel: str | None, as_json: bool
) -> None:
    """Lists the intros."""
    library = open_library(quiet=as_json)
    rows = [
        _intro_row(intro)
        for intro in library.intros.values()
        if (mode is None or any(form.mode == mode for form in intro.forms))
        and (meter is None or meter in intro.meters)
        and (tempo is None or intro.tempo[0] <= tempo <= intro.tempo[1])
        and (feel is None or feel in intro.feels)
    ]
    _print(rows, ("id", "modes", "meters", "tempo", "name"), as_json=as_json, kind="intro")


def _intro_row(intro: Intro) -> Row:
    low, high = intro.tempo
    return {
        "id": intro.id,
        "name": intro.name,
        "modes": sorted({str(form.mode) for form in intro.forms}),
        "meters": [str(meter) for meter in intro.meters],
        "tempo": f"{low:g}-{high:g}",
        "feels": list(intro.feels),
        "pedal_point": None if intro.pedal is None else intro.pedal.degree,
        "why": intro.why,
    }


@click.command()
@_json_option
def tunes(as_json: bool) -> None:
    """Lists the tunes, and the ready-made ones that need only a key: 'medium swing, Ab, starts on two'."""
    library = open_library(quiet=as_json)
    rows = [_tune_row(tune) for tune in library.tunes.values()]
    rows += [_ready_made_row(entry, library) for entry in ready_made(library)]
    columns = ("id", "title", "key", "meter", "tempo", "feel", "first_chord")
    _print(rows, columns, as_json=as_json, kind="tune")


def _tune_row(tune: Tune) -> Row:
    return {
        "id": tune.id,
        "title": tune.title,
        "key": str(tune.key),
        "meter": str(tune.meter),
        "tempo": tune.tempo,
        "feel": tune.feel,
        "first_chord": str(tune.first_chord),
        "intro": tune.intro,
        "intros": list(tune.intros),
    }


def _ready_made_row(entry: ReadyMade, library: Library) -> Row:
    """A ready-made entry; its id is a call, which other commands take with any key in place of C."""
    return {
        "id": entry.call,
        "title": "(ready-made)",
        "key": f"any {entry.mode}",
        "meter": str(library.feels[entry.feel].meters[0]),
        "tempo": entry.tempo,
        "feel": entry.feel,
        "first_chord": entry.first_chord,
        "intro": None,
        "intros": [],
    }


@click.command()
@_json_option
def sets(as_json: bool) -> None:
    """Lists the sets."""
    library = open_library(quiet=as_json)
    rows: list[Row] = [
        {
            "id": found.id,
            "count": len(found.tunes),
            "title": found.title,
            "rig": found.rig,
            "tunes": [tune.title for tune in found.tunes],
        }
        for found in library.sets.values()
    ]
    _print(rows, ("id", "count", "title"), as_json=as_json, kind="set")


@click.command()
@_json_option
def rigs(as_json: bool) -> None:
    """Lists the rigs."""
    library = open_library(quiet=as_json)
    rows = [
        {"id": rig.id, "name": rig.name, "ports": [port.name for port in rig.ports]}
        for rig in library.rigs.values()
    ]
    _print(rows, ("id", "name", "ports"), as_json=as_json, kind="rig")


@click.command()
@_json_option
def feels(as_json: bool) -> None:
    """Lists the feels."""
    library = open_library(quiet=as_json)
    _print(_feel_rows(library), ("id", "name", "meters", "tempo"), as_json=as_json, kind="feel")


def _feel_rows(library: Library) -> list[Row]:
    return [
        {
            "id": feel.id,
            "name": feel.name,
            "meters": [str(meter) for meter in feel.meters],
            "tempo": f"{feel.tempo[0]:g}-{feel.tempo[1]:g}",
            "typical_tempo": feel.typical_tempo,
        }
        for feel in library.feels.values()
    ]
