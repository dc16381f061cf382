"""The melody's phrases, and how high the comp may go under them (common practice, no source)."""

from __future__ import annotations

from introit.arrange.score import MELODY, ScoreNote
from introit.arrange.sung import Phrase, ceiling_under, phrases_of, sounding_in

BEAT = 960


def note(beat: float, length: float, pitch: int) -> ScoreNote:
    return ScoreNote(int(beat * BEAT), int(length * BEAT), 0, MELODY, pitch)


MELODY_NOTES = [note(1, 0.5, 72), note(1.5, 1, 69), note(3, 0.5, 76), note(4.5, 2, 74)]


def test_a_rest_of_a_beat_parts_two_phrases_and_a_shorter_one_does_not() -> None:
    phrases = list(phrases_of(MELODY_NOTES))
    assert phrases == [
        Phrase(BEAT, 3 * BEAT + BEAT // 2, 69),
        Phrase(4 * BEAT + BEAT // 2, 6 * BEAT + BEAT // 2, 74),
    ]
    assert list(phrases_of([])) == []


def test_only_what_sounds_in_a_stretch_counts() -> None:
    assert sounding_in(MELODY_NOTES, 2 * BEAT, 3 * BEAT) == {69}
    assert sounding_in(MELODY_NOTES, 3 * BEAT, 3 * BEAT + 1) == {76}
    assert sounding_in(MELODY_NOTES, 0, BEAT) == frozenset()


def test_the_comp_keeps_a_third_under_what_sounds_and_under_all_of_a_phrase() -> None:
    phrases = list(phrases_of(MELODY_NOTES))

    def ceiling(start: float, end: float) -> int:
        return ceiling_under(MELODY_NOTES, phrases, int(start * BEAT), int(end * BEAT), highest=77)

    assert ceiling(0, 1) == 77
    assert ceiling(1.5, 2) == 69 - 3
    assert ceiling(3, 3.5) == 69 - 1  # the E5 alone would leave room up to C#5
    assert ceiling(3.5, 4.5) == 77
    assert ceiling(5, 6) == 74 - 3
