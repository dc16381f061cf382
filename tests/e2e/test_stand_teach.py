"""The lesson in a real chromium, taught by the real daemon: cursor, grip, sentence, steps, one voice alone.

The daemon plays into a port in memory; what it was told is read from its own log.
"""

from __future__ import annotations

import json
import statistics
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

SET = """title: Lesson
tunes:
  - {title: Slow Water, key: Eb, feel: medium-swing, tempo: 120, intro: three-six-two-five,
     line_up: with bass}
  - {title: "<b>Cold & Hot</b>", key: C# minor, feel: jazz-waltz, meter: 3/4, first_chord: i, tempo: 152,
     intro: minor-waltz-in-eight, line_up: solo guitar}
"""
SECONDS = 60.0
NAMED = {"R", "9", "♭9", "♯9", "♭3", "3", "4", "11", "♯11", "♭5", "5", "6", "♭13", "13", "♭7", "7"}


@pytest.fixture
def daemon(begin_daemon: Callable[..., Any]) -> Any:
    return begin_daemon(SET)


@pytest.fixture
def lesson(browser: Any, daemon: Any) -> Iterator[Any]:
    """The lesson's page on a projector; nothing on it may fail, or ask for anything from elsewhere."""
    wrong: list[str] = []
    context = browser.new_context(viewport={"width": 1920, "height": 1080})
    page = context.new_page()
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda line: wrong.append(line.text) if line.type == "error" else None)
    page.on("request", lambda asked: None if asked.url.startswith(daemon.url) else wrong.append(asked.url))
    page.goto(f"{daemon.url}teach.html")
    page.wait_for_selector(".teach-system", timeout=SECONDS * 1000)
    yield page
    context.close()
    assert not wrong


def until(page: Any, condition: str) -> None:
    """Waits until an expression is true; asked from here, as the page lets no text be run."""
    end = time.monotonic() + SECONDS
    while not page.evaluate(condition):
        assert time.monotonic() < end, f"never so: {condition}"
        page.wait_for_timeout(20)


def chord(page: Any) -> str:
    return str(page.inner_text("#symbol"))


def stepped(page: Any, button: str) -> str:
    before = chord(page)
    page.click(button)
    until(page, f"document.getElementById('symbol').textContent !== {json.dumps(before)}")
    return chord(page)


def test_one_steps_through_the_passage_by_hand(lesson: Any) -> None:
    """Chords of iii-VI-ii-V, I-VI-ii-V in E flat, each with its sentence, the cursor further to the right."""
    names, places, sentences = [chord(lesson)], [cursor(lesson)], [lesson.inner_text("#words")]
    for _ in range(7):
        names.append(stepped(lesson, "#on"))
        places.append(cursor(lesson))
        sentences.append(lesson.inner_text("#words"))
    roots = ["G", "C", "F", "B♭", "E♭", "C", "F", "B♭"]
    assert [name[: len(root)] for name, root in zip(names, roots, strict=True)] == roots
    assert places == sorted(places)
    assert len(set(places)) == 8
    assert all(sentences)
    assert stepped(lesson, "#back").startswith("F")


def cursor(page: Any) -> float:
    return float(
        page.evaluate("document.querySelector('.teach-here:not([data-off])').getBoundingClientRect().x")
    )


def test_the_grip_is_named_by_degrees(lesson: Any) -> None:
    degrees = lesson.evaluate(
        "[...document.querySelectorAll('#neck .dot text, #neck .root text')].map(t => t.textContent)"
    )
    assert 2 <= len(degrees) <= 6
    assert set(degrees) <= NAMED
    assert "string" in lesson.get_attribute("#neck", "aria-label")


def test_the_chord_goes_with_the_sound(lesson: Any, daemon: Any) -> None:
    """At each beat that the daemon tells, the chord that is shown is that of the beat."""
    lesson.evaluate(
        """() => {
          window.seen = [];
          const source = new EventSource("/events?page=test");
          source.addEventListener("snapshot", (event) => {
            const told = JSON.parse(event.data);
            if (told.what === "beat" && told.state === "playing") {
              seen.push([told.bar, told.beat, document.getElementById("symbol").textContent]);
            }
          });
        }"""
    )
    lesson.click("#foot")
    daemon.wait(r"playing \(")
    until(lesson, "seen.length >= 14")
    seen = lesson.evaluate("seen")
    roots = {1: ("G", "C"), 2: ("F", "B♭"), 3: ("E♭", "C"), 4: ("F", "B♭")}
    right = [name.startswith(roots[bar][beat > 2]) for bar, beat, name in seen if bar in roots]
    assert len(right) >= 14
    assert statistics.mean(right) > 0.8, seen  # told a little before it is drawn, at a change


def test_blank_hides_everything_and_gives_it_back(lesson: Any) -> None:
    lesson.click("#blank")
    assert lesson.evaluate("document.elementFromPoint(900, 500).id") == "curtain"
    lesson.click("#curtain")
    assert lesson.is_hidden("#curtain")


def test_one_voice_alone_mutes_the_others(lesson: Any, daemon: Any) -> None:
    lesson.click(".voice[value=bass]")
    lesson.wait_for_selector(".voice[value=bass][aria-pressed=true]")
    lesson.click("#foot")
    daemon.wait(r"\nin the tune")
    channels = {
        int(sent[:2], 16) & 15 for sent in sent_messages(daemon) if sent.startswith("9") and sent[-2:] != "00"
    }
    assert channels == {2}


def sent_messages(daemon: Any) -> list[str]:
    lines = [json.loads(line) for line in daemon.log.read_text().splitlines() if '"sent"' in line]
    return [line["sent"] for line in lines]


def test_slower_and_faster_are_orders(lesson: Any) -> None:
    lesson.click("#slower")
    until(lesson, "document.getElementById('facts').textContent.includes('118')")
    lesson.click("#faster")
    until(lesson, "document.getElementById('facts').textContent.includes('120')")


def test_the_next_tune_is_taught_and_its_title_is_text(lesson: Any, daemon: Any) -> None:
    """The waltz has two systems; the one with the cursor is the one that is seen."""
    lesson.evaluate(
        """() => fetch("/do", {method: "POST", headers: {"Content-Type": "application/json"},
             body: JSON.stringify({do: "order", order: "next"})})"""
    )
    until(lesson, "document.querySelectorAll('.teach-system').length === 2")
    assert lesson.inner_text("#title") == "<b>Cold & Hot</b>"
    assert lesson.evaluate("document.querySelectorAll('#title b').length") == 0
    for _ in range(7):
        stepped(lesson, "#on")
    here, room = edges(lesson, ".teach-here:not([data-off])"), edges(lesson, "#music")
    assert here[0] >= room[0] - 1
    assert here[1] <= room[1] + 1


def edges(page: Any, selector: str) -> tuple[float, float]:
    box = page.evaluate(f"document.querySelector('{selector}').getBoundingClientRect().toJSON()")
    return box["top"], box["bottom"]


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize(
    "size", [(1920, 1080), (820, 1180), (1180, 820)], ids=["projector", "tablet", "on its side"]
)
def test_axe_finds_no_serious_fault(theme: str, size: tuple[int, int], lesson: Any, tmp_path: Path) -> None:
    axe = pytest.importorskip("axe_playwright_python", reason="axe is not installed")
    rules = (Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    lesson.set_viewport_size({"width": size[0], "height": size[1]})
    if lesson.evaluate("document.documentElement.dataset.theme") != theme:
        lesson.click("#theme")
    lesson.screenshot(path=str(tmp_path / "lesson.png"))
    lesson.evaluate(rules)
    found = lesson.evaluate("axe.run()")
    assert len(found["passes"]) > 10, "axe has looked at nothing"
    assert [one["id"] for one in found["violations"] if one["impact"] in ("serious", "critical")] == []
    whole = lesson.evaluate("[document.documentElement.scrollWidth, document.documentElement.scrollHeight]")
    assert whole[0] <= size[0]
    assert whole[1] <= size[1]


def test_what_cannot_be_engraved_is_said(
    browser: Any, begin_daemon: Callable[..., Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the engraver the stand goes on, and the lesson says what to install."""
    hidden = tmp_path / "hidden"
    hidden.mkdir()
    (hidden / "verovio.py").write_text("raise ImportError\n")
    monkeypatch.setenv("PYTHONPATH", str(hidden))
    page = browser.new_page()
    page.goto(f"{begin_daemon(SET).url}teach.html")
    until(page, "document.getElementById('error').textContent !== ''")
    assert "sheet" in page.inner_text("#error")
    page.close()
