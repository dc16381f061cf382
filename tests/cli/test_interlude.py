"""A practice within an evening: who answers when, and that the set goes on as it was."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import pytest

from introit.cli.interlude import Interlude
from introit.errors import UsageError
from introit.library.model import Tune
from introit.live.events import Following, FrontEvent, Ordered, Ready, Refused, Request, Shown
from introit.live.states import Gesture
from introit.performance import Performance
from introit.practice.sentence import goal_from
from introit.testing.sketch import sketch
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

B_FLAT = Key.from_text("Bb")
TUNES = [
    Tune(title.lower(), title, B_FLAT, Meter.from_text("4/4"), 120, "medium-swing", Numeral.from_text("I"))
    for title in ("Copper", "Quince")
]


class Desk:
    """Arranges the same for everybody, and remembers what it was asked."""

    def __init__(self) -> None:
        self.asked: list[Request] = []

    def answer(self, request: Request, *, afresh: bool = False) -> Iterator[Ready | Refused]:
        self.asked.append(request)
        yield Ready(request.tune, request.tonic is None, sketch(request.tonic or 10))

    def arranged(self, number: int, key: str) -> Performance | None:
        return sketch(10)

    def tune(self, number: int) -> Tune | None:
        return TUNES[number] if number < len(TUNES) else None


class Foot:
    def now(self, shown: Shown) -> str:
        return "the evening's"

    def gestures(self, shown: Shown) -> dict[Gesture, str]:
        return {Gesture.PRESS: "start"}

    def course(self, shown: Shown) -> list[str]:
        return ["by foot"]


class Room:
    """A practice room of which only its place matters."""

    def __init__(self) -> None:
        self.shown: list[str] = []
        self.closed = False
        self.front: Any = None

    def answer(self, request: Request, *, afresh: bool = False) -> Iterator[Ready | Refused]:
        yield Ready(request.tune, True, self.arranged(0, ""))

    def arranged(self, number: int, key: str) -> Performance:
        return replace(sketch(5), rest=3840, number=1)

    def tune(self, number: int) -> Tune:
        return replace(TUNES[0], title="practised")

    def hint(self, shown: Shown) -> str:
        return "the room's"

    def gestures(self, shown: Shown) -> dict[Gesture, str]:
        return {Gesture.PRESS: "clean"}

    def course(self, shown: Shown) -> list[str]:
        return []

    def told(self, shown: Shown) -> Shown:
        return replace(shown, text="a pass")

    def lines(self) -> list[str]:
        return ["press: clean"]

    def show(self, shown: Shown, front: Any) -> None:
        self.shown.append(shown.state)
        self.front = front

    def close(self) -> None:
        self.closed = True


class Place:
    """An evening whose player is what is shown."""

    def __init__(self) -> None:
        self.desk, self.room = Desk(), Room()
        self.sent: list[FrontEvent] = []
        self.renewed: list[Any] = []
        self.begun: list[tuple[list[Tune], str]] = []
        self.lines: list[str] = []
        self.log_open = False
        self.it = Interlude(self.desk, Foot(), begin=self._begin, tunes=lambda: TUNES, say=self.lines.append)

    def _begin(self, tunes: Sequence[Tune], how: str) -> Any:
        goal_from(how)
        self.begun.append((list(tunes), how))
        self.log_open = True
        return self.room, self._close

    def _close(self) -> None:
        self.log_open = False

    def send(self, event: FrontEvent) -> None:
        self.sent.append(event)

    def renew(self, answers: Any) -> None:
        self.renewed += list(answers)

    def shows(self, state: str, *, tune: int = 0, key: str = "Bb", **more: Any) -> None:
        shown = Shown(0, state, "state", tune=tune, title="Copper", key=key, intro="sketch", **more)
        self.it.show(shown, self)

    def ask(self, practise: Any) -> dict[str, Any]:
        return self.it.do({"edit": {"practise": practise}}, self)


@pytest.fixture
def place() -> Place:
    found = Place()
    found.shows("ready", tempo=132.0)
    return found


def test_without_a_practice_everything_is_the_evenings(place: Place) -> None:
    shown = Shown(0, "ready", "state")
    assert (place.it.hint(shown), place.it.course(shown)) == ("the evening's", ["by foot"])
    assert place.it.gestures(shown) == {Gesture.PRESS: "start"}
    assert place.it.told(shown) is shown
    assert not place.it.on
    assert place.it.lines() is None
    place.it.close()
    assert place.sent == []


def test_it_begins_with_the_tune_as_it_is_ready(place: Place) -> None:
    """In the key, at the tempo and with the intro that were called; what is played first is ready at once."""
    place.shows("ready", key="F", tempo=132.0, tonic=5)
    assert place.ask({"how": "keys in fourths"}) == {"ok": True}
    ((tune,), how) = place.begun[0]
    assert (str(tune.key), tune.tempo, tune.intro, how) == ("F", 132.0, "sketch", "keys in fourths")
    assert place.sent == [Following(place.room.arranged(0, ""), 1)]
    assert place.it.on
    assert place.it.hint(Shown(0, "ready", "state")) == "the room's"
    tune_of_room, of_desk = place.it.tune(0), place.it.tune(1)
    assert tune_of_room is not None
    assert tune_of_room.title == "practised"
    assert of_desk == TUNES[1]
    assert place.lines[-1] == "  press: clean"


def test_the_whole_set_goes_in_its_order(place: Place) -> None:
    place.ask({"how": "", "set": True})
    assert place.begun[0] == (TUNES, "")
    assert "practice of the set: loop" in place.lines[0]


def test_its_end_makes_the_tune_ready_as_it_was(place: Place) -> None:
    place.shows("ready", key="F", tonic=5)
    place.ask({"how": ""})
    place.sent.clear()
    assert place.ask(False) == {"ok": True}
    assert place.sent == [Following(sketch(5), 0), Ready(0, False, sketch(5))]
    assert place.desk.asked == [Request(0, 5), Request(0)]
    assert len(place.renewed) == 1, "no pass may be left in the player's hands"
    assert place.room.closed
    assert not place.log_open
    assert not place.it.on


def test_an_end_while_it_plays_silences_it_first(place: Place) -> None:
    place.ask({"how": ""})
    place.shows("practising")
    place.sent.clear()
    assert place.ask(False) == {"ok": True}
    assert place.sent == [Ordered("silence")]
    assert place.it.on
    place.shows("ready")
    assert not place.it.on
    assert place.room.shown == ["practising", "ready"], "the room is told of the stop before it is left"


def test_a_stop_by_foot_leaves_it_on(place: Place) -> None:
    place.ask({"how": ""})
    place.shows("practising")
    place.shows("ready")
    assert place.it.on


def test_after_the_last_pass_the_set_goes_on_and_not_home(place: Place) -> None:
    place.ask({"how": "1 passes"})
    place.shows("practising")
    place.room.front.stop("the practice is over")
    place.shows("ready")
    assert not place.it.on


def test_another_tune_that_is_called_ends_it(place: Place) -> None:
    place.ask({"how": ""})
    place.sent.clear()
    assert next(place.it.answer(Request(1))).tune == 1  # type: ignore[union-attr]
    assert place.desk.asked == [Request(1)]
    place.shows("ready", tune=1)
    assert not place.it.on
    assert place.sent == []
    assert place.desk.asked[-1] == Request(0)


def test_what_is_told_of_a_port_names_no_tune(place: Place) -> None:
    port = Shown(0, "ready", "port", text="the synth is back")
    place.shows("ready", tune=1)
    place.it.show(port, place)
    assert place.ask({"how": ""}) == {"ok": True}
    place.it.show(port, place)
    assert place.it.on
    assert place.begun[0][0][0].title == "Quince"


def test_a_new_player_gets_the_present_pass(place: Place) -> None:
    place.ask({"how": ""})
    (ready,) = place.it.answer(Request(0))
    assert isinstance(ready, Ready)
    assert ready.performance.number == 1


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"how": "clmb"}, "Did you mean 'climb'?"),
        ({"how": "climb 160 to 96"}, "Did you mean 'climb 96 to 160'?"),
        ({"how": "keys " * 200}, "at most 400"),
        ({"how": "<script>alert(1)</script>"}, "says nothing here"),
        ({"how": 5}, "'how' is a text"),
        ({"how": "", "set": "yes"}, "true or false"),
        ({"how": "", "more": 1}, "in words"),
        ([], "in words"),
        (None, "in words"),
        (True, "in words"),
        (False, "No practice is on"),
    ],
)
def test_what_cannot_be_is_answered_and_changes_nothing(place: Place, asked: Any, words: str) -> None:
    answer = place.ask(asked)
    assert answer["ok"] is answer["stale"] is False
    assert words in answer["error"]
    assert place.sent == []
    assert not place.it.on


@pytest.mark.parametrize("state", ["playing", "in the tune", "counting off", "vamping"])
def test_it_begins_only_where_nothing_plays(place: Place, state: str) -> None:
    place.shows(state)
    assert f"now it is: {state}" in place.ask({"how": ""})["error"]
    assert place.begun == []


def test_one_at_a_time(place: Place) -> None:
    place.ask({"how": ""})
    assert "on already" in place.ask({"how": ""})["error"]


def test_a_room_that_cannot_be_made_leaves_the_evening(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(tunes: Sequence[Tune], how: str) -> Any:
        raise UsageError("no intro in the library suits it")

    place.it._begin = none
    assert place.ask({"how": ""})["error"] == "No intro in the library suits it"
    assert not place.it.on


def test_the_end_of_the_evening_keeps_what_has_landed(place: Place) -> None:
    place.ask({"how": ""})
    place.it.close()
    place.it.close()
    assert place.room.closed
    assert not place.log_open
