"""`introit play`: one intro, now."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from introit.arrange.plan import plan_intro
from introit.cli.content import find_intro, find_rig, open_library
from introit.cli.front import Front
from introit.cli.heard import heard_rig
from introit.cli.options import intro_options, outside_its_tempi, tune_for
from introit.cli.scripted import Script, hands_off
from introit.cli.seeds import any_seed
from introit.cli.session import Evening, play_evening
from introit.cli.wiring import system_there_is
from introit.live.events import Shown
from introit.live.ports.fluidsynth import why_silent


@click.command()
@click.argument("intro")
@intro_options
@click.option("--rig", default="default", help="A rig's id or file.")
@click.option(
    "--log", type=click.Path(path_type=Path, dir_okay=False), help="One JSON line a message, to FILE."
)
def play(intro: str, rig: str, log: Path | None, seed: int | None, **options: Any) -> None:
    """Plays INTRO once, through the same loop as on stage, and stops on the head's downbeat.

    Where --line-up names nobody, those of the rig play: with keys, as a rule.
    """
    library = open_library()
    chosen = find_intro(library, intro)
    tune = tune_for(chosen, library, **options)
    if remark := outside_its_tempi(chosen, tune.tempo):
        click.echo(remark, err=True)
    if seed is None:
        seed = any_seed()
        click.echo(f"seed {seed} (--seed {seed} brings this playing back)")
    plan_intro(chosen, tune, tune.key)  # an intro that has no form for the key is refused, not replaced
    choose = system_there_is()
    stage, remark = heard_rig(hands_off(find_rig(library, rig)), choose, why_silent)
    if remark:
        click.echo(remark)
    script = Script()
    started = -1

    def on_shown(shown: Shown, front: Front) -> None:
        nonlocal started
        if shown.what == "key" and shown.state == "ready" and started < front.pauses:
            started = front.pauses
            script.press(after=0.0)
        elif shown.what == "state" and shown.state == "in the tune":
            front.stop("the head")

    play_evening(
        Evening((tune,), library, stage, log=log, seed=seed, title=f"intro {chosen.id!r}"),
        choose,
        on_shown=on_shown,
        ticks=script.tick,
    )
