"""What a JACK server says of itself."""

from __future__ import annotations

from dataclasses import dataclass

from introit.errors import PortError
from introit.live.ports.libjack import open_client


@dataclass(frozen=True, slots=True)
class JackServer:
    """How it runs.

    Attributes:
        rate: frames a second.
        period: frames a cycle.
        real_time: whether it was started with `-R` and is scheduled so.
    """

    rate: int
    period: int
    real_time: bool


def ask_jack_server(name: str = "introit-look") -> JackServer | None:
    """Asks the server that there is; None where none answers."""
    try:
        client = open_client(name)
    except PortError:
        return None
    try:
        return JackServer(int(client.samplerate), int(client.blocksize), bool(client.realtime))
    finally:
        client.close()
