"""`introit service`: a box with no screen plays the set from the moment it is switched on."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
from pathlib import Path

import click

from introit.cli.content import find_rig, find_set, open_library
from introit.cli.machine import user_name
from introit.cli.unit import NAME, is_untouched, unit
from introit.errors import IntroitError
from introit.export.atomic import write_atomically
from introit.library.content import HOME_VARIABLE
from introit.library.model import Library

_CARRIED = (HOME_VARIABLE, "JACK_DEFAULT_SERVER", "JACK_PROMISCUOUS_SERVER")
"""What of the environment it needs to find the same content and the same server."""
_SYSTEMD_RUNS = Path("/run/systemd/system")
"""There where systemd is the system's manager: sd_booted(3)."""


@click.command()
@click.argument("set_name", metavar="[SET]", default="demo")
@click.option("--rig", help="A rig's id or file; the set's own, or 'default'.")
@click.option("--log", is_flag=True, help="Log each message, too, to a file that grows (about 30 MB a day).")
@click.option("--print", "prints", is_flag=True, help="Only print the unit.")
@click.option("--force", is_flag=True, help="Replace a unit that was changed by hand; the old one is kept.")
def service(set_name: str, rig: str | None, *, log: bool, prints: bool, force: bool) -> None:
    """Writes a systemd unit that runs SET from boot on, and says how to switch it on.

    SET and RIG are what 'introit run' takes. Nothing is started.
    """
    library = open_library()
    chosen = find_set(library, set_name)
    stage = find_rig(library, rig or chosen.rig or "default")
    state = _state_folder()
    command = [sys.executable, "-P", "-m", "introit", "run", "--service"]
    if log:
        command += ["--log", str(state / "evenings.jsonl")]
    if rig is not None:
        command += ["--rig", _by_full_path(rig, rig in library.rigs)]
    command += ["--", _by_full_path(set_name, _is_known(set_name, library))]
    text = unit(
        f"Introit: {chosen.title}, on {stage.name}",
        command,
        {name: _carried(name) for name in _CARRIED if os.environ.get(name)},
        kill=shutil.which("kill") or "/bin/kill",
    )
    if prints:
        click.echo(text, nl=False)
        return
    if sys.platform != "linux":
        raise IntroitError("systemd is Linux's; --print shows what would be written there")
    _write(_unit_path(), text, force=force)
    if log:
        _make(state)
    _tell_how_to()


def _is_known(name: str, library: Library) -> bool:
    return name in library.sets or name in library.tunes


def _by_full_path(name: str, known: bool) -> str:
    """A file by its full path: the service has another folder. An id and a call in words stay as they are."""
    return str(Path(name).resolve()) if not known and Path(name).is_file() else name


def _carried(name: str) -> str:
    value = os.environ[name]
    return str(Path(value).expanduser().resolve()) if name == HOME_VARIABLE else value


def _state_folder() -> Path:
    from platformdirs import user_state_path

    return user_state_path("introit", appauthor=False)


def _unit_path() -> Path:
    from platformdirs import user_config_path

    return user_config_path() / "systemd" / "user" / NAME


def _write(path: Path, text: str, *, force: bool) -> None:
    """Writes the unit; one that its user has changed only where that is wanted, and then it is kept."""
    before = None
    with contextlib.suppress(FileNotFoundError):
        try:
            before = path.read_bytes().decode(errors="replace")
        except OSError as error:
            if isinstance(error, FileNotFoundError):
                raise
            raise IntroitError(f"{path} cannot be read: {error.strerror}") from error
    if before == text:
        click.echo(f"{path} is so already")
        return
    if before is not None and not is_untouched(before):
        kept = path.with_name(f"{path.name}.old")
        if not force:
            raise IntroitError(
                f"{path} has been changed by hand, and nothing was written; --print shows what would be, "
                f"--force writes it and keeps yours as {kept.name}"
            )
        write_atomically(kept, before.encode())
        click.echo(f"yours is kept as {kept}")
    _make(path.parent)
    write_atomically(path, text.encode())
    click.echo(f"written to {path}")


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise IntroitError(f"{folder} cannot be made: {error.strerror or error}") from error


def _tell_how_to() -> None:
    if not _SYSTEMD_RUNS.is_dir():
        click.echo("systemd does not run here; where it does:")
    for what, how in (
        ("start it, now and at every login", "systemctl --user daemon-reload"),
        ("", "systemctl --user enable --now introit"),
        ("at boot, with nobody logged in", f"sudo loginctl enable-linger {user_name()}"),
        ("what it says", "journalctl --user -u introit -f"),
        ("read the set again at once", "systemctl --user reload introit"),
        ("end it, with every note off", "systemctl --user stop introit"),
    ):
        click.echo(f"{f'{what}:' if what else '':<34}{how}")
    click.echo("(a saved set is read again by itself; turn the level down before the first note)")
