"""What is asked for: files of the machine, bodies without end, what is no JSON, too much of it."""

from __future__ import annotations

import json
from typing import Any

import pytest

from introit.stand import bodies
from introit.stand.server import page_files

SECRETS = (b"root:", b"[project]", b"import ")
HTML_WAYS = ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function")
CLIMBS = [
    "/../../../../etc/passwd",
    "/..%2f..%2f..%2fetc%2fpasswd",
    "/%2e%2e/%2e%2e/%2e%2e/etc/passwd",
    "/%252e%252e/etc/passwd",
    "/..%5c..%5cetc%5cpasswd",
    "/..\\..\\etc\\passwd",
    "/%c0%ae%c0%ae/etc/passwd",
    "/..;/etc/passwd",
    "//etc/passwd",
    "/etc/passwd",
    "/stand.css/../../server.py",
    "/stand.css%00.py",
    "/page/stand.css",
    "/./stand.css",
    "/stand.css/",
    "/../stand/server.py",
    "/server.py",
    "/devices.json",
    "/key.pem",
    "/index.html",
    "/%",
    "/" + "a" * 4000,
    "*",
]


@pytest.mark.parametrize("path", CLIMBS)
def test_no_file_of_the_machine_is_reached(here: Any, path: str) -> None:
    found = here.ask("GET", path)
    assert found.status in (400, 404)
    assert not any(secret in found.body for secret in SECRETS)


def test_what_is_served_are_the_page_s_own_files_and_no_others(here: Any) -> None:
    files = page_files()
    assert {"/", "/stand.css", "/stand.js"} <= set(files)
    for path, (data, media_type) in files.items():
        found = here.ask("GET", path)
        assert (found.status, found.body, found.headers["content-type"]) == (200, data, media_type)


def test_every_answer_carries_the_guards(here: Any) -> None:
    """Names and values as the OWASP cheat sheet on HTTP headers and CSP level 3 have them; from memory."""
    for method, path in (("GET", "/"), ("GET", "/time"), ("GET", "/none"), ("POST", "/do"), ("PUT", "/time")):
        headers = here.ask(method, path, {} if method != "GET" else None).headers
        policy = headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy
        assert "require-trusted-types-for 'script'" in policy, "a browser refuses innerHTML by it"
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cache-control"] == "no-store"
        assert "server" not in headers


def test_a_script_in_a_title_stays_text(here: Any) -> None:
    title = "</script><script>alert(1)</script>\n\ndata: {}\r\nevent: set\u2028<img src=x onerror=alert(1)>"
    here.post("snapshot", {"title": title})
    line = here.line().send(f"GET /events HTTP/1.1\r\nHost: {here.host}\r\n\r\n")
    assert line.head().headers["content-type"].startswith("text/event-stream")
    assert [line.event()[0], *line.event()] == ["hello", "snapshot", {"title": title}]


def test_the_page_takes_no_text_for_html() -> None:
    for path, (data, media_type) in page_files().items():
        text = data.decode()
        if "javascript" in media_type:
            for way in (
                "innerHTML",
                "outerHTML",
                "insertAdjacentHTML",
                "document.write",
                "eval(",
                "new Function",
            ):
                assert way not in text, f"{way} in {path}"
        if "html" in media_type:
            assert "<script>" not in text
            assert " style=" not in text
            assert " onclick=" not in text


@pytest.mark.parametrize("announced", ["16385", "1000000000", "9" * 30])
def test_a_huge_body_is_refused_before_it_comes(here: Any, announced: str) -> None:
    line = here.line().send(
        f"POST /do HTTP/1.1\r\nHost: {here.host}\r\nOrigin: {here.origin}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {announced}\r\n\r\n{{"
    )
    assert line.answer().status in (400, 413)
    assert line.is_closed()


def chunked(here: Any) -> Any:
    return here.line().send(
        f"POST /do HTTP/1.1\r\nHost: {here.host}\r\nOrigin: {here.origin}\r\n"
        "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
    )


def test_a_body_in_pieces_is_no_longer_for_it(here: Any) -> None:
    line = chunked(here)
    for _ in range(17):
        line.send(b"400\r\n" + b" " * 1024 + b"\r\n")
    assert line.answer().status == 413
    assert line.is_closed()


def test_a_body_that_never_ends_is_given_up(here: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bodies.read_object, "__defaults__", (0.05,))
    line = chunked(here).send(b"1\r\n{\r\n")
    assert line.answer().status == 408
    assert line.is_closed()


@pytest.mark.parametrize(
    "framing",
    [
        "Content-Length: -1",
        "Content-Length: x",
        "Content-Length: 2\r\nContent-Length: 3",
        "Transfer-Encoding: gzip, chunked",
        "Content-Length : 2",
    ],
)
def test_bodies_whose_end_is_in_doubt_are_refused(here: Any, framing: str) -> None:
    line = here.line().send(
        f"POST /do HTTP/1.1\r\nHost: {here.host}\r\nOrigin: {here.origin}\r\n"
        f"Content-Type: application/json\r\n{framing}\r\n\r\n{{}}"
    )
    assert line.answer().status in (400, 501)
    assert line.is_closed()


@pytest.mark.parametrize(
    "body",
    [
        "",
        "{",
        "[]",
        "null",
        "1",
        '"down"',
        "[" * 16000,
        '{"do":' * 2000,
        '{"do":"tempo","tempo":NaN}',
        '{"do":"tempo","tempo":1e999}',
        '{"do":"tempo","tempo":' + "9" * 5000 + "}",
        '{"do":"down"}{"do":"down"}',
        b"\xff\xfe{\x00}\x00",
        b'{"do":"\xc0\xaf"}',
        '{"do":"down"}\x00',
    ],
)
def test_what_is_no_command_is_told_in_a_sentence(here: Any, body: str | bytes) -> None:
    found = here.ask("POST", "/do", body)
    assert found.status == 400
    assert found.error
    assert here.told == []


@pytest.mark.parametrize(
    "command",
    [
        {},
        {"do": None},
        {"do": 1},
        {"do": ["down"]},
        {"do": "quit"},
        {"do": "down", "extra": 1},
        {"do": "down", "page": "a b"},
        {"do": "down", "page": 1},
        {"do": "down", "at": 1},
        {"do": "paired", "device": "x", "view": False},
        {"do": "edit", "id": 1},
        {"do": "order"},
        {"do": "order", "order": "explode"},
        {"do": "order", "order": "level", "value": 127},
        {"do": "order", "order": "tune"},
        {"do": "order", "order": "tune", "value": -1},
        {"do": "order", "order": "tune", "value": 1.0},
        {"do": "order", "order": "tune", "value": True},
        {"do": "order", "order": "tune", "value": 10**400},
        {"do": "order", "order": "mute", "part": "drums", "value": 1},
        {"do": "order", "order": "mute", "part": "comp", "value": 2},
        {"do": "order", "order": "next", "value": 1},
        {"do": "key", "tonic": 12},
        {"do": "key", "tonic": "C"},
        {"do": "key", "tonic": 0, "minor": "yes"},
        {"do": "tempo", "tempo": 0},
        {"do": "tempo", "tempo": 401},
        {"do": "tempo", "tempo": "120"},
        {"do": "tempo", "tempo": True},
        {"do": "lesson"},
        {"do": "lesson", "ask": "teach"},
        {"do": "lesson", "ask": ["open"]},
        {"do": "lesson", "ask": "open", "first": 1},
        {"do": "lesson", "ask": "loop"},
        {"do": "lesson", "ask": "loop", "first": 1},
        {"do": "lesson", "ask": "loop", "first": 0, "last": 1},
        {"do": "lesson", "ask": "loop", "first": 3, "last": 2},
        {"do": "lesson", "ask": "loop", "first": 1, "last": 10**400},
        {"do": "lesson", "ask": "loop", "first": True, "last": 2},
        {"do": "lesson", "ask": "loop", "first": 1.0, "last": 2},
        {"do": "<script>"},
    ],
)
def test_what_there_is_not_is_refused_in_a_sentence(here: Any, command: dict[str, Any]) -> None:
    found = here.ask("POST", "/do", command)
    assert found.status == 400
    assert found.error
    assert here.told == []


def test_a_near_word_is_hinted_at(here: Any) -> None:
    assert (
        "Did you mean 'silence'?"
        in here.ask("POST", "/do", {"do": "order", "order": "silense"}).json["error"]
    )


@pytest.mark.parametrize(
    "command",
    [
        {"do": "down"},
        {"do": "order", "order": "next"},
        {"do": "order", "order": "tune", "value": 3},
        {"do": "order", "order": "mute", "part": "comp", "value": -1},
        {"do": "key", "tonic": 3, "minor": None},
        {"do": "tempo", "tempo": 96.5},
    ],
)
def test_a_command_is_told_as_it_was_given(here: Any, command: dict[str, Any]) -> None:
    assert here.ask("POST", "/do", {**command, "page": "a"}).status == 204
    told = here.wait_told(command["do"])
    assert told.pop("at") > 0
    assert told == command


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "BREW"])
def test_other_methods_do_nothing(here: Any, method: str) -> None:
    assert here.ask(method, "/do", {"do": "down"}).status == 405
    assert here.told == []


def test_a_head_of_the_stream_ends(here: Any) -> None:
    assert here.ask("HEAD", "/events", origin=None, content_type=None).status == 200


def test_too_many_commands_are_refused_and_a_switch_still_comes_up(here: Any) -> None:
    orders = [here.ask("POST", "/do", {"do": "down"}).status for _ in range(21)]
    assert orders[:20] == [204] * 20
    # the clock goes on meanwhile, so that how many more are let through depends on the machine
    statuses = [here.ask("POST", "/do", {"do": "order", "order": "next"}).status for _ in range(60)]
    assert 429 in statuses
    assert here.ask("POST", "/do", {"do": "up"}).status == 204
    assert here.wait_told("up")


def test_too_many_requests_of_a_stranger_are_refused(beyond: Any) -> None:
    asked = f"GET / HTTP/1.1\r\nHost: {beyond.host}\r\n\r\n"
    line = beyond.line().send(asked * 400)  # at 40 a second it would take seven seconds to have leave for all
    statuses = []
    while not statuses or statuses[-1] == 200:
        statuses.append(line.answer().status)
    assert statuses[:120] == [200] * 120
    assert statuses[-1] == 429


def test_a_front_that_does_not_take_it_is_told_of(here: Any) -> None:
    here.takes = False
    assert here.ask("POST", "/do", {"do": "down"}).status == 503
    here.takes = True
    assert here.ask("POST", "/do", {"do": "down"}).status == 204, "it was not left down"


def test_an_edit_waits_for_its_answer(here: Any) -> None:
    body = json.dumps({"revision": "1", "edit": {"tune": 0}})
    line = here.line().send(
        f"POST /set HTTP/1.1\r\nHost: {here.host}\r\nOrigin: {here.origin}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n{body}"
    )
    number = here.wait_told("edit")["id"]
    here.do(lambda: here.stand.questions.answer({"id": number + 7, "ok": True}))
    here.do(
        lambda: here.stand.questions.answer(
            {"id": number, "ok": False, "stale": True, "error": "It was changed by hand."}
        )
    )
    found = line.answer()
    assert (found.status, found.error) == (409, "It was changed by hand.")
