"""`introit show`: an intro in a key, chord by chord, and what each chord does."""

from __future__ import annotations

import json
from typing import Any

import click

from introit.arrange.arranger import symbol_of
from introit.arrange.line_up import Stage
from introit.arrange.plan import Plan, plan_intro
from introit.arrange.scene import set_scene
from introit.cli.content import find_intro, open_library
from introit.cli.options import intro_options, outside_its_tempi, tune_for
from introit.library.intros import HARDEST
from introit.theory.function import explain
from introit.units import TICKS_PER_QUARTER


@click.command()
@click.argument("intro")
@intro_options
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def show(intro: str, as_json: bool, **options: Any) -> None:
    """Shows INTRO in a key: bars, chord names, numerals, and what each chord does."""
    library = open_library(quiet=as_json)
    chosen = find_intro(library, intro)
    options.pop("seed")  # what it shows is the same in every playing
    tune = tune_for(chosen, library, **options)
    plan = plan_intro(chosen, tune, tune.key)
    rows = [_row(plan, number) for number in range(len(plan.chords))]
    if as_json:
        click.echo(json.dumps(_document(plan, rows), indent=2, ensure_ascii=False))
        return
    _print(plan, rows)


def _row(plan: Plan, number: int) -> dict[str, Any]:
    planned = plan.chords[number]
    last = number + 1 == len(plan.chords)
    following = plan.tune.first_chord if last else plan.chords[number + 1].numeral
    return {
        "bar": planned.onset // plan.meter.ticks_per_bar + 1,
        "beat": planned.onset % plan.meter.ticks_per_bar / TICKS_PER_QUARTER + 1,
        "beats": planned.length / TICKS_PER_QUARTER,
        "symbol": symbol_of(planned),
        "numeral": str(planned.numeral),
        "tones": [str(tone.tone) for tone in planned.chord.required],
        "pedal_point": None if planned.pedal is None else str(planned.pedal),
        "does": explain(planned.numeral, plan.key, following),
    }


def _document(plan: Plan, rows: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "id": plan.intro.id,
        "name": plan.intro.name,
        "key": str(plan.key),
        "meter": str(plan.meter),
        "tempo": plan.tempo,
        "feel": plan.tune.feel,
        "bars": plan.bars,
        "leads_to": str(plan.tune.first_chord),
        "difficulty": plan.intro.difficulty,
        "line_ups": list(plan.intro.line_ups),
        "passages": [{"from_bar": bar, "texture": texture} for bar, texture in _textures(plan)],
        "why": plan.intro.why,
        "chords": rows,
    }


def _pedal_point(plan: Plan) -> str:
    held = [planned for planned in plan.chords if planned.pedal is not None]
    if not held:
        return ""
    last = held[-1]
    until = "the head" if last is plan.chords[-1] else f"bar {last.end // plan.bar_ticks + 1}"
    return f"pedal point: {last.pedal} stays in the bass until {until}"


def _textures(plan: Plan) -> list[tuple[int, str]]:
    """The bar in which each passage begins, and its texture."""
    scene = set_scene(plan, Stage())
    return [(passage.start // plan.bar_ticks + 1, passage.texture) for passage in scene.passages]


def _texture_line(plan: Plan) -> str:
    textures = _textures(plan)
    if len(textures) == 1:
        return f"texture: {textures[0][1]}"
    return "textures: " + "; ".join(f"{texture} from bar {bar}" for bar, texture in textures)


def _print(plan: Plan, rows: list[dict[str, Any]]) -> None:
    bars = f"{plan.bars} bar{'' if plan.bars == 1 else 's'} to the head"
    click.echo(f"{plan.intro.name} in {plan.key}, {plan.meter}, {plan.tempo:g}, {plan.tune.feel}, {bars}")
    click.echo(f"{_texture_line(plan)}; difficulty {plan.intro.difficulty} of {HARDEST}")
    for remark in (_pedal_point(plan), outside_its_tempi(plan.intro, plan.tempo)):
        if remark:
            click.echo(remark)
    click.echo()
    symbol_width = max(len(row["symbol"]) for row in rows) + 2
    numeral_width = max(len(row["numeral"]) for row in rows) + 2
    bar = 0
    for row in rows:
        label = f"bar {row['bar']}" if row["bar"] != bar else ""
        bar = row["bar"]
        margin = (
            f"{label:<7} {row['beat']:g}  {row['symbol']:<{symbol_width}}{row['numeral']:<{numeral_width}}"
        )
        click.echo(click.wrap_text(row["does"], 80, margin, " " * len(margin)))
    tonic = plan.tune.first_chord
    click.echo(f"\nhead: {tonic} in {plan.key}\n")
    click.echo(click.wrap_text(" ".join(plan.intro.why.split()), 80))
