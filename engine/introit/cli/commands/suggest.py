"""`introit suggest`: which intros suit a tune, best first, and why."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import click

from introit.arrange.form import first_chord
from introit.arrange.suggest import Refusal, Suggestion, rank, refused
from introit.cli.content import find_intro, find_rig, find_set, open_library
from introit.cli.options import KEY
from introit.cli.staging import stage_for
from introit.errors import EXIT_FAILED, UsageError
from introit.library.intros import LINE_UPS
from introit.library.model import Library, SetList, Tune
from introit.library.stage import Rig
from introit.theory.key import Key

_WIDTH = 80
_USUAL = 5
"""How many suggestions one tune gets when nobody says; in a set each tune gets one."""
_WIDEST_ID = 30
"""A longer id stands on a line of its own."""


@dataclass(frozen=True, slots=True)
class _Answer:
    """All that can be played for a tune, best first, and all that cannot."""

    tune: Tune
    key: Key
    suggestions: list[Suggestion]
    refusals: list[Refusal]

    @property
    def playable(self) -> list[str]:
        """Ids of those that can be played, best first."""
        return [suggestion.intro.id for suggestion in self.suggestions]

    @property
    def will_be_played(self) -> str | None:
        """Id of the intro that goes before this tune: its own first that can be played, else the best."""
        return next((name for name in (*self.tune.intros, *self.playable) if name in self.playable), None)


@click.command()
@click.argument("tune")
@click.option("--line-up", type=click.Choice(LINE_UPS), help="Who plays; else the tune's or the rig's.")
@click.option("--key", "key", type=KEY, help="The key that was called, as Bb or Cm; else the tune's own.")
@click.option("--after", metavar="ID[,ID]", help="Intros just played, the latest last; they sink.")
@click.option("--most", type=click.IntRange(min=1), help="How many to list: 5, or 1 for each tune of a set.")
@click.option("--all", "everything", is_flag=True, help="Every one, and why the others cannot be played.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def suggest(
    tune: str,
    *,
    key: Key | None,
    after: str | None,
    most: int | None,
    everything: bool,
    as_json: bool,
    line_up: str | None,
) -> int:
    """Ranks the intros for TUNE: an id, a file, or a call as in 'medium swing, Ab, starts on two, 140'.

    A set gives each of its tunes a first suggestion, and what goes before one tune sinks for the next.
    """
    library = open_library(quiet=as_json)
    found = find_set(library, tune)
    if key is not None and len(found.tunes) > 1:
        raise UsageError(f"--key is for one tune, and {tune!r} holds {len(found.tunes)}; name one of them")
    before = [] if after is None else _before(after, library)
    rig = find_rig(library, found.rig) if found.rig else None
    answers = list(_answers(found, library, key=key, before=before, rig=rig, line_up=line_up))
    usual = None if everything else _USUAL if len(answers) == 1 else 1
    _say(answers, most or usual, everything=everything, as_json=as_json)
    return 0 if all(answer.suggestions for answer in answers) else EXIT_FAILED


def _before(text: str, library: Library) -> list[str]:
    return [find_intro(library, name.strip()).id for name in text.split(",")]


def _answers(
    found: SetList,
    library: Library,
    *,
    key: Key | None,
    before: list[str],
    rig: Rig | None,
    line_up: str | None,
) -> Iterator[_Answer]:
    """One for each tune in playing order; what will be played before a tune counts for those after it."""
    after = list(before)
    intros = library.intros.values()
    for tune in found.tunes:
        called = key or tune.key
        players = line_up or stage_for(tune, rig).line_up
        suggestions = rank(intros, tune, called, after=after, line_up=players)
        answer = _Answer(tune, called, suggestions, refused(intros, tune, called))
        if answer.will_be_played is not None:
            after.append(answer.will_be_played)
        yield answer


def _say(answers: list[_Answer], most: int | None, *, everything: bool, as_json: bool) -> None:
    if as_json:
        rows = [row for answer in answers for row in _rows(answer, most, everything=everything)]
        click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
    else:
        told = (_told(answer, most, everything=everything) for answer in answers)
        texts = ["\n".join(lines) for lines in told if lines]
        if len(answers) == 1 and (rest := _rest(answers[0], most, everything=everything)):
            texts.append(rest)
        if texts:
            click.echo("\n\n".join(texts))
    for answer in answers:
        if not answer.suggestions:
            hint = "" if everything else "; --all says why"
            click.echo(f"introit: no intro can be played for {_described(answer)}{hint}", err=True)


def _rows(answer: _Answer, most: int | None, *, everything: bool) -> list[dict[str, Any]]:
    tune = {"tune": answer.tune.id, "title": answer.tune.title, "key": str(answer.key)}
    rows: list[dict[str, Any]] = [
        {
            "id": suggestion.intro.id,
            "rank": place,
            "score": suggestion.score,
            "reasons": list(suggestion.reasons),
            "why_not": None,
            **tune,
        }
        for place, suggestion in enumerate(answer.suggestions[:most], start=1)
    ]
    if everything:
        rows += [
            {"id": refusal.intro.id, "rank": None, "score": None, "reasons": [], "why_not": refusal.reason}
            | tune
            for refusal in answer.refusals
        ]
    return rows


def _told(answer: _Answer, most: int | None, *, everything: bool) -> list[str]:
    """Lines for one tune; none where there is nothing to list."""
    items = [
        (f"{place:>2}", suggestion.intro.id, "; ".join(suggestion.reasons))
        for place, suggestion in enumerate(answer.suggestions[:most], start=1)
    ]
    refusals = [("  ", refusal.intro.id, _bare(refusal)) for refusal in answer.refusals if everything]
    if not items and not refusals:
        return []
    lines = [_wrapped(_described(answer)), *_own_intro(answer), *_listed(items)]
    if refusals:
        lines += ["cannot be played:", *_listed(refusals)]
    return lines


def _own_intro(answer: _Answer) -> list[str]:
    own = answer.tune.intros
    if not own:
        return []
    cannot = [name for name in own if name not in answer.playable]
    if len(own) == 1:
        return [_wrapped(f"its own intro: {own[0]}{', which cannot be played here' if cannot else ''}")]
    but = f"; cannot be played here: {', '.join(cannot)}" if cannot else ""
    return [_wrapped(f"its own intros, in rotation: {', '.join(own)}{but}")]


def _listed(items: list[tuple[str, str, str]]) -> list[str]:
    """Number, id and text in columns; the text is wrapped in its own."""
    width = min(max((len(name) for _, name, _ in items), default=0), _WIDEST_ID)
    lines = []
    for number, name, text in items:
        margin = f"{number}  {name:<{width}}  "
        indent = " " * (width + 6)
        if len(name) > width:
            lines.append(margin.rstrip())
            margin = indent
        lines.append(_wrapped(text, margin, indent))
    return lines


def _wrapped(text: str, margin: str = "", indent: str = "") -> str:
    """Text in 80 columns; a span such as 60-260 stays together."""
    return textwrap.fill(
        text, _WIDTH, initial_indent=margin, subsequent_indent=indent, break_on_hyphens=False
    )


def _bare(refusal: Refusal) -> str:
    """The reason without the intro's name, which stands before it."""
    return refusal.reason.removeprefix(f"intro {refusal.intro.id!r} ")


def _rest(answer: _Answer, most: int | None, *, everything: bool) -> str:
    """How many are not listed, and how to see them; empty where all are, or where none can be played."""
    if everything or not answer.suggestions:
        return ""
    count, others = len(answer.suggestions), len(answer.refusals)
    more = f"{count - most} more can be played" if most is not None and count > most else ""
    cannot = f"{others} cannot be played" if others else ""
    both = ", ".join(filter(None, (more, cannot)))
    return f"{both}; --all lists them" if both else ""


def _described(answer: _Answer) -> str:
    tune = answer.tune
    first = first_chord(tune, answer.key.mode)
    beats = "beat" if tune.pickup == 1 else "beats"
    pickup = f", pickup of {float(tune.pickup):g} {beats}" if tune.pickup else ""
    feel = tune.feel.replace("-", " ")
    return f"{tune.title}: {answer.key}, {tune.meter}, {tune.tempo:g}, {feel}, starts on {first}{pickup}"
