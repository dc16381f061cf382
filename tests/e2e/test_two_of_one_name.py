"""Two devices of one name on JACK: the server makes their names unique, and each comes back as itself."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from introit.errors import PortError
from introit.live.cue import Cue, Rank
from introit.live.events import Heard, Plugged, Unplugged
from introit.live.inbox import Inbox
from introit.live.messages import note_on
from introit.live.ports.jack import JackClient, list_ports
from introit.live.setup import PortSetup


@pytest.fixture
def open_rig(jack_server: Any) -> Iterator[Callable[..., tuple[JackClient, list[Any], Inbox]]]:
    made: list[tuple[JackClient, Inbox]] = []

    def opened(*setups: PortSetup) -> tuple[JackClient, list[Any], Inbox]:
        inbox = Inbox()
        client = JackClient("introit", inbox)
        made.append((client, inbox))
        ports = [client.add(number, setup) for number, setup in enumerate(setups)]
        client.start()
        return client, ports, inbox

    yield opened
    for client, inbox in made:
        client.close()
        inbox.close()
        assert client.faults == []


@pytest.fixture
def plug_in(jack_server: Any, e2e_helper: Callable[[str], Any]) -> Iterator[Callable[[], Any]]:
    """Plugs in another board."""
    made: list[Any] = []

    def plug() -> Any:
        made.append(e2e_helper("recorder").Recorder("board", jack_server.environ, exact=False))
        return made[-1]

    yield plug
    for board in made:
        board.close()


def until_heard(port: Any, inbox: Inbox, number: int, seconds: float = 5.0) -> list[Any]:
    """What a port has heard, once there is so much of it."""
    found: list[Any] = []
    limit = time.monotonic() + seconds
    while len(found) < number and time.monotonic() < limit:
        inbox.wait(0.05)
        inbox.drain()
        found += port.heard()
    return found


def test_two_clients_of_one_name_are_two_and_each_comes_back_as_itself(
    plug_in: Callable[[], Any], open_rig: Callable[..., Any]
) -> None:
    first, second = plug_in(), plug_in()
    assert list_ports().sources == ("board:out", "board-01:out")
    client, (one, two), inbox = open_rig(
        PortSetup("one", "jack", to="board:in", source="board:out"),
        PortSetup("two", "jack", to="board-01", source="board-01"),
    )
    first.play_now(b"\xb0\x40\x01")
    second.play_now(b"\xb0\x40\x02")
    assert [event.data for event in until_heard(one, inbox, 1)] == [b"\xb0\x40\x01"]
    assert [event.data for event in until_heard(two, inbox, 1)] == [b"\xb0\x40\x02"]

    first.close()
    gone = until_heard(one, inbox, 2)
    assert all(isinstance(event, Unplugged) for event in gone)
    assert [(event.name, event.sends) for event in gone] == [("board:in", True), ("board:out", False)]
    time.sleep(0.1)
    assert second.connections("introit:one") == []  # the one that stayed is not taken for it
    assert second.connections("introit:two") == ["board-01:in"]
    assert two.heard() == []

    again = plug_in()  # the server gives the free name to the next that asks for it
    assert until_heard(one, inbox, 2) == [Plugged(0, "board:in", True), Plugged(0, "board:out", False)]
    time.sleep(0.05)
    now = client.clock.now()
    one.hand([Cue(now, Rank.ON, 0, note_on(0, 60, 64))])
    two.hand([Cue(now, Rank.ON, 1, note_on(0, 72, 64))])
    assert [event.data for event in again.wait_for(1)] == [note_on(0, 60, 64)]
    assert [event.data for event in second.wait_for(1)] == [note_on(0, 72, 64)]
    again.play_now(b"\xb0\x40\x03")
    assert [event.data for event in until_heard(one, inbox, 1) if isinstance(event, Heard)] == [
        b"\xb0\x40\x03"
    ]


def test_a_part_of_both_names_is_answered_with_both(
    plug_in: Callable[[], Any], open_rig: Callable[..., Any]
) -> None:
    plug_in(), plug_in()
    with pytest.raises(
        PortError, match="'boar' matches more than one jack MIDI source: 'board:out', 'board-01:out'"
    ):
        open_rig(PortSetup("one", "jack", source="boar"))
