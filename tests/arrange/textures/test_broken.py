"""Broken, by what it is: one note an onset, ringing on, another figure from bar to bar, room to breathe."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, pairwise
from typing import Any

import pytest

from introit.arrange.score import MELODY, ScoreNote
from introit.arrange.textures.broken import _CONTOURS
from introit.theory.key import Mode, keys

KEYS = (*(str(key) for key in keys(Mode.MAJOR)),)
PROGRESSIONS = (
    "Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii9 V13",
    "#ivø7 iv6 | iii7 bIII°7 | ii7 | bIImaj7",
    "Imaj9 | I6/9 | IVmaj7 bVII7 | V9sus4 V7",
)
LINE_UPS = ("with bass", "with keys", "solo guitar")
BEAT = 960


def sounds_in(laid: Any, bar: int) -> list[ScoreNote]:
    ticks = laid.scene.plan.bar_ticks
    return [note for note in laid.notes if bar * ticks <= note.onset < (bar + 1) * ticks]


@pytest.mark.parametrize("meter", ["3/4", "4/4", "5/4"])
@pytest.mark.parametrize("line_up", LINE_UPS)
@pytest.mark.parametrize("harmony", PROGRESSIONS)
def test_one_note_at_a_time_each_ringing_on(
    lay_out: Callable[..., Any], harmony: str, line_up: str, meter: str
) -> None:
    for number, key in enumerate(KEYS if meter == "4/4" else KEYS[len(line_up) % 4 :: 4]):
        laid = lay_out("broken", harmony, key=key, line_up=line_up, meter=meter, tempo=60 + 15 * number)
        onsets = [note.onset for note in laid.notes]
        assert len(onsets) == len(set(onsets))
        assert {unit.start for unit in laid.scene.units} <= set(onsets)
        for note in laid.notes:
            unit = laid.scene.unit_at(note.onset)
            assert note.pitch in laid.heard(unit)
            again = [o.onset for o in laid.notes if o.pitch == note.pitch and o.onset > note.onset]
            assert note.end in {laid.chord_end(note.onset), laid.scene.units[unit].end, *again}
            assert note.end <= min([laid.chord_end(note.onset), *again])
        for one, other in combinations(laid.notes, 2):
            if one.string is not None and one.string == other.string:
                assert one.end <= other.onset or other.end <= one.onset


@pytest.mark.parametrize("meter", ["3/4", "4/4", "5/4"])
@pytest.mark.parametrize("tempo", [66.0, 132.0, 240.0])
def test_the_chord_is_told_and_the_figure_breathes(
    lay_out: Callable[..., Any], meter: str, tempo: float
) -> None:
    for seed, key in enumerate(KEYS):
        laid = lay_out("broken", PROGRESSIONS[seed % 3], key=key, meter=meter, tempo=tempo, seed=seed)
        plan = laid.scene.plan
        step = BEAT if tempo > 180 else BEAT // 2
        assert all(note.onset % step == 0 for note in laid.notes)
        for index, unit in enumerate(laid.scene.units):
            sounding = {note.pitch % 12 for note in laid.notes if unit.start <= note.onset < unit.end}
            guides = {tone.pitch_class for tone in laid.scene.chord_of(index).chord.guide_tones}
            heard = {pitch % 12 for pitch in laid.heard(index)}
            if unit.end == plan.head_tick:  # its last beat is free
                continue
            if unit.end - unit.start >= 3 * step:
                assert guides & heard <= sounding
                assert laid.heard(index)[-1] % 12 in sounding
            elif unit.end - unit.start == 2 * step:  # of two notes the top voice is one: it is a line
                assert guides & sounding or not guides & heard
                assert laid.heard(index)[-1] % 12 in sounding
        if step == BEAT // 2:
            for bar in range(plan.bars):
                assert len(sounds_in(laid, bar)) < plan.bar_ticks // step


def test_no_bar_has_the_rhythm_of_the_bar_before(lay_out: Callable[..., Any]) -> None:
    for tempo in (100.0, 220.0):
        for seed in range(12):
            laid = lay_out("broken", "Imaj7 | vi7 | ii7 | V7 | iii7 | VI7", seed=seed, tempo=tempo)
            rhythms = [
                [note.onset % (4 * BEAT) for note in sounds_in(laid, bar)] for bar in range(5)
            ]  # the last bar keeps its last beat free
            assert all(one != other for one, other in pairwise(rhythms))


@pytest.mark.parametrize("voices", [2, 3, 4, 5])
def test_each_contour_goes_up_from_the_lowest_through_all_and_never_stays(voices: int) -> None:
    shapes = [contour(voices) for contour in _CONTOURS]
    for shape in shapes:
        assert shape[0] == 0
        assert set(shape) == set(range(voices))
        assert all(one != other for one, other in pairwise([*shape, shape[0]]))
    if voices > 2:
        assert len({tuple(shape) for shape in shapes}) == len(shapes)


def test_it_gives_way_where_the_melody_moves(lay_out: Callable[..., Any]) -> None:
    """One mover: where two melody notes fall in a beat, at most one of ours does, on the beat."""
    melody = tuple(ScoreNote(onset, 480, 0, MELODY, 76) for onset in range(0, 8 * BEAT, BEAT // 2))
    for seed in range(6):
        laid = lay_out("broken", "ii7 V7 | Imaj7", melody=melody, seed=seed)
        assert laid.notes
        assert all(note.onset % BEAT == 0 for note in laid.notes)


def test_the_last_beat_and_the_pickup_are_clear(lay_out: Callable[..., Any]) -> None:
    plain = lay_out("broken", "ii7 V7 | Imaj7 | ii7 | V7")
    assert max(note.onset for note in plain.notes) < plain.scene.plan.head_tick - BEAT
    laid = lay_out("broken", "ii7 V7 | Imaj7 | ii7 | V7", pickup="3/2")
    assert max(note.end for note in laid.notes) == laid.scene.plan.head_tick - 3 * BEAT // 2
    inside = lay_out(
        "broken", "ii7 V7 | ii7 V7", pickup="2"
    )  # a chord that begins in the pickup is told once
    assert len([note for note in inside.notes if note.onset >= inside.scene.plan.head_tick - 2 * BEAT]) == 1


def test_a_seed_brings_the_same_figure_back_and_another_one_another(lay_out: Callable[..., Any]) -> None:
    made = [tuple(lay_out("broken", PROGRESSIONS[0], key="D", seed=seed).notes) for seed in (1, 1, 2, 3, 4)]
    assert made[0] == made[1]
    assert len(set(made)) == 4
