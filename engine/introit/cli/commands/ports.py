"""`introit ports`: what there is to connect to."""

from __future__ import annotations

import json
from dataclasses import asdict

import click

from introit.live.ports.finder import Listing
from introit.live.ports.opener import survey


@click.command()
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def ports(as_json: bool) -> None:
    """Lists the MIDI ports of each system, or why a system cannot be asked.

    A rig takes a part of a name where only one port has it; of two with one name the second is `NAME (2)`.
    """
    listings = survey()
    if as_json:
        click.echo(json.dumps([asdict(listing) for listing in listings], indent=2, ensure_ascii=False))
        return
    for listing in listings:
        _print(listing)


def _print(listing: Listing) -> None:
    if listing.reason:
        click.echo(f"{listing.system}: not available ({listing.reason})")
        return
    click.echo(f"{listing.system}: {listing.detail}".rstrip(": "))
    for role, names in (("to", listing.destinations), ("from", listing.sources)):
        for name in names:
            click.echo(f"  {role:<5} {name}")
    if not listing.destinations and not listing.sources:
        click.echo("  no ports yet")
