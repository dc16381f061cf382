"""Who may touch the page. Pure but for the devices' file: what is asked and the time are passed in.

By loopback on a stand that listens nowhere else, whoever sits at the machine may do everything. Beyond, a
device is paired once, by a code; then its token tells who it is, and whether it may only look.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from introit.stand.devices import LIFE_SECONDS, Device, Devices, FullError
from introit.stand.hosts import Hosts
from introit.stand.pages import HERE
from introit.stand.pairing import Pairing, PairingError
from introit.stand.rates import Rate, Rates

COOKIE: Final = "introit"
COMMANDS: Final = Rate(20, 20)
"""Of one device: presses, orders and edits."""
REQUESTS: Final = Rate(120, 40)
"""Of one device, or of one address without one: all requests."""
_LONGEST_COOKIE: Final = 4096
_TOO_MUCH: Final = "That was too much at once. Wait a second."
_WRITING: Final = frozenset({"POST", "PUT", "PATCH", "DELETE"})


class RefusalError(Exception):
    """A request is refused.

    Attributes:
        status: of HTTP.
    """

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status


@dataclass(frozen=True, slots=True)
class Asked:
    """What the gate looks at of a request; a header that is missing is None.

    Attributes:
        method, path: as they were sent.
        asked_at: our own address of the connection.
        client: the other side's.
    """

    method: str
    path: str
    asked_at: str
    client: str
    host: str | None = None
    origin: str | None = None
    fetch_site: str | None = None
    content_type: str | None = None
    cookie: str | None = None


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who was let in.

    Attributes:
        key: what tells them from others where something is counted.
        device: who it is; None for whoever sits at the machine, and for a stranger at an open route.
        view: True where they may only look.
    """

    key: str
    device: Device | None = None
    view: bool = False


class Gate:
    """Looks at every request before anything is done for it.

    Args:
        hosts: what we are called.
        devices: those that are paired.
        needs_pairing: False where nobody but this machine can come.
        open_paths: what a stranger may get: the page's own files.
    """

    def __init__(
        self, hosts: Hosts, devices: Devices, *, needs_pairing: bool, open_paths: Collection[str]
    ) -> None:
        self.hosts = hosts
        self.devices = devices
        self.pairing = Pairing()
        self.needs_pairing = needs_pairing
        self._open = frozenset(open_paths)
        self._commands = Rates(COMMANDS)
        self._requests = Rates(REQUESTS)

    def admit(self, asked: Asked, now: float, wall: float) -> Visitor:
        """Lets a request in.

        Args:
            asked: the request.
            now: seconds of a clock that only goes forward.
            wall: seconds since 1970.

        Raises:
            RefusalError: with the status and one plain sentence.
        """
        writes = asked.method in _WRITING
        self._check_address(asked, writes=writes)
        visitor = self._visitor(asked, wall)
        if visitor.key != HERE and not self._requests.allows(visitor.key, now):
            raise RefusalError(429, _TOO_MUCH)
        if visitor.view and writes and asked.path != "/pair":
            raise RefusalError(403, "This device may look, and no more.")
        return visitor

    def _check_address(self, asked: Asked, *, writes: bool) -> None:
        if asked.host is None or not self.hosts.is_ours(asked.host, asked.asked_at):
            raise RefusalError(421, "This page is not served under that name.")
        is_page = asked.path in self._open and not writes  # a link may lead to it from anywhere
        if not is_page and not self.hosts.is_same_site(
            asked.host, asked.origin, asked.fetch_site, writes=writes
        ):
            raise RefusalError(403, "Only this page itself may ask for that.")
        if writes and (asked.content_type or "").partition(";")[0].strip().lower() != "application/json":
            raise RefusalError(415, "What is sent must be application/json.")

    def _visitor(self, asked: Asked, wall: float) -> Visitor:
        if not self.needs_pairing:
            return Visitor(HERE)
        token = _token(asked.cookie)
        device = None if token is None else self.devices.find(token, wall)
        if device is not None:
            return Visitor(f"device {device.id}", device, device.view)
        if asked.path in self._open or asked.path == "/pair":
            return Visitor(f"address {asked.client}")
        raise RefusalError(401, "This device is not paired. The terminal shows the code.")

    def check_command(self, visitor: Visitor, now: float) -> None:
        """Counts a command.

        Raises:
            RefusalError: if there were too many.
        """
        if not self._commands.allows(visitor.key, now):
            raise RefusalError(429, _TOO_MUCH)

    def is_welcome(self, visitor: Visitor, wall: float) -> bool:
        """Whether somebody who was let in would still be."""
        return visitor.device is None or self.devices.is_paired(visitor.device.id, wall)

    def pair(
        self, code: str, name: str, client: str, *, before: Device | None, now: float, wall: float
    ) -> tuple[str, Device]:
        """Pairs a device by a code; returns its token.

        Args:
            code: what was typed for the code.
            name: what the device is to be called.
            client: the other side's address.
            before: who it was until now, and will not be any more.
            now: as for `admit`.
            wall: as for `admit`.

        Raises:
            RefusalError: if the code is wrong, or it was tried too often, or there are too many devices.
        """
        if not self.needs_pairing:
            raise RefusalError(409, "No pairing is needed here.")
        try:
            view = self.pairing.guess(code, client, now)
            if before is not None:
                self.devices.revoke(before.id)
            return self.devices.add(name, wall, view=view)
        except PairingError as error:
            raise RefusalError(429 if error.too_soon else 403, str(error)) from error
        except FullError as error:
            raise RefusalError(409, str(error)) from error

    def cookie(self, token: str) -> str:
        """The Set-Cookie header that gives a device its token."""
        secure = "; Secure" if self.hosts.scheme == "https" else ""
        return f"{COOKIE}={token}; Path=/; Max-Age={LIFE_SECONDS}; HttpOnly; SameSite=Strict{secure}"


def _token(cookie: str | None) -> str | None:
    if cookie is None or len(cookie) > _LONGEST_COOKIE:
        return None
    pairs = (pair.strip().partition("=") for pair in cookie.split(";"))
    return next((value.strip('"') for name, _, value in pairs if name == COOKIE and value), None)
