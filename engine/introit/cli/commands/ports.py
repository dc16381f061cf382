"""`introit ports`: what there is to connect to."""

from __future__ import annotations

import json

import click

from introit.live.ports.finder import survey


@click.command()
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def ports(as_json: bool) -> None:
    """Lists the MIDI ports of each system, and why a system cannot be asked."""
    found = survey()
    if as_json:
        click.echo(json.dumps(found, indent=2, ensure_ascii=False))
        return
    click.echo(str(found))
