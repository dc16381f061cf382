"""Where a General MIDI soundfont may lie when nobody names one."""

from __future__ import annotations

import importlib.util
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from introit.errors import PortError

FOLDERS: Final = (
    "~/.local/share/soundfonts",
    "~/.local/share/sounds/sf2",
    "~/Library/Audio/Sounds/Banks",
    "/usr/local/share/soundfonts",
    "/usr/share/soundfonts",
    "/usr/share/sounds/sf2",
    "/usr/share/sounds/sf3",
    "/opt/homebrew/share/soundfonts",
)
"""Looked through in this order. In each, one named `default...` goes before the others, which go by name."""
KINDS: Final = (".sf2", ".sf3")
CARRIED: Final = ("pretty_midi", "TimGM6mb.sf2")
"""A package that carries one, and its name there: small, and enough for every part."""


def find_soundfont(
    wanted: str = "", *, folders: Sequence[str] = FOLDERS, named_with: str = "`soundfont: PATH` in the rig"
) -> Path:
    """The soundfont that is named or, where none is, the first there is.

    Args:
        wanted: a path (`~` is the user's folder), or empty.
        folders: where to look, in order.
        named_with: how the user names one.

    Raises:
        PortError: if there is none.
    """
    if wanted:
        path = Path(wanted).expanduser()
        if not path.is_file():
            raise PortError(f"there is no soundfont {str(path)!r}; it is named with {named_with}.")
        return path
    for folder in folders:
        if found := _in_folder(Path(folder).expanduser()):
            return found[0]
    if (carried := _carried()) is not None:
        return carried
    raise PortError(
        f"no soundfont: looked for {' and '.join(KINDS)} in {', '.join(folders)} and in the package"
        f" {CARRIED[0]}. Name one with {named_with}, or install one: `pip install '.[synth]'`"
        " in the program's folder, or a package of your system's such as fluid-soundfont-gm."
    )


def _in_folder(folder: Path) -> list[Path]:
    try:
        found = [path for path in folder.iterdir() if path.suffix.casefold() in KINDS and path.is_file()]
    except OSError:
        return []
    return sorted(found, key=lambda path: (not path.name.casefold().startswith("default"), path.name))


def _carried() -> Path | None:
    """Without importing the package."""
    try:
        spec = importlib.util.find_spec(CARRIED[0])
    except (ImportError, ValueError):
        return None
    places = (spec.submodule_search_locations or ()) if spec else ()
    return next((path for place in places if (path := Path(place) / CARRIED[1]).is_file()), None)
