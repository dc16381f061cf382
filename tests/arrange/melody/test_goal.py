"""The tune's first melody note: the melody leads to it by step and never doubles it."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.melody import melody_limit, write_melody
from introit.arrange.plan import plan_intro
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import COMP, MELODY, ScoreNote
from introit.errors import NotationError
from introit.library.model import Library, Melody, Passage
from introit.theory.key import Mode, keys
from introit.theory.meter import Meter

HARMONY = {
    Mode.MAJOR: "Imaj9 VI7 | ii9 V13 | iii7 VI7 | ii9 V7",
    Mode.MINOR: "i6/9 viø7 | iiø7 V7alt | i6 | V7alt",
}
# Semitones of a degree over the tonic, counted from the major scale in minor too: written out.
DEGREES = {"1": 0, "2": 2, "b3": 3, "3": 4, "#4": 6, "5": 7, "b6": 8, "6": 9, "7": 11}


def led_to(scene: Scene, notes: list[ScoreNote], degree: str, pickup: str) -> None:
    plan = scene.plan
    enters = plan.head_tick - Fraction(pickup) * 960
    pitch_class = (plan.key.tonic.pitch_class + DEGREES[degree]) % 12
    last = notes[-1]
    assert last.end == enters
    goals = [
        pitch for pitch in range(40, 100) if pitch % 12 == pitch_class and 1 <= abs(pitch - last.pitch) <= 2
    ]
    assert len(goals) == 1
    near = [note for note in notes if note.end > enters - 2 * 960]
    assert goals[0] not in {note.pitch for note in near}
    assert all(note.end <= plan.head_tick for note in notes)  # nor at the landing


@pytest.mark.parametrize("mode", Mode)
@pytest.mark.parametrize("pickup", ["0", "1/2", "1", "3/2", "2", "3"])
def test_the_line_leads_to_it_in_every_key(mode: Mode, pickup: str, melodies: Any) -> None:
    for number, key in enumerate(keys(mode)):
        for degree in list(DEGREES)[number % 3 :: 3]:
            for line_up in ("with keys", "solo guitar")[number % 2 :: 2]:
                scene = melodies.scene(
                    HARMONY[mode], key=str(key), pickup=Fraction(pickup), first_note=degree, line_up=line_up
                )
                notes = write_melody(scene)
                led_to(scene, notes, degree, pickup)
                assert sum(note.length for note in notes) <= 0.65 * scene.plan.head_tick
                before, last = notes[-2:]
                assert before.end == last.onset
                assert 1 <= abs(before.pitch - last.pitch) <= 2


def test_every_shipped_intro_leads_to_it(melodies: Any) -> None:
    count = 0
    for style in ("line", "motif"):
        for degree, pickup in (("5", "0"), ("3", "3/2")):
            scenes = melodies.library(style, ("Ab",), (150.0,), first_note=degree, pickup=Fraction(pickup))
            for scene in scenes:
                led_to(scene, write_melody(scene), degree, pickup)
                count += 1
    assert count > 150


SINGING = ("two-hand", "harmonised arpeggio", "call and response")


def test_a_texture_that_sings_at_the_end_has_no_line_beside_it_but_the_way_there(make: Any) -> None:
    """The texture has the melody there, so that the line ends before it; its last bar is left to the way."""
    for texture in SINGING:
        passages = (Passage(1, "block"), Passage(3, texture))
        intro = make.intro(make.form(HARMONY[Mode.MAJOR]), passages=passages)
        for first_note in ("5", None):
            tune = make.tune("Ab", first_note=first_note)
            scene = set_scene(plan_intro(intro, tune, tune.key), Stage(), seed=0)
            notes = write_melody(scene)
            line = notes if first_note is None else notes[:-2]
            assert max(note.onset for note in line) < 2 * 3840
            if first_note:
                led_to(scene, notes, first_note, "0")


@pytest.mark.parametrize("texture", SINGING)
@pytest.mark.parametrize("meter", ["3/4", "4/4", "5/4"])
def test_what_a_texture_sings_is_led_on_to_it(make: Any, shipped: Library, texture: str, meter: str) -> None:
    """A beat of rest before it, the comp a third under it, and the last bar's chord is heard all the same."""
    feel = {"3/4": "jazz-waltz", "4/4": "medium-swing", "5/4": "five-four-swing"}[meter]
    passages, melody = (Passage(1, texture),), Melody("none")
    for key, pickup, line_up in (
        ("Ab", "0", LineUp.WITH_KEYS),
        ("D", "1", LineUp.WITH_BASS),
        ("F", "0", LineUp.SOLO_GUITAR),
    ):
        tune = make.tune(
            key, meter=Meter.from_text(meter), feel=feel, first_note="3", pickup=Fraction(pickup)
        )
        intro = make.intro(make.form("ii9 | V13 | Imaj9 vi9 | ii9 V13"), passages=passages, melody=melody)
        score = arrange(plan_intro(intro, tune, tune.key), shipped, stage=Stage(line_up))
        sung = sorted(note for note in score.notes if note.part == MELODY)
        led_to(score.scene, sung, "3", pickup)
        way = sung[-2:]
        assert way[0].onset - sung[-3].end >= 960
        comp = [note for note in score.notes if note.part == COMP and note.onset < way[-1].end]
        over = [note for note in comp if note.end > way[0].onset]
        assert all(note.pitch <= min(one.pitch for one in way) for note in over)
        last_bar = score.plan.head_tick - score.plan.bar_ticks
        assert any(note.onset >= last_bar for note in comp)


def test_a_motif_hands_over_to_it(melodies: Any) -> None:
    riff = Melody("motif", melodies.motif("0 5 1/2, 1/2 3 1/2, 1 5 1"), bars=(1, 2, 3, 4))
    plain = write_melody(melodies.scene(HARMONY[Mode.MAJOR], riff))
    scene = melodies.scene(HARMONY[Mode.MAJOR], riff, first_note="1")
    notes = write_melody(scene)
    assert plain[-1].end <= melody_limit(scene.plan) < notes[-1].end
    assert [note.onset for note in notes[-2:]] == [scene.plan.head_tick - 1440, scene.plan.head_tick - 960]
    led_to(scene, notes, "1", "0")


def test_no_melody_leads_nowhere(melodies: Any) -> None:
    assert write_melody(melodies.scene(HARMONY[Mode.MAJOR], Melody("none"), first_note="5")) == []


def test_what_is_no_degree_is_refused(melodies: Any) -> None:
    with pytest.raises(NotationError, match="degree"):
        write_melody(melodies.scene(HARMONY[Mode.MAJOR], first_note="x"))
