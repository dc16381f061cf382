"""The lesson in a real chromium, taught by the real daemon: steps, motif, grip, bars that go round.

The daemon plays into a port in memory; what went out is read from its own log. One daemon and one page serve
all tests of this module; each finds the first tune ready, all voices heard and the page as it opens.
"""

from __future__ import annotations

import json
import statistics
import time
from collections.abc import Callable, Iterator
from itertools import groupby, pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

SET = """title: Lesson
tunes:
  - {title: Slow Water, key: Eb, feel: medium-swing, tempo: 200, intro: three-six-two-five,
     line_up: with bass}
  - {title: "<b>Cold & Hot</b>", key: C# minor, feel: jazz-waltz, meter: 3/4, first_chord: i, tempo: 152,
     intro: minor-waltz-in-eight, line_up: solo guitar}
"""
ROOTS = ["G", "C", "F", "B♭", "E♭", "C", "F", "B♭"]
"""Of iii-VI-ii-V, I-VI-ii-V in E flat."""
SECONDS = 60.0
NAMED = {"R", "9", "♭9", "♯9", "♭3", "3", "4", "11", "♯11", "♭5", "5", "6", "♭13", "13", "♭7", "7"}
TOLD = """
  window.told = [];
  new EventSource("/events?page=test")
    .addEventListener("snapshot", (event) => told.push(JSON.parse(event.data)));
"""


@pytest.fixture(scope="module")
def daemon(lasting_daemon: Callable[..., Any]) -> Any:
    return lasting_daemon(SET)


@pytest.fixture(scope="module")
def opened(browser: Any, daemon: Any) -> Iterator[Any]:
    """The lesson's page on a projector."""
    context = browser.new_context(viewport={"width": 1920, "height": 1080}, color_scheme="dark")
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda line: wrong.append(line.text) if line.type == "error" else None)
    page.on("request", lambda asked: None if asked.url.startswith(daemon.url) else wrong.append(asked.url))
    page.goto(f"{daemon.url}teach.html")
    yield SimpleNamespace(page=page, wrong=wrong)
    context.close()


@pytest.fixture
def lesson(opened: Any, daemon: Any) -> Iterator[Any]:
    """The page, put back; nothing on it may fail, or ask for anything from elsewhere."""
    page = opened.page
    page.set_viewport_size({"width": 1920, "height": 1080})
    page.reload()
    page.wait_for_selector(".teach-system", timeout=SECONDS * 1000)
    page.evaluate(TOLD)
    until(page, "told.length > 0 && told.at(-1).step >= 0")
    yield page
    put_back(page)
    assert not opened.wrong


def put_back(page: Any) -> None:
    """The first tune is ready at its tempo, and every voice is heard."""
    do(page, {"do": "order", "order": "silence"})
    do(page, {"do": "lesson", "ask": "close"})  # which goes back to the first chord
    for part in ("melody", "comp", "bass", "pedal", "ride"):
        if muted(page, part):
            do(page, {"do": "order", "order": "mute", "part": part, "value": 0})
    end = time.monotonic() + SECONDS
    while (at := told(page)) and (at["state"], at["tune"], at["tempo"]) != ("ready", 0, 200):
        assert time.monotonic() < end, at
        if at["tune"] or at["state"] == "in the tune":
            do(page, {"do": "order", "order": "tune", "value": 0})
        elif at["state"] == "ready":
            do(page, {"do": "tempo", "tempo": 200})
        page.wait_for_timeout(150)


def told(page: Any) -> dict[str, Any]:
    """The newest snapshot."""
    newest: dict[str, Any] = page.evaluate("told.at(-1)")
    return newest


def muted(page: Any, part: str) -> bool:
    bits: int = told(page)["muted"]
    return bool(bits >> ["melody", "comp", "bass", "pedal", "ride"].index(part) & 1)


def do(page: Any, command: dict[str, Any]) -> None:
    """Asks the stand for something, as another page would."""
    page.evaluate(
        """(command) => fetch("/do", {method: "POST", headers: {"Content-Type": "application/json"},
             body: JSON.stringify(command)}).then((response) => response.status)""",
        command,
    )


def until(page: Any, condition: str) -> None:
    """Waits until an expression is true; asked from here, as the page lets no text be run."""
    end = time.monotonic() + SECONDS
    while not page.evaluate(condition):
        assert time.monotonic() < end, f"never so: {condition}; {page.evaluate('told.at(-1)')}"
        page.wait_for_timeout(20)


def chord(page: Any) -> str:
    return str(page.inner_text("#symbol"))


def cursor(page: Any) -> float:
    return float(
        page.evaluate("document.querySelector('.teach-here:not([data-off])').getBoundingClientRect().x")
    )


def shows(page: Any, root: str) -> None:
    """Waits until a chord on this root is shown."""
    until(page, f"document.getElementById('symbol').textContent.startsWith({json.dumps(root)})")


def bars_heard(page: Any) -> list[int]:
    """Bars in the order in which their first beats were told."""
    beats: list[int] = page.evaluate(
        "told.filter((t) => t.what === 'beat' && t.beat === 1).map((t) => t.bar)"
    )
    return beats


# --- the foot steps -------------------------------------------------------------------------------------


def test_the_foot_steps_through_the_passage_and_starts_nothing(lesson: Any, daemon: Any) -> None:
    """Each chord has its sentence, and the cursor stands further to the right."""
    since = daemon.so_far
    assert lesson.inner_text("#foot-words") == "Press: next chord"
    assert "hold: chord before" in lesson.inner_text("#foot-more")
    names, places, sentences = [chord(lesson)], [cursor(lesson)], [lesson.inner_text("#words")]
    presses: list[Callable[[], None]] = [
        lambda: lesson.keyboard.press("PageDown"),
        lambda: lesson.keyboard.press("Space"),
        lambda: lesson.click("#foot"),
        lambda: lesson.click("#on"),
        lambda: lesson.keyboard.press("ArrowRight"),
        lambda: lesson.keyboard.press("PageDown"),
        lambda: lesson.click("#on"),
    ]
    for press, root in zip(presses, ROOTS[1:], strict=True):
        lesson.wait_for_timeout(450)  # apart, or two would be a double press
        press()
        shows(lesson, root)
        names.append(chord(lesson))
        places.append(cursor(lesson))
        sentences.append(lesson.inner_text("#words"))
    assert [name[: len(root)] for name, root in zip(names, ROOTS, strict=True)] == ROOTS
    assert places == sorted(places)
    assert len(set(places)) == 8
    assert all(sentences)
    assert not [sent for sent in daemon.sent(since) if sent[0] & 0xF0 == 0x90]
    assert told(lesson)["state"] == "ready"


def test_a_hold_and_the_page_turners_other_pedal_go_back(lesson: Any) -> None:
    """Two presses are read in `live/test_lesson.py`: a busy machine may well hold up the second."""
    for _ in range(5):
        do(lesson, {"do": "lesson", "ask": "on"})
    until(lesson, "told.at(-1).step === 5")
    lesson.keyboard.down("Space")
    until(lesson, "told.at(-1).step === 4")
    lesson.keyboard.up("Space")
    lesson.keyboard.press("PageUp")
    until(lesson, "told.at(-1).step === 3")
    shows(lesson, "B♭")
    lesson.click("#back")
    until(lesson, "told.at(-1).step === 2")


def test_the_foot_is_given_back_to_the_music_and_taken_again(lesson: Any) -> None:
    lesson.keyboard.press("f")
    until(lesson, "told.at(-1).step === -1")
    assert lesson.get_attribute("#steps", "aria-pressed") == "false"
    until(lesson, "document.getElementById('foot-words').textContent === 'Press: start'")
    lesson.click("#on")  # on this page alone
    shows(lesson, "C")
    assert told(lesson)["step"] == -1
    lesson.keyboard.press("Space")
    until(lesson, "told.at(-1).state === 'playing'")
    lesson.keyboard.press("f")
    lesson.keyboard.press("p")
    until(lesson, "told.at(-1).state === 'ready' && told.at(-1).step >= 0")


def test_a_page_that_is_left_gives_the_foot_back(browser: Any, lesson: Any, daemon: Any) -> None:
    """The last that is looked at: with another one open the foot goes on stepping."""
    other = browser.new_page()
    other.goto(f"{daemon.url}teach.html")
    other.wait_for_selector("#steps[aria-pressed=true]")
    do(lesson, {"do": "lesson", "ask": "away"})  # of a page that has none open
    other.close()
    lesson.wait_for_timeout(300)
    assert told(lesson)["step"] >= 0
    lesson.goto(f"{daemon.url}#play")
    lesson.evaluate(TOLD)
    until(lesson, "told.length > 0 && told.at(-1).step === -1")
    assert told(lesson)["press"] == "start"
    lesson.goto(f"{daemon.url}teach.html")
    lesson.evaluate(TOLD)
    until(lesson, "told.length > 0 && told.at(-1).step >= 0")


# --- what is seen ---------------------------------------------------------------------------------------


def test_the_passage_keeps_its_size_whatever_is_said_beneath(lesson: Any) -> None:
    """A long sentence and a short one, a grip and none: a passage that jumps with each chord is not read."""
    sizes = set()
    for root in ROOTS:
        shows(lesson, root)
        lesson.wait_for_timeout(30)
        sizes.add(tuple(box(lesson, ".teach-system").values()))
        assert lesson.evaluate("said.scrollHeight <= said.clientHeight"), "all of it is seen"
        lesson.click("#on")
    assert len(sizes) == 1


def test_the_grip_is_named_by_degrees(lesson: Any) -> None:
    degrees = lesson.evaluate(
        "[...document.querySelectorAll('#neck .dot text, #neck .root text')].map(t => t.textContent)"
    )
    assert 2 <= len(degrees) <= 6
    assert set(degrees) <= NAMED
    assert "string" in lesson.get_attribute("#neck", "aria-label")
    lesson.click("#on")
    shows(lesson, "C")
    assert lesson.get_attribute("#neck", "aria-label").startswith("C"), "though it is struck after the beat"
    assert lesson.is_visible("#neck")


def test_the_motif_is_marked_where_it_falls_and_where_it_returns(lesson: Any) -> None:
    """Asked over the three in bar 1, asked again over the one in bar 3: so says the intro's file."""
    words = lesson.locator(".teach-motif").all_inner_texts()
    assert words[0] == "the motif"
    assert len(words) == 2
    assert words[1].startswith("again")
    assert "another end" in words[1]
    first, again = boxes(lesson, ".teach-motif")
    assert first["x"] + first["width"] < again["x"]
    said = {}
    for step, root in enumerate(ROOTS):
        shows(lesson, root)
        said[step] = lesson.inner_text("#motif")
        at, wide = cursor(lesson), box(lesson, ".teach-here:not([data-off])")["width"]
        marked = [one for one in (first, again) if one["x"] < at + wide and at < one["x"] + one["width"]]
        assert marked == [] or said[step], (step, said)
        lesson.click("#on")
    assert said[0] == "In the melody: the motif."
    assert said[4].startswith("In the melody: again")
    assert said[2] == said[3] == said[6] == said[7] == ""


def box(page: Any, selector: str) -> dict[str, float]:
    """Where the first of these is on the page."""
    return boxes(page, selector)[0]


def boxes(page: Any, selector: str) -> list[dict[str, float]]:
    found: list[dict[str, float]] = page.evaluate(
        "(selector) => [...document.querySelectorAll(selector)].map((one) => {"
        " const {x, y, width, height} = one.getBoundingClientRect(); return {x, y, width, height}; })",
        selector,
    )
    return found


def test_the_chord_goes_with_the_sound(lesson: Any) -> None:
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
    lesson.keyboard.press("p")
    until(lesson, "seen.length >= 14")
    seen = lesson.evaluate("seen")
    roots = {1: ("G", "C"), 2: ("F", "B♭"), 3: ("E♭", "C"), 4: ("F", "B♭")}
    right = [name.startswith(roots[bar][beat > 2]) for bar, beat, name in seen if bar in roots]
    assert len(right) >= 14
    assert statistics.mean(right) > 0.8, seen  # told a little before it is drawn, at a change


def test_blank_hides_everything_and_gives_it_back(lesson: Any) -> None:
    lesson.keyboard.press("b")
    assert lesson.evaluate("document.elementFromPoint(900, 500).id") == "curtain"
    lesson.keyboard.press("Escape")
    assert lesson.is_hidden("#curtain")
    lesson.click("#blank")
    lesson.click("#curtain")
    assert lesson.is_hidden("#curtain")
    assert told(lesson)["step"] == 0, "who looks at nothing steps through nothing"


# --- what is heard --------------------------------------------------------------------------------------


def test_a_bar_goes_round_with_the_cursor_until_it_is_let_go(lesson: Any, daemon: Any) -> None:
    for _ in range(2):
        lesson.click("#on")
    until(lesson, "document.getElementById('loop-words').textContent === 'Loop bar 2'")
    since = daemon.so_far
    lesson.evaluate(
        """() => {
          window.places = [];
          const look = () => {
            const at = document.querySelector(".teach-here:not([data-off])");
            if (told.at(-1).state === "vamping") places.push(at.getBoundingClientRect().x);
            requestAnimationFrame(look);
          };
          look();
        }"""
    )
    lesson.keyboard.press("l")
    until(lesson, "told.filter((t) => t.what === 'beat').length >= 13")
    assert lesson.inner_text(".teach-bars") == "bar 2, round and round"
    assert lesson.inner_text("#foot-words") == "Press: nod"
    assert set(bars_heard(lesson)) == {2}
    struck = [sent for sent in daemon.sent(since) if sent[0] == 0x92 and sent[2]]
    rounds = [length for length in range(2, len(struck) // 2 + 1) if repeats(struck, length)]
    assert rounds, ("each round is the same", struck)
    marked = box(lesson, ".teach-bars")
    places = lesson.evaluate("places")
    assert marked["x"] - 5 <= min(places)
    assert max(places) <= marked["x"] + marked["width"] + 15  # what the mark leaves to the next bar's notes
    back = [after for before, after in pairwise(places) if after < before - 50]
    assert len(back) >= 2, "the cursor goes round with it"
    lesson.keyboard.press("l")  # on to the head
    until(lesson, "told.at(-1).state === 'in the tune'")
    assert [bar for bar, _ in groupby(bars_heard(lesson))] == [2, 3, 4]


def repeats(notes: list[bytes], length: int) -> bool:
    """Whether notes are the first so many over and over."""
    return all(note == notes[at % length] for at, note in enumerate(notes))


def test_bars_are_drawn_over_in_the_music_and_one_more_is_added(lesson: Any) -> None:
    marks = {bar: bar_place(lesson, bar) for bar in (2, 3)}
    lesson.mouse.move(*marks[2])
    lesson.mouse.down()
    lesson.mouse.move(*marks[3], steps=4)
    lesson.mouse.up()
    assert lesson.inner_text("#loop-words") == "Loop bars 2–3"
    assert lesson.inner_text(".teach-bars") == "bars 2–3"
    lesson.click("#loop")
    until(lesson, "told.filter((t) => t.what === 'beat' && t.beat === 1).length >= 3")
    assert bars_heard(lesson)[:3] == [2, 3, 2]
    lesson.keyboard.press("m")
    until(lesson, "told.at(-1).last_bar === 4")
    lesson.keyboard.press("m")
    until(lesson, "told.at(-1).last_bar === 2")
    lesson.click("#start")
    until(lesson, "told.at(-1).state === 'ready'")
    assert lesson.inner_text("#start-words") == "Play"
    lesson.mouse.click(*marks[2])
    assert lesson.inner_text("#loop-words") == "Loop bar 1", "the same bar once more, and none is chosen"


def bar_place(page: Any, bar: int) -> tuple[float, float]:
    """A point in the middle of a bar: between the cursors of its two chords."""
    xs = []
    for step in (2 * bar - 2, 2 * bar - 1):
        while (at := told(page)["step"]) != step:
            page.click("#on" if at < step else "#back")
            until(page, f"told.at(-1).step !== {at}")
        shows(page, ROOTS[step])
        xs.append(cursor(page))
    music = box(page, ".teach-system")
    while (at := told(page)["step"]) > 0:
        page.click("#back")
        until(page, f"told.at(-1).step !== {at}")
    return sum(xs) / 2, music["y"] + music["height"] / 2


def test_one_voice_alone_mutes_the_others_and_gives_back_what_was(lesson: Any, daemon: Any) -> None:
    do(lesson, {"do": "order", "order": "mute", "part": "melody", "value": 1})
    until(lesson, "(told.at(-1).muted & 1) === 1")
    since = daemon.so_far
    lesson.click(".voice[value=bass]")
    lesson.wait_for_selector(".voice[value=bass][aria-pressed=true]")
    lesson.keyboard.press("p")
    until(lesson, "told.at(-1).state === 'in the tune'")
    channels = {sent[0] & 15 for sent in daemon.sent(since) if sent[0] & 0xF0 == 0x90 and sent[2]}
    assert channels == {2}
    lesson.keyboard.press("3")
    lesson.wait_for_selector(".voice[value=bass][aria-pressed=false]")
    until(lesson, "(told.at(-1).muted & 31) === 1")
    assert [muted(lesson, part) for part in ("melody", "comp", "bass")] == [True, False, False]


def test_slower_and_faster_are_orders(lesson: Any) -> None:
    lesson.click("#slower")
    until(lesson, "document.getElementById('tempo').textContent === '198'")
    lesson.keyboard.press("+")
    until(lesson, "document.getElementById('tempo').textContent === '200'")


def test_letters_can_be_switched_off(lesson: Any) -> None:
    """[WCAG 2.2] 2.1.4: keys of one character can be turned off."""
    lesson.click("#letters")
    lesson.keyboard.press("b")
    assert lesson.is_hidden("#curtain")
    assert lesson.locator("kbd:visible").count() == 0
    lesson.click("#letters")
    assert lesson.locator("kbd:visible").count() > 5


def test_everything_is_reached_by_keyboard(lesson: Any) -> None:
    """Each control has the focus once on the way round, in the order in which it is seen."""
    named = "one.id || one.value || one.textContent"
    wanted = lesson.evaluate(
        f"[...document.querySelectorAll('a, button:not([hidden])')].map((one) => {named})"
    )
    lesson.evaluate("document.activeElement.blur()")
    seen = []
    for _ in range(len(wanted) + 1):
        lesson.keyboard.press("Tab")
        seen.append(lesson.evaluate(f"[document.activeElement].map((one) => {named})[0]"))
    assert [one for one in seen if one != "music"][: len(wanted)] == wanted


def test_the_next_tune_is_taught_and_its_title_is_text(lesson: Any) -> None:
    """The waltz has two systems; the one with the cursor is the one that is seen."""
    do(lesson, {"do": "order", "order": "next"})
    until(lesson, "document.querySelectorAll('.teach-system').length === 2")
    assert lesson.inner_text("#title") == "<b>Cold & Hot</b>"
    assert lesson.evaluate("document.querySelectorAll('#title b').length") == 0
    until(lesson, "told.at(-1).tune === 1 && told.at(-1).step === 0")
    for _ in range(7):
        at = told(lesson)["step"]
        lesson.click("#on")
        until(lesson, f"told.at(-1).step !== {at}")
    lesson.wait_for_timeout(100)
    here, room = edges(lesson, ".teach-here:not([data-off])"), edges(lesson, "#music")
    assert here[0] >= room[0] - 1
    assert here[1] <= room[1] + 1


def edges(page: Any, selector: str) -> tuple[float, float]:
    found = page.evaluate(f"document.querySelector('{selector}').getBoundingClientRect().toJSON()")
    return found["top"], found["bottom"]


SIZES = ((1920, 1080), (820, 1180), (1180, 820))
"""A projector, a tablet, and one on its side."""
JUDGED = ((1920, "steps"), (820, "steps"), (1920, "round"), (820, "round"), (1920, "blank"))
"""Widths and states at which axe looks: it knows names, order and contrast; these are the two layouts."""


def axe_finds(page: Any) -> list[str]:
    """Its serious faults."""
    found = page.evaluate("axe.run()")
    assert len(found["passes"]) > 10, "axe has looked at nothing"
    return [one["id"] for one in found["violations"] if one["impact"] in ("serious", "critical")]


def test_axe_finds_no_serious_fault(lesson: Any, tmp_path: Path) -> None:
    """While one steps, while bars go round, and blank; dark and light; nothing is larger than the screen."""
    axe = pytest.importorskip("axe_playwright_python", reason="axe is not installed")
    lesson.evaluate((Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8"))
    faults = {}
    states: dict[str, Callable[[], None]] = {
        "steps": lambda: None,
        "round": lambda: lesson.click("#loop"),
        "blank": lambda: lesson.keyboard.press("b"),
    }
    for state, come in states.items():
        come()
        if state == "round":
            until(lesson, "told.at(-1).first_bar === 1")
        for theme in ("dark", "light"):
            lesson.evaluate(f"document.documentElement.dataset.theme = '{theme}'")
            for width, height in SIZES:
                lesson.set_viewport_size({"width": width, "height": height})
                bad = axe_finds(lesson) if (width, state) in JUDGED else []
                whole = lesson.evaluate(
                    "[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"
                )
                if bad or whole[0] > width or whole[1] > height:
                    faults[state, theme, width] = bad, whole
                lesson.screenshot(path=str(tmp_path / f"{state} {theme} {width}.png"))
    lesson.keyboard.press("Escape")
    assert not faults


def test_what_cannot_be_engraved_is_said(
    browser: Any, begin_daemon: Callable[..., Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the engraver the stand goes on, and the lesson says what to install."""
    hidden = tmp_path / "hidden"
    hidden.mkdir()
    (hidden / "verovio.py").write_text("raise ImportError\n")
    monkeypatch.setenv("PYTHONPATH", str(hidden), prepend=":")
    page = browser.new_page()
    page.goto(f"{begin_daemon(SET).url}teach.html")
    page.wait_for_selector("#error:not(:empty)", timeout=SECONDS * 1000)
    assert "sheet" in page.inner_text("#error")
    page.close()
