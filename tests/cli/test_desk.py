"""The desk: what is asked for again is played afresh, what is ordered stays, a seed brings it all back."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from introit.arrange.arranger import ready
from introit.arrange.legal import own_channel
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.score import COMP
from introit.cli.desk import KEPT_TUNES, Desk
from introit.cli.staging import stage_for
from introit.library.model import Library, Tune
from introit.library.stage import RigGuitar
from introit.library.tune import PartSound
from introit.live.events import Ready, Refused, Request
from introit.performance import PARTS, Performance
from introit.theory.key import Key


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


def test_what_was_begun_ahead_is_what_would_have_been_answered(library: Library, tune: Tune) -> None:
    plain, ahead = (Desk((tune,), library, own_channel) for _ in range(2))
    ahead.begin(Request(0))
    assert list(ahead.answer(Request(0))) == list(plain.answer(Request(0)))
    assert answered(ahead, Request(0)) == answered(
        plain, Request(0)
    )  # once only: the next is another playing


def test_what_was_begun_ahead_does_for_nothing_else(library: Library, tune: Tune) -> None:
    desk = Desk((tune, replace(tune, id="other", key=Key.from_text("E"))), library, own_channel)
    desk.begin(Request(0))
    assert answered(desk, Request(1)).key == "E"
    desk.begin(Request(0))
    assert list(desk.take((replace(tune, tempo=150.0), None), library, say=print))
    assert answered(desk, Request(0)).tempo == 150.0


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


# --- another tempo ----------------------------------------------------------------------------------


def answers(desk: Desk, request: Request, *, afresh: bool = False) -> list[Ready]:
    found = list(desk.answer(request, afresh=afresh))
    assert all(isinstance(one, Ready) for one in found)
    return [one for one in found if isinstance(one, Ready)]


def test_a_tempo_that_is_ordered_is_that_of_every_key_from_then_on(library: Library, tune: Tune) -> None:
    desk = Desk((tune, tune), library, own_channel)
    before = answers(desk, Request(0))
    assert {one.performance.tempo for one in before} == {tune.tempo}
    ordered = answers(desk, Request(0, tempo=137.3))
    assert len(ordered) == len(before)
    assert {one.performance.tempo for one in ordered} == {137.3}
    assert {one.performance.tempo for one in answers(desk, Request(0))} == {137.3}  # as last wanted
    assert answered(desk, Request(0, 5, True)).tempo == 137.3
    assert answered(desk, Request(1)).tempo == tune.tempo


def test_a_tempo_ordered_in_another_key_brings_the_tunes_own_next(library: Library, tune: Tune) -> None:
    desk = Desk((tune,), library, own_channel)
    answers(desk, Request(0))
    first, second, *others = answers(desk, Request(0, 5, tempo=150.0))
    assert (first.performance.tonic, first.own) == (5, False)
    assert (second.performance.key, second.own) == (str(tune.key), True)
    assert {one.performance.tempo for one in (first, second, *others)} == {150.0}
    assert len(answers(desk, Request(0, 5, tempo=150.0))) == 1  # nothing new: the key alone


def test_what_is_still_to_be_arranged_at_the_tempo_before_is_dropped(library: Library, tune: Tune) -> None:
    desk = Desk((tune,), library, own_channel)
    slower = desk.answer(Request(0, tempo=130.0))
    assert isinstance(next(slower), Ready)
    assert answered(desk, Request(0, tempo=132.0)).tempo == 132
    assert list(slower) == []


def test_a_tempo_that_the_named_intro_does_not_suit_is_refused(library: Library, tune: Tune) -> None:
    desk = Desk((tune,), library, own_channel)
    low, high = library.intros[tune.intro or ""].tempo
    request = Request(0, 5, tempo=high + 2)
    assert list(desk.answer(request)) == [
        Refused(request, f"intro {tune.intro!r} suits {low:g} to {high:g} a minute, not {high + 2:g}")
    ]
    assert answered(desk, Request(0)).tempo == tune.tempo
    assert answered(desk, Request(0, tempo=high)).tempo == high


def test_a_tune_that_names_no_intro_gets_one_that_suits_the_tempo(library: Library, tune: Tune) -> None:
    desk = Desk((replace(tune, intro=None),), library, own_channel)
    usual = answered(desk, Request(0)).intro
    low, high = library.intros[usual].tempo
    ready, *_ = answers(desk, Request(0, tempo=high + 2, intro=0))
    low, high = library.intros[ready.performance.intro].tempo
    assert ready.performance.intro != usual
    assert low <= ready.performance.tempo <= high
    assert ready.intro == 0
    assert answered(desk, Request(0, tempo=tune.tempo)).intro == usual


def test_a_tempo_that_was_played_is_not_refused_afterwards(library: Library, tune: Tune) -> None:
    """The foot drove it beyond its range while it played: that is how it goes tonight."""
    desk = Desk((tune,), library, own_channel)
    _, high = library.intros[tune.intro or ""].tempo
    ready, *_ = answers(desk, Request(0, 8, False, high + 10), afresh=True)
    assert (ready.performance.intro, ready.performance.tempo) == (tune.intro, high + 10)
    assert answered(desk, Request(0, tempo=high + 8)).tempo == high + 8  # nearer
    assert isinstance(next(desk.answer(Request(0, tempo=high + 12))), Refused)


# --- another intro ----------------------------------------------------------------------------------


def test_another_intro_is_the_next_that_the_tune_names_then_one_that_suits(
    library: Library, tune: Tune
) -> None:
    named = ("one-bar", "dominant-vamp")
    desk = Desk((replace(tune, intro=named[0], more_intros=named[1:]),), library, own_channel)
    ready = [answers(desk, Request(0, intro=number))[0] for number in range(5)]
    assert [one.intro for one in ready] == list(range(5))
    names = [one.performance.intro for one in ready]
    assert tuple(names[:2]) == named
    assert len(set(names)) == 5
    again = [answers(desk, Request(0, 5, intro=number))[0] for number in range(5)]
    assert [one.performance.intro for one in again] == names
    assert [one.intro for one in again] == list(range(5))


def test_an_intro_that_is_called_for_is_that_of_every_key(library: Library, tune: Tune) -> None:
    desk = Desk((tune,), library, own_channel)
    answers(desk, Request(0))
    called = answers(desk, Request(0, 5, intro=1))
    assert {one.intro for one in called} == {1}
    assert tune.intro not in {one.performance.intro for one in called if not one.performance.minor}
    assert len(called) > 12
    assert answers(desk, Request(0))[0].intro == 1  # as it last was


def test_numbers_go_round_without_end(library: Library, tune: Tune) -> None:
    few = {name: library.intros[name] for name in (tune.intro or "", "one-bar", "dominant-vamp")}
    desk = Desk((tune,), replace(library, intros=few), own_channel)
    names = [answered(desk, Request(0, intro=number)).intro for number in range(7)]
    assert len(set(names)) == 3
    assert names == [*names[:3], *names[:3], names[0]]
    assert answers(desk, Request(0, intro=700))[0].intro == 700


def test_the_next_playing_is_the_next_in_rotation(library: Library, tune: Tune) -> None:
    named = ("one-bar", "dominant-vamp", "three-six-two-five")
    desk = Desk((replace(tune, intro=named[0], more_intros=named[1:]),), library, own_channel)
    first = answers(desk, Request(0))
    tonic, minor = first[0].performance.tonic, first[0].performance.minor
    turns = [answers(desk, Request(0, tonic, minor), afresh=True) for _ in range(4)]
    assert [turn[0].performance.intro for turn in turns] == [named[1], named[2], named[0], named[1]]
    assert [turn[0].intro for turn in turns] == [1, 2, 0, 1]
    assert all(len(turn) == len(first) for turn in turns)  # a key note costs a look-up then, too


def test_a_tune_with_one_intro_is_played_afresh_with_it(library: Library, tune: Tune) -> None:
    desk = Desk((tune,), library, own_channel)
    first = answers(desk, Request(0))[0].performance
    (again,) = answers(desk, Request(0, first.tonic, first.minor), afresh=True)
    assert (again.performance.intro, again.intro) == (tune.intro, 0)
    assert pitches_of(again.performance) != pitches_of(first)


def test_a_number_that_no_tune_has_is_refused(library: Library, tune: Tune) -> None:
    desk = Desk((tune,), library, own_channel)
    for number in (1, -1):
        assert isinstance(next(desk.answer(Request(number))), Refused)


def test_what_a_tune_sounds_like_goes_with_it_as_the_wire_counts(library: Library, tune: Tune) -> None:
    sounds = (PartSound("melody", 27, 90), PartSound("comp", 1), PartSound("bass", None, 70))
    desk = Desk((replace(tune, sounds=sounds), tune), library, own_channel)
    asked = {
        (PARTS[sound.part], sound.program, sound.level) for sound in answered(desk, Request(0, 5)).sounds
    }
    assert asked == {("melody", 26, 90), ("comp", 0, None), ("bass", None, 70)}
    assert answered(desk, Request(1)).sounds == ()


# --- the stage --------------------------------------------------------------------------------------


def test_the_stage_is_the_tunes_line_up_else_the_rigs(library: Library, tune: Tune) -> None:
    rig = replace(
        library.rigs["default"], line_up="trio", guitar=RigGuitar((38, 45, 50, 55, 59, 64), 2, 18, "pick")
    )
    assert stage_for(tune) == Stage(LineUp.WITH_KEYS)
    assert stage_for(tune, rig).line_up is LineUp.TRIO
    assert stage_for(replace(tune, line_up="solo guitar"), rig).line_up is LineUp.SOLO_GUITAR
    neck = stage_for(tune, rig).fretboard
    assert (neck.open_pitches[0], neck.frets, stage_for(tune, rig).plucking) == (40, 16, "pick")


def test_what_was_arranged_long_ago_is_let_go_and_what_is_left_plays_on(library: Library, tune: Tune) -> None:
    """An evening of many tunes holds no more than its last few."""
    many = tuple(replace(tune, title=f"Tune {number}") for number in range(KEPT_TUNES + 3))
    desk = Desk(many, library, lambda part: (0, part))
    for number in range(len(many)):
        assert len(list(desk.answer(Request(number)))) == 24
    held = {number for number, _ in desk._arranged}
    assert held == set(range(3, len(many)))
    changed = tuple(replace(one, tempo=one.tempo + 10) for one in many)
    told = list(desk.take(changed, library, say=lambda text: None))
    assert {ready.tune for ready in told} == set(range(len(many))), "the player may hold any of them"
    assert {number for number, _ in desk._arranged} == held
    (first, *_) = desk.answer(Request(0))
    assert isinstance(first, Ready)
