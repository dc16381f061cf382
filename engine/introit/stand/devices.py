"""Devices that were paired: who they are, by the token that each was given. Only a token's digest is kept.

They are kept in a file, for a device to stay paired from one evening to the next. Where two stands share it,
each reads it again when it sees a token that it does not know.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
import unicodedata
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from introit.errors import IntroitError
from introit.export.atomic import write_atomically

LIFE_SECONDS: Final = 180 * 24 * 3600
"""After so long a device is to be paired again."""
MOST: Final = 64
"""How many devices may be paired."""
LONGEST_NAME: Final = 40
EVERY: Final = "all"
"""In place of a device: every one of them."""
_FILE: Final = "devices.json"
_VERSION: Final = 1
_LONGEST_FILE: Final = 256 * 1024


class FullError(IntroitError):
    """So many devices are paired that no other can be."""


@dataclass(frozen=True, slots=True)
class Device:
    """A device that was paired.

    Attributes:
        id: eight hexadecimal digits, by which it is revoked.
        name: what its user called it; plain, and of at most `LONGEST_NAME` characters.
        view: True where it may only look.
        digest: SHA-256 of its token, hexadecimal.
        since: when it was paired, in seconds since 1970.
    """

    id: str
    name: str
    view: bool
    digest: str
    since: float


class Devices:
    """Those that are paired.

    Args:
        folder: where the file is kept; None to keep none.
        say: told in one sentence what is wrong with the file.
    """

    def __init__(self, folder: Path | None, say: Callable[[str], None] = lambda text: None) -> None:
        self._path = None if folder is None else folder / _FILE
        self._say = say
        self._stamp: tuple[int, int, int] | None = None
        self._devices: dict[str, Device] = {}
        self.reread()

    def all(self) -> list[Device]:
        """Every one, the first paired first."""
        return sorted(self._devices.values(), key=lambda device: device.since)

    def add(self, name: str, now: float, *, view: bool) -> tuple[str, Device]:
        """Pairs a device; returns its token, which is told nobody else and cannot be found again.

        Args:
            name: what its user calls it, unchecked.
            now: seconds since 1970.
            view: True where it may only look.

        Raises:
            FullError: if there are as many as may be.
        """
        self.reread()
        self._forget_old(now)
        if len(self._devices) >= MOST:
            raise FullError(f"{MOST} devices are paired, and no more may be. Revoke one in the terminal.")
        token = secrets.token_urlsafe(32)
        device = Device(secrets.token_hex(4), plain_name(name), view, _digest(token), now)
        self._devices[device.id] = device
        self._write()
        return token, device

    def find(self, token: str, now: float) -> Device | None:
        """The device that was given this token; None where none was, or it is too old, or revoked."""
        digest = _digest(token)
        found = self._by_digest(digest)
        if found is None and self._has_changed():
            self.reread()
            found = self._by_digest(digest)
        return None if found is None or _is_old(found, now) else found

    def is_paired(self, device: str, now: float) -> bool:
        """Whether a device is still paired, by its id."""
        found = self._devices.get(device)
        return found is not None and not _is_old(found, now)

    def revoke(self, device: str) -> bool:
        """Forgets a device, by its id, or all of them for `EVERY`; False where there is none."""
        self.reread()
        if device == EVERY:
            found = bool(self._devices)
            self._devices.clear()
        else:
            found = self._devices.pop(device, None) is not None
        if found:
            self._write()
        return found

    def _by_digest(self, digest: str) -> Device | None:
        # Digests of what nobody can choose: how long a comparison takes tells nothing of a token.
        return next((device for device in self._devices.values() if device.digest == digest), None)

    def _forget_old(self, now: float) -> None:
        self._devices = {id: device for id, device in self._devices.items() if not _is_old(device, now)}

    # --- the file -----------------------------------------------------------------------------------

    def reread(self) -> None:
        """Reads the file again where it has changed; one that cannot be read is put aside, and told of."""
        if self._path is None or not self._has_changed():
            return
        self._stamp = self._stamp_now()
        try:
            with self._path.open("rb") as file:
                self._devices = _read(file.read(_LONGEST_FILE))
        except FileNotFoundError:
            self._devices = {}
        except (OSError, ValueError, TypeError, KeyError, RecursionError):
            self._devices = {}
            aside = self._path.with_suffix(".damaged")
            with contextlib.suppress(OSError):
                self._path.replace(aside)
            self._say(f"{self._path} cannot be read and lies at {aside} now: pair every device again")

    def _has_changed(self) -> bool:
        return self._path is not None and self._stamp_now() != self._stamp

    def _stamp_now(self) -> tuple[int, int, int] | None:
        with contextlib.suppress(OSError):
            if self._path is not None:
                found = self._path.stat()
                return (found.st_mtime_ns, found.st_size, found.st_ino)
        return None

    def _write(self) -> None:
        if self._path is None:
            return
        kept = {"version": _VERSION, "devices": [asdict(device) for device in self.all()]}
        try:
            private_folder(self._path.parent)
            os.close(os.open(self._path, os.O_WRONLY | os.O_CREAT, 0o600))
            write_atomically(self._path, json.dumps(kept, indent=1).encode())
        except (OSError, IntroitError) as error:
            self._say(f"{self._path} cannot be written ({error}): devices stay paired for this evening alone")
        self._stamp = self._stamp_now()


def private_folder(folder: Path) -> None:
    """Makes a folder that its user alone can read, with those above it; one that is there stays as it is.

    Raises:
        OSError: if it cannot be made.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(mode=0o700, exist_ok=True)


def plain_name(name: str) -> str:
    """A name with what is no visible character taken out, and not too long; never empty."""
    kept = "".join(sign for sign in name if unicodedata.category(sign)[0] not in "CZ" or sign == " ")
    return " ".join(kept.split())[:LONGEST_NAME].rstrip() or "device"


def _read(data: bytes) -> dict[str, Device]:
    kept = json.loads(data)
    if kept["version"] != _VERSION:
        raise ValueError("another version")
    return {fields["id"]: _read_device(fields) for fields in kept["devices"]}


def _read_device(fields: dict[str, Any]) -> Device:
    texts = [fields["id"], fields["name"], fields["digest"]]
    if not (all(isinstance(text, str) for text in texts) and isinstance(fields["view"], bool)):
        raise TypeError("a device's fields")
    return Device(**{**fields, "since": float(fields["since"])})


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode(errors="replace")).hexdigest()


def _is_old(device: Device, now: float) -> bool:
    return now - device.since > LIFE_SECONDS
