"""Light time: what is struck, where it thins, and that it stops. Patterns: common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.feel import played
from introit.arrange.feel.swing import swing_ratio, swung
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.ride import KEYS, ride_notes
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import RIDE, Score, ScoreNote
from introit.library.model import Feel, Library, Tap, TimeLine

Played = Callable[..., list[ScoreNote]]

ALL = [
    ("medium-swing", 4),
    ("up-tempo-swing", 4),
    ("slow-swing", 4),
    ("slow-swing", 3),
    ("ballad", 4),
    ("ballad", 3),
    ("bossa", 4),
    ("latin", 4),
    ("jazz-waltz", 3),
    ("five-four-swing", 5),
    ("shuffle", 4),
    ("straight-eighths", 4),
    ("straight-eighths", 3),
    ("straight-eighths", 5),
]


def counted(note: ScoreNote, beats: int) -> str:
    beat, rest = divmod(note.onset % (beats * 960), 960)
    assert rest in {0, 480}
    return f"&{beat + 1}" if rest else str(beat + 1)


@pytest.fixture(scope="module")
def scene_of(make: Any) -> Callable[..., Scene]:
    def scene(beats: int = 4, *, bars: int = 8, seed: int = 0, **fields: Any) -> Scene:
        tune = make.tune(meter=next(meter for meter in make.meters if meter.beats == beats), **fields)
        plan = plan_intro(make.intro(make.form(" | ".join(["ii7 V7"] * bars))), tune, tune.key)
        return set_scene(plan, Stage(LineUp.TRIO), seed=seed)

    return scene


@pytest.fixture(scope="module")
def struck(shipped: Library, scene_of: Callable[..., Scene]) -> Callable[..., dict[str, list[list[str]]]]:
    """Instrument to its strokes, counted, bar by bar."""

    def strokes(name: str, beats: int = 4, **fields: Any) -> dict[str, list[list[str]]]:
        scene = scene_of(beats, **fields)
        names = {key: instrument for instrument, key in KEYS.items()}
        found: dict[str, list[list[str]]] = {}
        for note in ride_notes(scene, shipped.feels[name]):
            bars = found.setdefault(names[note.pitch], [[] for _ in range(scene.plan.bars)])
            bars[note.onset // scene.plan.bar_ticks].append(counted(note, beats))
        return found

    return strokes


def test_instruments_have_their_general_midi_keys() -> None:
    """[GM-P]: side stick 37, closed hat 42, pedal hat 44, ride 51, ride bell 53."""
    assert KEYS == {"stick": 37, "closed": 42, "hat": 44, "ride": 51, "bell": 53}


def test_swing_has_the_skips_and_the_foot_on_two_and_four(struck: Any) -> None:
    bars = struck("medium-swing")
    assert bars["ride"][0] == bars["ride"][1] == ["1", "2", "&2", "3", "4", "&4"]
    assert set(map(tuple, bars["hat"])) == {("2", "4")}


def test_the_fourth_bar_differs_a_little_and_by_the_seed(struck: Any) -> None:
    fourths = set()
    for seed in range(20):
        bars = struck("medium-swing", seed=seed)["ride"]
        assert {tuple(bars[bar]) for bar in (0, 1, 2, 4, 5, 6)} == {("1", "2", "&2", "3", "4", "&4")}
        assert bars[3] != bars[0] != bars[7]
        fourths |= {tuple(bars[3]), tuple(bars[7])}
    assert len(fourths) == 3
    assert struck("medium-swing", seed=5) == struck("medium-swing", seed=5)


def test_a_waltz_has_its_foot_on_two(struck: Any) -> None:
    bars = struck("jazz-waltz", 3)
    assert bars["ride"][0] == ["1", "2", "&2", "3"]
    assert bars["hat"][0] == ["2"]


def test_five_is_three_and_two(struck: Any) -> None:
    bars = struck("five-four-swing", 5)
    assert bars["ride"][0] == ["1", "2", "&2", "3", "4", "5", "&5"]
    assert bars["hat"][0] == ["2", "5"]


def test_a_ballad_has_quarters_as_soft_as_brushes(struck: Any, shipped: Library) -> None:
    bars = struck("ballad")
    assert bars["ride"][0] == ["1", "2", "3", "4"]
    levels = shipped.feels["ballad"].velocity
    assert levels["ride"] == min(feel.velocity["ride"] for feel in shipped.feels.values()) < levels["comp"]


def test_a_bossa_has_every_eighth_and_five_strokes_of_the_stick(struck: Any) -> None:
    """3-3-4-3-3 over two bars, onsets 0 3 6 10 13 in eighths: from memory."""
    bars = struck("bossa")
    assert bars["closed"][0] == ["1", "&1", "2", "&2", "3", "&3", "4", "&4"]
    eighths = [
        bar * 8 + 2 * int(stroke[-1]) - 2 + stroke.startswith("&")
        for bar in range(2)
        for stroke in bars["stick"][bar]
    ]
    assert eighths == [0, 3, 6, 10, 13]


def test_a_shuffle_has_every_eighth_and_leans_on_two_and_four(shipped: Library, scene_of: Any) -> None:
    notes = ride_notes(scene_of(), shipped.feels["shuffle"])
    first = [note for note in notes if note.pitch == KEYS["ride"] and note.onset < 3840]
    assert [counted(note, 4) for note in first] == ["1", "&1", "2", "&2", "3", "&3", "4", "&4"]
    assert [counted(note, 4) for note in first if note.accent] == ["2", "4"]


def test_every_feel_has_light_time_in_each_of_its_meters(shipped: Library) -> None:
    assert {(feel.id, meter.beats) for feel in shipped.feels.values() for meter in feel.time} == set(ALL)
    for feel in shipped.feels.values():
        assert set(feel.time) == set(feel.meters)


@pytest.mark.parametrize(("name", "beats"), ALL)
def test_light_time_is_light_stops_at_the_head_and_strikes_nothing_twice(
    name: str, beats: int, shipped: Library, scene_of: Any
) -> None:
    for seed in range(4):
        scene = scene_of(beats, bars=5, seed=seed)
        notes = ride_notes(scene, shipped.feels[name])
        assert {note.part for note in notes} == {RIDE}
        assert len({(note.onset, note.pitch) for note in notes}) == len(notes)
        assert all(note.onset >= 0 and note.end <= scene.plan.head_tick for note in notes)
        assert all(note.harmony_tick == scene.plan.chords[scene.plan.at(note.onset)].onset for note in notes)
        assert notes == sorted(notes, key=lambda note: (note.onset, note.pitch))
        level = shipped.feels[name].velocity
        assert level["ride"] < min(level["comp"], level["bass"], level["melody"])


@pytest.mark.parametrize(("name", "beats"), ALL)
@pytest.mark.parametrize("pickup", ["1", "3/2", "3"])
def test_under_a_pickup_only_the_beats_are_struck(
    name: str, beats: int, pickup: str, shipped: Library, scene_of: Any
) -> None:
    scene = scene_of(beats, pickup=Fraction(pickup))
    free = scene_of(beats)
    clear = scene.plan.head_tick - Fraction(pickup) * 960
    feel = shipped.feels[name]
    under = [note for note in ride_notes(scene, feel) if note.onset >= clear]
    assert all(note.onset % 960 == 0 and not note.accent for note in under)
    before = [note for note in ride_notes(scene, feel) if note.onset < clear]
    assert before == [note for note in ride_notes(free, feel) if note.onset < clear]


def test_without_time_in_the_meter_nothing_is_struck(make: Any, scene_of: Any) -> None:
    other = {make.meters[1]: (TimeLine("ride", ((Tap(Fraction(0)),),)),)}
    assert ride_notes(scene_of(4), make.feel) == []
    assert ride_notes(scene_of(4), replace(make.feel, time=other)) == []
    assert len(ride_notes(scene_of(3), replace(make.feel, time=other))) == 8


def test_only_a_trio_has_light_time(plain_library: Library, make: Any, scene_of: Any) -> None:
    feel: Feel = replace(make.feel, time={make.meters[0]: (TimeLine("ride", ((Tap(Fraction(0)),),)),)})
    library = replace(plain_library, feels={feel.id: feel})
    plan = scene_of().plan
    for line_up in LineUp:
        score = arrange(plan, library, stage=Stage(line_up))
        assert any(note.part == RIDE for note in score.notes) == (line_up is LineUp.TRIO)


def test_the_skip_is_swung_as_the_ride_swings_and_is_softer(shipped: Library, scene_of: Any) -> None:
    feel = replace(shipped.feels["medium-swing"], drift_ms=0)
    scene = scene_of(tempo=140.0)
    sounding = played(Score(scene, tuple(ride_notes(scene, feel))), feel)
    ride = [note for note in sounding if note.pitch == KEYS["ride"]]
    two, skip, three = ride[1:4]
    assert (two.onset, skip.onset, three.onset) == (960, swung(1440, swing_ratio(feel, "ride", 140)), 1920)
    assert skip.velocity < min(two.velocity, three.velocity)
