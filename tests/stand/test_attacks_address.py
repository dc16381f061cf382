"""Requests that were not meant for us: other names, other sites, other kinds of body."""

from __future__ import annotations

from typing import Any

import pytest

PRESS = {"do": "down"}


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",  # DNS rebinding: a name that leads here, with or without our port
        "evil.example:{port}",
        "127.0.0.1.evil.example:{port}",
        "localhost.evil.example:{port}",
        "127.0.0.1",
        "127.0.0.1:1",
        "127.0.0.1:0{port}0",
        "127.0.0.2:{port}",  # loopback, but not where the request came to
        "[::1]:{port}",
        "0.0.0.0:{port}",
        "2130706433:{port}",  # 127.0.0.1 as one number
        "0x7f.1:{port}",
        "user@127.0.0.1:{port}",
        "127.0.0.1:{port}@evil.example",
        "127.0.0.1:{port}, evil.example",
        "",
    ],
)
@pytest.mark.parametrize("path", ["/", "/time", "/events", "/do"])
def test_another_host_is_refused(here: Any, host: str, path: str) -> None:
    method = "POST" if path == "/do" else "GET"
    given = host.format(port=here.port)
    found = here.ask(method, path, PRESS if method == "POST" else None, host=given, origin=f"http://{given}")
    assert found.status == 421
    assert here.told == []


@pytest.mark.parametrize("host", ["127.0.0.1:{port}", "localhost:{port}", "LocalHost:{port}"])
def test_our_own_names_are_taken(here: Any, host: str) -> None:
    given = host.format(port=here.port)
    assert here.ask("GET", "/time", host=given).status == 200
    assert here.ask("POST", "/do", PRESS, host=given, origin=f"http://{given}").status == 204


def test_two_hosts_are_refused(here: Any) -> None:
    found = here.line().send(f"GET / HTTP/1.1\r\nHost: {here.host}\r\nHost: evil.example\r\n\r\n").answer()
    assert found.status in (400, 421)


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},  # a sandboxed frame, a file
        {"origin": "https://127.0.0.1:{port}"},
        {"origin": "http://127.0.0.1"},
        {"origin": "http://127.0.0.1:1"},
        {
            "origin": "http://localhost:{port}"
        },  # another origin than the Host's, by the Origin standard (RFC 6454)
        {"origin": "http://127.0.0.1:{port}.evil.example"},
        {"origin": "http://127.0.0.1:{port}/"},
        {"origin": ""},
        {"origin": None},
        {"origin": None, "sec_fetch_site": "none"},
        {"origin": None, "sec_fetch_site": "same-site"},
        {"origin": None, "sec_fetch_site": "cross-site"},
        {"sec_fetch_site": "cross-site"},
        {"sec_fetch_site": "same-site"},
        {"sec_fetch_site": "none"},
    ],
)
@pytest.mark.parametrize("path", ["/do", "/pair", "/set"])
def test_what_another_site_posts_is_refused(here: Any, headers: dict[str, str | None], path: str) -> None:
    given = {name: value and value.format(port=here.port) for name, value in headers.items()}
    assert here.ask("POST", path, PRESS, **given).status == 403
    assert here.told == []


def test_a_browser_that_names_no_origin_may_say_same_origin(here: Any) -> None:
    assert here.ask("POST", "/do", PRESS, origin=None, sec_fetch_site="same-origin").status == 204


@pytest.mark.parametrize("path", ["/time", "/events", "/set"])
@pytest.mark.parametrize(
    "headers",
    [{"sec_fetch_site": "cross-site"}, {"sec_fetch_site": "same-site"}, {"origin": "http://evil.example"}],
)
def test_another_site_reads_nothing(here: Any, path: str, headers: dict[str, str]) -> None:
    found = here.ask("GET", path, **headers)
    assert found.status == 403
    assert "access-control-allow-origin" not in found.headers


def test_a_link_on_another_site_may_lead_to_the_page_but_frame_it_may_not(here: Any) -> None:
    found = here.ask("GET", "/", sec_fetch_site="cross-site")
    assert found.status == 200
    assert "frame-ancestors 'none'" in found.headers["content-security-policy"]
    assert found.headers["x-frame-options"] == "DENY"


@pytest.mark.parametrize(
    "content_type",
    [
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=x",
        "text/plain",
        "",
        None,
        "application/jsonp",
    ],
)
def test_a_form_of_another_site_posts_nothing(here: Any, content_type: str | None) -> None:
    """What a form, or a script without asking first, may send across sites (Fetch: simple requests)."""
    assert here.ask("POST", "/do", PRESS, content_type=content_type).status == 415
    foreign = here.ask("POST", "/do", "do=down", content_type=content_type, origin="http://evil.example")
    assert foreign.status == 403
    assert here.told == []


def test_a_question_before_a_foreign_post_gets_no_leave(here: Any) -> None:
    found = here.ask(
        "OPTIONS",
        "/do",
        origin="http://evil.example",
        content_type=None,
        access_control_request_method="POST",
        access_control_request_headers="content-type",
    )
    assert found.status >= 400
    assert not [name for name in found.headers if name.startswith("access-control")]


def test_no_proxy_is_believed(beyond: Any) -> None:
    """Who comes is told by the connection, and by nothing that the other side writes."""
    found = beyond.ask(
        "GET", "/time", x_forwarded_for="127.0.0.1", x_forwarded_host=beyond.host, forwarded="for=127.0.0.1"
    )
    assert found.status == 401


def test_http_1_0_needs_a_host_too(here: Any) -> None:
    without = here.line().send("GET /time HTTP/1.0\r\n\r\n")
    assert without.answer().status == 421
    assert without.is_closed()
    line = here.line().send(f"GET /time HTTP/1.0\r\nHost: {here.host}\r\n\r\n")
    assert line.head().status == 200
    assert line.is_closed()


def test_whole_addresses_as_a_proxy_gets_them_are_not_followed(here: Any) -> None:
    found = here.line().send(f"GET http://evil.example/ HTTP/1.1\r\nHost: {here.host}\r\n\r\n").answer()
    assert found.status == 404


def test_nothing_is_upgraded(here: Any) -> None:
    upgrade = {
        "connection": "Upgrade",
        "sec_websocket_key": "dGhlIHNhbXBsZSBub25jZQ==",
        "sec_websocket_version": "13",
    }
    found = here.ask("GET", "/time", upgrade="websocket", **upgrade)
    assert found.status == 200
    assert "upgrade" not in found.headers
