"""A systemd unit for an evening as a service, as text: written, recognised, quoted. Pure."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from typing import Final

NAME: Final = "introit.service"
_MARK: Final = "# Written by 'introit service', which replaces it as long as nobody has changed it."
_SUM: Final = "# Sum of what follows: "
_PLAIN: Final = re.compile(r"[\w@+=:,./-]+", re.ASCII)
_ENV: Final = "/usr/bin/env"
_NOT_IN_A_PROGRAM: Final = "'\"\\"
"""systemd 252 refuses a program with these in its path, however they are quoted."""
_ESCAPES: Final = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t"}


def unit(description: str, command: Sequence[str], environment: Mapping[str, str], *, kill: str) -> str:
    """The whole unit.

    Args:
        description: one line.
        command: what is run; its program by its full path.
        environment: variables that are set.
        kill: the full path of `kill`, for a reload.
    """
    variables = [f"Environment={quoted(f'{name}={value}')}" for name, value in environment.items()]
    body = _BODY.format(
        description=" ".join(description.replace("%", "%%").split()),
        command=_line(command),
        environment="".join(f"{line}\n" for line in variables),
        kill=quoted(kill),
    )
    return f"{_MARK}\n{_SUM}{_sum(body)}\n{body}"


def _line(command: Sequence[str]) -> str:
    """A command line. A program whose path holds what systemd takes in arguments only is started by `env`."""
    program, *arguments = command
    if any(sign in program for sign in _NOT_IN_A_PROGRAM):
        program, arguments = _ENV, [program, *arguments]
    return " ".join([quoted(program), *(quoted(word, argument=True) for word in arguments)])


def quoted(text: str, *, argument: bool = False) -> str:
    """One word as systemd reads it: a percent sign twice, quotes and backslashes escaped.

    Args:
        text: the word.
        argument: True for a command's, but not its first: there a dollar sign that stands once is a variable.
    """
    escaped = text.replace("%", "%%")
    if argument:
        escaped = escaped.replace("$", "$$")
    if _PLAIN.fullmatch(escaped):
        return escaped
    return '"' + "".join(_ESCAPES.get(sign, sign) for sign in escaped) + '"'


def is_untouched(text: str) -> bool:
    """Whether a unit is as `unit` once wrote it, here or in another version."""
    lines = text.split("\n", 2)
    return len(lines) == 3 and lines[0] == _MARK and lines[1] == f"{_SUM}{_sum(lines[2])}"


def _sum(body: str) -> str:
    return hashlib.sha256(body.encode()).hexdigest()[:16]


_BODY: Final = """\
# Your own wishes belong into a drop-in: systemctl --user edit introit

[Unit]
Description={description}
After=pipewire.service
# A synth that is not plugged in yet, a MIDI server that is still coming up: it is tried until it works.
StartLimitIntervalSec=0

[Service]
# Ready when the player has opened its ports; the watchdog is fed only while the player's heart beats.
Type=notify
NotifyAccess=main
ExecStart={command}
ExecReload={kill} -HUP $MAINPID
{environment}Restart=on-failure
RestartSec=5
# Wrong use does not come right by trying again.
RestartPreventExitStatus=2
TimeoutStartSec=60
# No mode but this one: of two processes one may die, and the other must have the time to release its notes
# ("mixed" would kill it in the same moment). Each of them takes SIGTERM for a wish to release and leave, in
# whatever order it comes; so the watchdog asks by it, too.
KillMode=control-group
KillSignal=SIGTERM
WatchdogSec=30
WatchdogSignal=SIGTERM
TimeoutStopSec=10
# As far as the user's limits allow: 'introit doctor' tells what was granted.
LimitRTPRIO=95
LimitMEMLOCK=infinity
SyslogIdentifier=introit

[Install]
WantedBy=default.target
"""
