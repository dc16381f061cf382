"""What a rig sounds like in a file: its programs, its levels, and the soundfont of its synth inside."""

from __future__ import annotations

from introit.export.routes import GENERAL_MIDI_ROUTES, Routes
from introit.library.stage import Rig


def routes_on(rig: Rig) -> Routes:
    """Program and level of each of its parts, each on a channel of its own; muted ones too.

    A rig mutes the click for the house; in a file it is heard where a count-off was asked for.
    """
    found = {}
    for part in rig.parts:
        usual = GENERAL_MIDI_ROUTES.get(part.part)
        if usual is not None:
            program = usual.program if part.program is None else part.program - 1
            level = usual.level if part.level is None else part.level
            found[part.part] = usual._replace(program=program, level=level)
    return found


def soundfont_on(rig: Rig) -> str:
    """The soundfont of its first synth inside that names one; empty where none does."""
    return next((port.soundfont for port in rig.ports if port.soundfont), "")
