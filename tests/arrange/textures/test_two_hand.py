"""Two-hand: a low shell, a line that rises in pairs over it, and the bass that answers, in this order.

Shells are root, third and seventh ([SH1], [SH2]); that a bass line leads to the next root by step or
half step: [BW3]. The order of the three is the texture's own (no source).
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.score import BASS, COMP, MELODY, ScoreNote
from introit.arrange.textures.members import members
from introit.library.model import Melody, Passage, PedalPoint

KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
BEAT, BAR = 960, 3840
FORMS = ("ii9 | V13 | Imaj9 | H", "Imaj9 vi7 | ii9 V7 | iii7 VI7 | ii7 H")
THIRDS_FOURTHS_SIXTHS = {3, 4, 5, 8, 9}

LayOut = Callable[..., Any]


def of_part(notes: list[ScoreNote], part: int, start: int, end: int) -> list[ScoreNote]:
    return sorted(note for note in notes if note.part == part and start <= note.onset < end)


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("line_up", ["with keys", "with bass", "solo guitar"])
@pytest.mark.parametrize("form", FORMS)
def test_shell_then_rising_line_then_bass(lay_out: LayOut, key: str, line_up: str, form: str) -> None:
    played = lay_out("two-hand", form, key=key, line_up=line_up)
    for start in range(0, 3 * BAR, BAR):
        line = of_part(played.notes, MELODY, start, start + BAR)
        bass = of_part(played.notes, BASS, start, start + BAR)
        comp = of_part(played.notes, COMP, start, start + BAR)
        shell = [note for note in comp if note.onset == start]
        assert len(line) >= 2
        assert all(early.pitch < late.pitch for early, late in pairwise(line))
        assert bass[0].onset == start
        assert start < line[0].onset
        assert line[-1].end <= bass[-1].onset
        assert 2 <= len(shell) <= 3
        pairs = [note for note in comp if note.onset in {one.onset for one in line}]
        assert max(note.pitch for note in shell) < min(note.pitch for note in pairs)
        assert bass[0].pitch < min(note.pitch for note in shell)
        assert line[0].pitch >= 64


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("form", FORMS)
def test_pairs_are_chord_members_a_third_a_fourth_or_a_sixth_apart(
    lay_out: LayOut, key: str, form: str
) -> None:
    for seed in range(3):
        played = lay_out("two-hand", form, key=key, line_up="with keys", seed=seed)
        for note in of_part(played.notes, MELODY, 0, 4 * BAR):
            (joined,) = (
                other
                for other in of_part(played.notes, COMP, note.onset, note.onset + 1)
                if other.end == note.end
            )
            inside = members(played.scene.chord_of(played.scene.unit_at(note.onset)).chord)
            assert note.pitch - joined.pitch in THIRDS_FOURTHS_SIXTHS
            assert {note.pitch % 12, joined.pitch % 12} <= set(inside)


@pytest.mark.parametrize("key", KEYS)
def test_shells_hold_root_and_guide_tones(lay_out: LayOut, key: str) -> None:
    played = lay_out("two-hand", FORMS[0], key=key, line_up="with keys")
    for unit in range(3):
        chord = played.scene.chord_of(unit).chord
        start = played.scene.units[unit].start
        shell = {note.pitch % 12 for note in of_part(played.notes, COMP, start, start + 1)}
        assert shell <= {chord.root.pitch_class, *(tone.pitch_class for tone in chord.guide_tones)}


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("line_up", ["with keys", "solo guitar"])
def test_the_bass_has_the_root_on_the_change_and_steps_into_the_next(
    lay_out: LayOut, key: str, line_up: str
) -> None:
    for seed in range(4):
        played = lay_out("two-hand", FORMS[0], key=key, line_up=line_up, seed=seed)
        for unit in range(3):
            here = played.scene.units[unit]
            bass = of_part(played.notes, BASS, here.start, here.end)
            (root,) = (note for note in played.notes if note.part == BASS and note.onset == here.end)
            assert bass[0].pitch % 12 == played.scene.chord_of(unit).chord.bass.pitch_class
            answer = [note for note in bass[1:] if note.onset >= here.end - 2 * BEAT]
            assert 1 <= len(answer) <= 3
            assert abs(answer[-1].pitch - root.pitch) in {1, 2}
            assert all(early.pitch != late.pitch for early, late in pairwise([*bass, root]))


def test_when_it_is_fast_a_gesture_takes_two_bars_in_quarters(lay_out: LayOut) -> None:
    played = lay_out("two-hand", "ii9 | ii9 | V13 | Imaj9 | ii7 | H", line_up="with keys", tempo=240.0)
    onsets = [note.onset for note in played.notes]
    assert all(onset % BEAT == 0 for onset in onsets)
    line = of_part(played.notes, MELODY, 0, 2 * BAR)
    bass = of_part(played.notes, BASS, 0, 2 * BAR)
    assert line[0].onset < BAR <= line[-1].onset
    assert bass[-1].onset >= line[-1].end


def test_the_answer_and_the_line_differ_from_playing_to_playing(lay_out: LayOut) -> None:
    played = [lay_out("two-hand", FORMS[0], line_up="with keys", seed=seed).notes for seed in range(6)]
    assert len({tuple(sorted(notes)) for notes in played}) > 2
    again = lay_out("two-hand", FORMS[0], line_up="with keys", seed=3).notes
    assert again == played[3]


@pytest.mark.parametrize("line_up", ["with keys", "solo guitar"])
def test_the_last_bar_has_no_line_and_a_hit_that_sets_up_the_head(lay_out: LayOut, line_up: str) -> None:
    played = lay_out("two-hand", FORMS[0], line_up=line_up)
    assert of_part(played.notes, MELODY, 3 * BAR, 4 * BAR) == []
    last = max(note.onset for note in played.notes if note.part == COMP)
    assert last == 4 * BAR - BEAT


def test_a_pedal_point_keeps_the_bass_to_itself(make: Any, plain_shelf: Any) -> None:
    intro = make.intro(
        make.form("ii7 | V7 | ii7 | H"),
        passages=(Passage(1, "two-hand"),),
        pedal=PedalPoint("5"),
        melody=Melody("none"),
    )
    tune = make.tune("C")
    score = arrange(plan_intro(intro, tune, tune.key), plain_shelf)
    assert not [note for note in score.notes if note.part == BASS]


@pytest.mark.parametrize("key", ["C", "Eb", "A"])
def test_a_guitar_alone_sounds_the_pedal_point_where_each_bar_begins(
    make: Any, plain_shelf: Any, key: str
) -> None:
    intro = make.intro(
        make.form("ii7 | Imaj7 | ii7 | V7"),
        passages=(Passage(1, "two-hand"),),
        pedal=PedalPoint("5"),
        melody=Melody("none"),
    )
    tune = make.tune(key)
    score = arrange(plan_intro(intro, tune, tune.key), plain_shelf, stage=Stage(LineUp.SOLO_GUITAR))
    bass = [note for note in score.notes if note.part == BASS]
    assert [note.onset for note in bass if not note.onset % BAR] == [0, BAR, 2 * BAR, 3 * BAR]
    fifth = (tune.key.tonic.pitch_class + 7) % 12
    assert {note.pitch % 12 for note in bass} == {fifth}  # and no answer walks away from it
