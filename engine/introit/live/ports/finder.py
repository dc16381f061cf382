"""Which port a name means, and which system serves. Pure where what there is, is given.

A name is matched exactly first, then without regard to case, then as a part of a name without regard to case.
A match must be the only one of its kind; otherwise the error lists what there is.

Of devices with one name, the name alone means the first that the system lists, `Board (2)` the second; a part
of it needs its number, `Board (1)` too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from introit.errors import PortError, did_you_mean
from introit.live.ports.names import labels, placed, plain, told_apart

SYSTEMS: Final = ("jack", "rtmidi", "alsa", "fluidsynth", "memory")
"""Names of systems as a rig writes them; `auto` is beside them."""
AUTOMATIC: Final = ("jack", "rtmidi")
"""What `auto` chooses among, in this order."""
_THROUGH: Final = "midi through"
"""What the kernel calls the port that hands on what it gets; it is there on every Linux, and first."""
IN_THE_PLAYER: Final = ("memory", "fluidsynth")
"""What is opened unasked, since it is in the player itself: opening it tells what is wrong."""


@dataclass(frozen=True, slots=True)
class Listing:
    """The ports of one system.

    Attributes:
        system: one of `SYSTEMS`.
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
    names = told_apart(names)
    found = matches(wanted, names)
    if not wanted:  # whatever there is: rather a device than what only leads on to other programs
        found.sort(key=lambda name: not may_sound(name))
    if len(found) == 1 or (found and not wanted):
        return found[0]
    where = f"{system} MIDI {role}" if system else f"MIDI {role}"
    known = labels(names)
    if not found:
        hint = f" {did_you_mean(wanted, known)}" if names else ""
        raise PortError(f"no {where} matches {wanted!r}; {_inventory(known)}.{hint}".rstrip())
    meant = [label for name, label in zip(names, known, strict=True) if name in found]
    raise PortError(f"{wanted!r} matches more than one {where}: {_quoted(meant)}; {_way_out(wanted, meant)}.")


def _way_out(wanted: str, found: Sequence[str]) -> str:
    """How to write which of them is meant."""
    if len({plain(name) for name in found}) > 1:
        return "write more of the name"
    choices = " or ".join(repr(f"{wanted} ({place})") for place in range(1, len(found) + 1))
    return f"these have one name: write {choices}, in the order in which 'introit ports' lists them"


def may_sound(name: str) -> bool:
    """Whether a port, by its name, may lead to a synth: not one of ours, nor the kernel's Midi Through."""
    return not is_ours(name) and _THROUGH not in name.casefold()


def is_ours(name: str) -> bool:
    """Whether a port, by its full name, is one of this program's own."""
    return name.casefold().startswith("introit")


def matches(wanted: str, names: Iterable[str]) -> list[str]:
    """Every name that fits best: equal, else equal but for case, else containing `wanted` but for case.

    Names are made unique first (see `names.told_apart`), and each is looked for by its label too.
    """
    unique = told_apart(names)
    called = list(zip(unique, labels(unique), strict=True))
    fold = wanted.casefold()
    tests: tuple[Callable[[str], bool], ...] = (
        lambda name: name == wanted,
        lambda name: name.casefold() == fold,
        lambda name: fold in name.casefold(),
    )
    for test in tests:
        # A name before a label: on ALSA it is what the system itself calls that very port.
        for way in (0, 1):
            if found := [pair[0] for pair in called if test(pair[way])]:
                return found
    return _in_place(wanted, called)


def _in_place(wanted: str, called: Sequence[tuple[str, str]]) -> list[str]:
    """Part of a name with its place: that one of those alike, for each name that has the part."""
    place = placed(wanted)
    if place is None:
        return []
    part, number = place
    return [
        name
        for name, label in called
        if part.casefold() in plain(label).casefold() and (placed(label) or (label, 1))[1] == number
    ]


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
    if wanted in IN_THE_PLAYER:
        return wanted
    if wanted == "auto":
        for system in AUTOMATIC:
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
