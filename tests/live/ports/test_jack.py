"""The JACK client's life without a server: a `jack` of our own making, which fails when it is told to."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import pytest

from introit.errors import PortError
from introit.live.events import Back, Gone
from introit.live.inbox import Inbox
from introit.live.ports import jack as module
from introit.live.ports.jack import JackClient
from introit.live.setup import PortSetup


class JackError(Exception):
    """As in the package: no kin of `PortError`."""


class Server:
    """What every fake client sees.

    Attributes:
        clients: those made, the newest last.
        trouble: called at steps by their name; may raise, or end the server.
    """

    def __init__(self) -> None:
        self.clients: list[Client] = []
        self.trouble: Callable[[str, Client], None] = lambda _step, _client: None

    def client(self, name: str) -> Client:
        self.clients.append(Client(name, self))
        return self.clients[-1]


class Client:
    samplerate, blocksize, frame_time, last_frame_time = 48_000, 128, 0, 0

    def __init__(self, name: str, server: Server) -> None:
        self.name = name
        self.server = server
        self.closed = False
        self.callbacks: dict[str, Any] = {}
        ends = SimpleNamespace(register=self._register)
        self.midi_outports = self.midi_inports = ends

    def __getattr__(self, name: str) -> Any:
        if name.startswith("set_"):
            return lambda callback, **_: self.callbacks.__setitem__(name, callback)
        raise AttributeError(name)

    def _register(self, name: str) -> Any:
        self.server.trouble("register", self)
        return SimpleNamespace(name=f"{self.name}:{name}", clear_buffer=lambda: None)

    def activate(self) -> None:
        self.server.trouble("activate", self)
        self.callbacks["set_process_callback"](128)

    def shut_down(self) -> None:
        self.callbacks["set_shutdown_callback"](None, "killed")

    def get_ports(self, **_: Any) -> list[Any]:
        self.server.trouble("get_ports", self)
        return []

    def get_all_connections(self, _port: str) -> list[Any]:
        return []

    def deactivate(self) -> None:
        self.server.trouble("deactivate", self)

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Server:
    made = Server()
    monkeypatch.setattr(module, "RETRY_SECONDS", 0.002)
    monkeypatch.setattr(module, "open_client", made.client)
    monkeypatch.setattr(module, "load", lambda: SimpleNamespace(JackError=JackError))
    return made


@pytest.fixture
def client(server: Server) -> Iterator[JackClient]:
    inbox = Inbox()
    made = JackClient("introit", inbox)
    made.add(0, PortSetup("main", "jack", to=""))
    yield made
    made.close()
    inbox.close()


def heard(client: JackClient, kind: type, seconds: float = 5.0) -> list[Any]:
    limit = time.monotonic() + seconds
    found: list[Any] = []
    while not any(isinstance(event, kind) for event in found) and time.monotonic() < limit:
        found += client._ports[0].heard()
        time.sleep(0.001)
    return found


@pytest.mark.parametrize("step", ["register", "activate", "get_ports"])
@pytest.mark.parametrize("error", [JackError("no"), RuntimeError("odd"), PortError("ours")])
def test_a_try_that_fails_is_followed_by_another(
    client: JackClient, server: Server, step: str, error: Exception
) -> None:
    client.start()
    failures = iter([error, error])

    def trouble(at: str, _client: Client) -> None:
        if at == step and (failure := next(failures, None)) is not None:
            raise failure

    server.trouble = trouble
    server.clients[-1].shut_down()
    assert heard(client, Back) == [Gone(0, "the JACK server has gone"), Back(0)]
    assert all(one.closed for one in server.clients[:-1])
    assert not server.clients[-1].closed


def test_a_server_that_dies_while_the_client_is_opened_again_is_noticed(
    client: JackClient, server: Server
) -> None:
    client.start()
    deaths = iter([True])

    def trouble(at: str, fake: Client) -> None:
        if at == "get_ports" and len(server.clients) > 1 and next(deaths, False):
            fake.shut_down()

    server.trouble = trouble
    server.clients[-1].shut_down()
    assert heard(client, Back) == [Gone(0, "the JACK server has gone"), Back(0)]
    assert len(server.clients) == 3
    assert client.alive


def test_a_server_that_dies_while_the_client_starts_is_an_error(client: JackClient, server: Server) -> None:
    server.trouble = lambda at, fake: fake.shut_down() if at == "get_ports" else None
    with pytest.raises(PortError, match="has gone"):
        client.start()
    assert server.clients[-1].closed


def test_what_listens_for_changes_is_told_after_every_return(client: JackClient, server: Server) -> None:
    told: list[Any] = []
    client.on_change = told.append
    client.start()
    failures = iter([JackError("no")])

    def trouble(at: str, _client: Client) -> None:
        if at == "register" and (failure := next(failures, None)) is not None:
            raise failure

    server.trouble = trouble
    server.clients[-1].shut_down()
    heard(client, Back)
    told.clear()
    server.clients[-1].callbacks["set_port_connect_callback"]()
    limit = time.monotonic() + 5
    while not told and time.monotonic() < limit:
        time.sleep(0.001)
    assert told[-1] == {0: ([], [])}


def test_closing_while_no_server_answers_ends_at_once(client: JackClient, server: Server) -> None:
    client.start()

    def trouble(at: str, _client: Client) -> None:
        if at == "activate":
            raise JackError("no")

    server.trouble = trouble
    server.clients[-1].shut_down()
    time.sleep(0.01)
    client.close()
    assert not client._reviver.is_alive()
