"""The practice room from the page on the stand: a press there is a press of the foot."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

expect = pytest.importorskip("playwright.sync_api", reason="playwright is not installed").expect


def test_passes_are_seen_and_marked_from_the_page(browser: Any, begin_daemon: Callable[..., Any]) -> None:
    daemon = begin_daemon("", practise=["dominant-vamp", "bar 1, keys in fourths, at 160, rest 4"])
    page = browser.new_page(viewport={"width": 1024, "height": 768})
    page.goto(daemon.url)
    body = page.locator("body")
    expect(body).to_contain_text("Press: begin")
    page.keyboard.press("Space")
    expect(body).to_contain_text("Press: clean")
    daemon.wait(r"1: C \(1 of 12\), 160")
    expect(body).to_contain_text("between two passes", timeout=10_000)
    expect(body).to_contain_text("next: F")
    page.keyboard.press("Space")
    daemon.wait(r"\n  clean")
    daemon.wait(r"2: F \(2 of 12\), 160")
    expect(body).to_contain_text("F (2 of 12), 160", timeout=10_000)
    page.close()


SET = """\
title: Two for practice
tunes:
  - title: Copper Kettle Lane
    key: Bb
    meter: 4/4
    tempo: 160
    feel: medium-swing
    first_chord: I
    intro: dominant-vamp
  - title: The Slow Lift
    key: G minor
    meter: 4/4
    tempo: 200
    feel: medium-swing
    first_chord: i
    intro: three-six-two-five
"""


def test_a_practice_begins_and_ends_on_the_page_of_an_evening(
    browser: Any, begin_daemon: Callable[..., Any]
) -> None:
    daemon = begin_daemon(SET)
    page = browser.new_page(viewport={"width": 1024, "height": 768})
    page.goto(f"{daemon.url}#set")
    body = page.locator("body")
    page.get_by_role("button", name="Practise").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("Practise Copper Kettle Lane")
    how = page.get_by_label("How, in words")
    how.fill("climb 160 to 96")
    dialog.get_by_role("button", name="Practise").click()
    expect(dialog.get_by_role("alert")).to_contain_text("Did you mean 'climb 96 to 160'?")
    how.fill("bar 1, rest 4")
    dialog.get_by_role("button", name="keys in fourths").click()
    expect(how).to_have_value("bar 1, rest 4, keys in fourths")
    dialog.get_by_role("button", name="Practise").click()
    daemon.wait(r"practice of “Copper Kettle Lane”: bar 1, rest 4, keys in fourths")
    expect(dialog).to_be_hidden()  # until then the space bar is the form's
    expect(page.locator("body[data-view=play]")).to_be_visible()
    expect(body).to_contain_text("Press: begin")
    page.keyboard.press("Space")
    daemon.wait(r"1: Bb \(1 of 12\), 160")
    expect(body).to_contain_text("Press: clean")
    daemon.wait(r"2: Eb \(2 of 12\), 160")
    page.goto(f"{daemon.url}#set")
    expect(page.get_by_role("button", name="Practise")).to_be_hidden()
    page.get_by_role("button", name="Back to the set").click()
    daemon.wait("the practice is over, and the set goes on")
    expect(page.get_by_role("button", name="Practise")).to_be_enabled()
    page.goto(f"{daemon.url}#play")
    expect(page.locator("body[data-view=play]")).to_be_visible()
    expect(body).to_contain_text("Press: start")
    since = daemon.so_far
    page.keyboard.press("Space")
    daemon.wait(r"in the tune")
    expect(body).to_contain_text("in the tune", timeout=20_000)
    assert len(daemon.sent(since)) > 40, "the whole intro, and not a bar of it"
    page.close()


@pytest.mark.parametrize("size", [(390, 844), (1920, 1080)], ids=["phone", "projector"])
def test_axe_finds_no_serious_fault_where_a_practice_is_begun(
    browser: Any, begin_daemon: Callable[..., Any], size: tuple[int, int]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed").Axe()
    page = browser.new_page(viewport=dict(zip(("width", "height"), size, strict=True)))
    page.goto(f"{begin_daemon(SET).url}#set")
    page.get_by_role("button", name="Practise").click()
    page.get_by_label("How, in words").fill("clmb")
    page.get_by_role("dialog").get_by_role("button", name="Practise").click()
    expect(page.get_by_role("alert").filter(has_text="Did you mean")).to_be_visible()
    response = axe.run(page).response
    assert len(response["passes"]) > 10, "axe has looked at nothing"
    assert [one["id"] for one in response["violations"] if one["impact"] in ("serious", "critical")] == []
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= size[0], "nothing lies beside the screen"
    page.close()
