"""The piano roll is read back: pitches by the names of its rows, time by the beats counted under them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

import pytest

from introit.arrange.score import BASS, COMP, MELODY, PEDAL, RIDE, Score, Touch
from introit.export.plain.roll import roll_lines
from introit.export.plain.signs import DRAWN, TYPED

LETTERS = {"M": MELODY, "C": COMP, "B": BASS, "P": PEDAL}
ROW = re.compile(r" *([A-G](?:##|bb|#|b)?-?\d)│")
NATURALS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def pitch_of(name: str) -> int:
    """Scientific pitch notation: C4 is middle C, MIDI 60 (ISO 16:1975 names A4 440 Hz; from memory)."""
    letter, signs, octave = re.fullmatch(r"([A-G])(#*|b*)(-?\d)", name).groups()  # type: ignore[union-attr]
    return NATURALS[letter] + signs.count("#") - signs.count("b") + 12 * (int(octave) + 1)


def begun(lines: list[str], beats: int) -> tuple[set[tuple[int, int, str]], int]:
    """Notes by tick, pitch and letter; and the bars that were read."""
    found: set[tuple[int, int, str]] = set()
    bars = 0
    block: list[tuple[int, str]] = []
    for line in lines[1:]:
        if match := ROW.match(line):
            block.append((pitch_of(match.group(1)), line))
        elif block and re.fullmatch(r"[ \d]+", line):
            places = [each.start() for each in re.finditer(r"\d+", line)]
            wide = places[1] - places[0]
            for pitch, row in block:
                for letter in re.finditer(r"[MCBP*]", row[5:]):
                    column = letter.start() + 5
                    beat = max(at for at, place in enumerate(places) if place <= column)
                    tick = (bars * beats + beat) * 960 + (column - places[beat]) * 960 // wide
                    found.add((tick, pitch, letter.group()))
            bars += len(places) // beats
            block = []
    return found, bars


def test_every_note_is_where_it_sounds(scores: Mapping[object, Score]) -> None:
    seen = 0
    for name, score in scores.items():
        found, bars = begun(roll_lines(score, width=80), score.plan.meter.beats)
        assert bars == score.plan.bars, name
        wanted: dict[tuple[int, int], set[int]] = {}
        for note in score.notes:
            if note.part in LETTERS.values() and note.touch is not Touch.ORNAMENT:
                wanted.setdefault((note.onset, note.pitch), set()).add(note.part)
        for (onset, pitch), parts in wanted.items():
            letters = (
                {letter for letter, part in LETTERS.items() if part in parts} if len(parts) == 1 else {"*"}
            )
            assert any((onset, pitch, letter) in found for letter in letters), (name, onset, pitch, parts)
        seen += len(wanted)
    assert seen > 20_000


@pytest.mark.parametrize("width", [80, 120])
def test_no_line_is_wider_than_the_terminal(scores: Mapping[object, Score], width: int) -> None:
    for name, score in scores.items():
        for signs in (DRAWN, TYPED):
            lines = roll_lines(score, width=width, signs=signs)
            assert all(len(line) <= width for line in lines), (name, max(lines, key=len))


def test_typed_rolls_are_typed(scores: Mapping[object, Score]) -> None:
    for score in scores.values():
        assert "\n".join(roll_lines(score, width=80, signs=TYPED)).isascii()


def test_parts_are_told_apart_by_letters_that_the_first_line_explains(
    arranged: Callable[..., Score],
) -> None:
    first = roll_lines(arranged("one-six-two-five", "Eb", "trio"), width=80)[0]
    assert first == "M melody, C comp, B bass, x ride, * two parts on one pitch"


def test_light_time_has_a_row(arranged: Callable[..., Score]) -> None:
    score = arranged("one-bar", "Eb", "trio")
    (row,) = [line for line in roll_lines(score, width=80) if line.startswith("ride│")]
    assert row.count("x") == len({note.onset for note in score.notes if note.part == RIDE})
