"""The evening's set for the stand page: what it is, what could be, and edits that go into its file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Protocol

from introit.arrange.suggest import rank
from introit.cli.repertoire import Asks, Repertoire
from introit.cli.set_file import NO_FILE, Reading, SetFile, StaleError
from introit.cli.staging import stage_for
from introit.cli.stand_teller import told_tune
from introit.errors import ContentError, IntroitError
from introit.library.kinds import Stamp, stamp_of
from introit.library.model import Library, Tune
from introit.library.set_editing import Change, Edit, EditError, Move, read_edit
from introit.library.stage import Rig
from introit.theory.key import Mode, keys
from introit.units import TEMPO_MAX, TEMPO_MIN

CHOICES = {
    "keys": [str(key) for mode in Mode for key in keys(mode)],
    "landings": ["cut", "chord", "ring 1", "ring 2", "ring 4", "ring 8"],
    "tempo": [TEMPO_MIN, TEMPO_MAX],
}
"""What a tune may be given; its intros are asked for one tune at a time."""
MOST_INTROS = 40
_WAIT = "The set's file has just been saved; it is read again in a moment."


class TakesFile(Protocol):
    """Whoever reads the set again when its file was saved."""

    def take_file(self, path: Path, front: Asks) -> None:
        """Reads it now."""


class StandSet:
    """The set as pages see and change it.

    Args:
        repertoire: the tunes of the evening.
        rereader: takes what was written.
        rig: that the evening is played on.
        say: writes a line on the screen.
    """

    def __init__(
        self, repertoire: Repertoire, rereader: TakesFile, rig: Rig, say: Callable[[str], None]
    ) -> None:
        self._repertoire = repertoire
        self._rereader = rereader
        self._rig = rig
        self._say = say
        path = repertoire.file
        self._file = None if path is None else SetFile(path, lambda: repertoire.library)
        self._told: tuple[tuple[Any, ...], dict[str, Any]] | None = None

    def told(self) -> dict[str, Any]:
        """The set: revision (empty while it cannot be changed, then `why` says why), tunes, choices.

        Each tune is as `stand_teller.told_tune` says, and `sort` and `says`: see `set_editing.Entry`.
        """
        name = self._name()
        if self._told is None or self._told[0] != name:
            self._told = name, self._made()
        return self._told[1]

    def do(self, told: Mapping[str, Any], front: Asks) -> dict[str, Any]:
        """Does what a page asks for; returns the answer, which never raises.

        Args:
            told: `revision` and `edit`: see `read_edit`, but tunes are named by the player's index and `to`
                is a place in playing order; or `{"offer": tune}` asks what a tune may be given.
            front: sends on what is arranged anew.
        """
        edit = told.get("edit")
        try:
            if isinstance(edit, Mapping) and set(edit) == {"offer"}:
                return {"ok": True, "offer": self._offer(edit["offer"])}
            revision = self._edit(str(told.get("revision")), edit, front)
        except IntroitError as error:
            stale = isinstance(error, StaleError)
            if stale and self._file is not None:
                self._rereader.take_file(self._file.path, front)  # another's edit is told at once
            return {"ok": False, "stale": stale, "error": _sentence(error)}
        return {"ok": True, "revision": revision}

    # --- what is told -------------------------------------------------------------------------------

    def _name(self) -> tuple[Any, ...]:
        """Another one when anything is that is told."""
        stamp: Stamp | None = None if self._file is None else stamp_of(self._file.path)
        return stamp, id(self._repertoire.library), self._repertoire.tunes, self._repertoire.order

    def _made(self) -> dict[str, Any]:
        reading, why = self._reading()
        places = self._repertoire.places()
        tunes = []
        for turn, number in enumerate(self._repertoire.order):
            tune = places[number]
            if tune is not None:
                entry = reading.entries[reading.places[turn]] if reading else None
                own = {} if entry is None else {"sort": entry.sort, "says": dict(entry.says)}
                tunes.append({**told_tune(number, tune), "landing": _landing(tune), **own})
        revision = reading.revision if reading else ""
        return {"revision": revision, "why": why, "tunes": tunes, "choices": CHOICES}

    def _reading(self) -> tuple[Reading | None, str]:
        """The file as it is, where it says what is played; else why not."""
        if self._file is None:
            return None, NO_FILE
        try:
            reading = self._file.read()
        except IntroitError as error:
            return None, _sentence(error)
        if reading.tunes == self._repertoire.tunes:
            return reading, ""
        wrong = ContentError(reading.problems) if reading.problems else None
        return None, _WAIT if wrong is None else _sentence(wrong)

    # --- what is asked for --------------------------------------------------------------------------

    def _edit(self, revision: str, given: Any, front: Asks) -> str:
        if self._file is None:
            raise EditError(NO_FILE)
        edit = read_edit(given)
        before, programs = self._file.path, self._file.is_programs
        turns = {number: turn for turn, number in enumerate(self._repertoire.order)}
        if edit.index not in turns:
            raise EditError("that tune is not in the set any more")
        title = self._title(edit.index)
        turned: Edit = (
            Move(turns[edit.index], edit.to)
            if isinstance(edit, Move)
            else Change(turns[edit.index], edit.values)
        )
        after = self._file.edit(revision, turned)
        if programs:
            self._repertoire.goes_on_with(self._file.path)
            self._say(
                f"stand page: the set that comes with the program ({before}) stays as it is; "
                f"yours is played from now on: {self._file.path}"
            )
        what = f"goes to place {edit.to + 1}" if isinstance(edit, Move) else _changes(edit)
        self._say(f"stand page: “{title}” {what}; written to {self._file.path.name}")
        self._rereader.take_file(self._file.path, front)
        return after.revision

    def _offer(self, number: object) -> dict[str, Any]:
        places = self._repertoire.places()
        there = isinstance(number, int) and not isinstance(number, bool) and 0 <= number < len(places)
        tune = places[number] if there and isinstance(number, int) else None
        if tune is None:
            raise EditError("that tune is not in the set any more")
        library: Library = self._repertoire.library
        found = rank(library.intros.values(), tune, tune.key, line_up=stage_for(tune, self._rig).line_up)
        best = [suggestion.intro for suggestion in found[:MOST_INTROS]]
        return {"tune": number, "intros": [{"id": intro.id, "name": intro.name} for intro in best]}

    def _title(self, number: int) -> str:
        tune = self._repertoire.places()[number]
        return "" if tune is None else tune.title


def _landing(tune: Tune) -> str:
    return f"{tune.landing} {tune.ring}" if tune.ring else tune.landing


def _changes(change: Change) -> str:
    words = [
        f"{key} {'as the tune has it' if value is None else value}" for key, value in change.values.items()
    ]
    return ", ".join(words)


def _sentence(error: IntroitError) -> str:
    """An error for a page: mistakes by line and column, a full stop at the end."""
    if isinstance(error, ContentError):
        lines = [
            f"line {one.line}, column {one.column}: {one.message}{f'. {one.hint}' if one.hint else ''}"
            if one.line
            else one.message
            for one in error.problems[:3]
        ]
        text = "; ".join(lines)
    else:
        text = str(error)
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '?', '!')) else '.'}"
