"""Where a part lies in what is written: channel, program and level."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final, NamedTuple

from introit.arrange.score import Score
from introit.performance import PARTS, Sound

PERCUSSION_CHANNEL: Final = 9
"""General MIDI's channel 10."""


class FileRoute(NamedTuple):
    """Where a part lies in the file.

    Attributes:
        channel: 0 to 15 (the wire's numbering).
        program: 0 to 127 (the wire's numbering), or None for no program change.
        level: channel volume 0 to 127, or None for the synth's own; a MIDI file leaves it to its reader.
    """

    channel: int
    program: int | None = None
    level: int | None = None


Routes = Mapping[str, FileRoute]
"""Part name to its place in the file."""

# General MIDI 1, one less than as printed: jazz guitar 27, electric piano 5, acoustic bass 33 ([GM-M]). The
# levels are those of the rigs that come with the program.
GENERAL_MIDI_ROUTES: Routes = {
    "melody": FileRoute(0, 26, 104),
    "comp": FileRoute(1, 4, 90),
    "bass": FileRoute(2, 32, 100),
    "pedal": FileRoute(3, 32, 92),
    "ride": FileRoute(PERCUSSION_CHANNEL, None, 84),
    "click": FileRoute(PERCUSSION_CHANNEL, None, 84),
}


def routes_of(score: Score) -> Routes:
    """The usual routes for a score's line-up: a comp that is played on a guitar sounds like one."""
    if score.scene.seats.comp_on == "keys":
        return GENERAL_MIDI_ROUTES
    guitar = GENERAL_MIDI_ROUTES["melody"].program
    return {**GENERAL_MIDI_ROUTES, "comp": GENERAL_MIDI_ROUTES["comp"]._replace(program=guitar)}


def all_parts(routes: Routes, sounds: Iterable[Sound] = ()) -> Routes:
    """The routes, with General MIDI's for parts that are not among them, and a tune's own sounds."""
    found = {**GENERAL_MIDI_ROUTES, **routes}
    for sound in sounds:
        part = PARTS[sound.part]
        if part in found:
            channel, program, level = found[part]
            found[part] = FileRoute(
                channel,
                program if sound.program is None else sound.program,
                level if sound.level is None else sound.level,
            )
    return found
