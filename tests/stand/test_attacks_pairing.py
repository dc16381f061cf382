"""Who is let in: codes guessed, used twice or old, tokens forged or revoked, who may only look."""

from __future__ import annotations

from typing import Any

import pytest

from introit.stand.devices import LIFE_SECONDS, Devices
from introit.stand.gate import Asked, Gate, RefusalError
from introit.stand.hosts import Hosts

PRESS = {"do": "down"}
COOKIES = ["", "introit=", "introit=x", "introit=\xff\xfe", "introit=" + "a" * 8000, ";;;=;"]
NAMES = ["<script>alert(1)</script>", "a\r\nSet-Cookie: x=y", "\x1b[2J\u202eevil", "x" * 150, ""]
NO_CODES = ["", "12345", "1234567", "１２３４５６", "\ud800", "123456\x00", "9" * 10000]
DATA = [("GET", "/time"), ("GET", "/events"), ("GET", "/set"), ("POST", "/do"), ("POST", "/set")]


@pytest.mark.parametrize(("method", "path"), DATA)
@pytest.mark.parametrize(
    "cookie", ["", "introit=", "introit=x", "introit=\xff\xfe", "introit=" + "a" * 8000, ";;;=;"]
)
def test_without_a_token_there_is_only_the_page(beyond: Any, method: str, path: str, cookie: str) -> None:
    found = beyond.ask(method, path, PRESS if method == "POST" else None, cookie=cookie)
    assert found.status == 401
    assert found.error
    assert beyond.ask("GET", "/", cookie=cookie).status == 200
    assert beyond.told == []


def test_a_paired_device_may_do_all(beyond: Any) -> None:
    cookie = beyond.pair()
    assert beyond.ask("GET", "/time", cookie=cookie).status == 200
    assert beyond.ask("POST", "/do", PRESS, cookie=cookie).status == 204
    assert beyond.wait_told("paired")["name"] == "tablet"
    assert beyond.wait_told("code") == {"do": "code", "gone": "used"}
    assert beyond.wait_told("down")["at"] > 0


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(beyond: Any) -> None:
    beyond.offer()
    found = beyond.ask("POST", "/pair", {"code": "123456", "name": "tablet"})
    words = [word.strip().lower() for word in found.headers["set-cookie"].split(";")]
    assert {"httponly", "samesite=strict", "path=/"} <= set(words)
    assert "secure" not in words, "it would never come back over HTTP"


def test_the_cookie_is_secure_over_https() -> None:
    gate = Gate(Hosts("https", 443), Devices(None), needs_pairing=True, open_paths=())
    assert "; Secure" in gate.cookie("x")


def test_of_two_devices_with_one_code_one_is_paired(beyond: Any) -> None:
    beyond.pair()
    found = beyond.ask("POST", "/pair", {"code": "123456", "name": "other"})
    assert found.status == 403
    assert "set-cookie" not in found.headers


def test_each_device_has_a_token_of_its_own(beyond: Any) -> None:
    first, second = beyond.pair(name="first"), beyond.pair(name="second")
    assert first != second
    beyond.do(lambda: beyond.stand.gate.devices.revoke(beyond.wait_told("paired")["device"]))
    assert beyond.ask("GET", "/time", cookie=first).status == 401
    assert beyond.ask("GET", "/time", cookie=second).status == 200


def test_guessing_uses_up_the_code(beyond: Any) -> None:
    """Five wrong ones, from wherever they come; then the right one is worth nothing."""
    beyond.offer()
    for place in range(5):
        found = beyond.ask("POST", "/pair", {"code": "000000", "name": "x"}, source=f"127.0.2.{place + 1}")
        assert found.status == 403
    assert beyond.ask("POST", "/pair", {"code": "123456", "name": "x"}, source="127.0.3.1").status == 403
    assert beyond.wait_told("code") == {"do": "code", "gone": "guessed"}


def test_one_address_alone_does_not_use_up_the_code(beyond: Any) -> None:
    beyond.offer()
    wrong = [beyond.ask("POST", "/pair", {"code": "000000", "name": "x"}).status for _ in range(20)]
    assert wrong == [403] * 3 + [429] * 17
    assert beyond.ask("POST", "/pair", {"code": "123456", "name": "x"}).status == 429, (
        "not even the right one"
    )
    assert beyond.pair("123456")


@pytest.mark.parametrize("code", [None, 123456, ["123456"], {}, True])
def test_a_code_is_text(beyond: Any, code: object) -> None:
    beyond.offer()
    assert beyond.ask("POST", "/pair", {"code": code, "name": "x"}).status == 400


@pytest.mark.parametrize(
    "code", ["", "12345", "1234567", "１２３４５６", "\ud800", "123456\x00", "9" * 10000]
)
def test_what_is_no_code_is_wrong(beyond: Any, code: str) -> None:
    beyond.offer()
    assert beyond.ask("POST", "/pair", {"code": code, "name": "x"}).status == 403


def test_a_code_may_be_typed_in_groups(beyond: Any) -> None:
    beyond.offer()
    assert beyond.ask("POST", "/pair", {"code": " 123-4 56", "name": "x"}).status == 200


def test_a_revoked_device_loses_its_stream_at_once(beyond: Any) -> None:
    cookie = beyond.pair()
    stream = beyond.stream(cookie)
    assert stream.events_until("hello")["paired"] is True

    def revoke() -> None:
        beyond.stand.gate.devices.revoke(beyond.told[-1]["device"])
        beyond.stand.board.wake()

    beyond.wait_told("paired")
    beyond.do(revoke)
    while stream.event()[0]:
        pass
    assert beyond.ask("GET", "/events", cookie=cookie).status == 401


def test_who_may_only_look_does_nothing(beyond: Any) -> None:
    cookie = beyond.pair(view=True)
    for path, body in (("/do", PRESS), ("/set", {"revision": "1", "edit": {}})):
        assert beyond.ask("POST", path, body, cookie=cookie).status == 403
    assert beyond.stream(cookie).events_until("hello")["view"] is True
    assert not [line for line in beyond.told if line["do"] not in ("paired", "code")]


def test_who_looked_may_be_paired_for_more_and_is_the_other_no_more(beyond: Any) -> None:
    before = beyond.pair(view=True)
    beyond.offer("654321")
    found = beyond.ask("POST", "/pair", {"code": "654321", "name": "x"}, cookie=before, source="127.0.9.1")
    assert found.json["view"] is False
    assert beyond.ask("GET", "/time", cookie=before).status == 401


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "a\r\nSet-Cookie: x=y", "\x1b[2J\u202eevil", "x" * 150, ""]
)
def test_a_device_is_called_by_plain_letters(beyond: Any, name: str) -> None:
    beyond.offer()
    found = beyond.ask("POST", "/pair", {"code": "123456", "name": name})
    assert found.status == 200
    kept = beyond.wait_told("paired")["name"]
    assert kept.isprintable()
    assert 0 < len(kept) <= 40
    assert found.headers["set-cookie"].count("=") == 4


def asked(**changed: str) -> Asked:
    fields = {
        "method": "GET",
        "path": "/time",
        "asked_at": "10.0.0.1",
        "client": "10.0.0.2",
        "host": "10.0.0.1:80",
    }
    return Asked(**{**fields, **changed})


def test_a_token_grows_old() -> None:
    gate = Gate(Hosts("http", 80), Devices(None), needs_pairing=True, open_paths=())
    gate.pairing.offer("123456", 0.0, view=False)
    token, device = gate.pair("123456", "tablet", "10.0.0.2", before=None, now=1.0, wall=1000.0)
    cookie = f"other=1; introit={token}"
    assert gate.admit(asked(cookie=cookie), 2.0, 1000.0 + LIFE_SECONDS).device == device
    with pytest.raises(RefusalError) as refused:
        gate.admit(asked(cookie=cookie), 3.0, 1001.0 + LIFE_SECONDS)
    assert refused.value.status == 401


@pytest.mark.parametrize(("seconds", "good"), [(299.0, True), (300.0, False)])
def test_a_code_grows_old(seconds: float, good: bool) -> None:
    gate = Gate(Hosts("http", 80), Devices(None), needs_pairing=True, open_paths=())
    gate.pairing.offer("123456", 100.0, view=False)
    how = {"before": None, "now": 100.0 + seconds, "wall": 0.0}
    if good:
        assert gate.pair("123456", "tablet", "10.0.0.2", **how)  # type: ignore[arg-type]
    else:
        with pytest.raises(RefusalError):
            gate.pair("123456", "tablet", "10.0.0.2", **how)  # type: ignore[arg-type]
        assert gate.pairing.take_gone() == "old"
