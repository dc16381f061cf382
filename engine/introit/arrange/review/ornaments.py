"""Measures of idiom, sparingly: grips slid in from a half step, grace notes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from introit.arrange.review.breach import Breach, plural
from introit.arrange.review.hearing import Hearing
from introit.arrange.score import COMP, MELODY, ScoreNote, Touch


def slides(hearing: Hearing) -> Iterator[Breach]:
    """Grips slid in, within two bars running: the comp's ornaments, those that begin together being one."""
    bounds = hearing.measures["slides"]
    most, reach = int(bounds.most), bounds.bars * hearing.bar_ticks
    onsets = sorted({note.onset for note in _ornaments(hearing, COMP)})
    for earlier, later in zip(onsets, onsets[most:], strict=False):
        if later - earlier < reach:
            text = f"comp: a grip slid in again; at most {plural(most, 'slide')} in {bounds.bars} bars"
            yield hearing.breach("slides", later, text)


def grace_notes(hearing: Hearing) -> Iterator[Breach]:
    """Grace notes of the melody from just before a phrase to its end."""
    most = int(hearing.measures["grace notes"].most)
    graces = [note.onset for note in _ornaments(hearing, MELODY)]
    ends = [max(note.end for note in phrase) for phrase in hearing.phrases]
    for start, end in pairwise((-hearing.bar_ticks, *ends)):
        own = [onset for onset in graces if start <= onset < end]
        if len(own) > most:
            text = f"melody: {plural(len(own), 'grace note')} in one phrase; at most {most}"
            yield hearing.breach("grace notes", own[most], text)


def _ornaments(hearing: Hearing, part: int) -> list[ScoreNote]:
    return [note for note in hearing.parts[part] if note.touch is Touch.ORNAMENT]


RULES = (slides, grace_notes)
