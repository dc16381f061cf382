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
