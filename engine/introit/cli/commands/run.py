"""`introit run`: a set, on a rig, from the foot-switch."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from introit.cli.content import find_rig, find_set, open_content
from introit.cli.heard import heard_rig
from introit.cli.notify import Notifier
from introit.cli.seeds import any_seed, seed_option
from introit.cli.service import Service
from introit.cli.session import Evening, play_evening
from introit.cli.stand_options import stand_options, stand_plan
from introit.cli.tally import farewell
from introit.cli.wiring import system_there_is
from introit.live.ports.fluidsynth import why_silent

if TYPE_CHECKING:
    pass


@click.command()
@click.argument("set_name", metavar="[SET]", default="demo")
@click.option("--rig", help="A rig's id or file; the set's own, or 'default'.")
@click.option(
    "--log", type=click.Path(path_type=Path, dir_okay=False), help="One JSON line a message, to FILE."
)
@click.option(
    "--practice", is_flag=True, help="The same tune is ready again by itself, a bar after each landing."
)
@click.option(
    "--service",
    "as_service",
    is_flag=True,
    help="For 'introit service': no keys; tells its manager when it is ready; a hang-up reads the set again.",
)
@stand_options
@seed_option("Brings an evening's playings back; another one each time when left out.")
def run(
    set_name: str,
    rig: str | None,
    log: Path | None,
    practice: bool,
    as_service: bool,
    stand: bool,
    listen: str | None,
    stand_port: int,
    tls: bool,
    seed: int | None,
) -> None:
    """Runs SET: an id, a file, a tune, or a call such as 'medium swing, Ab, starts on two'.

    Turn the level down before the first note. In a terminal the space bar presses the foot-switch, and `?`
    tells what the others do. Ctrl-C ends it with every note off.
    """
    page = stand_plan(stand, listen, stand_port, tls=tls)
    content = open_content()
    library = content.library
    chosen = find_set(library, set_name, read=content.read)
    stage = find_rig(library, rig or chosen.rig or "default", read=content.read)
    content.keep()
    choose = system_there_is()
    remark = ""
    if not as_service:  # a box that starts before its synth waits for that
        stage, remark = heard_rig(stage, choose, why_silent)
    tunes = f"{len(chosen.tunes)} tune{'' if len(chosen.tunes) == 1 else 's'}"
    seed = any_seed() if seed is None else seed
    opening = f"set: {chosen.title}, {tunes}; rig: {stage.name}; seed {seed}"
    evening = Evening(
        chosen.tunes,
        library,
        stage,
        log=log,
        seed=seed,
        named=set_name,
        mistakes=tuple(content.problems),
        practice=practice,
        title=f"set {chosen.title!r}",
        opening="\n".join(line for line in (opening, remark) if line),
    )
    service = Service(Notifier.of(os.environ)) if as_service else None
    reason = play_evening(
        evening,
        choose,
        by_keys=service is None,
        service=service,
        stand=page,
    )
    click.echo(farewell(reason))
