"""Who plays: a file that is locked for what must not be played by two at once.

The system lets go of a lock with the process that held it, however that ended, so none is ever stale. A file
is taken away by whoever holds it, and only then; who gets hold of one that was taken away opens another.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import sys
import time
import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from introit.errors import IntroitError

_HEAD_BYTES: Final = 4096
"""More than a holder writes of itself."""
_LOCKED_AT: Final = 1 << 30
"""Where the lock lies on Windows, far behind the text: what is locked there nobody else can read."""
_TRIES: Final = 10
_PAUSE_SECONDS: Final = 0.02
"""Between tries to read what a holder, who has only just got the lock, is about to write."""


@dataclass(frozen=True, slots=True)
class Claim:
    """One thing that only one evening may have.

    Attributes:
        key: what makes it the same thing, on this machine and for this user.
        name: how it is called in a sentence, such as `port 'synth:in' (jack)`.
    """

    key: str
    name: str


@dataclass(frozen=True, slots=True)
class Holder:
    """Who has it.

    Attributes:
        pid: its process.
        since: when it began, in seconds since 1970.
        plays: what it plays, as a user knows it.
        service: True where it runs as a service.
    """

    pid: int
    since: float
    plays: str
    service: bool = False

    def told(self, now: datetime) -> str:
        """Who it is in words; `now` is local, and the date is told where it is another one."""
        began = datetime.fromtimestamp(self.since)
        day = "" if began.date() == now.date() else f"{began:%Y-%m-%d} "
        return f"process {self.pid}, since {day}{began:%H:%M}, {self.plays}"


def lock_folder() -> Path:
    """Where this user's locks lie: with the program's state, which all their sessions and services share."""
    from platformdirs import user_state_path

    return user_state_path("introit", appauthor=False) / "locks"


class TakenError(IntroitError):
    """Another evening has it."""


@contextlib.contextmanager
def held(
    claims: Sequence[Claim],
    *,
    plays: str,
    folder: Path,
    say: Callable[[str], None],
    service: bool = False,
) -> Iterator[None]:
    """Holds every claim while it lasts.

    Args:
        claims: what is wanted, all of it or none.
        plays: what is told of this evening to whoever wants the same.
        folder: where the files lie; it is made.
        say: told, once, where the files cannot be written: the evening goes on without.
        service: see `Holder`.

    Raises:
        TakenError: if another process has one of them; nothing is held then, and nothing was disturbed.
    """
    me = Holder(os.getpid(), time.time(), plays, service)
    with contextlib.ExitStack() as files:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for claim in claims:
                files.enter_context(_taken(claim, me, folder))
        except OSError as error:
            reason = error.strerror or error
            say(f"{folder} cannot be used ({reason}): nothing keeps a second introit from the same ports")
        yield


@contextlib.contextmanager
def _taken(claim: Claim, me: Holder, folder: Path) -> Iterator[None]:
    path = folder / _file_name(claim.key)
    descriptor = _locked(claim, path)
    try:
        _write(descriptor, json.dumps({"claim": claim.name, **asdict(me)}))
        yield
    finally:
        with contextlib.suppress(OSError):  # Windows takes away no file that is open
            path.unlink()
        os.close(descriptor)  # and with it the lock


def _locked(claim: Claim, path: Path) -> int:
    """The file at the path, locked; raises TakenError where somebody else has it."""
    while True:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
        with contextlib.ExitStack() as unless_ours:
            unless_ours.callback(os.close, descriptor)
            if not _lock(descriptor):
                raise TakenError(_refusal(claim, _holder(descriptor)))
            if _is_at(descriptor, path):  # else its holder took it away before we had locked it
                unless_ours.pop_all()
                return descriptor


def _is_at(descriptor: int, path: Path) -> bool:
    with contextlib.suppress(FileNotFoundError):
        return os.path.samestat(os.fstat(descriptor), path.stat())
    return False


def _file_name(key: str) -> str:
    """One that tells a reader of the folder what it is, and no two keys share."""
    return f"{re.sub(r'[^A-Za-z0-9.-]+', '-', key)[-60:]}-{zlib.crc32(key.encode()):08x}.lock"


def _write(descriptor: int, text: str) -> None:
    os.ftruncate(descriptor, 0)
    os.lseek(descriptor, 0, os.SEEK_SET)
    os.write(descriptor, text.encode())


def _holder(descriptor: int) -> Holder | None:
    """What the holder wrote of itself; None where it can't be read."""
    for _ in range(_TRIES):
        os.lseek(descriptor, 0, os.SEEK_SET)
        with contextlib.suppress(OSError, ValueError, TypeError, KeyError):
            fields = json.loads(os.read(descriptor, _HEAD_BYTES))
            holder = Holder(
                int(fields["pid"]), float(fields["since"]), str(fields["plays"]), bool(fields["service"])
            )
            if _is_there(holder.pid):  # else it is what one that was killed had written
                return holder
        time.sleep(_PAUSE_SECONDS)
    return None


def _is_there(pid: int) -> bool:
    if sys.platform == "win32":
        return True  # a signal would end it there
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        pass
    return True


def _refusal(claim: Claim, holder: Holder | None) -> str:
    if holder is None:
        return f"{claim.name} is being played already by another introit. Nothing of it was disturbed."
    end = "systemctl --user stop introit" if holder.service else f"kill {holder.pid}"
    by_command = "" if sys.platform == "win32" else f", or by {end!r}"
    return (
        f"{claim.name} is being played already by another introit: {holder.told(datetime.now())}. "
        f"Nothing of it was disturbed; end it there{by_command}."
    )


if sys.platform == "win32":
    import msvcrt

    def _lock(descriptor: int) -> bool:
        """Whether the lock is ours now; not tried on Windows."""
        os.lseek(descriptor, _LOCKED_AT, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        return True

else:
    import fcntl

    def _lock(descriptor: int) -> bool:
        """Whether the lock is ours now."""
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
