"""The tab is read back as a player reads it: strings by row, time by the beats counted under them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise

import pytest

from introit.arrange.arranger import symbol_of
from introit.arrange.score import COMP, Score, ScoreNote, Touch
from introit.export.plain.signs import TYPED
from introit.export.plain.tab import string_names, tab_lines
from introit.theory.fretboard import Fretboard

STRING = re.compile(r"([A-Ga-g][#b]?) *\|")
NUMBER = re.compile(r"(?:(\d+)([/\\hp]))?(\d+)")
BEAT = 960


def systems(lines: list[str]) -> list[list[str]]:
    """Blocks of lines between blank ones."""
    found: list[list[str]] = [[]]
    for line in lines:
        if line.strip():
            found[-1].append(line)
        else:
            found.append([])
    return [block for block in found if block]


class Read:
    """A tab as it is read: notes by tick, string and fret, graces by what they lead to, and the names."""

    def __init__(self, lines: list[str], beats: int) -> None:
        self.notes: set[tuple[int, int, int]] = set()
        self.graces: set[tuple[int, int, int, str]] = set()
        self.names: list[tuple[int, str]] = []
        self.numerals: list[tuple[int, str]] = []
        self.bars = 0
        self.bars_a_line: list[int] = []
        for block in systems(lines):
            self._read(block, beats)

    def _read(self, block: list[str], beats: int) -> None:
        rows = [at for at, line in enumerate(block) if STRING.match(line)]
        strings = [block[at] for at in rows]
        lines = [m.start() for m in re.finditer(r"\|", strings[0])]
        for row in strings:
            assert [m.start() for m in re.finditer(r"\|", row)] == lines, "bar lines stand under each other"
        counted = [(m.start(), int(m.group())) for m in re.finditer(r"\d+", block[rows[-1] + 1])]
        assert [number for _, number in counted] == list(range(1, beats + 1)) * (len(lines) - 1)
        first = self.bars

        def tick(column: int) -> int:
            bar = sum(line < column for line in lines) - 1
            own = [place for place, _ in counted if lines[bar] < place < lines[bar + 1]]
            wide = own[1] - own[0]
            assert all(after - before == wide for before, after in pairwise(own)), "a beat is a beat"
            return (first + bar) * beats * BEAT + round((column - own[0]) * BEAT / wide)

        for number, row in enumerate(strings, start=1):
            for found in NUMBER.finditer(row, lines[0]):
                self.notes.add((tick(found.start(3)), number, int(found.group(3))))
                if found.group(1):
                    self.graces.add((tick(found.start(3)), number, int(found.group(1)), found.group(2)))
        for above in block[1 : rows[0]]:
            self.names += [(tick(m.start()), m.group()) for m in re.finditer(r"\S+", above)]
        for below in block[rows[-1] + 2 :]:
            self.numerals += [(tick(m.start()), m.group()) for m in re.finditer(r"\S+", below)]
        self.bars += len(lines) - 1
        self.bars_a_line.append(len(lines) - 1)


def read(score: Score, *, width: int = 80) -> Read:
    return Read(tab_lines(score, width=width), score.plan.meter.beats)


def placed(score: Score) -> set[tuple[int, int, int]]:
    return {
        (note.onset, note.string, note.fret)
        for note in score.notes
        if note.string is not None and note.fret is not None and note.touch is not Touch.ORNAMENT
    }


def test_what_is_read_from_the_tab_is_what_the_score_has(scores: Mapping[object, Score]) -> None:
    seen = 0
    for name, score in scores.items():
        found = read(score)
        assert found.notes == placed(score), name
        graces = {(n.end, n.string, n.fret) for n in score.notes if n.string and n.touch is Touch.ORNAMENT}
        assert {grace[:3] for grace in found.graces} == graces, name
        seen += len(found.notes)
    assert seen > 10_000


def test_chord_names_stand_over_their_beats_and_numerals_under_them(scores: Mapping[object, Score]) -> None:
    for name, score in scores.items():
        found = read(score)
        if found.bars:
            chords = score.plan.chords
            assert found.names == [(chord.onset, symbol_of(chord)) for chord in chords], name
            assert found.numerals == [(chord.onset, str(chord.numeral)) for chord in chords], name


@pytest.mark.parametrize("width", [80, 100, 160])
def test_no_line_is_wider_than_the_terminal(scores: Mapping[object, Score], width: int) -> None:
    for name, score in scores.items():
        lines = tab_lines(score, width=width)
        assert all(len(line) <= width for line in lines), (name, max(lines, key=len))


def test_four_bars_a_line_where_they_fit_and_a_wide_terminal_takes_more(
    scores: Mapping[object, Score],
) -> None:
    lines = [read(score).bars_a_line for score in scores.values()]
    assert {count for bars in lines for count in bars} >= {1, 2, 4}
    wide = [read(score, width=120).bars_a_line for score in scores.values()]
    assert all(len(more) <= len(few) for more, few in zip(wide, lines, strict=True))
    assert sum(map(len, wide)) < sum(map(len, lines))


def test_strings_are_named_by_their_tuning(arranged: Callable[..., Score]) -> None:
    """E A D G B e: how players write the standard tuning (no source)."""
    assert string_names(Fretboard()) == ["e", "B", "G", "D", "A", "E"]
    lowered = Fretboard(tuning=(39, 44, 49, 54, 58, 63))
    score = arranged("one-six-two-five", "Eb", neck=lowered)
    names = [STRING.match(line) for line in tab_lines(score, width=80)]
    assert [found.group(1) for found in names if found][:6] == ["eb", "Bb", "F#", "C#", "Ab", "Eb"]
    assert read(score).notes == placed(score)


def test_a_seventh_string_has_a_line(arranged: Callable[..., Score]) -> None:
    score = arranged("one-six-two-five", "Eb", neck=Fretboard(tuning=(35, 40, 45, 50, 55, 59, 64)))
    assert read(score).notes == placed(score)
    assert sum(bool(STRING.match(line)) for line in tab_lines(score, width=160)) % 7 == 0


def test_without_a_guitar_there_is_no_tab(arranged: Callable[..., Score]) -> None:
    assert tab_lines(arranged("one-six-two-five", "Eb", "with keys"), width=80) == []


def test_signs_are_typed_where_nothing_else_can_be_shown(scores: Mapping[object, Score]) -> None:
    for name, score in scores.items():
        text = "\n".join(tab_lines(score, width=80, signs=TYPED))
        assert text.isascii(), name
        assert all(len(line) <= 80 for line in text.split("\n")), name


def note(onset: int, string: int, fret: int, finger: int, **fields: int) -> ScoreNote:
    plain = {"length": 480, "harmony_tick": 0, "part": COMP} | fields
    return ScoreNote(onset, pitch=60, string=string, fret=fret, finger=finger, **plain)  # type: ignore[arg-type]


def with_notes(score: Score, *notes: ScoreNote) -> Score:
    return replace(score, notes=tuple(sorted(notes)))


@pytest.mark.parametrize(
    ("fret", "finger", "written"), [(4, 1, "4/5"), (6, 1, "6\\5"), (4, 2, "4h5"), (7, 2, "7p5")]
)
def test_a_grace_note_says_how_it_is_played(
    arranged: Callable[..., Score], fret: int, finger: int, written: str
) -> None:
    """Slid by the finger that plays the note, hammered on or pulled off by another; on a downbeat too."""
    for onset in (3840, 1920):
        grace = note(onset - 60, 3, fret, finger, length=60, touch=Touch.ORNAMENT)
        score = with_notes(
            arranged("three-six-two-five", "Eb"), note(0, 3, 12, 1), grace, note(onset, 3, 5, 1)
        )
        assert any(f"-{written}-" in line for line in tab_lines(score, width=80))
        assert read(score).graces == {(onset, 3, fret, written[1])}


@pytest.mark.parametrize("step", [480, 240, 320, 160])
def test_running_numbers_of_two_digits_do_not_touch(arranged: Callable[..., Score], step: int) -> None:
    """Eighths, sixteenths, triplets and sixths of a beat, all on one string."""
    run = [note(at, 2, 10 + at // step % 3, 1, length=step) for at in range(0, 3840, step)]
    score = with_notes(arranged("three-six-two-five", "Eb"), *run)
    assert read(score).notes == placed(score)


def test_time_that_no_column_divides_is_still_told_apart(arranged: Callable[..., Score]) -> None:
    """Five in a beat: the numbers stand as near to their time as columns allow, and do not touch."""
    run = [note(at * 192, 2, 10 + at % 3, 1, length=192) for at in range(5)]
    score = with_notes(arranged("three-six-two-five", "Eb"), *run)
    assert [fret for _, _, fret in sorted(read(score).notes)] == [10, 11, 12, 10, 11]


def test_a_chord_that_lands_on_the_head_has_a_bar_of_its_own(arranged: Callable[..., Score]) -> None:
    plain = arranged("three-six-two-five", "Eb")
    landed = note(plain.plan.head_tick, 3, 5, 2, harmony_tick=plain.plan.head_tick)
    lines = tab_lines(with_notes(plain, note(0, 3, 5, 1), landed), width=80)
    assert any("head" in line for line in lines)
    assert Read(lines, 4).names[-1] == (plain.plan.head_tick, plain.plan.head.symbol)
