"""`introit practise`: an intro, a tune or a set, pass after pass, with both hands on the guitar."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from introit.arrange.legal import ChannelOf
from introit.cli.content import Content, find_rig, find_set, open_content
from introit.cli.heard import heard_rig
from introit.cli.options import intro_options, outside_its_tempi, tune_for
from introit.cli.practice_plan import PracticePlan, subject_of
from introit.cli.practising import Practising
from introit.cli.seeds import any_seed
from introit.cli.session import BeginPractice, Evening, play_evening
from introit.cli.staging import stage_for
from introit.cli.stand_options import stand_options, stand_plan
from introit.cli.tally import Tally, farewell
from introit.cli.through import Through
from introit.cli.wiring import system_there_is
from introit.errors import UsageError, did_you_mean
from introit.library.model import Tune
from introit.library.stage import Rig
from introit.live.ports.fluidsynth import why_silent
from introit.practice.log import Played, PracticeLog
from introit.practice.sentence import goal_from
from introit.practice.subject import Subject

_OF_AN_INTRO = ("key", "tempo", "meter", "feel", "first_chord", "line_up", "first_note", "pickup", "landing")
"""Options that say for which tune an intro is practised; a tune says that itself."""


@click.command()
@click.argument("what")
@click.argument("how", nargs=-1)
@intro_options
@click.option("--rig", default="default", help="A rig's id or file.")
@click.option(
    "--with-tune", is_flag=True, help="The tune follows its intro, chorus after chorus, until a press."
)
@stand_options
@click.option("--no-log", is_flag=True, help="Keeps nothing in the practice log.")
@click.option(
    "--log", type=click.Path(path_type=Path, dir_okay=False), help="One JSON line a message, to FILE."
)
def practise(
    what: str,
    how: tuple[str, ...],
    rig: str,
    with_tune: bool,
    stand: bool,
    listen: str | None,
    stand_port: int,
    tls: bool,
    no_log: bool,
    log: Path | None,
    seed: int | None,
    **options: Any,
) -> None:
    """Practises WHAT, an intro, a tune or a set, as HOW says in words; without words it goes round.

    HOW is, for instance, `keys in fourths`, or `climb 96 to 160 by 4, two clean each`, or several of these
    with commas between.

    Press to begin; each pass begins by itself after the rest of the one before. Turn the level down before
    the first note.
    """
    page = stand_plan(stand, listen, stand_port, tls=tls)
    content = open_content()
    goal = goal_from(" ".join(how))
    if options.get("tempo") and (goal.climb or goal.tempo):
        raise UsageError("--tempo and HOW both say a tempo; leave one of them out")
    stage = find_rig(content.library, rig, read=content.read)
    subjects = [] if with_tune else _subjects(content, what, stage, options)
    tunes = _with_charts(content, what, how, options) if with_tune else ()
    content.keep()
    if seed is None:
        seed = any_seed()
    plan = None if with_tune else PracticePlan.of(goal, subjects, seed=seed)
    choose = system_there_is()
    stage, remark = heard_rig(stage, choose, why_silent)
    opening = f"practice: {what}; rig: {stage.name}; seed {seed}"
    evening = Evening(
        tunes or (subjects[0].tune,),  # in the room the player knows one place; what is played there it says
        content.library,
        stage,
        log=log,
        seed=seed,
        practice=with_tune,
        with_tune=with_tune,
        title=f"practice of {what!r}",
        opening="\n".join(line for line in (opening, remark) if line),
    )
    voices: list[Callable[[str], None]] = [
        click.echo
    ]  # while it runs the screen's own: a bar may be half told
    with contextlib.nullcontext() if no_log else PracticeLog.open(lambda text: voices[-1](text)) as kept:
        tally = Tally()

        def keep(played: Played) -> None:
            tally.add(played)
            if kept:
                kept.add(played)

        if plan is None:
            shown = Through(tunes, keep).show
            reason = play_evening(evening, choose, by_keys=True, stand=page, on_shown=shown)
        else:
            reason = play_evening(
                evening, choose, by_keys=True, stand=page, practice=_beginning(plan, keep, voices)
            )
    click.echo(farewell(reason))
    if line := tally.line(kept=not no_log):
        click.echo(line)


def _beginning(
    plan: PracticePlan, keep: Callable[[Played], None], voices: list[Callable[[str], None]]
) -> BeginPractice:
    """Begins the practice once the player's channels are known."""

    def begin(channel_of: ChannelOf, say: Callable[[str], None], ahead: Callable[[], int]) -> Practising:
        voices.append(say)
        return plan.begin(channel_of, say, ahead, keep)

    return begin


def _subjects(content: Content, what: str, rig: Rig, options: dict[str, Any]) -> list[Subject]:
    """What is practised: an intro for a tune of its own, or the tunes of a set, each with its intro."""
    library = content.library
    count_off = options.pop("count_off")
    if count_off:
        raise UsageError("--count-off is said in words here: `count 1`")
    if what in library.intros:
        intro = library.intros[what]
        tune = tune_for(intro, library, count_off=0, **options)
        if remark := outside_its_tempi(intro, tune.tempo):
            click.echo(remark, err=True)
        return [Subject.of(tune, library, intro=what, stage=stage_for(tune, rig))]
    given = [name for name in _OF_AN_INTRO if options.get(name)]
    if given:
        option = f"--{given[0].replace('_', '-')}"
        raise UsageError(f"{option} is for an intro on its own; {what!r} is none, and a tune says it itself")
    try:
        tunes = find_set(library, what, read=content.read).tunes
    except UsageError as error:
        hint = did_you_mean(what, [*library.intros, *library.tunes, *library.sets])
        if "," not in what and not Path(what).suffix and not Path(what).exists():
            hint = hint or "'introit intros', 'tunes' and 'sets' list them."
            raise UsageError(f"no intro, tune, set or file {what!r}. {hint}") from error
        raise
    return [subject_of(tune, library, rig) for tune in tunes]


def _with_charts(
    content: Content, what: str, how: tuple[str, ...], options: dict[str, Any]
) -> tuple[Tune, ...]:
    """The tunes that can go on after their intro; those of a set that cannot are told."""
    given = [name for name in _OF_AN_INTRO if options.get(name)]
    if how or given:
        said = " ".join(how) if how else f"--{given[0].replace('_', '-')}"
        raise UsageError(f"{said!r} and --with-tune do not go together: the tune says how it goes")
    if what in content.library.intros:
        raise UsageError(f"{what!r} is an intro and has no tune behind it; name a tune or a set")
    tunes = find_set(content.library, what, read=content.read).tunes
    going = tuple(tune for tune in tunes if tune.chart is not None)
    for tune in tunes:
        if tune.chart is None:
            text = f"tune {tune.title!r} has no `chart:`, so nothing says how it goes on after its intro"
            if not going:
                raise UsageError(text)
            click.echo(f"introit: left out: {text}", err=True)
    return going
