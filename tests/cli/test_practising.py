"""The practice room at work, on a clock of its own: what is sent to the player, told, and kept."""

from __future__ import annotations

import copy
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from introit.cli.practising import Ended, Practising
from introit.library.model import Tune
from introit.live.events import Following, FrontEvent, Ready, Refused, Request, Shown
from introit.live.states import Gesture
from introit.performance import Performance
from introit.practice.passes import Outcome, Pass
from introit.testing.sketch import sketch
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.units import NS_PER_MS, TICKS_PER_QUARTER

MS = NS_PER_MS
BEAT = 500
"""Milliseconds at 120."""
BAR = 4 * BEAT
EVENING = datetime(2026, 12, 1, 19, 30, tzinfo=UTC)
C = Key.from_text("C")
FIRST = Pass(1, 0, "sketch", C, 120)
OTHER_CLOCK = 74_000_000_000_000_123
"""The player's clock is not the front's."""
TUNE = Tune("sketch", "A Sketch", C, Meter.from_text("4/4"), 120, "medium-swing", Numeral.from_text("I"))
LANDED = 10_000 + 2 * BAR


class Ladder:
    """A room: each marked pass goes up by a quarter note a minute; four passes."""

    def __init__(self) -> None:
        self.one = FIRST
        self.given: list[Outcome] = []

    def twin(self) -> Ladder:
        return copy.copy(self)

    def first(self) -> Pass:
        return self.one

    def next(self, outcome: Outcome) -> Pass | None:
        self.given.append(outcome)
        if self.one.number == 4:
            return None
        up = bool(outcome.marks)
        self.one = replace(self.one, number=self.one.number + 1, tempo=self.one.tempo + up)
        return self.one

    def clean(self, outcome: Outcome) -> bool | None:
        return True if outcome.marks else None

    def said(self) -> str:
        return "said"

    def sentence(self, one: Pass) -> str:
        return f"{one.key}, {one.tempo:g}"


@dataclass
class Place:
    """A player that only remembers, and a clock that is set by hand; times are milliseconds.

    Like the real one it takes what follows as a rest ends, or is stopped in, and tells which pass that is.
    """

    now: int = 0

    def __post_init__(self) -> None:
        self.sent: list[Following] = []
        self.stopped: list[str] = []
        self.lines: list[str] = []
        self.kept: list[Ended] = []
        self.state, self.number, self.deaf = "ready", 1, False
        room: Any = Ladder()
        self.room = Practising(
            room,
            _made,
            say=self.lines.append,
            keep=self.kept.append,
            ahead=lambda: 50 * MS,
            press="clean",
            tunes=[TUNE],
            clock=lambda: self.now * MS,
            wall=lambda: EVENING + timedelta(milliseconds=self.now),
        )

    def send(self, event: FrontEvent) -> None:
        assert isinstance(event, Following)
        self.sent.append(event)
        if self.state == "ready" and event.performance is not None:
            self.number = event.number

    def stop(self, reason: str) -> None:
        self.stopped.append(reason)

    def shows(self, ms: int, state: str, what: str = "state") -> None:
        self.now = ms
        rested = self.state == "resting" and state in ("practising", "ready")
        if rested and not self.deaf and self.sent[-1].performance is not None:
            self.number = self.sent[-1].performance.number
        self.state = state
        self.room.show(Shown(ms * MS + OTHER_CLOCK, state, what, number=self.number), self)

    def plays(self, begins: int = 10_000) -> None:
        """A pass of two bars begins, and lands."""
        self.shows(begins, "practising")
        self.shows(begins + 2 * BAR, "resting")


def _made(one: Pass) -> Performance:
    return replace(sketch(one.key.tonic.pitch_class, tempo=one.tempo), rest=4 * TICKS_PER_QUARTER)


@pytest.fixture
def place() -> Place:
    return Place()


def tempi(place: Place) -> list[tuple[int, float | None]]:
    return [(one.number, one.performance and one.performance.tempo) for one in place.sent]


def test_what_follows_is_sent_as_a_pass_lands(place: Place) -> None:
    place.plays()
    assert tempi(place) == [(2, 120)]
    assert place.lines[0] == "1: C, 120 - press: clean; hold: stop"


@pytest.mark.parametrize(("at", "ticks"), [(10_000, 0), (10_250, 480), (10_000 + 2 * BAR - 1, 7678)])
def test_a_press_while_it_plays_counts(place: Place, at: int, ticks: int) -> None:
    place.shows(10_000, "practising")
    place.shows(at, "practising", "mark")
    place.shows(LANDED, "resting")
    assert tempi(place) == [(2, 121)]
    place.shows(LANDED + BAR, "practising")
    assert place.kept[0].clean is True


LAST = LANDED + BAR - BEAT - 50 - 100


@pytest.mark.parametrize("at", [LANDED, LANDED + 700, LAST - 1])
def test_a_press_in_the_rest_counts_for_what_has_landed(place: Place, at: int) -> None:
    """Until a beat, the ports' lookahead and a tenth of a second before the next pass begins."""
    place.plays()
    place.shows(at, "resting", "mark")
    assert tempi(place) == [(2, 120), (2, 121)]
    place.shows(LANDED + BAR, "practising")
    assert place.lines[-1] == "2: C, 121"
    assert place.kept[0].clean is True


def test_after_that_it_is_told_to_be_too_late(place: Place) -> None:
    place.plays()
    place.shows(LAST, "resting", "mark")
    assert tempi(place) == [(2, 120)]
    assert "too late for pass 1" in place.lines[-1]
    place.shows(LANDED + BAR, "practising")
    assert [(ended.one.number, ended.clean) for ended in place.kept] == [(1, None)]


def test_a_press_too_many_is_one_outcome_with_two_marks(place: Place) -> None:
    place.plays()
    for at in (LANDED + 100, LANDED + 200):
        place.shows(at, "resting", "mark")
    assert tempi(place) == [(2, 120), (2, 121), (2, 121)]  # the room is asked anew, from where it was


def test_passes_are_kept_once_with_what_they_took(place: Place) -> None:
    for number in range(3):
        place.plays(10_000 + number * 3 * BAR)
    place.shows(10_000 + 9 * BAR, "practising")
    assert [ended.one.number for ended in place.kept] == [1, 2, 3]
    assert [ended.seconds for ended in place.kept] == [2 * BAR / 1_000] * 3
    begun = [(ended.began - EVENING).total_seconds() for ended in place.kept]
    assert begun == [10 + number * 3 * BAR / 1_000 for number in range(3)]
    place.room.close()
    assert [ended.one.number for ended in place.kept] == [1, 2, 3]


def test_when_nothing_follows_it_is_over(place: Place) -> None:
    for number in range(4):
        place.plays(10_000 + number * 3 * BAR)
    assert tempi(place) == [(2, 120), (3, 120), (4, 120), (5, None)]
    place.shows(10_000 + 12 * BAR, "ready")
    assert place.stopped == ["the practice is over"]
    place.room.close()
    assert [ended.one.number for ended in place.kept] == [1, 2, 3, 4]


def test_a_pass_that_is_stopped_is_not_kept_and_comes_again(place: Place) -> None:
    place.plays()
    place.shows(LANDED + BAR, "practising")
    place.shows(LANDED + BAR + 700, "practising", "mark")
    place.shows(LANDED + BAR + 900, "ready")
    assert [ended.one.number for ended in place.kept] == [1]
    assert place.lines[-1] == "stopped; press: the same again"
    place.plays(60_000)
    assert place.lines[-1] == "2: C, 120"
    assert tempi(place) == [(2, 120), (3, 120)]  # what was marked before the stop is forgotten
    assert place.stopped == []


def test_a_stop_in_the_rest_keeps_what_has_landed_and_goes_on_from_there(place: Place) -> None:
    place.shows(10_000, "practising")
    place.shows(10_700, "practising", "mark")
    place.shows(LANDED, "resting")
    place.shows(LANDED + 500, "ready")
    assert [(ended.one.number, ended.clean) for ended in place.kept] == [(1, True)]
    assert place.lines[-1] == "stopped; press: C, 121"
    place.plays(60_000)
    assert "2: C, 121" in place.lines
    place.shows(60_000 + 3 * BAR, "practising")
    assert [ended.one.number for ended in place.kept] == [1, 2]
    assert place.lines[-1].startswith("3:")


def test_the_press_that_began_the_hold_says_nothing_of_what_has_landed(place: Place) -> None:
    place.plays()
    place.shows(LANDED + 100, "resting", "mark")
    place.shows(LANDED + 600, "ready")
    assert [ended.clean for ended in place.kept] == [None]
    assert tempi(place) == [(2, 120), (2, 121), (2, 120)]
    assert place.lines[-1] == 'stopped, "clean" taken back; press: C, 120'


def test_the_player_says_which_pass_has_begun(place: Place) -> None:
    """One that had not heard in time what follows plays the same again; it is told, kept and gone on from."""
    place.plays()
    place.deaf = True
    place.shows(LANDED + BAR, "practising")
    assert place.lines[-1].startswith("1: C, 120")
    place.deaf = False
    place.shows(LANDED + 3 * BAR, "resting")
    place.shows(LANDED + 4 * BAR, "practising")
    assert [ended.one.number for ended in place.kept] == [1, 1]
    assert place.lines[-1] == "2: C, 120"


def test_what_came_of_a_pass_is_said_once_and_ahead_where_there_is_a_lead_in(place: Place) -> None:
    place.plays()
    for beat in (1, 2):
        place.shows(LANDED + BAR + beat * BEAT, "resting", "beat")
        assert place.lines.count("  said") == 1
    place.shows(LANDED + 2 * BAR, "practising")
    assert place.lines.count("  said") == 1
    place.shows(LANDED + 4 * BAR, "resting")
    place.shows(LANDED + 5 * BAR, "practising")
    assert place.lines.count("  said") == 2


def test_a_press_in_the_last_rest_counts_at_its_natural_end(place: Place) -> None:
    for number in range(4):
        place.plays(10_000 + number * 3 * BAR)
    end = 10_000 + 12 * BAR
    place.shows(end - 700, "resting", "mark")
    place.shows(end - BEAT, "ready")
    assert [ended.clean for ended in place.kept] == [None, None, None, True]
    assert place.stopped == ["the practice is over"]


def test_a_new_player_gets_what_comes_next(place: Place) -> None:
    """It tells no state when it is there, but the key that is ready, by another clock."""
    place.shows(10_000, "practising")
    place.shows(10_700, "practising", "mark")
    place.shows(LANDED, "resting")
    place.now = LANDED + 1_500
    place.room.show(Shown(5 * MS, "ready", "key"), place)
    assert place.lines[-1] == "stopped; press: C, 121"
    assert [(ended.one.number, ended.began) for ended in place.kept] == [
        (1, EVENING + timedelta(milliseconds=10_000))
    ]
    assert tempi(place)[-1] == (2, 121)  # whatever it had been given as it began
    (ready,) = place.room.answer(Request(0))
    assert isinstance(ready, Ready)
    assert (ready.performance.tempo, ready.performance.number) == (121, 2)
    place.room.show(Shown(900 * MS, "practising", "state", number=2), place)
    assert place.lines[-1].startswith("2: C, 121")


def test_another_key_is_refused(place: Place) -> None:
    (refused,) = place.room.answer(Request(0, tonic=3))
    assert isinstance(refused, Refused)
    assert "keys of its own" in refused.reason
    for fitting in (Request(0, tonic=0), Request(0, tempo=120)):
        (ready,) = place.room.answer(fitting)
        assert isinstance(ready, Ready)


@pytest.mark.parametrize(
    ("request_", "words"),
    [(Request(0, tempo=122), "a tempo of its own"), (Request(0, intro=1), "one intro is practised here")],
)
def test_another_tempo_or_intro_is_refused_in_words(place: Place, request_: Request, words: str) -> None:
    (refused,) = place.room.answer(request_)
    assert isinstance(refused, Refused)
    assert words in refused.reason


def test_a_page_is_told_in_the_words_of_an_evening(place: Place) -> None:
    """A page that knows no practice shows the chords while it plays, and what is coming in the rest."""
    room = place.room
    assert room.gestures(room.told(Shown(0, "ready", "state"))) == {Gesture.PRESS: "begin"}
    place.shows(10_000, "practising")
    told = room.told(Shown(0, "practising", "beat", bar=1, beat=2))
    assert (told.state, told.text, told.beat) == ("playing", "C, 120", 2)
    assert room.gestures(told) == {Gesture.PRESS: "clean", Gesture.HOLD: "stop"}
    place.shows(LANDED, "resting")
    assert room.told(Shown(0, "resting", "state")).state == "resting"
    place.shows(LANDED + 800, "resting", "beat")  # of the lead-in
    assert room.told(Shown(0, "resting", "beat", beat=1)).state == "counting off"
    assert room.gestures(room.told(Shown(0, "resting", "beat", beat=1))) == {Gesture.HOLD: "stop"}
    assert room.arranged(0, "C").tempo == 120
    assert room.tune(0).title == "A Sketch"


def test_the_end_of_the_run_keeps_what_has_landed(place: Place) -> None:
    place.plays()
    place.room.close()
    assert [ended.one.number for ended in place.kept] == [1]
