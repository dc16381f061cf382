"""`introit log`: what was practised, what was not, and what is due again."""

from __future__ import annotations

import contextlib
import json
import re
import sqlite3
import sys
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import click

from introit.cli import log_pictures as pictures
from introit.cli.content import find_set, open_library
from introit.cli.log_facts import Facts, days_back, document, facts, homework_document
from introit.errors import IntroitError, UsageError, did_you_mean
from introit.export.atomic import write_atomically
from introit.library.model import Library
from introit.practice.log.homework import homework
from introit.practice.log.opening import LogError, plain
from introit.practice.log.store import Store, log_path
from introit.practice.log.table import from_csv, to_csv
from introit.practice.log.views import Which

_BACK = re.compile(r"(\d{1,5}) ?(d|days?|w|weeks?)", re.ASCII)
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_MOST = 8
"""How many lines a view has."""
_NOTHING = "nothing was practised yet; 'introit practise INTRO' begins"


class _Day(click.ParamType[date]):
    """A day, or how long ago it was."""

    name = "day"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        text = str(value).strip()
        today = _today()
        if back := _BACK.fullmatch(text):
            return days_back(today, int(back[1]) * (7 if back[2].startswith("w") else 1))
        try:
            day = date.fromisoformat(text if _DATE.fullmatch(text) else "")
        except ValueError:
            allowed = "a date such as 2026-12-01, or 30d or 4w for days or weeks ago"
            self.fail(f"{text!r} is no day; allowed is {allowed}", param, ctx)
        if day > today:
            self.fail(f"{text} is still to come", param, ctx)
        return day


@click.command()
@click.option("--intro", metavar="ID", help="Only this intro.")
@click.option("--since", type=_Day(), help="Days and tempi from this day on: 2026-12-01, or 30d, 4w ago.")
@click.option("--homework", "work", metavar="SET", help="How far a set's goals are done; its id or file.")
@click.option("--csv", "table", metavar="FILE", help="Writes every pass into a table; - for the terminal.")
@click.option("--add", "more", metavar="FILE", help="Takes in the passes of such a table, once each.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def log(
    *,
    intro: str | None,
    since: date | None,
    work: str | None,
    table: str | None,
    more: str | None,
    as_json: bool,
) -> int:
    """Shows what was practised: the week, tempi by key, keys never visited, what is due again."""
    _check_together({"--homework": work, "--csv": table, "--add": more}, intro, since, as_json=as_json)
    if more is not None:
        return _take_in(more)
    if work is not None:
        return _tell_homework(work, as_json=as_json)
    with _looking() as store:
        if table is not None:
            return _export(store, table)
        library = open_library(quiet=True)
        if intro is not None:
            _check_intro(intro, library, store)
        found = facts(store.connection, Which(intro, since), _today(), library)
    if as_json:
        click.echo(json.dumps(document(found), indent=2, ensure_ascii=False))
    else:
        click.echo("\n".join(_lines(found, intro, since)))
    return 0


def _check_together(
    alone: dict[str, str | None], intro: str | None, since: date | None, *, as_json: bool
) -> None:
    given = [name for name, value in alone.items() if value is not None]
    if len(given) > 1:
        raise UsageError(f"{given[0]} and {given[1]} do not go together; ask for one of them")
    filters = [name for name, value in (("--intro", intro), ("--since", since)) if value is not None]
    if given and filters:
        raise UsageError(f"{filters[0]} does not go with {given[0]}, which goes by every pass")
    if given and as_json and given[0] != "--homework":
        raise UsageError(f"--json does not go with {given[0]}, which is a table")


@contextlib.contextmanager
def _looking() -> Iterator[Store]:
    """The log while it is looked into."""
    store = Store.look(log_path(), _say)
    try:
        yield store
    except sqlite3.Error as error:
        raise LogError(f"the practice log {log_path()} cannot be read: {plain(error)}") from error
    finally:
        store.close()


def _check_intro(intro: str, library: Library, store: Store) -> None:
    """An intro that is in the library or was ever played will do."""
    rows = store.connection.execute("SELECT DISTINCT intro FROM passes WHERE whole IN (0, 1)")
    known = {*library.intros, *(name for (name,) in rows)}
    if intro not in known:
        hint = did_you_mean(intro, known) or "'introit intros' lists them."
        raise UsageError(f"no intro {intro!r}. {hint}")


def _lines(found: Facts, intro: str | None, since: date | None) -> list[str]:
    if not found.anything:
        return [_NOTHING if intro is None else f"{intro} was not practised yet"]
    marks = pictures.marks_for(sys.stdout.encoding)
    when = "the last seven days" if since is None else f"since {since:%Y-%m-%d}"
    sections = {
        f"practised, {when}": pictures.days(found.days, marks),
        "tempo by key": pictures.tempi(found.tempi, marks),
        "keys never visited": pictures.visits(found.visited, _MOST),
        "longest unpractised": pictures.rests(found.rested, found.today, _MOST),
        "due again": [found.no_due] if found.due is None else pictures.dues(found.due, found.today, _MOST),
    }
    lines: list[str] = []
    for head, body in sections.items():
        if body:
            lines += [head, *body, ""]
    return lines[:-1]


def _tell_homework(name: str, *, as_json: bool) -> int:
    library = open_library(quiet=as_json)
    work = find_set(library, name)
    if not work.goals:
        raise UsageError(f"{name!r} asks for nothing: a set's homework stands under 'goals:' in its file")
    with _looking() as store:
        found = homework(store.connection, work)
    if as_json:
        click.echo(json.dumps(homework_document(found, _today()), indent=2, ensure_ascii=False))
    else:
        marks = pictures.marks_for(sys.stdout.encoding)
        click.echo("\n".join([work.title, "", *pictures.homework(found, _today(), marks)]))
    return 0


def _export(store: Store, name: str) -> int:
    passes = store.passes()
    lines = to_csv(passes)
    if name == "-":
        output = sys.stdout.buffer  # a text stream would end lines its own way
        for line in lines:
            output.write(line.encode())
        output.flush()
        return 0
    write_atomically(Path(name), "".join(lines).encode())
    click.echo(f"{name}: {_count(len(passes))}")
    return 0


def _take_in(name: str) -> int:
    try:
        data = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
        passes = from_csv(data.decode("utf-8-sig"))
    except OSError as error:
        raise IntroitError(f"{name} cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{name} is no table of text: byte {error.start} is not UTF-8") from error
    except UsageError as error:
        raise UsageError(f"{name}, {error}") from error
    with contextlib.closing(Store.open(log_path(), _say)) as store:
        added = store.take_in(passes)
    known = len(passes) - added
    click.echo(f"{_count(added)} added" + (f"; {known} were there already" if known else ""))
    return 0


def _count(passes: int) -> str:
    return "1 pass" if passes == 1 else f"{passes} passes"


def _today() -> date:
    return datetime.now().astimezone().date()


def _say(message: str) -> None:
    click.echo(f"introit: {message}", err=True)
