"""`introit show`: an intro in a key: its chords and what each does, tab, chord diagrams, a piano roll."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any

import click

from introit.arrange.arranger import written
from introit.arrange.form import ArrangeError
from introit.arrange.plan import Plan
from introit.arrange.score import Score
from introit.cli import paper
from introit.cli.content import find_intro, find_rig, find_set, open_library
from introit.cli.options import intro_options, outside_its_tempi, tune_for
from introit.cli.shown import chord_rows, document, has_guitar, line_up_to_show, textures
from introit.cli.staging import stage_for
from introit.export.plain.boxes import box_lines
from introit.export.plain.chart import chart_document, chart_lines
from introit.export.plain.roll import roll_lines
from introit.export.plain.signs import Signs
from introit.export.plain.tab import has_tab, tab_lines
from introit.library.intros import HARDEST
from introit.library.model import Tune
from introit.theory.key import Key


@click.command()
@click.argument("intro")
@intro_options
@click.option("--rig", help="A rig's id or file: its guitar's strings and capo.")
@click.option("--why", is_flag=True, help="Why: where each chord comes from, where it goes, what to hear.")
@click.option("--tab/--no-tab", default=True, help="Tab, where a guitar plays; drawn when left out.")
@click.option("--diagrams/--no-diagrams", default=True, help="Chord diagrams; drawn when left out.")
@click.option("--roll/--no-roll", default=False, help="A piano roll of all parts.")
@click.option(
    "--chart", is_flag=True, help="INTRO is a tune, or a set: the chart of each, in a key or its own."
)
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def show(
    intro: str,
    rig: str | None,
    why: bool,
    tab: bool,
    diagrams: bool,
    roll: bool,
    chart: bool,
    as_json: bool,
    seed: int | None,
    **options: Any,
) -> None:
    """Shows INTRO in a key: chords and what each does, tab and chord diagrams.

    Drawn is what one guitar plays alone where the intro suits that, and else its first line-up with a guitar;
    --line-up names another. Another --seed is another playing. With --chart, the chords of a tune.
    """
    library = open_library(quiet=as_json)
    if chart:
        _charts(find_set(library, intro).tunes, options["key"], as_json=as_json)
        return
    chosen = find_intro(library, intro)
    guitar = find_rig(library, rig) if rig else None
    options["line_up"] = line_up_to_show(chosen, options["line_up"], guitar.line_up if guitar else None)
    tune = tune_for(chosen, library, **options)
    score = written(tune, tune.key, library, intro=chosen, stage=stage_for(tune, guitar), seed=seed or 0)
    if as_json:
        click.echo(json.dumps(document(score), indent=2, ensure_ascii=False))
        return
    width, signs = paper.columns(), paper.signs()
    paper.write(_chords(score, signs, why=why))
    if tab or diagrams:
        paper.write(_for_whom(score))
    if tab and has_tab(score):
        paper.write(["", *tab_lines(score, width=width, signs=signs)])
    if diagrams and (boxes := box_lines(score, width=width, signs=signs)):
        paper.write(["", *boxes])
    if roll:
        paper.write(["", *roll_lines(score, width=width, signs=signs)])


def _charts(tunes: Sequence[Tune], key: Key | None, *, as_json: bool) -> None:
    """The charts of tunes; where there are several, one that has none has a line."""
    if len(tunes) == 1 or any(tune.chart for tune in tunes):
        charted = [tune for tune in tunes if tune.chart or len(tunes) == 1]
    else:
        raise ArrangeError("none of these tunes has a chart")
    if as_json:
        told = [chart_document(tune, key or tune.key) for tune in charted]
        click.echo(json.dumps(told if len(tunes) > 1 else told[0], indent=2, ensure_ascii=False))
        return
    for number, tune in enumerate(tunes):
        lines = (
            chart_lines(tune, key or tune.key, signs=paper.signs())
            if tune in charted
            else [f"{tune.title}: no chart"]
        )
        paper.write(["", *lines] if number else lines)


def _chords(score: Score, signs: Signs, *, why: bool) -> Iterator[str]:
    plan = score.plan
    bars = f"{plan.bars} bar{'' if plan.bars == 1 else 's'} to the head"
    head = f"{plan.intro.name} in {plan.key}, {plan.meter}, {plan.tempo:g}, {plan.tune.feel}, {bars}"
    difficulty = f"{_texture_line(score)}; difficulty {plan.intro.difficulty} of {HARDEST}"
    for line in (head, difficulty, _pedal_point(plan), outside_its_tempi(plan.intro, plan.tempo)):
        yield from paper.paragraph(line) if line else ()
    yield ""
    rows = chord_rows(plan)
    symbols = [signs.word(row["symbol"]) for row in rows]
    numerals = [signs.word(row["numeral"]) for row in rows]
    symbol_width, numeral_width = (max(map(len, names)) + 2 for names in (symbols, numerals))
    bar = 0
    for row, symbol, numeral in zip(rows, symbols, numerals, strict=True):
        label = f"bar {row['bar']}" if row["bar"] != bar else ""
        bar = row["bar"]
        names = f"{symbol:<{symbol_width}}{numeral:<{numeral_width}}"
        place = f"{label:<7} {row['beat']:g}  "
        if why:
            yield f"{place}{names}".rstrip()
            yield from paper.paragraph(signs.word(row["lesson"]), margin=" " * len(place))
        else:
            yield from paper.paragraph(row["does"], margin=place + names)
    yield from ("", f"head: {signs.word(str(plan.tune.first_chord))} in {plan.key}", "")
    yield from paper.paragraph(" ".join(plan.intro.why.split()))


def _pedal_point(plan: Plan) -> str:
    held = [planned for planned in plan.chords if planned.pedal is not None]
    if not held:
        return ""
    last = held[-1]
    until = "the head" if last is plan.chords[-1] else f"bar {last.end // plan.bar_ticks + 1}"
    return f"pedal point: {last.pedal} stays in the bass until {until}"


def _texture_line(score: Score) -> str:
    passages = textures(score)
    if len(passages) == 1:
        return f"texture: {passages[0][1]}"
    return "textures: " + "; ".join(f"{texture} from bar {bar}" for bar, texture in passages)


def _for_whom(score: Score) -> list[str]:
    """Which guitar it is that the drawings are for, or why there are none."""
    stage = score.scene.stage
    word, capo = stage.line_up.value, stage.fretboard.capo
    if not has_guitar(word):
        others = [each for each in score.plan.intro.line_ups if has_guitar(each)]
        hint = f"; --line-up '{others[0]}' has" if others else ""
        return ["", f"{word}: the comping lies on keys and has no tab{hint}"]
    whole = "everything on one guitar" if stage.seats.one_pair_of_hands else "what the guitar comps"
    frets = f"; capo at fret {capo}, frets counted from it" if capo else ""
    return ["", *paper.paragraph(f"{word}: {whole}{frets}")]
