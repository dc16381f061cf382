"""The set view's editing in a real chromium with the real daemon, its set file read byte by byte afterwards.

The daemon plays into a port in memory. What an edit must leave of the file is said here by hand.
"""

from __future__ import annotations

import json
import re
import socket
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

SET = """\
# Tonight, as the host likes it
title: Tonight
tunes:
  # the opener
  - call: medium swing, Bb, starts on two
    title: Copper Kettle

  # ---- after the break ----

  - title: "<i>Cold & Hot</i>"     # with the singer
    key: 'C# minor'
    meter: 3/4
    tempo: 152
    feel: jazz-waltz
    first_chord: i
  - call: ballad, Db
    title: The Lift That Went Up on the Wrong Side of the House and Did Not Come Back
    tempo: 60      # no slower
"""
LIFT = "The Lift That Went Up on the Wrong Side of the House and Did Not Come Back"
TITLES = ["Copper Kettle", "<i>Cold & Hot</i>", LIFT]
SECONDS = 60.0


@pytest.fixture(scope="module")
def shared(lasting_daemon: Callable[..., Any]) -> SimpleNamespace:
    """One daemon for all tests that begin with the set as it is, and what its page is told of that."""
    daemon = lasting_daemon(SET)
    return SimpleNamespace(daemon=daemon, told=told_set(daemon))


@pytest.fixture
def begin(shared: SimpleNamespace, begin_daemon: Callable[..., Any]) -> Callable[..., Any]:
    """The shared daemon with its set put back, which has said nothing yet; another one for another set."""

    def put_back(*, name: str | None = None) -> Any:
        if name is not None:
            return begin_daemon(SET, name=name)
        daemon = shared.daemon
        if text(daemon) != SET:
            daemon.said.clear()
            daemon.set.write_text(SET, encoding="utf-8")
            daemon.wait("read again: set.yaml")  # or a test would take it for its own
        end = time.monotonic() + SECONDS
        while told_set(daemon) != shared.told:
            assert time.monotonic() < end, told_set(daemon)
            time.sleep(0.02)
        daemon.said.clear()
        return daemon

    return put_back


def told_set(daemon: Any) -> list[tuple[Any, ...]]:
    """The tunes as any page is told them, without the index that the player counts each by."""
    with urllib.request.urlopen(f"{daemon.url}set", timeout=20) as answer:
        told = json.loads(answer.read())
    return [
        tuple(tune.get(name) for name in ("title", "key", "tempo", "intro", "landing"))
        for tune in told["tunes"]
        if told["revision"]
    ]


def text(daemon: Any) -> str:
    """What stands in the set's file."""
    return str(daemon.set.read_bytes().decode())


@pytest.fixture
def look(browser: Any) -> Iterator[Callable[..., Any]]:
    """Opens the set view, being changed; no page may fail in silence."""
    contexts: list[Any] = []
    wrong: list[str] = []

    def open_page(daemon: Any, *, size: tuple[int, int] = (820, 1180), edit: bool = True, **more: Any) -> Any:
        context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **more)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.goto(f"{daemon.url}#set")
        page.wait_for_selector('body[data-link="up"]')
        if edit:
            page.click("#set-edit:enabled")
            page.wait_for_selector("#entries li")
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not wrong


def until(page: Any, so: Callable[[], bool], what: str = "") -> None:
    """Waits until something is so."""
    end = time.monotonic() + SECONDS
    while not so():
        assert time.monotonic() < end, what or page.inner_text("#set")
        page.wait_for_timeout(20)


def focused(page: Any) -> Any:
    """Which part of an entry has the focus."""
    return page.evaluate("document.activeElement.dataset.part")


def names(page: Any) -> list[str]:
    found: list[str] = page.locator("#entries .name").all_inner_texts()
    return found


def moved(*order: int) -> str:
    """The set's file with its entries in another order; the heading stays in its place."""
    copper = "  # the opener\n" + SET.partition("  # the opener\n")[2].partition("\n\n")[0] + "\n"
    cold = SET[SET.index('  - title: "<i>') : SET.index("  - call: ballad")]
    lift = SET[SET.index("  - call: ballad") :]
    head, gap = SET[: SET.index("  # the opener")], "\n  # ---- after the break ----\n\n"
    entries = [(copper, cold, lift)[index] for index in order]
    return head + entries[0] + gap + entries[1] + entries[2]


def test_a_tune_is_dragged_to_another_place(begin: Any, look: Any) -> None:
    assert moved(0, 1, 2) == SET
    daemon = begin()
    page = look(daemon)
    assert names(page) == TITLES
    grips = page.locator("#entries .grip")
    start, target = grips.nth(2).bounding_box(), grips.nth(0).bounding_box()
    page.mouse.move(start["x"] + 20, start["y"] + start["height"] / 2)
    page.mouse.down()
    page.mouse.move(start["x"] + 20, target["y"] + target["height"] + 20, steps=5)
    assert text(daemon) == SET, "nothing is written while it is held"
    page.mouse.move(start["x"] + 20, target["y"] + 5, steps=5)
    page.mouse.up()
    until(page, lambda: names(page) == [LIFT, *TITLES[:2]])
    until(page, lambda: text(daemon) != SET)
    assert text(daemon) == moved(2, 0, 1)
    daemon.wait("goes to place 1; written to set.yaml")
    daemon.wait("read again: set.yaml")
    here = sorted(path.name for path in daemon.set.parent.iterdir())
    assert here == ["home", "log.jsonl", "rig.yaml", "set.yaml"]


def test_a_finger_drags_too_and_a_row_that_is_put_back_is_nothing(begin: Any, look: Any) -> None:
    daemon = begin()
    page = look(daemon, size=(390, 844), has_touch=True)
    row = page.locator("#entries .grip").nth(0)
    box, last = row.bounding_box(), page.locator("#entries li").nth(2).bounding_box()
    touch = page.context.new_cdp_session(page)
    x, y, end = box["x"] + 20, box["y"] + 20, last["y"] + last["height"] - 4

    def send(kind: str, *points: float) -> None:
        where = [{"x": x, "y": point} for point in points]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": where})

    send("touchStart", y)
    for step in range(1, 9):
        send("touchMove", y + (end - y) * step / 8)
    for step in range(1, 9):
        send("touchMove", end + (y - end) * step / 8)
    send("touchEnd")
    page.wait_for_timeout(300)
    assert names(page) == TITLES
    assert text(daemon) == SET
    send("touchStart", y)
    for step in range(1, 9):
        send("touchMove", y + (end - y) * step / 8)
    send("touchEnd")
    until(page, lambda: text(daemon) == moved(1, 2, 0), text(daemon))
    assert names(page) == [*TITLES[1:], TITLES[0]]


def test_buttons_and_keys_move_it_and_the_focus_goes_along(begin: Any, look: Any) -> None:
    daemon = begin()
    page = look(daemon)
    page.locator("#entries .down").nth(0).click()
    until(page, lambda: names(page) == [TITLES[1], TITLES[0], LIFT])
    assert text(daemon) == moved(1, 0, 2)
    page.locator("#entries .grip").nth(1).focus()
    page.keyboard.press("Alt+ArrowUp")
    until(page, lambda: names(page) == TITLES)
    assert text(daemon) == SET
    until(page, lambda: focused(page) == "grip")
    # Several at once: each is made of the set as the one before left it.
    for _ in range(3):
        page.keyboard.press("Alt+ArrowDown")
    until(page, lambda: names(page) == [*TITLES[1:], TITLES[0]])
    until(page, lambda: text(daemon) == moved(1, 2, 0))
    assert page.evaluate("document.activeElement.getAttribute('aria-label')").startswith(
        "Copper Kettle: place 3"
    )


def test_a_tunes_key_tempo_intro_and_landing(begin: Any, look: Any) -> None:
    daemon = begin()
    page = look(daemon)
    page.locator("#entries .change").nth(2).click()
    assert page.inner_text("#entry-head") == LIFT
    assert page.input_value("#entry-tempo") == "60"
    until(page, lambda: page.locator("#entry-intro option").count() > 3)
    page.select_option("#entry-key", "Eb")
    page.click("#entry-faster")
    page.click("#entry-faster")
    intro = page.locator("#entry-intro option").nth(1).get_attribute("value")
    page.select_option("#entry-intro", intro)
    page.select_option("#entry-landing", "ring 4")
    page.click("#entry-save")
    until(page, lambda: not page.is_visible("#entry"))
    new = SET.replace(
        "    tempo: 60      # no slower\n",
        f"    key: Eb\n    tempo: 62      # no slower\n    intro: {intro}\n    landing: ring 4\n",
    )
    assert text(daemon) == new
    assert "E♭ · at 62" in page.locator("#entries li").nth(2).inner_text()
    until(page, lambda: focused(page) == "change")  # a dialog gives it back once it has gone
    daemon.wait("read again: set.yaml")

    # And back: what the entry does not say any more, the tune says.
    page.locator("#entries .change").nth(2).click()
    for field in ("key", "intro", "landing"):
        page.select_option(f"#entry-{field}", "")
    page.fill("#entry-tempo", "60")
    page.click("#entry-save")
    until(page, lambda: not page.is_visible("#entry"))
    assert text(daemon) == SET

    # A tune that is written out keeps its quotes; its title is text, whatever it looks like.
    page.locator("#entries .change").nth(1).click()
    assert page.inner_text("#entry-head") == "<i>Cold & Hot</i>"
    assert page.locator("#entry-key option[value='']").count() == 0
    page.select_option("#entry-key", "D minor")
    page.click("#entry-save")
    until(page, lambda: not page.is_visible("#entry"))
    assert text(daemon) == SET.replace("'C# minor'", "'D minor'")


def test_a_wrong_value_is_said_in_the_loaders_words_and_nothing_is_written(begin: Any, look: Any) -> None:
    daemon = begin()
    page = look(daemon)
    page.locator("#entries .change").nth(2).click()
    page.fill("#entry-tempo", "900")
    page.click("#entry-save")
    until(page, lambda: page.inner_text("#entry-error") != "")
    assert re.search(r"Line 18, column 12: .*30 to 400", page.inner_text("#entry-error"))
    assert page.is_visible("#entry")
    assert text(daemon) == SET
    page.fill("#entry-tempo", "70")
    page.click("#entry-save")
    until(page, lambda: not page.is_visible("#entry"))
    assert text(daemon) == SET.replace("tempo: 60", "tempo: 70")


def test_a_hand_edit_is_not_written_over_and_is_told(begin: Any, look: Any) -> None:
    daemon = begin()
    page = look(daemon)
    page.locator("#entries .change").nth(2).click()
    page.fill("#entry-tempo", "70")
    by_hand = SET.replace("ballad, Db", "ballad, Eb") + "  # mine\n"
    seen = page.evaluate("fetch('/set').then((answer) => answer.json()).then((set) => set.revision)")
    daemon.set.write_text(by_hand, encoding="utf-8")
    # As a page whose news has not come yet would send it.
    error = refused(daemon, {"revision": seen, "edit": {"move": 0, "to": 2}})
    assert error.startswith("Nothing was changed: the set has been changed in its file meanwhile (“The Lift")
    assert "is in Eb now" in error
    assert text(daemon) == by_hand
    # The form still has what was seen when it was opened; the new list is behind it.
    until(page, lambda: "E♭" in page.locator("#entries li").nth(2).text_content())
    page.click("#entry-save")
    until(page, lambda: not page.is_visible("#entry"))
    assert "“The Lift That Went Up" in page.inner_text("#edit-word")
    assert text(daemon) == by_hand
    page.locator("#entries .up").nth(2).click()
    until(page, lambda: names(page)[1] == LIFT)
    assert page.inner_text("#edit-word") == ""
    assert text(daemon).endswith("  # mine\n")
    assert "ballad, Eb" in text(daemon)


def test_a_set_that_changes_under_a_drag_is_not_ordered_by_what_was_seen(begin: Any, look: Any) -> None:
    daemon = begin()
    page = look(daemon)
    grips = page.locator("#entries .grip")
    start, target = grips.nth(0).bounding_box(), grips.nth(2).bounding_box()
    page.mouse.move(start["x"] + 20, start["y"] + 20)
    page.mouse.down()
    daemon.set.write_text(moved(2, 1, 0), encoding="utf-8")
    daemon.wait("read again: set.yaml")
    page.wait_for_timeout(300)
    page.mouse.move(start["x"] + 20, target["y"] + target["height"] - 5, steps=5)
    page.mouse.up()
    until(page, lambda: page.inner_text("#edit-word").startswith("Nothing was changed"))
    assert text(daemon) == moved(2, 1, 0)
    assert names(page) == [LIFT, TITLES[1], TITLES[0]]


def test_a_stale_page_says_so_and_shows_the_new_list(begin: Any, look: Any) -> None:
    daemon = begin()
    page = look(daemon)
    # Its news does not reach it any more, though it can still send.
    page.route("**/set", lambda route: route.continue_(post_data=stale(route)))
    page.locator("#entries .down").nth(0).click()
    until(page, lambda: page.inner_text("#edit-word") != "")
    assert page.inner_text("#edit-word").startswith("Nothing was changed")
    assert names(page) == TITLES
    assert text(daemon) == SET


def stale(route: Any) -> str:
    return json.dumps({**route.request.post_data_json, "revision": "0123456789abcdef"})


def refused(daemon: Any, body: dict[str, Any]) -> str:
    headers = {"Content-Type": "application/json", "Origin": daemon.url.rstrip("/")}
    request = urllib.request.Request(f"{daemon.url}set", json.dumps(body).encode(), headers, method="POST")
    with pytest.raises(urllib.error.HTTPError) as error:
        urllib.request.urlopen(request, timeout=20)
    assert error.value.code == 409
    return str(json.loads(error.value.read())["error"])


def test_a_file_with_a_mistake_is_not_changed_and_the_page_says_why(begin: Any, look: Any) -> None:
    daemon = begin()
    page = look(daemon)
    daemon.set.write_text(SET.replace("tempo: 60", "tempo: fast"), encoding="utf-8")
    until(page, lambda: page.inner_text("#edit-why").startswith("Line 18"))
    assert page.locator("#entries button:enabled").count() == 0
    daemon.set.write_text(SET, encoding="utf-8")
    until(page, lambda: page.locator("#entries button:enabled").count() > 0)


def test_the_programs_set_is_copied_and_the_screen_says_so(begin: Any, look: Any) -> None:
    daemon = begin(name="demo")
    page = look(daemon)
    before = names(page)
    page.locator("#entries .down").nth(0).click()
    until(page, lambda: names(page)[:2] == [before[1], before[0]])
    own = daemon.home / "config" / "sets" / "demo.yaml"
    daemon.wait(f"yours is played from now on: {re.escape(str(own))}")
    assert own.is_file()
    page.locator("#entries .up").nth(1).click()
    until(page, lambda: names(page) == before)


def test_an_evening_without_a_file_says_so(begin: Any, look: Any) -> None:
    page = look(begin(name="medium swing, Bb, starts on two"), edit=False)
    until(page, lambda: "no set file to change" in page.inner_text("#edit-why"))
    assert page.is_disabled("#set-edit")


def test_a_device_that_looks_on_has_nothing_to_change_with(browser: Any, stage: ModuleType) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))  # [RFC 5737] a documentation address; nothing is sent
            address = asking.getsockname()[0]
        except OSError:
            address = "127.0.0.1"
    if address.startswith("127."):
        pytest.skip("this machine has no address beyond loopback")
    playing = stage.Playing(listen=address)
    try:
        playing.ask(lambda front: front.stand.end.put({"kind": "code", "code": "314159", "view": True}))
        page = browser.new_context().new_page()
        page.goto(f"{playing.url}#pair=314159")
        page.wait_for_selector("body[data-watches]")
        page.click("#go-set")
        until(page, lambda: page.inner_text("#set-word") == "This device only looks on.")
        assert not page.is_visible("#set-edit")
        assert page.inner_text("#edit-why") == ""
        status = page.evaluate(
            """async () => (await fetch("/set", {
                method: "POST", headers: {"Content-Type": "application/json"},
                body: JSON.stringify({revision: "", edit: {move: 0, to: 1}})})).status"""
        )
        assert status == 403
        page.context.close()
    finally:
        playing.close()


JUDGED = ("phone", "projector")
"""Sizes at which axe looks: its rules know names, order and contrast, and the layout is the same between."""


@pytest.mark.parametrize("scheme", ["dark", "light"])
def test_it_fits_and_can_be_read_and_hit(
    begin: Any, look: Any, stage: ModuleType, scheme: str, tmp_path: Path
) -> None:
    daemon = begin()
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed").Axe()
    for name, size in stage.SIZES.items():
        page = look(daemon, size=size, color_scheme=scheme)
        for view in ("list", "form"):
            if view == "form":
                page.locator("#entries .change").nth(2).click()
                until(page, lambda page=page: page.locator("#entry-intro option").count() > 3)
            stage.shot(page, tmp_path, f"{view} {scheme} {name}")
            if name in JUDGED:
                bad = [
                    (fault["id"], [node["html"] for node in fault["nodes"]])
                    for fault in axe.run(page).response["violations"]
                    if fault["impact"] in ("serious", "critical")
                ]
                assert not bad, (name, view)
            assert not stage.too_small(page), (name, view)
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (name, view)
        page.fill("#entry-tempo", "9")
        page.click("#entry-save")
        until(page, lambda page=page: page.inner_text("#entry-error") != "")
        stage.shot(page, tmp_path, f"refused {scheme} {name}")
        page.context.close()
