"""A score as it is written: even eighths, grips struck at once, each note as long as on paper."""

from __future__ import annotations

from dataclasses import replace

from introit.arrange.arranger import handed_over
from introit.arrange.legal import ChannelOf, legal, own_channel
from introit.arrange.one_guitar import one_sound
from introit.arrange.score import CLICK, Score, ScoreNote
from introit.arrange.shelf import feel_of
from introit.library.model import Feel, Library
from introit.performance import PARTS, Performance, PlayedNote

_USUAL = 76
"""Where a feel gives a part no level."""
_ACCENT = 10
"""What an accent adds to it (a judgement, no source)."""


def straight(score: Score, library: Library, *, channel_of: ChannelOf = own_channel) -> Performance:
    """A score's performance without its playing: no swing, no drift, no strum, no arc; waits and vamps once.

    Pushes stay: they are written. Levels are the feel's, one a part, and accents on top. The count-off is the
    performance's.

    Args:
        score: what to write.
        library: holds the feel.
        channel_of: part number to (output, channel).
    """
    played = handed_over(score, library, channel_of=channel_of)
    counted = [note for note in played.notes if note.part == CLICK]
    feel, head = feel_of(score.plan.tune, library), score.plan.head_tick
    cut = score.plan.tune.landing == "cut"
    notes = [_written(note, feel) for note in score.notes if not (cut and note.onset >= head)]
    if cut:
        notes = [note._replace(end=min(note.end, head)) for note in notes]
    all_notes = [*counted, *notes]
    found = replace(
        played,
        notes=legal(all_notes, channel_of),
        end_tick=max([head, *(note.end for note in all_notes)]),
        vamp=None,
        once_more=False,
        waits=(),
        out_of_time=False,
    )
    return one_sound(found, channel_of) if score.scene.seats.one_pair_of_hands else found


def _written(note: ScoreNote, feel: Feel) -> PlayedNote:
    level = feel.velocity.get(PARTS[note.part], _USUAL) + (_ACCENT if note.accent else 0)
    return PlayedNote(note.onset, note.end, note.harmony_tick, note.part, note.pitch, max(1, min(127, level)))
