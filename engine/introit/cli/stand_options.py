"""Options that say how the page for the music stand is served; `run` and `practise` share them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from introit.errors import UsageError

if TYPE_CHECKING:
    from introit.cli.stand_front import StandPlan


def stand_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options; what they say is read by `stand_plan`."""
    for option in (
        click.option(
            "--tls", is_flag=True, help="Serves the page by HTTPS, with a certificate made on the spot."
        ),
        click.option(
            "--stand-port", type=click.IntRange(0, 65535), default=8742, help="Of the page; 0 for any."
        ),
        click.option(
            "--listen",
            metavar="ADDRESS",
            help="Where the page is served; this machine only, when left out. 0.0.0.0 for the whole network.",
        ),
        click.option("--stand", is_flag=True, help="Serves the page for the music stand."),
    ):
        command = option(command)
    return command


def stand_plan(asked: bool, listen: str | None, port: int, *, tls: bool) -> StandPlan | None:
    """How the page is served; None where it is not asked for.

    Raises:
        UsageError: where that is said of no page.
    """
    if asked:
        from introit.cli.stand_front import StandPlan

        return StandPlan(listen or "127.0.0.1", port, tls)
    if listen is not None or tls:
        option = "--tls" if listen is None else "--listen"
        raise UsageError(f"{option} says how a page is served; --stand serves one")
    return None
