"""What an evening needs for itself alone: where it plays into, and its set's file."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final

from introit.cli.lock import Claim
from introit.errors import PortError
from introit.library.content import program_root
from introit.live.ports.finder import find, is_ours
from introit.live.setup import PortSetup, Setup

_SHARED: Final = ("jack", "rtmidi", "alsa")
"""Systems whose ports every program meets; those of the others live in the player."""
Destinations = Callable[[str], Sequence[str]]
"""Names of what a system's ports can send to now; empty where nobody knows."""


def claims_of(
    setup: Setup,
    set_file: Path | None,
    *,
    destinations: Destinations,
    environ: Mapping[str, str] = os.environ,
) -> list[Claim]:
    """Every destination of a setup, by the name in the rig and by the one it means now, and the set's file.

    Two rigs may call one synth differently (`any`, `synth`), and a synth may not be there yet: so both names
    count. What is only listened to may be heard by others, too, and a port within the player is its own.

    Args:
        setup: systems are chosen already.
        set_file: None where the tunes come from no file of their own; a set of the program's is everybody's.
        destinations: what there is.
        environ: names the JACK server.
    """
    claims = [claim for port in setup.ports for claim in _of_port(port, destinations, environ)]
    if set_file is not None and not set_file.resolve().is_relative_to(program_root().resolve()):
        claims.append(Claim(f"set {set_file.resolve()}", f"the set {set_file.name!r}"))
    return list({claim.key: claim for claim in claims}.values())


def _of_port(port: PortSetup, destinations: Destinations, environ: Mapping[str, str]) -> list[Claim]:
    if port.to is None or port.system not in _SHARED:
        return []
    system = port.system
    if system == "jack":
        system += f" {environ.get('JACK_DEFAULT_SERVER', 'default')}"
    if port.virtual:
        return [Claim(f"virtual {system} {port.name}", f"the virtual port {port.name!r} ({port.system})")]
    word = port.to or "any"
    claims = [Claim(f"wanted {system} {word.casefold()}", f"{word!r} ({port.system})")]
    try:
        names = [name for name in destinations(port.system) if not is_ours(name)]
        found = find(port.to, names, role="destination")
    except PortError:
        return claims  # the port itself tells what is wrong
    return [Claim(f"port {system} {found}", f"{found!r} ({port.system})"), *claims]
