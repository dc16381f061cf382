"""Who takes up room: sockets by the hundred, slow senders, who reads nothing, who holds the switch."""

from __future__ import annotations

from typing import Any

import pytest

from introit.stand import connections
from introit.stand.guests import MOST, MOST_OF_ONE, Guests
from introit.stand.link import WAITING_LIMIT, link
from introit.stand.pages import HERE, UNSEEN_SECONDS, Page, Pages
from introit.stand.pages import MOST as MOST_PAGES
from introit.stand.pages import MOST_OF_ONE as MOST_PAGES_OF_ONE
from introit.stand.rates import Rate, Rates


def test_500_sockets_keep_nobody_out(here: Any) -> None:
    stream = here.stream()
    for number in range(500):
        here.line(source=f"127.0.4.{number % 5 + 1}")
    assert here.ask("GET", "/time").status == 200
    assert here.do(lambda: len(here.server.server_state.connections)) <= MOST
    here.post("snapshot", {"number": 1})
    assert stream.events_until("snapshot") == {"number": 1}, "who is at work is not asked to leave"


def test_500_sockets_of_one_address_leave_room_for_it(here: Any) -> None:
    for _ in range(500):
        here.line()
    assert here.ask("GET", "/time").status == 200
    assert here.do(lambda: len(here.server.server_state.connections)) <= MOST_OF_ONE


@pytest.mark.parametrize("sent", ["", "GET /time HT", "GET /time HTTP/1.1\r\nHost: "])
def test_who_never_ends_a_request_is_let_go(here: Any, sent: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "REQUEST_SECONDS", 0.05)
    assert here.line().send(sent).is_closed()


def test_who_never_ends_a_second_request_is_let_go(here: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "REQUEST_SECONDS", 0.05)
    line = here.line().send(f"GET /time HTTP/1.1\r\nHost: {here.host}\r\n\r\n")
    assert line.answer().status == 200
    assert line.send("GET").is_closed()


def test_headers_without_end_are_refused(here: Any) -> None:
    line = here.line().send("GET /time HTTP/1.1\r\nX: " + "a" * 20000)
    assert line.answer().status in (0, 400, 431)


def test_a_slow_reader_gets_the_newest_and_not_all(here: Any) -> None:
    slow = here.stream(receive_bytes=4096)
    sent = 3000
    for number in range(1, sent + 1):
        here.post("snapshot", {"number": number, "text": "x" * 1000})
    numbers = [0]
    while numbers[-1] != sent:
        numbers.append(slow.events_until("snapshot")["number"])
    assert numbers == sorted(set(numbers))
    assert len(numbers) < sent / 2


def test_who_reads_nothing_is_let_go(here: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "STUCK_SECONDS", 0.05)
    here.stream(receive_bytes=4096)
    number = 0
    while here.do(lambda: here.stand.pages.count):
        number += 1
        here.post("snapshot", {"number": number, "text": "x" * 1000})


def test_a_stuck_reader_holds_up_no_other(here: Any) -> None:
    here.stream(receive_bytes=4096)
    other = here.stream(page="b")
    for number in range(1, 1001):
        here.post("snapshot", {"number": number, "text": "x" * 1000})
        assert other.events_until("snapshot")["number"] == number


def test_a_device_has_so_many_streams_and_no_more(beyond: Any) -> None:
    cookie = beyond.pair()
    for number in range(MOST_PAGES_OF_ONE):
        beyond.stream(cookie, page=f"p{number}")
    assert beyond.ask("GET", "/events", cookie=cookie).status == 429


def test_all_together_have_so_many_streams_and_no_more(here: Any) -> None:
    for number in range(MOST_PAGES):
        here.stream(page=f"p{number}")
    assert here.ask("GET", "/events").status == 429
    assert here.ask("GET", "/time").status == 200


def test_a_page_that_goes_while_it_holds_the_switch_lets_it_go(here: Any) -> None:
    stream = here.stream(page="a")
    assert here.ask("POST", "/do", {"do": "down", "page": "a"}).status == 204
    assert here.ask("POST", "/do", {"do": "down", "page": "b"}).status == 409
    here.wait_told("down")
    assert "up" not in [line["do"] for line in here.told]
    stream.close()
    here.lines.remove(stream)
    assert here.wait_told("up")


def test_the_foot_is_given_back_when_the_last_page_with_a_lesson_is_gone(here: Any) -> None:
    """A lesson that nobody looks at must not keep the foot from starting the next tune."""
    first, second = here.stream(page="a"), here.stream(page="b")
    for page in "ab":
        assert here.ask("POST", "/do", {"do": "lesson", "ask": "open", "page": page}).status == 204
    assert here.ask("POST", "/do", {"do": "lesson", "ask": "away", "page": "a"}).status == 204
    assert here.ask("POST", "/do", {"do": "lesson", "ask": "away", "page": "c"}).status == 204
    first.close()
    here.lines.remove(first)
    assert here.ask("POST", "/do", {"do": "lesson", "ask": "on", "page": "b"}).status == 204
    assert [line["ask"] for line in here.told] == ["open", "open", "on"]
    second.close()
    here.lines.remove(second)
    assert here.wait_asked("close")


def test_who_gives_the_foot_back_does_so_for_every_page() -> None:
    pages, one, other = Pages(), Page(HERE, "a"), Page(HERE, "b")
    for page in (one, other):
        pages.open_lesson(page)
    pages.close_lessons()
    assert not pages.leave_lesson(one), "it has been told already"
    pages.open_lesson(one)
    assert not pages.leave_lesson(other)
    assert pages.leave_lesson(one)


def test_a_page_that_cannot_be_seen_holds_the_switch_for_a_while_only() -> None:
    pages, page = Pages(), Page(HERE, "a")
    assert pages.down(page, 10.0)
    assert not pages.down(page, 10.1), "once is enough"
    assert not pages.overdue(10.0 + UNSEEN_SECONDS - 0.1)
    assert pages.overdue(10.0 + UNSEEN_SECONDS)
    assert not pages.overdue(20.0)
    assert not pages.up(page)


def test_a_page_in_sight_may_hold_it_as_long_as_it_likes() -> None:
    pages, page = Pages(), Page(HERE, "a")
    assert pages.open(page)
    assert pages.open(page)
    assert pages.down(page, 0.0)
    assert not pages.overdue(1000.0)
    assert not pages.close(page), "its other stream is there"
    assert pages.close(page)


def test_who_stood_about_longest_makes_room() -> None:
    guests = Guests(most=3, most_of_one=2)
    assert [guests.arrive(name, "a") for name in "xy"] == [None, None]
    guests.busy("x")
    assert guests.arrive("z", "a") == "y", "x is at work"
    guests.busy("z")
    assert guests.arrive("w", "a") == "w", "all of its address are at work"
    assert guests.arrive("v", "b") is None
    guests.idle("z")
    assert guests.arrive("u", "c") == "v", "idle for longer than z"
    assert len(guests) == 3


def test_a_rate_comes_back() -> None:
    rates = Rates(Rate(2, 1.0))
    assert [rates.allows("a", 0.0) for _ in range(3)] == [True, True, False]
    assert rates.allows("b", 0.0)
    assert [rates.allows("a", 1.0) for _ in range(2)] == [True, False]
    assert not rates.allows("a", 0.0), "a clock that went back gives nothing"


def test_a_stand_that_does_not_read_never_delays_the_front_and_finds_the_newest() -> None:
    """A put that waited would never return: nobody reads before the last."""
    end, theirs = link()
    for number in range(5000):
        assert end.put({"kind": "snapshot", "number": number, "text": "x" * 1000})
    for number in range(5000):
        end.put({"kind": "answer", "id": number})
    assert end.pending
    assert end.dropped >= 5000 - WAITING_LIMIT
    theirs.settimeout(30)
    got = b""
    while end.pending or not got.endswith(b"\n"):
        got += theirs.recv(65536)
        end.flush()
    assert b'"number":4999,' in got
    assert got.count(b"\n") < 3000
    end.close()
    theirs.close()


def test_a_link_whose_other_end_is_gone_says_so_and_raises_nothing() -> None:
    end, theirs = link()
    theirs.close()
    assert not end.put({"kind": "snapshot"})
    assert end.gone
    end.close()
