"""The command `introit`: finds the sub-command, turns every error into one clear line and an exit code."""

from __future__ import annotations

import contextlib
import importlib
import os
import sys
from typing import NoReturn

import click

from introit import __version__
from introit.errors import EXIT_FAILED, EXIT_USAGE, IntroitError, did_you_mean

_COMMANDS = {
    "demo": "demo",
    "run": "run",
    "play": "play",
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
}
"""Sub-command -> module under `cli.commands` whose attribute of the same name it is."""


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


def _shut_pipe() -> None:
    """The reader of our output has gone; keeps Python's own farewell flush from complaining about it."""
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, sys.stdout.fileno())


def run(arguments: list[str] | None = None) -> int:
    """Runs the command line and returns its exit code; prints errors, raises none."""
    try:
        code = introit.main(arguments, prog_name="introit", standalone_mode=False)
        sys.stdout.flush()
        return int(code or 0)
    except click.ClickException as error:
        context = getattr(error, "ctx", None)
        help_line = f" See '{context.command_path} --help'." if context is not None else ""
        _say(error.format_message().rstrip(".") + "." + help_line)
        return EXIT_USAGE
    except (click.Abort, KeyboardInterrupt):
        return 130  # the shells' code for an interrupt
    except BrokenPipeError:
        _shut_pipe()
        return 0
    except IntroitError as error:
        _say(str(error))
        return error.exit_code
    except Exception as error:
        if os.environ.get("INTROIT_DEBUG"):
            raise
        _say(f"an error of our own: {type(error).__name__}: {error}. INTROIT_DEBUG=1 shows where.")
        return EXIT_FAILED


def main() -> NoReturn:
    """Entry point of the installed command."""
    sys.exit(run())
