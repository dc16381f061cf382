"""The intro's highest note in the lines that a texture brings: once, late, and over all that is heard.

That it falls between 60 and 85 percent of the length is common practice (no source).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.score import COMP, MELODY, Score
from introit.arrange.textures.crown import Crown, crowned, places_in
from introit.library.model import Library, Melody, Passage
from introit.theory.meter import Meter

KEYS = ("C", "Eb", "A")
BEAT = 960
FORM = "ii9 | V13 | Imaj9 | H"
TURNS = "IVmaj9 iv6 | iii7 VI7 | ii9 V13 | Imaj9 H"
PEDAL = "V7sus4 | V13 | V7sus4 | V7alt"
TEMPI = (70.0, 132.0, 230.0)
G5 = 79

LayOut = Callable[..., Any]


def peak_of(score: Score) -> tuple[float, int]:
    """Where the highest note of melody and comp first comes, as a share, and in how many chords it comes."""
    head = score.plan.head_tick
    upper = [note for note in score.notes if note.part in (MELODY, COMP) and note.onset < head]
    top = max(note.pitch for note in upper)
    peaks = [note for note in upper if note.pitch == top]
    return min(note.onset for note in peaks) / head, len({note.harmony_tick for note in peaks})


@pytest.mark.parametrize("texture", ["two-hand", "harmonised arpeggio", "call and response"])
@pytest.mark.parametrize("line_up", [LineUp.WITH_KEYS, LineUp.WITH_BASS, LineUp.SOLO_GUITAR])
@pytest.mark.parametrize("meter", ["3/4", "4/4", "5/4"])
def test_the_highest_note_comes_once_and_late(
    make: Any, shipped: Library, texture: str, line_up: LineUp, meter: str
) -> None:
    passages = (Passage(1, texture), *([] if texture.startswith("call") else [Passage(-1, "block")]))
    cut_short = texture == "two-hand" and line_up is LineUp.SOLO_GUITAR  # one hand's line ends at a change
    feel = {"3/4": "jazz-waltz", "4/4": "medium-swing", "5/4": "five-four-swing"}[meter]
    for number, key in enumerate(KEYS):
        for form in (FORM, PEDAL) if cut_short else (FORM, PEDAL, TURNS):
            tune = make.tune(key, meter=Meter.from_text(meter), tempo=TEMPI[number], feel=feel)
            intro = make.intro(make.form(form), passages=passages, melody=Melody("none"))
            score = arrange(plan_intro(intro, tune, tune.key), shipped, stage=Stage(line_up))
            at, chords = peak_of(score)
            assert 0.60 <= at <= 0.85, (key, form, at)
            assert chords == 1, (key, form)


def test_a_line_rises_over_the_comp_of_the_bars_before_it(make: Any, shipped: Library) -> None:
    for texture in ("two-hand", "harmonised arpeggio", "call and response"):
        for key in KEYS:
            tune = make.tune(key, feel="medium-swing")
            passages = (Passage(1, "block"), Passage(5, texture))
            intro = make.intro(make.form(f"{TURNS} | {FORM}"), passages=passages, melody=Melody("none"))
            score = arrange(plan_intro(intro, tune, tune.key), shipped)
            upper = [note for note in score.notes if note.part in (MELODY, COMP)]
            highest = max(upper, key=lambda note: note.pitch)
            assert highest.part == MELODY
            assert max(note.pitch for note in upper if note.part == COMP) < highest.pitch


def test_which_line_has_it(lay_out: LayOut) -> None:
    """Of eight bars in four, the one in bar 6, where the middle of its place lies; none of the first half."""
    scene = lay_out("block", f"{FORM} | {FORM}").scene
    lines = [[bar * 4 * BEAT + BEAT, bar * 4 * BEAT + 2 * BEAT] for bar in range(8)]
    assert crowned(scene, lines) == 5
    assert crowned(scene, lines[:4]) == -1
    assert crowned(scene, []) == -1
    assert places_in(scene.plan, [int(0.59 * 32) * BEAT, 20 * BEAT, 27 * BEAT, 28 * BEAT]) == (
        False,
        True,
        True,
        False,
    )


def test_a_short_intro_has_no_room_for_it(lay_out: LayOut) -> None:
    scene = lay_out("block", "ii9 | V13").scene
    assert crowned(scene, [[5 * BEAT, 6 * BEAT]]) == -1


def test_what_a_line_with_it_must_do() -> None:
    crown = Crown(over=74, places=(False, True, True), chords=(0, 1, 2))
    assert crown.suits([70, 76, 72])
    assert crown.suits([70, 72, 75])
    assert not crown.suits([76, 72, 70])  # too early
    assert not crown.suits([76, 72, 76])  # and no less so for coming again
    assert not crown.suits([70, 76, 76])  # in two chords
    assert crown._replace(chords=(0, 1, 1)).suits([70, 76, 76])
    assert not crown.suits([70, 74, 72])  # not over what is heard


def test_no_run_climbs_over_a_high_motif(make: Any, shipped: Library) -> None:
    """A motif's top returns with it; a run over one at Bb5 would leave the neck (Ab5 with C6 has no grip)."""
    for key in ("Bb", *KEYS):
        intro, stage = shipped.intros["substitute-turnaround"], Stage(LineUp.WITH_BASS)
        tune = make.tune(key, tempo=125.0, feel="straight-eighths")
        score = arrange(plan_intro(intro, tune, tune.key), shipped, stage=stage)
        run = [note for note in score.notes if note.part in (MELODY, COMP) and note.harmony_tick == 8 * BEAT]
        sung = [note.pitch for note in score.notes if note.part == MELODY and note.onset < 8 * BEAT]
        assert run
        assert all(note.fret is not None for note in run), key
        assert max(note.pitch for note in run) <= max(G5, *sung), key
