"""Which port a name means, and which system serves. Pure where what there is, is given.

A name is matched exactly first, then without regard to case, then as a part of a name without regard to case.
A match must be the only one of its kind; otherwise the error lists what there is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from introit.errors import PortError, did_you_mean

SYSTEMS: Final = ("jack", "rtmidi", "memory")
"""Names of systems as a rig writes them; `auto` beside them chooses among the first two."""


@dataclass(frozen=True, slots=True)
class Listing:
    """The ports of one system.

    Attributes:
        system: `jack` or `rtmidi`.
        destinations: names that can be sent to, in the system's order.
        sources: names that can be listened to.
        reason: why the system could not be asked, in one line; empty when it answered.
        detail: what answers, such as a server's name or a driver's.
    """

    system: str
    destinations: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    reason: str = ""
    detail: str = ""


def find(wanted: str, names: Sequence[str], *, role: str, system: str = "") -> str:
    """The one name that `wanted` means.

    Args:
        wanted: a name or part of one; empty for the first there is.
        names: what there is, in the system's order.
        role: `destination` or `source`, for the error.
        system: the system's name, for the error.

    Raises:
        PortError: if nothing matches, or more than one name does equally well.
    """
    found = matches(wanted, names)
    if len(found) == 1 or (found and not wanted):
        return found[0]
    where = f"{system} MIDI {role}" if system else f"MIDI {role}"
    if not found:
        hint = f" {did_you_mean(wanted, names)}" if names else ""
        raise PortError(f"no {where} matches {wanted!r}; {_inventory(names)}.{hint}".rstrip())
    raise PortError(f"{wanted!r} matches more than one {where}: {_quoted(found)}; write more of the name.")


def is_ours(name: str) -> bool:
    """Whether a port, by its full name, is one of this program's own."""
    return name.casefold().startswith("introit")


def matches(wanted: str, names: Iterable[str]) -> list[str]:
    """Every name that fits best: equal, else equal but for case, else containing `wanted` but for case."""
    unique = list(dict.fromkeys(names))
    fold = wanted.casefold()
    tests: tuple[Callable[[str], bool], ...] = (
        lambda name: name == wanted,
        lambda name: name.casefold() == fold,
        lambda name: fold in name.casefold(),
    )
    for test in tests:
        if found := [name for name in unique if test(name)]:
            return found
    return []


def _inventory(names: Sequence[str]) -> str:
    return f"there are: {_quoted(names)}" if names else "there is none at all"


def _quoted(names: Sequence[str]) -> str:
    return ", ".join(repr(name) for name in names)


def choose_system(wanted: str, answers: Mapping[str, str]) -> str:
    """The system to use: the one named or, for `auto`, JACK when a server answers, else RtMidi.

    Args:
        wanted: `auto` or one of `SYSTEMS`.
        answers: why each system does not answer, by name; an empty reason means that it does.

    Raises:
        PortError: if the system named does not answer, or none does.
    """
    if wanted == "memory":
        return wanted
    if wanted == "auto":
        for system in ("jack", "rtmidi"):
            if answers.get(system) == "":
                return system
        raise PortError(f"no MIDI system answers ({_reasons(answers)}).")
    if wanted not in SYSTEMS:
        hint = did_you_mean(wanted, ("auto", *SYSTEMS))
        raise PortError(
            f"no MIDI system is called {wanted!r}; allowed is auto, {', '.join(SYSTEMS)}. {hint}".rstrip()
        )
    if reason := answers.get(wanted, "not asked"):
        raise PortError(f"{wanted} does not answer: {reason}.")
    return wanted


def _reasons(answers: Mapping[str, str]) -> str:
    return "; ".join(f"{system}: {reason}" for system, reason in answers.items()) or "none was asked"
