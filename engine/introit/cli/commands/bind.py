"""`introit bind`: press the switch or move the pedal, and the rig knows it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import click

from introit.cli.binding import binding_for, described
from introit.cli.content import open_library
from introit.cli.hints import FootLanguage
from introit.cli.listening import SETTLE_SECONDS, Device, Ears, devices, open_ears
from introit.cli.order_binding import Asked, described_travel, order_binding_for
from introit.cli.orders import OrderLanguage
from introit.cli.rig_file import RigFile
from introit.cli.travel import Travel, judged_travel, travel_is_over
from introit.cli.verdict import Doubt, Verdict, hold_is_over, judged, press_is_over
from introit.cli.wiring import setup_for, system_there_is
from introit.errors import ContentError, IntroitError, PortError, UsageError
from introit.library.rig_orders import ORDERS
from introit.library.stage import Rig, RigPort
from introit.live.events import Heard
from introit.live.ports.finder import IN_THE_PLAYER
from introit.live.ports.opener import survey
from introit.live.setup import Setup

_STILL_SECONDS = 1.0
_PATIENCE_SECONDS = 60.0
_TRIES = 3


Found = Verdict | Travel


@click.command()
@click.argument("rig", default="default")
@click.option("--order", help=f"Learn what orders this instead: {', '.join(ORDERS)}.")
@click.option("--part", help="Whose level, or which part is muted.")
@click.option(
    "--tune", type=click.IntRange(1), help="Which tune; left out, program changes say it themselves."
)
def bind(rig: str, order: str | None, part: str | None, tune: int | None) -> None:
    """Learns the foot-switch of RIG: press it once, then hold it, and what it sends is written into the rig.

    With --order it learns another switch, a pad or an expression pedal for an order. RIG is an id or a file;
    comments in it are kept. A rig that comes with the program is copied to a folder of yours first.
    """
    library = open_library()
    file = RigFile.named(rig, library)
    if order is None and (part is not None or tune is not None):
        raise UsageError("--part and --tune go with --order")
    asked = None if order is None else Asked.in_words(order, part, tune, file.rig)
    choose = system_there_is()
    devices_there = devices(survey(), _systems(file.rig, choose))
    with open_ears(devices_there) as ears:
        click.echo(f"listening to {', '.join(device.name for device in devices_there)}; Ctrl-C leaves")
        found = _learn(ears, asked)
    device = devices_there[(found.port if isinstance(found, Travel) else found.switch.port) or 0]
    for line in _described(found, device, asked):
        click.echo(line)
    bound = _written(file, found, device, asked, devices_there, lambda port: choose(port.system))
    click.echo(f"written to {bound.path}")
    if asked is None:
        _tell_what_it_can_do(bound.rig)
        click.echo(f"another switch, pad or pedal: introit bind {rig} --order next (--help: all orders)")
    else:
        click.echo(OrderLanguage(_setup(bound.rig), None).controls())


def _systems(rig: Rig, choose: Callable[[str], str]) -> set[str]:
    """Where to listen: the systems of the rig's ports; where those hear nothing, the one that there is."""
    return {choose(port.system) for port in rig.ports} - set(IN_THE_PLAYER) or {choose("auto")}


def _described(found: Found, device: Device, asked: Asked | None) -> list[str]:
    if isinstance(found, Travel):
        return described_travel(found, device)
    return described(found, device, of_foot=asked is None)


def _written(
    file: RigFile,
    found: Found,
    device: Device,
    asked: Asked | None,
    there: Sequence[Device],
    system_of: Callable[[RigPort], str],
) -> RigFile:
    others = [other for other in there if other != device]
    if asked is not None:
        binding = order_binding_for(asked, found, device, file.rig, others=others, system_of=system_of)
    elif isinstance(found, Verdict):
        binding = binding_for(found, device, file.rig, others=others, system_of=system_of)
    try:
        return file.rewritten(binding.foot_switch, binding.ports, binding.control)
    except ContentError as error:
        reasons = "; ".join(f"{problem.message}" for problem in error.problems)
        raise IntroitError(f"{reasons}. Nothing was written; {file.path} is as it was") from error


def _learn(ears: Ears, asked: Asked | None) -> Found:
    for _ in range(_TRIES):
        found = _try_pedal(ears, asked) if asked is not None and asked.moves else _try(ears, asked)
        if not isinstance(found, Doubt):
            return found
        click.echo(f"that is not clear: {found.reason}. Once more")
    what = "pedal" if asked is not None and asked.moves else "switch"
    raise IntroitError(f"the {what} could not be learned; the rig is as it was")


def _try(ears: Ears, asked: Asked | None) -> Verdict | Doubt:
    still = _still(ears)
    click.echo(f"press the switch {'that starts' if asked is None else f'for {asked}'}, once")
    pressed = ears.listen(lambda heard, now: press_is_over(heard, still, now), at_most=_PATIENCE_SECONDS)
    _expect(pressed)
    click.echo("now hold it for two seconds, and let go")
    held = ears.listen(lambda heard, now: hold_is_over(heard, pressed, now), at_most=_PATIENCE_SECONDS)
    _expect(held)
    return judged(still, pressed, held)


def _try_pedal(ears: Ears, asked: Asked) -> Travel | Doubt:
    still = _still(ears)

    def moved(where: str) -> list[Heard]:
        click.echo(where)
        heard = ears.listen(lambda heard, now: travel_is_over(heard, still, now), at_most=_PATIENCE_SECONDS)
        _expect(heard)
        return heard

    loud = moved(f"move the pedal all the way and back, and leave it where {asked.part} is to be loudest")
    silent = moved(f"now move it all the way to where {asked.part} is to be silent, and leave it there")
    return judged_travel(still, loud, silent)


def _still(ears: Ears) -> list[Heard]:
    click.echo("feet and hands off for a second")
    ears.listen(lambda _heard, _now: False, at_most=SETTLE_SECONDS)
    return ears.listen(lambda _heard, _now: False, at_most=_STILL_SECONDS)


def _expect(heard: list[Heard]) -> None:
    if not heard:
        raise PortError(
            f"nothing came in {_PATIENCE_SECONDS:g} s; 'introit ports' lists what can be connected."
        )


def _tell_what_it_can_do(rig: Rig) -> None:
    click.echo("what it can do, where the tune lets it:")
    for line in FootLanguage(_setup(rig)).lines():
        click.echo(f"  {line}".rstrip())


def _setup(rig: Rig) -> Setup:
    return setup_for(rig, tunes=1, log=False, choose_system=lambda _: "memory")
