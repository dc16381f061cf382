"""What ports are called, so that two devices of one name can be told apart. Pure: the names are given.

A port's *name* here is the system's, made unique: of several that are alike the first keeps its name, the
second has ` (2)` behind it, in the system's order. Its *label* is what a musician reads and writes: the same
without the numbers that ALSA gives (they change when a device is plugged in anew), so that a rig may keep it.

JACK makes every client's name unique itself (`Board`, then `Board-01`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any, Final

_ALSA_NUMBERS: Final = re.compile(r" \d+:\d+$")
_PLACE: Final = re.compile(r" \((\d+)\)$")


def told_apart(names: Iterable[str]) -> list[str]:
    """The same names in the same order, each once: what comes again has its place behind it."""
    given = list(names)
    taken, found = set(given), []
    seen: dict[str, int] = {}
    for name in given:
        place = seen[name] = seen.get(name, 0) + 1
        if place > 1:
            while f"{name} ({place})" in taken:  # a device that is really called so
                place += 1
            seen[name] = place
            name = f"{name} ({place})"
            taken.add(name)
        found.append(name)
    return found


def plain(name: str) -> str:
    """A name as the device has it, without ALSA's numbers and without its place among its likes."""
    return _ALSA_NUMBERS.sub("", _PLACE.sub("", name))


def labels(names: Sequence[str]) -> list[str]:
    """What a musician reads and writes for each of these names."""
    return told_apart(_ALSA_NUMBERS.sub("", name) for name in names)


def placed(wanted: str) -> tuple[str, int] | None:
    """A name and the place behind it, from 1, as in `Board (2)`; None where there is none."""
    found = _PLACE.search(wanted)
    return None if found is None or not int(found[1]) else (wanted[: found.start()], int(found[1]))


def of_driver(end: Any, detail: str) -> list[str]:
    """The names of what an end of an RtMidi binding could be opened to, made unique; places are its indexes.

    Args:
        end: has `get_ports`.
        detail: which of the system's interfaces it uses.
    """
    names = list(end.get_ports())
    if (
        detail == "windows"
    ):  # RtMidi writes the index behind each name there, which changes with what is plugged
        names = [name.removesuffix(f" {place}") for place, name in enumerate(names)]
    return told_apart(names)
