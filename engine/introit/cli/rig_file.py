"""A rig's file: found by id or path, and rewritten with a foot-switch or a control that was learned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from introit.cli.own_file import own_path, tried
from introit.errors import ContentError, UsageError, did_you_mean
from introit.export.atomic import write_atomically
from introit.library.content import content_roots
from introit.library.kinds import ENDINGS, FOLDERS
from introit.library.loader import read_file
from introit.library.model import Library
from introit.library.rig_editing import Value, edited_rig
from introit.library.stage import Rig


@dataclass(frozen=True, slots=True)
class RigFile:
    """A file and the rig it describes.

    Attributes:
        path: where it lies.
        rig: what it says.
        library: what it was read against.
    """

    path: Path
    rig: Rig
    library: Library

    @classmethod
    def named(cls, name: str, library: Library) -> RigFile:
        """The file of a rig, by id (the user's own before the program's) or by path.

        Raises:
            UsageError: when there is none.
            ContentError: when the file has mistakes.
        """
        there = [
            path
            for root in reversed(content_roots())
            for ending in ENDINGS
            if (path := root / FOLDERS["rig"] / f"{name}{ending}").is_file()
        ]
        if not there and Path(name).is_file():
            there = [Path(name)]
        if not there:
            hint = did_you_mean(name, library.rigs) or f"Rigs: {', '.join(library.rigs) or 'none'}."
            raise UsageError(f"no rig {name!r}. {hint}")
        thing, problems = read_file(there[0], library)
        if problems:
            raise ContentError(problems)
        if not isinstance(thing, Rig):
            raise UsageError(f"{there[0]} holds no rig but {type(thing).__name__.lower()}")
        return cls(there[0], thing, library)

    def rewritten(
        self,
        foot_switch: Mapping[str, Value],
        ports: Mapping[str, Mapping[str, Value]],
        control: Mapping[str, Value] | None = None,
    ) -> RigFile:
        """Puts keys into the file; one that comes with the program is copied into the user's folder first.

        The new text is read by the loader before anything is written; a file is replaced whole or not at all.

        Raises:
            ContentError: if the rig would have mistakes.
            IntroitError: if the file cannot be written.
        """
        text = self.path.read_bytes().decode("utf-8-sig")
        data = edited_rig(text, foot_switch, ports=ports, control=control).encode()
        rig = self._checked(data)
        path = own_path(self.path, "rig")
        write_atomically(path, data)
        return RigFile(path, rig, self.library)

    def _checked(self, data: bytes) -> Rig:
        thing, problems = tried(self.path, data, Path(FOLDERS["rig"]).name, self.library)
        if isinstance(thing, Rig):
            return thing
        raise ContentError(problems)
