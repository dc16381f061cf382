"""The one family of errors. Imports nothing of ours.

Every error that a user can meet derives from `IntroitError`; the command line prints it as one clear
line and leaves with its `exit_code`.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

EXIT_FAILED = 1
"""It could not be done."""
EXIT_USAGE = 2
"""The command was used wrongly."""


class IntroitError(Exception):
    """Something a user can be told in one line.

    Attributes:
        exit_code: what the process leaves with when nobody catches it.
    """

    exit_code: int = EXIT_FAILED


class UsageError(IntroitError):
    """A wrong name, option or argument: the user asked for something that is not there."""

    exit_code = EXIT_USAGE


class NotationError(IntroitError):
    """A musical text that cannot be read; knows the character where reading failed.

    Attributes:
        text: the whole text given.
        position: index of the first character that could not be read, 0 to len(text).
        reason: what is wrong and what is allowed there.
    """

    def __init__(self, text: str, position: int, reason: str) -> None:
        self.text = text
        self.position = position
        self.reason = reason
        super().__init__(text, position, reason)

    def __str__(self) -> str:
        return f"{self.text!r}: {self.reason} (at character {self.position + 1})"

    def pointed(self) -> str:
        """The text with a caret under the character, on two lines."""
        return f"{self.text}\n{' ' * self.position}^ {self.reason}"


class PortError(IntroitError):
    """A MIDI port that cannot be found, opened or kept."""


class PlayerError(IntroitError):
    """The player process could not be started or was lost."""


class StandError(IntroitError):
    """The stand page cannot be served."""


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One mistake in a content file.

    Attributes:
        path: the file, as the user named it.
        line: from 1; 0 when the mistake is the whole file's.
        column: from 1; 0 when unknown.
        code: a short stable word for the kind of mistake, such as `unknown-key`.
        message: what was given and what is allowed.
        hint: what was probably meant; empty when there is no near name.
    """

    path: str
    line: int
    column: int
    code: str
    message: str
    hint: str = ""

    def __str__(self) -> str:
        place = f"{self.path}:{self.line}:{self.column}" if self.line else self.path
        hint = f". {self.hint}" if self.hint else ""
        return f"{place}: {self.message}{hint}"


class ContentError(IntroitError):
    """One or more mistakes in content files, all found in one reading."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


def did_you_mean(given: str, allowed: Iterable[str]) -> str:
    """A hint naming the nearest allowed word, such as `Did you mean 'waltz'?`; empty when none is near."""
    by_fold = {word.casefold(): word for word in allowed}
    near = difflib.get_close_matches(given.casefold(), by_fold, n=1, cutoff=0.6)
    return f"Did you mean {by_fold[near[0]]!r}?" if near else ""
