"""`introit doctor`: how exact it is on this machine, and what would make it better."""

from __future__ import annotations

import itertools
import json
import sys
import textwrap
import time

import click

from introit.arrange.legal import own_channel
from introit.cli.claims import claims_of
from introit.cli.content import find_rig, find_set, open_library
from introit.cli.desk import Desk
from introit.cli.findings import Findings, advice, findings_of, verdict
from introit.cli.histogram import Figures, drawn
from introit.cli.lock import held, lock_folder
from introit.cli.machine import Machine, governors, groups_of_user, user_name
from introit.cli.measuring import Measured, measure, silent
from introit.cli.wiring import setup_for, system_there_is
from introit.errors import EXIT_FAILED
from introit.library.model import Library
from introit.live.events import Request
from introit.live.ports.server import ask_jack_server
from introit.live.setup import Setup
from introit.live.system import limits

_WIDTH = 79
_LONGEST_SECONDS = 600


@click.command()
@click.option("--rig", help="A rig's id or file; the one that is used when nobody names another.")
@click.option(
    "--seconds", type=click.IntRange(1, _LONGEST_SECONDS), default=10, show_default=True, help="How long."
)
@click.option("--json", "as_json", is_flag=True, help="As one JSON object; times in milliseconds.")
def doctor(rig: str | None, seconds: int, as_json: bool) -> int:
    """Measures how exact messages leave this machine through a rig's ports, and says what to change.

    It plays nothing that can be heard: a byte of Active Sensing a hundred times a second, through the same
    player as on stage. The exit code is 1 when it is not good enough for playing live.
    """
    library = open_library()
    stage = find_rig(library, rig or "default")
    choose = system_there_is(or_memory=rig is None)
    setup = silent(setup_for(stage, tunes=1, log=True, choose_system=choose), seconds)
    jack = any(port.system == "jack" for port in setup.ports)
    machine = Machine(
        linux=sys.platform == "linux",
        limits=limits(),
        groups=groups_of_user(),
        governors=governors(),
        server=ask_jack_server() if jack else None,
    )
    if not as_json:
        _say(f"rig: {stage.name}; {seconds} s of Active Sensing (inaudible), half of it while we arrange")
    claims = claims_of(setup, None, destinations=choose.destinations)
    with held(claims, plays="introit doctor", folder=lock_folder(), say=_aside):
        measured = measure(setup, meanwhile=_Arranging(library, after=seconds / 2))
    findings = findings_of(measured, setup.ports, seconds)
    changes = advice(findings, measured, machine, user=user_name())
    if as_json:
        click.echo(json.dumps(findings.as_json(measured, machine, changes), ensure_ascii=False))
    else:
        _tell(findings, measured, machine, setup)
        _tell_verdict(findings, changes)
    return EXIT_FAILED if findings.wrong else 0


class _Arranging:
    """What the front does when a tune is called for: arranges it in every key, here again and again.

    Args:
        library: holds the demo's tunes.
        after: seconds of quiet before.
    """

    def __init__(self, library: Library, *, after: float) -> None:
        self._begins = time.monotonic() + after
        tunes = find_set(library, "demo").tunes
        desk = Desk(tunes, library, own_channel)
        self._answers = (
            answer
            for index in itertools.cycle(range(len(tunes)))
            for answer in desk.answer(Request(index), afresh=True)
        )

    def __call__(self) -> None:
        """Arranges once, when it is time to."""
        if time.monotonic() >= self._begins:
            next(self._answers)


def _aside(text: str) -> None:
    click.echo(f"introit: {text}", err=True)


def _tell(findings: Findings, measured: Measured, machine: Machine, setup: Setup) -> None:
    _say(measured.granted.text)
    if machine.server is not None:
        server = machine.server
        mode = "real-time mode" if server.real_time else "not in real-time mode"
        _say(f"JACK: {server.rate} frames a second, {server.period} a period, {mode}")
    for index, port in enumerate(findings.ports):
        into = ", ".join(port.into) or ("memory" if port.system == "memory" else "nothing yet")
        click.echo()
        _say(f"{port.name}: plays into {into} ({port.system})")
        where = "from foot to port" if port.ahead else "from the loop's waking to the port"
        _say(f"latency {port.latency:.2f} ms {where}; cable and synth come on top")
        _say(f"late by {_figures(port.late)}")
        _say(f"jitter {port.late.jitter:.3f} ms, the earliest and the latest hundredth left out")
        for line in drawn(measured.late[index]):
            click.echo(line)
    click.echo()
    ahead = [measured.lookaheads[at] / 1e6 for at in range(len(setup.ports)) if measured.lookaheads[at]]
    spare = f", of {min(ahead):.1f} ms that it may" if ahead else ""
    _say(f"the loop woke late by {_figures(findings.woke)}{spare}")
    if measured.dropped:
        _say(f"{measured.dropped} records are missing from these figures: the machine was too busy")


def _figures(figures: Figures) -> str:
    if not figures.count:
        return "nothing that could be measured"
    middle, most, worst = (_ms(value) for value in (figures.p50, figures.p99, figures.worst))
    return f"{middle} (middle), {most} (99 %), {worst} (worst of {figures.count})"


def _ms(value: float) -> str:
    return f"{round(value, 3) + 0.0:.3f} ms"  # no -0.000


def _tell_verdict(findings: Findings, changes: list[str]) -> None:
    click.echo()
    for line in verdict(findings):
        _say(line)
    if changes:
        click.echo("what to change:" if findings.wrong else "what would make it safer still:")
        for change in changes:
            _say(f"  - {change}", below="    ")


def _say(text: str, below: str = "  ") -> None:
    """A line in 80 columns."""
    click.echo(
        textwrap.fill(text, _WIDTH, subsequent_indent=below, break_on_hyphens=False, break_long_words=False)
    )
