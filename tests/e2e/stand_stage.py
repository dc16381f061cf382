"""A stand page in a real browser: chromium, a made-up front in a thread of its own, what the page shows."""

from __future__ import annotations

import queue
import shutil
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from typing import Any

from introit.stand.launch import start_stand
from introit.stand.snapshot import Chord, NextChord
from introit.testing.stand_front import StandFront

SIZES = {
    "phone": (390, 844),
    "phone on its side": (844, 390),
    "tablet": (820, 1180),
    "tablet on its side": (1180, 820),
    "projector": (1920, 1080),
}
"""Width and height in CSS pixels."""
PATIENCE_MS = 15_000
_SLICE_SECONDS = 0.02


class BrowserMissingError(Exception):
    """There is no browser to drive; says why."""


def chromium() -> str:
    """Where the system's chromium is."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        raise BrowserMissingError("chromium is not installed")
    return found


class Playing:
    """A made-up front that plays in real time, and its stand.

    Args:
        how: for `start_stand`; port 0 unless said otherwise.

    Attributes:
        front: the front; `ask` is the way to it.
        url: where the page is served.
    """

    def __init__(self, **how: Any) -> None:
        self._stand = start_stand(**{"port": 0, **how})
        self.front = StandFront(self._stand)
        self.url: str = self._stand.serving["url"]
        self._todo: queue.SimpleQueue[tuple[Callable[[StandFront], Any], Future[Any]]] = queue.SimpleQueue()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    @property
    def port(self) -> int:
        """Where it listens."""
        return int(self.url.rstrip("/").rpartition(":")[2])

    @property
    def pid(self) -> int:
        """Of the stand's process."""
        return self._stand.process.pid

    def ask(self, what: Callable[[StandFront], Any]) -> Any:
        """Does something with the front, between two beats, and returns what it gives."""
        answer: Future[Any] = Future()
        self._todo.put((what, answer))
        return answer.result(10)

    def tell(self, **changed: Any) -> None:
        """Shows this instead: fields of a snapshot."""
        self.ask(lambda front: front.tell(time.monotonic_ns(), changed.pop("what", "state"), **changed))

    def asked(self) -> list[dict[str, Any]]:
        """What the page has asked for, without its time."""
        lines: list[dict[str, Any]] = self.ask(lambda front: list(front.asked))
        return [{name: value for name, value in line.items() if name != "at"} for line in lines]

    def wait_asked(self, page: Any, count: int) -> list[dict[str, Any]]:
        """Waits until the page has asked for so much."""
        for _ in range(PATIENCE_MS // 20):
            if len(found := self.asked()) >= count:
                return found
            page.wait_for_timeout(20)
        raise AssertionError(f"asked for in all: {self.asked()}")

    def _run(self) -> None:
        while not self._over.is_set():
            self.front.run(_SLICE_SECONDS)
            while not self._todo.empty():
                what, answer = self._todo.get()
                try:
                    answer.set_result(what(self.front))
                except Exception as error:
                    answer.set_exception(error)
            if self.front.stand.end.gone:
                self._over.wait(_SLICE_SECONDS)

    def close(self) -> None:
        """Ends it."""
        self._over.set()
        self._thread.join()
        self._stand.stop()


def chord(names: dict[str, str]) -> Chord:
    """A snapshot's chord."""
    return Chord(**names)


def following(names: dict[str, str], in_beats: float) -> NextChord:
    """A snapshot's next chord."""
    return NextChord(**names, in_beats=in_beats)


def wait_link(page: Any, state: str, *, within_ms: float = PATIENCE_MS) -> None:
    """Waits until the page says so of its connection."""
    page.wait_for_selector(f'body[data-link="{state}"]', timeout=within_ms)


def wait_state(page: Any, state: str) -> None:
    """Waits until the page shows a state."""
    page.wait_for_selector(f'body[data-state="{state.replace(" ", "-")}"]', timeout=PATIENCE_MS)


def wait_until(page: Any, condition: str) -> None:
    """Waits until an expression in the page is true; asked from here, as the page lets no text be run."""
    for _ in range(PATIENCE_MS // 20):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"never so: {condition}")


def too_large(page: Any) -> list[str]:
    """What does not fit: what lies beyond the window, or is cut off and does not say so by an ellipsis."""
    found: list[str] = page.evaluate(
        """() => {
          const wrong = [];
          const root = document.documentElement;
          if (root.scrollWidth > innerWidth || root.scrollHeight > innerHeight) wrong.push("it scrolls");
          for (const element of document.querySelectorAll("header *, #lost, #play, #play *, #call[open] *")) {
            const style = getComputedStyle(element);
            const box = element.getBoundingClientRect();
            if (!box.width || element.closest(".unseen, svg, #way-left, #way-here")) continue;
            const name = element.id || element.className || element.tagName;
            if (box.left < -1 || box.top < -1 || box.right > innerWidth + 1 || box.bottom > innerHeight + 1) {
              wrong.push(`${name} lies outside`);
            }
            const cut = element.scrollWidth > element.clientWidth + 1 && style.overflowX !== "visible";
            if (cut && name !== "way" && style.textOverflow !== "ellipsis") wrong.push(`${name} is cut`);
          }
          return wrong;
        }"""
    )
    return found


def too_small(page: Any) -> list[str]:
    """What a finger cannot hit: anything to press that is not at least 48 pixels wide and high."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("button, a, input")]
          .map((element) => [element.id || element.textContent, element.getBoundingClientRect()])
          .filter(([, box]) => box.width > 0 && (box.width < 48 || box.height < 48))
          .map(([name, box]) => `${name}: ${Math.round(box.width)} x ${Math.round(box.height)}`)"""
    )
    return found


def shot(page: Any, folder: Path, name: str) -> None:
    """A picture, for whoever wants to look."""
    page.screenshot(path=str(folder / f"{name.replace(' ', '-')}.png"))
