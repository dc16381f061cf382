"""The command `introit`: finds the sub-command, turns every error into one clear line and an exit code."""

from __future__ import annotations

import contextlib
import errno
import importlib
import os
import sys
from pathlib import Path
from typing import NoReturn

import click

from introit import __version__
from introit.errors import EXIT_FAILED, EXIT_USAGE, IntroitError, did_you_mean

_COMMANDS = {
    "demo": "demo",
    "run": "run",
    "play": "play",
    "practise": "practise",
    "log": "log",
    "write": "write",
    "show": "show",
    "suggest": "suggest",
    "intros": "listings",
    "tunes": "listings",
    "sets": "listings",
    "rigs": "listings",
    "feels": "listings",
    "check": "check",
    "ports": "ports",
    "devices": "devices",
    "bind": "bind",
    "doctor": "doctor",
    "service": "service",
}
"""Sub-command -> module under `cli.commands` whose attribute of the same name it is."""

_OUTPUT_ERRORS = {errno.EPIPE, errno.ENOSPC, errno.EIO, errno.EBADF}
"""What writing to standard output can fail with: closed pipe, full disk, lost terminal."""


class _Commands(click.Group):
    """Sub-commands that are imported when called, so that `introit --help` and `run` start fast."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        module = importlib.import_module(f"introit.cli.commands.{_COMMANDS[cmd_name]}")
        command: click.Command = getattr(module, cmd_name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        given = args[0]
        if given not in _COMMANDS and not given.startswith("-"):
            hint = did_you_mean(given, _COMMANDS) or f"Commands: {', '.join(_COMMANDS)}."
            raise click.UsageError(f"no command {given!r}. {hint}")
        return super().resolve_command(ctx, args)


@click.command(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="introit")
def introit() -> None:
    """Plays the intro in the key that was called and stops on the head's downbeat."""


def _say(message: str) -> None:
    with contextlib.suppress(OSError):  # standard error is closed: nobody is left to tell
        click.echo(f"introit: {message}", err=True)


def _open_missing_streams() -> None:
    """Opens the null device for each standard stream that the caller closed (a service, `<&-`).

    Otherwise the next file opened would take its number, and what is meant for the stream would land in it.
    """
    for descriptor in (0, 1, 2):
        try:
            os.fstat(descriptor)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number: this one
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open(mode, encoding="utf-8"))  # noqa: SIM115 - for good
        elif mode == "w" and hasattr(stream, "reconfigure"):
            stream.reconfigure(
                errors="backslashreplace"
            )  # a title must not end an evening on an old terminal


def _shut_output() -> None:
    """Nobody can take our output any more; keeps Python's own farewell flush from complaining about it."""
    with contextlib.suppress(OSError, ValueError):
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, sys.stdout.fileno())


def _told(error: click.ClickException) -> int:
    context = getattr(error, "ctx", None)
    message = error.format_message()
    end = "" if message.endswith((".", "?", "!")) else "."
    help_line = f" See '{context.command_path} --help'." if context is not None else ""
    _say(f"{message}{end}{help_line}")
    return EXIT_USAGE


def _output_failed(error: OSError) -> int:
    """A closed pipe is no error: whoever read it had enough. A full disk is one."""
    _shut_output()
    if isinstance(error, BrokenPipeError):
        return 0
    _say(f"cannot write the output: {error.strerror}")
    return EXIT_FAILED


def run(arguments: list[str] | None = None) -> int:
    """Runs the command line and returns its exit code; prints errors, raises none."""
    try:
        given = list(sys.argv[1:] if arguments is None else arguments)
        with introit.make_context("introit", given) as context:  # `introit.main` makes a closed pipe an error
            code = introit.invoke(context)
        sys.stdout.flush()
        return int(code or 0)
    except click.exceptions.Exit as done:  # --help, --version
        return done.exit_code
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        return EXIT_USAGE
    except click.ClickException as error:
        return _told(error)
    except (click.Abort, KeyboardInterrupt):
        return 130  # the shells' code for an interrupt
    except IntroitError as error:
        _say(str(error))
        return error.exit_code
    except OSError as error:
        if error.filename is None and error.errno in _OUTPUT_ERRORS:
            return _output_failed(error)
        return _own_error(error)
    except Exception as error:
        return _own_error(error)


def _own_error(error: Exception) -> int:
    if os.environ.get("INTROIT_DEBUG"):
        raise error
    _say(f"an error of our own: {type(error).__name__}: {error}. INTROIT_DEBUG=1 shows where.")
    return EXIT_FAILED


def main() -> NoReturn:
    """Entry point of the installed command."""
    _open_missing_streams()
    sys.exit(run())
