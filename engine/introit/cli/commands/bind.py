"""`introit bind`: press the switch, and the rig knows it."""

from __future__ import annotations

import click

from introit.cli.binding import binding_for, described
from introit.cli.content import open_library
from introit.cli.hints import FootLanguage
from introit.cli.listening import SETTLE_SECONDS, Ears, devices, open_ears
from introit.cli.rig_file import RigFile
from introit.cli.verdict import Doubt, Verdict, hold_is_over, judged, press_is_over
from introit.cli.wiring import setup_for, system_there_is
from introit.errors import IntroitError, PortError
from introit.library.stage import Rig
from introit.live.events import Heard
from introit.live.ports.opener import survey

_STILL_SECONDS = 1.0
_PATIENCE_SECONDS = 60.0
_TRIES = 3


@click.command()
@click.argument("rig", default="default")
def bind(rig: str) -> None:
    """Learns the foot-switch of RIG: press it once, then hold it, and what it sends is written into the rig.

    RIG is an id or a file; comments in it are kept. A rig that comes with the program is copied to a folder
    of yours first.
    """
    library = open_library()
    file = RigFile.named(rig, library)
    choose = system_there_is()
    systems = {choose(port.system) for port in file.rig.ports} - {"memory"}
    found = devices(survey(), systems)
    with open_ears(found) as ears:
        click.echo(f"listening to {', '.join(device.name for device in found)}; Ctrl-C leaves")
        verdict = _learn(ears)
    device = found[verdict.switch.port or 0]
    for line in described(verdict, device):
        click.echo(line)
    binding = binding_for(
        verdict,
        device,
        file.rig,
        others=[other for other in found if other != device],
        system_of=lambda port: choose(port.system),
    )
    bound = file.rewritten(binding.foot_switch, binding.ports)
    click.echo(f"written to {bound.path}")
    _tell_what_it_can_do(bound.rig)


def _learn(ears: Ears) -> Verdict:
    for _ in range(_TRIES):
        verdict = _try(ears)
        if isinstance(verdict, Verdict):
            return verdict
        click.echo(f"that is not clear: {verdict.reason}. Once more")
    raise IntroitError("the switch could not be learned; the rig is as it was")


def _try(ears: Ears) -> Verdict | Doubt:
    click.echo("feet and hands off for a second")
    ears.listen(lambda _heard, _now: False, at_most=SETTLE_SECONDS)
    still = ears.listen(lambda _heard, _now: False, at_most=_STILL_SECONDS)
    click.echo("press the switch that starts, once")
    pressed = ears.listen(lambda heard, now: press_is_over(heard, still, now), at_most=_PATIENCE_SECONDS)
    _expect(pressed)
    click.echo("now hold it for two seconds, and let go")
    held = ears.listen(lambda heard, now: hold_is_over(heard, pressed, now), at_most=_PATIENCE_SECONDS)
    _expect(held)
    return judged(still, pressed, held)


def _expect(heard: list[Heard]) -> None:
    if not heard:
        raise PortError(
            f"nothing came in {_PATIENCE_SECONDS:g} s; 'introit ports' lists what can be connected."
        )


def _tell_what_it_can_do(rig: Rig) -> None:
    setup = setup_for(rig, tunes=1, log=False, choose_system=lambda _: "memory")
    click.echo("what it can do, where the tune lets it:")
    for line in FootLanguage(setup).lines():
        click.echo(f"  {line}".rstrip())
