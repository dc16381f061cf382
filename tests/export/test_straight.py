"""A score as it is written, beside the same score as it is played; read back by mido and music21."""

from __future__ import annotations

import io
from collections import Counter, defaultdict
from typing import Any

import mido
import pytest

from introit.arrange.arranger import handed_over
from introit.arrange.score import Score
from introit.export.midi_file import midi_bytes
from introit.export.straight import straight
from introit.library.model import Library
from introit.performance import PARTS, Performance

EIGHTH = 480
CASES = [
    ("three-six-two-five", "Eb", "with keys"),
    ("three-six-two-five", "Eb", "trio"),
    ("waltz-riff", "C minor", "with bass"),
    ("verse-for-one-guitar", "Gb", "solo guitar"),
]


def onsets(performance: Performance) -> Counter[tuple[int, int]]:
    """(tick from the file's start, pitch) of each note, as mido reads the written file."""
    found: Counter[tuple[int, int]] = Counter()
    for track in mido.MidiFile(file=io.BytesIO(midi_bytes(performance)), charset="utf-8").tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                found[now, message.note] += 1
    return found


@pytest.mark.parametrize("case", CASES, ids=" ".join)
def test_every_note_lies_where_the_score_has_it(
    library: Library, arranged: Any, case: tuple[str, str, str]
) -> None:
    score: Score = arranged(*case)
    written = straight(score, library)
    head = score.plan.head_tick
    expected = {(note.onset, note.pitch) for note in score.notes if note.onset < head}
    assert set(onsets(written)) == expected
    assert max(note.end for note in written.notes) <= head


@pytest.mark.parametrize("case", CASES, ids=" ".join)
def test_another_reader_finds_even_eighths_and_grips_struck_at_once(
    library: Library, arranged: Any, case: tuple[str, str, str]
) -> None:
    """music21 quantises nothing here: offsets are fractions of a quarter note."""
    from music21 import converter

    score: Score = arranged(*case)
    stream = converter.parse(midi_bytes(straight(score, library)), format="midi", quantizePost=False)
    offsets = [float(element.getOffsetInHierarchy(stream)) for element in stream.recurse().notes]
    graces = {note.onset / 960 for note in score.notes if note.touch.name == "ORNAMENT"}
    between = [offset for offset in offsets if offset % 0.5 and offset not in graces]
    thirds = [offset for offset in between if abs(offset * 12 - round(offset * 12)) < 1e-3]
    assert len(offsets) > 10
    assert between == thirds, "what is between eighths is a triplet or a sixteenth"


def test_swing_strums_and_drift_are_in_the_played_one_alone(library: Library, arranged: Any) -> None:
    score: Score = arranged("three-six-two-five", "Eb", "trio")
    written, played = straight(score, library), handed_over(score, library)
    off_beats = {note.onset for note in written.notes if note.onset % 960 == EIGHTH}
    assert off_beats
    assert not off_beats & {note.onset for note in played.notes}

    def widest(performance: Performance) -> int:
        grips: defaultdict[int, set[int]] = defaultdict(set)
        for note in performance.notes:
            if PARTS[note.part] == "comp":
                grips[note.harmony_tick // 3840].add(note.onset)
        return max(map(len, grips.values()))

    assert widest(played) > widest(written)
    assert len({note.velocity for note in written.notes}) < len({note.velocity for note in played.notes})


def test_what_is_played_round_or_held_is_written_once(library: Library, arranged: Any) -> None:
    written = straight(arranged("three-six-two-five", "Eb", "with keys"), library)
    assert (written.vamp, written.waits, written.out_of_time) == (None, (), False)
    assert written.chords == handed_over(arranged("three-six-two-five", "Eb", "with keys"), library).chords
