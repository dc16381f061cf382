"""`introit devices`: who may touch the stand page."""

from __future__ import annotations

import json
import time

import click

from introit.cli.stand_front import stand_folder
from introit.errors import UsageError, did_you_mean
from introit.stand.devices import EVERY, Devices


@click.command()
@click.option(
    "--revoke", metavar="DEVICE", help=f"Forgets a device, by its id or its name; '{EVERY}' forgets each."
)
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def devices(revoke: str | None, as_json: bool) -> None:
    """Lists the devices that are paired with the stand page.

    One that is revoked is shown nothing any more at once, also while an evening runs.
    """
    paired = Devices(stand_folder(), lambda text: click.echo(f"introit: {text}", err=True))
    if revoke is not None:
        click.echo(f"revoked: {_revoke(paired, revoke)}")
        return
    rows = [
        {
            "id": one.id,
            "name": one.name,
            "view": one.view,
            "since": time.strftime("%Y-%m-%d", time.localtime(one.since)),
        }
        for one in paired.all()
    ]
    if as_json:
        click.echo(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    for row in rows:
        click.echo(
            f"{row['id']}  {'watches' if row['view'] else 'plays'}    since {row['since']}  {row['name']}"
        )
    if not rows:
        click.echo("no device is paired; `introit run SET --stand --listen ADDRESS` shows a code for one")


def _revoke(paired: Devices, asked: str) -> str:
    """Forgets what is asked; returns who that was."""
    if asked == EVERY:
        return "all" if paired.revoke(EVERY) else "nobody was paired"
    found = [one for one in paired.all() if asked in (one.id, one.name)]
    if not found:
        known = [word for one in paired.all() for word in (one.id, one.name)]
        raise UsageError(f"no device {asked!r} is paired. {did_you_mean(asked, [*known, EVERY])}".strip())
    if len(found) > 1:
        ids = ", ".join(one.id for one in found)
        raise UsageError(f"{len(found)} devices are called {asked!r}; name one by its id: {ids}")
    paired.revoke(found[0].id)
    return f"{found[0].name} ({found[0].id})"
