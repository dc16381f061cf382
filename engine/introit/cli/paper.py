"""Standard output as paper: how wide it is, which signs it can show, and writing on it."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterable

import click

from introit.export.plain.ruler import NARROWEST, WIDEST
from introit.export.plain.signs import Signs, signs_for

TEXT_WIDTH = 80
"""Columns of running text, which nobody reads more easily on a wide screen."""


def columns() -> int:
    """Columns for a drawing: the terminal's, or those of `COLUMNS`; at least 80, also where there is none."""
    return min(max(shutil.get_terminal_size((NARROWEST, 24)).columns, NARROWEST), WIDEST)


def signs() -> Signs:
    """Lines and dots where standard output can show them, else what a typewriter has."""
    return signs_for(sys.stdout.encoding)


def write(lines: Iterable[str]) -> None:
    """Lines to standard output."""
    click.echo("\n".join(lines))


def paragraph(text: str, *, margin: str = "") -> list[str]:
    """A text broken into lines, the first behind the margin, the others as far in."""
    return click.wrap_text(text, TEXT_WIDTH, margin, " " * len(margin)).split("\n")
