"""The desk: what is asked for again is played afresh, and a seed brings an evening back."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from introit.arrange.arranger import ready
from introit.arrange.legal import own_channel
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.score import COMP
from introit.cli.desk import Desk
from introit.cli.options import stage_for
from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.library.model import Library, Tune
from introit.library.stage import RigGuitar
from introit.live.events import Ready, Request
from introit.performance import Performance
from introit.theory.key import Key


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library(content_roots()[:1])[0]


@pytest.fixture(scope="module")
def tune(library: Library) -> Tune:
    return replace(library.tunes["late-bus-to-orrin"], first_note=None)


def answered(desk: Desk, request: Request) -> Performance:
    answer = next(desk.answer(request))
    assert isinstance(answer, Ready)
    return answer.performance


def pitches_of(performance: Performance) -> list[int]:
    """The comp's notes without their times, which drift a little in every playing."""
    return [note.pitch for note in performance.notes if note.part == COMP]


def test_a_tune_asked_for_again_is_played_afresh_over_the_same_harmony(library: Library, tune: Tune) -> None:
    desk = Desk((tune,), library, own_channel)
    playings = [answered(desk, Request(0)) for _ in range(4)]
    assert len({tuple(pitches_of(playing)) for playing in playings}) == 4
    assert len({playing.chords for playing in playings}) == 1


def test_no_playing_has_the_comp_of_the_one_before(library: Library, tune: Tune) -> None:
    """Four strums a bar are the same in every playing: only the grips can differ, and few of them can."""
    steady = replace(tune, key=Key.from_text("G"), feel="slow-swing", intro="the-fifth-climbs")
    by_seed = [ready(steady, steady.key, library, seed=seed) for seed in range(12)]
    assert any(pitches_of(one) == pitches_of(other) for one, other in pairwise(by_seed))
    desk = Desk((steady,), library, own_channel)
    playings = [answered(desk, Request(0)) for _ in range(12)]
    assert all(pitches_of(one) != pitches_of(other) for one, other in pairwise(playings))
    again = Desk((steady,), library, own_channel)
    assert [answered(again, Request(0)) for _ in range(12)] == playings


def test_a_seed_brings_the_playings_back_and_another_one_does_not(library: Library, tune: Tune) -> None:
    def evening(seed: int) -> list[Performance]:
        desk = Desk((tune, tune), library, own_channel, seed=seed)
        return [answered(desk, request) for request in (Request(0), Request(1), Request(0), Request(0, 5))]

    assert evening(3) == evening(3)
    assert evening(3) != evening(4)


def test_the_first_playing_is_what_the_same_seed_writes_to_a_file(library: Library, tune: Tune) -> None:
    desk = Desk((tune,), library, own_channel, seed=12)
    assert answered(desk, Request(0)) == ready(tune, tune.key, library, seed=12)


def test_the_keys_around_are_arranged_once(library: Library, tune: Tune) -> None:
    desk = Desk((tune,), library, own_channel)
    first = [answer.performance for answer in desk.answer(Request(0)) if isinstance(answer, Ready)]
    again = [answer.performance for answer in desk.answer(Request(0)) if isinstance(answer, Ready)]
    assert len(first) == len(again) >= 12
    assert all(one is other for one, other in zip(first[1:], again[1:], strict=True))


def test_the_stage_is_the_tunes_line_up_else_the_rigs(library: Library, tune: Tune) -> None:
    rig = replace(
        library.rigs["default"], line_up="trio", guitar=RigGuitar((38, 45, 50, 55, 59, 64), 2, 18, "pick")
    )
    assert stage_for(tune) == Stage(LineUp.WITH_KEYS)
    assert stage_for(tune, rig).line_up is LineUp.TRIO
    assert stage_for(replace(tune, line_up="solo guitar"), rig).line_up is LineUp.SOLO_GUITAR
    neck = stage_for(tune, rig).fretboard
    assert (neck.open_pitches[0], neck.frets, stage_for(tune, rig).plucking) == (40, 16, "pick")
