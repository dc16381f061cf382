"""Inner line: the outer voices hold, and what moves between them is exactly what its name says.

The lines themselves are common practice (no source). That the guide tones are what moves from two to five:
[Hu]; that a dominant takes 9 and 13 and a major seventh 9: [AN].
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.score import COMP, ScoreNote
from introit.arrange.textures.inner_moves import moves_on
from introit.library.model import Library
from introit.theory.chord import chord_from_symbol, chord_of
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
BEAT, BAR = 960, 3840

LayOut = Callable[..., Any]


def split(notes: list[ScoreNote], start: int, end: int) -> tuple[list[ScoreNote], list[ScoreNote]]:
    """The comp's notes of a stretch that sound all through it, and those that do not, in order."""
    inside = sorted(note for note in notes if note.part == COMP and start <= note.onset < end)
    held = [note for note in inside if note.onset == start and note.end == end]
    return held, [note for note in inside if note not in held]


def over_root(laid_out: Any, note: ScoreNote) -> int:
    chord = laid_out.scene.chord_of(laid_out.scene.unit_at(note.onset)).chord
    return int((note.pitch - chord.root.pitch_class) % 12)


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("line_up", ["with keys", "with bass", "solo guitar"])
def test_a_falling_root_arrives_on_the_third_of_the_dominant(lay_out: LayOut, key: str, line_up: str) -> None:
    played = lay_out("inner line", "ii9 | V13 | Imaj9 | H", key=key, line_up=line_up, moves="falling root")
    held, moving = split(played.notes, 0, BAR)
    assert [over_root(played, note) for note in moving] == [0, 11, 10]
    assert [note.onset for note in moving] == [0, 2 * BEAT, 3 * BEAT]
    assert moving[0].end == moving[1].onset
    assert moving[-1].end == BAR
    third = moving[-1].pitch - 1
    dominant = played.scene.chord_of(played.scene.unit_at(BAR)).chord
    assert third % 12 == dominant.guide_tones[0].pitch_class
    assert third in {note.pitch for note in played.notes if note.onset == BAR}
    assert max(note.pitch for note in held) > moving[0].pitch
    below = [note.pitch for note in held] + [played.work.voicings[0].bottom] * (line_up == "solo guitar")
    assert min(below) < moving[-1].pitch


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("line_up", ["with keys", "with bass"])
@pytest.mark.parametrize(
    ("harmony", "seventh"), [("Imaj9 | IVmaj7 | ii7 | H", 11), ("ii9 | Imaj9 | ii7 | H", 10)]
)
def test_nine_to_one_goes_with_seven_to_six_in_parallel(
    lay_out: LayOut, key: str, line_up: str, harmony: str, seventh: int
) -> None:
    played = lay_out("inner line", harmony, key=key, line_up=line_up, moves="nine to one")
    held, moving = split(played.notes, 0, BAR)
    first = {over_root(played, note) for note in moving if note.onset == 0}
    second = {over_root(played, note) for note in moving if note.onset == 2 * BEAT}
    assert (first, second) == ({2, seventh}, {0, 9})
    assert len(moving) == 4
    lines = sorted(note.pitch for note in moving if note.onset == 0)
    ends = sorted(note.pitch for note in moving if note.onset == 2 * BEAT)
    assert all(0 < early - late <= 2 for early, late in zip(lines, ends, strict=True))
    assert min(note.pitch for note in held) < ends[0]
    assert lines[-1] < max(note.pitch for note in held)
    third = played.scene.chord_of(0).chord.guide_tones[0].pitch_class
    assert third in {note.pitch % 12 for note in held}  # it is still the chord at the end


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("line_up", ["with keys", "with bass"])
def test_thirteen_falls_into_the_ninth_of_the_tonic(lay_out: LayOut, key: str, line_up: str) -> None:
    played = lay_out(
        "inner line", "V13 | Imaj9 | ii7 | H", key=key, line_up=line_up, moves="thirteen to flat thirteen"
    )
    held, moving = split(played.notes, 0, BAR)
    assert [over_root(played, note) for note in moving] == [9, 8]
    assert [note.onset for note in moving] == [0, 2 * BEAT]
    assert min(note.pitch for note in held) < moving[0].pitch < max(note.pitch for note in held)
    tonic = {note.pitch for note in played.notes if note.onset == BAR}
    assert moving[-1].pitch - 1 in tonic
    ninth = played.scene.chord_of(1).chord.tone("9")
    assert (moving[-1].pitch - 1) % 12 == ninth.pitch_class
    assert 7 not in {over_root(played, note) for note in held}  # the plain fifth beside b13


@pytest.mark.parametrize("key", KEYS)
def test_a_thirteenth_on_its_way_to_another_dominant_has_no_ninth_beside_it(
    make: Any, shipped: Library, key: str
) -> None:
    """The last dominant is to be the densest: the root lies under the line where a ninth would."""
    tune = make.tune(key, "Imaj7", feel="slow-swing", tempo=112.0)
    plan = plan_intro(shipped.intros["chain-of-dominants"], tune, tune.key)
    for line_up in ("with keys", "trio"):
        score = arrange(plan, shipped, stage=Stage(LineUp(line_up)), seed=3)
        for bar in (0, BAR):
            root = plan.chords[plan.at(bar)].chord.root.pitch_class
            grip = [note for note in score.notes if note.part == COMP and note.onset == bar]
            assert {4, 9, 10} <= {(note.pitch - root) % 12 for note in grip} <= {0, 4, 9, 10}


@pytest.mark.parametrize("key", KEYS)
def test_a_guitar_alone_takes_another_line_where_the_named_one_lies_under_no_hand(
    lay_out: LayOut, key: str
) -> None:
    """Ninth and third lie a half step apart there, far over the root: in some keys no hand has both."""
    played = lay_out(
        "inner line", "ii9 | V13 | ii9 | V13", key=key, line_up="solo guitar", moves="nine to one"
    )
    _, moving = split(played.notes, 0, 3840)
    steps = [over_root(played, note) for note in sorted(moving, key=lambda note: (note.onset, note.pitch))]
    assert sorted(steps) == [0, 2, 9, 10] or steps == [0, 11, 10]
    with_bass = lay_out("inner line", "ii9 | V13 | ii9 | V13", key=key, moves="nine to one")
    _, moving = split(with_bass.notes, 0, 3840)
    assert sorted(over_root(with_bass, note) for note in moving) == [0, 2, 9, 10]


def test_the_best_line_is_taken_where_none_is_named(lay_out: LayOut) -> None:
    played = lay_out("inner line", "ii9 | V13 | Imaj9 | H", line_up="with keys")
    counts = [len(split(played.notes, bar * BAR, (bar + 1) * BAR)[1]) for bar in range(3)]
    assert counts == [3, 2, 4]  # falling root, thirteen to flat thirteen, nine to one


@pytest.mark.parametrize(
    ("chord", "following", "names"),
    [
        ("Cm7", "F7", {"falling root", "nine to one"}),
        ("Cm7", "Bbmaj7", {"nine to one"}),
        ("Em7b5", "A7", {"falling root"}),
        ("Em7b5", "Dm6", set()),
        ("G7sus4", "Cmaj7", set()),
        ("G7alt", "Cm6", set()),
        ("C6", "Dm7", set()),
        ("G13", "Cmaj7", {"thirteen to flat thirteen"}),
        ("G13", "Am7", set()),
    ],
)
def test_which_lines_a_chord_bears(chord: str, following: str, names: set[str]) -> None:
    moves = moves_on(chord_from_symbol(chord), chord_from_symbol(following), None)
    assert {move.name for move in moves} == names


def test_a_minor_chord_without_the_sixth_in_its_scale_keeps_its_seventh() -> None:
    numeral, key = Numeral.from_text, Key.from_text("C")
    aeolian = chord_of(numeral("vi9"), key, following=numeral("IVmaj7"))
    assert moves_on(aeolian, chord_of(numeral("IVmaj7"), key), None) == ()


def test_a_chord_that_bears_no_line_is_held_as_it_is(lay_out: LayOut) -> None:
    played = lay_out("inner line", "V9sus4 | V9sus4 | V9sus4 | H", line_up="with keys")
    bar = [note for note in played.notes if note.onset < BAR]
    assert {(note.onset, note.end) for note in bar} == {(0, BAR)}
    assert tuple(sorted(note.pitch for note in bar)) == played.heard(0)


@pytest.mark.parametrize("meter", ["3/4", "5/4"])
def test_the_line_arrives_on_the_change_in_every_meter(lay_out: LayOut, meter: str) -> None:
    played = lay_out("inner line", "ii9 | V13 | Imaj9 | H", meter=meter, line_up="with keys")
    bar = int(meter[0]) * BEAT
    _, moving = split(played.notes, 0, bar)
    assert [over_root(played, note) for note in moving] == [0, 11, 10]
    assert [bar - note.onset for note in moving[1:]] == [2 * BEAT, BEAT]


@pytest.mark.parametrize("key", KEYS)
def test_on_a_guitar_the_moving_note_stays_on_its_string(lay_out: LayOut, key: str) -> None:
    played = lay_out("inner line", "ii9 | V13 | Imaj9 | H", key=key, line_up="with bass")
    moved = 0
    for bar in range(3):
        _, moving = split(played.notes, bar * BAR, (bar + 1) * BAR)
        begun = [note for note in moving if note.onset == bar * BAR]
        moved += bool(moving)
        assert {note.string for note in moving} == {note.string for note in begun}
    assert moved >= 2


@pytest.mark.parametrize("key", ["G", "Ab"])
def test_the_last_dominant_that_takes_up_a_line_has_a_tension(make: Any, shipped: Library, key: str) -> None:
    """The five is the richest chord of a two-five, not the barest: thirteenth or ninth (no source)."""
    intro = shipped.intros["waltz-in-eight"]
    tune = make.tune(key, meter=Meter.from_text("3/4"), tempo=106.0, feel="jazz-waltz")
    score = arrange(plan_intro(intro, tune, tune.key), shipped, stage=Stage(LineUp.SOLO_GUITAR))
    five = score.plan.chords[-1]
    sounding = {
        note.pitch % 12 for note in score.notes if note.part == COMP and note.harmony_tick == five.onset
    }
    root = five.chord.root.pitch_class
    assert five.chord.symbol.endswith("13")
    assert sounding & {(root + 2) % 12, (root + 9) % 12}
