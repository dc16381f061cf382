"""The guitar in a rig file: its tuning, capo and frets, and what sounds its strings."""

from __future__ import annotations

from introit.library.fields import Fields, choice, whole
from introit.library.lines import Piece, words
from introit.library.musical import note_at
from introit.library.nodes import Node, Scalar
from introit.library.nodes import Sequence as NodeSequence
from introit.library.reading import Reading
from introit.library.stage import RigGuitar
from introit.theory.fretboard import MOST_FRETS, STANDARD_TUNING, Fretboard
from introit.theory.plucking import Plucking

PLUCKINGS = tuple(plucking.value for plucking in Plucking)
_HIGHEST_FRET = 20


def read_guitar(node: Node, reading: Reading) -> RigGuitar | None:
    """A guitar from its keys; what is left out is the standard tuning, no capo, 20 frets and the fingers."""
    before = len(reading.problems)
    fields = Fields(node, reading, what="a guitar")
    guitar = RigGuitar(
        tuning=fields.optional("tuning", _tuning, STANDARD_TUNING),
        capo=fields.optional("capo", whole(0, MOST_FRETS - 1, unit="frets"), 0),
        highest_fret=fields.optional("highest_fret", whole(1, MOST_FRETS, unit="frets"), _HIGHEST_FRET),
        plucking=fields.optional("plucking", choice(PLUCKINGS), Plucking.FINGERS.value),
    )
    fields.finish()
    if len(reading.problems) > before:
        return None
    try:
        Fretboard(guitar.tuning, guitar.capo, guitar.highest_fret)
    except ValueError as error:
        reading.report(fields.place, "does-not-fit", f"no such neck: {error}")
        return None
    return guitar


def _tuning(node: Node, reading: Reading) -> tuple[int, ...] | None:
    """Notes from the lowest string up, in one line (`E2 A2 D3 G3 B3 E4`) or as a list."""
    if isinstance(node, NodeSequence):
        found = [
            note_at(Piece(item.text, item.start), reading) if isinstance(item, Scalar) else None
            for item in node.items
        ]
    elif isinstance(node, Scalar):
        inside = node.start + (node.style == "quoted")
        found = [note_at(piece, reading) for piece in words(Piece(node.text, inside))]
    else:
        found = []
    if not found:
        reading.report(
            node.place, "wrong-type", "a tuning is notes from the lowest string up: E2 A2 D3 G3 B3 E4"
        )
    notes = tuple(pitch for pitch in found if pitch is not None)
    return notes if notes and len(notes) == len(found) else None
