"""The front's side of the stand page: what a page's foot is for the player, and a process of its own.

The process is the real one; a page is whoever speaks HTTP. Nothing here sleeps for a fixed time.
"""

from __future__ import annotations

import json
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from introit.cli.stand_foot import StandFoot
from introit.cli.stand_front import StandFront, StandPlan
from introit.cli.stand_in import foot_of
from introit.live.events import Called, FrontEvent, Ordered, Played, Shown
from introit.live.setup import FootSwitch
from introit.performance import PARTS
from introit.stand.snapshot import Snapshot
from introit.testing import sketch_setup

MS = 1_000_000


# --- the foot, on no clock at all -------------------------------------------------------------------


def sent(switch: FootSwitch, *commands: tuple[str, int]) -> list[tuple[int, bytes]]:
    foot = StandFoot(switch)
    found = [one for does, ms in commands for one in foot.events({"do": does}, ms * MS)]
    return [(ns // MS, event.data) for ns, event in found if isinstance(event, Played)]


def test_down_and_up_are_the_switch_at_its_own_times() -> None:
    assert sent(FootSwitch(), ("down", 5), ("up", 900)) == [(5, b"\xb0\x40\x7f"), (900, b"\xb0\x40\x00")]


def test_up_without_down_is_nothing() -> None:
    assert sent(FootSwitch(), ("up", 5)) == []
    assert len(sent(FootSwitch(), ("down", 5), ("up", 100), ("up", 200))) == 2


def test_a_switch_that_tells_no_more_is_pressed() -> None:
    press_only = FootSwitch(message="program", number=3)
    assert sent(press_only, ("down", 5), ("up", 900)) == [(5, b"\xc0\x03")]


def test_orders_keys_and_tempi() -> None:
    foot = StandFoot(FootSwitch())
    asked: list[tuple[dict[str, Any], FrontEvent]] = [
        ({"do": "order", "order": "next"}, Ordered("next")),
        ({"do": "order", "order": "tune", "value": 3}, Ordered("tune", value=3)),
        (
            {"do": "order", "order": "mute", "part": "comp", "value": 1},
            Ordered("mute", part=PARTS.index("comp"), value=1),
        ),
        ({"do": "key", "tonic": 3, "minor": None}, Called(tonic=3)),
        ({"do": "tempo", "tempo": 96.0}, Called(tempo=96.0)),
    ]
    for command, event in asked:
        assert foot.events(command, 7) == [(7, event)]
    assert foot.events({"do": "dance"}, 7) == []


# --- the process ------------------------------------------------------------------------------------


@dataclass
class Evening:
    """Stands in for front and screen."""

    said: list[str] = field(default_factory=list)
    events: list[FrontEvent] = field(default_factory=list)

    def send(self, event: FrontEvent) -> None:
        self.events.append(event)


class OneSnapshot:
    """A teller that tells of one state."""

    def tell(self, shown: Shown, now: int) -> Snapshot:
        return Snapshot(1, now, now, shown.state, title=shown.title)

    def tunes(self) -> list[dict[str, Any]]:
        return [{"tune": 0, "title": "Snow on the Ferry"}]


@pytest.fixture
def evening() -> Evening:
    return Evening()


@pytest.fixture
def page(evening: Evening) -> Iterator[StandFront]:
    front = StandFront(
        StandPlan(port=0),
        OneSnapshot(),
        foot_of(sketch_setup()),
        say=evening.said.append,  # type: ignore[arg-type]
    )
    yield front
    front.stop()


def until(page: StandFront, evening: Evening, so: Callable[[], bool]) -> None:
    """Turns the front over until something is so; a minute is too long."""
    end = time.monotonic() + 60
    while not so():
        assert time.monotonic() < end, evening.said
        page.tick(evening)
        time.sleep(0.01)


def address(page: StandFront, evening: Evening) -> str:
    until(page, evening, lambda: any("stand page: http" in line for line in evening.said))
    return next(line for line in evening.said if "http" in line).split(": ", 1)[1]


def ask(url: str, command: dict[str, Any]) -> int:
    headers = {"Content-Type": "application/json", "Origin": url.rstrip("/")}
    request = urllib.request.Request(f"{url}do", json.dumps(command).encode(), headers, method="POST")
    with urllib.request.urlopen(request, timeout=20) as answer:
        return int(answer.status)


def test_a_press_on_the_page_is_a_press(page: StandFront, evening: Evening) -> None:
    url = address(page, evening)
    assert ask(url, {"do": "down"}) == 204
    until(page, evening, lambda: len(evening.events) == 1)
    assert ask(url, {"do": "up"}) == 204
    until(page, evening, lambda: len(evening.events) == 2)
    assert [event.data for event in evening.events if isinstance(event, Played)] == [
        b"\xb0\x40\x7f", b"\xb0\x40\x00"
    ]  # fmt: skip


def test_what_was_shown_before_is_there_at_once(page: StandFront, evening: Evening) -> None:
    page.show(Shown(0, "ready", "state", title="Snow on the Ferry"))
    url = address(page, evening)
    with urllib.request.urlopen(f"{url}events", timeout=20) as stream:
        lines = iter(stream.readline, b"")
        data = next(line for line in lines if line.startswith(b"data: ") and b'"state"' in line)
    assert json.loads(data[6:])["title"] == "Snow on the Ferry"


def test_a_process_that_ends_is_told_and_started_again(
    page: StandFront, evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("introit.cli.stand_front._AGAIN_SECONDS", 0.0)
    address(page, evening)
    assert page._process is not None
    page._process.kill()
    until(page, evening, lambda: sum("stand page: http" in line for line in evening.said) == 2)
    assert any("has ended (-9); it is started again" in line for line in evening.said)


def test_a_foot_that_was_down_comes_up_when_the_process_is_killed(page: StandFront, evening: Evening) -> None:
    url = address(page, evening)
    ask(url, {"do": "down"})
    until(page, evening, lambda: len(evening.events) == 1)
    assert page._process is not None
    page._process.kill()
    until(page, evening, lambda: len(evening.events) >= 2)
    assert isinstance(evening.events[1], Played)
    assert evening.events[1].data == b"\xb0\x40\x00"


def test_a_place_that_is_taken_is_said_once(evening: Evening) -> None:
    first = StandFront(
        StandPlan(port=0),
        OneSnapshot(),
        foot_of(sketch_setup()),
        say=evening.said.append,  # type: ignore[arg-type]
    )
    url = address(first, evening)
    other = Evening()
    second = StandFront(
        StandPlan(port=int(url.rstrip("/").rpartition(":")[2])),
        OneSnapshot(),  # type: ignore[arg-type]
        foot_of(sketch_setup()),
        say=other.said.append,
    )
    until(second, other, lambda: bool(other.said))
    for _ in range(20):
        second.tick(other)
    assert len([line for line in other.said if "cannot be served" in line]) == 1, other.said
    first.stop()
    second.stop()


def test_without_what_serves_it_one_line_says_what_to_install(
    page: StandFront, evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("introit.cli.stand_front.find_spec", lambda name: None)
    for _ in range(5):
        page.tick(evening)
    assert evening.said == [
        "the stand page cannot be served: starlette and uvicorn not installed. "
        "It needs the `stand` extra: pip install '.[stand]' in the checkout."
    ]
    page.show(Shown(0, "ready", "state"))


def test_stopped_twice_it_is_stopped(page: StandFront, evening: Evening) -> None:
    address(page, evening)
    page.stop()
    page.stop()
    page.show(Shown(0, "ready", "state"))
