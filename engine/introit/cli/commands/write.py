"""`introit write`: an intro as a file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from introit.arrange.arranger import ready
from introit.cli.content import find_intro, open_library
from introit.cli.options import intro_options, outside_its_tempi, tune_for
from introit.cli.staging import stage_for
from introit.export.midi_file import write_midi


@click.command()
@click.argument("intro")
@intro_options
@click.option(
    "-o", "--output", type=click.Path(path_type=Path, dir_okay=False), help="INTRO-KEY.mid by default."
)
def write(intro: str, output: Path | None, seed: int | None, **options: Any) -> None:
    """Writes INTRO as a Standard MIDI File (format 1), as it would be played."""
    library = open_library()
    chosen = find_intro(library, intro)
    tune = tune_for(chosen, library, **options)
    if remark := outside_its_tempi(chosen, tune.tempo):
        click.echo(remark, err=True)
    performance = ready(tune, tune.key, library, intro=chosen, stage=stage_for(tune), seed=seed or 0)
    path = output or Path(f"{chosen.id}-{str(tune.key).replace(' ', '-')}.mid")
    write_midi(performance, path)
    bars = performance.head_tick // tune.meter.ticks_per_bar
    click.echo(f"{path}: {chosen.name} in {tune.key}, {tune.tempo:g}, {tune.meter}, {bars} bars to the head")
