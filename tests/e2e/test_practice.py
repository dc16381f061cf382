"""The practice room through JACK: every pass begins on its bar line, to the frame, and nothing hangs.

The clicks of each pass's count stand for its bar lines: they are moved by no feel.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

INTRO = "three-six-two-five"
CLICKS = 9
"""The click's channel, from 0."""


def struck(events: list[Any], channel: int) -> list[int]:
    """Frames of the note-ons of a channel."""
    return [event.frame for event in events if event.data[0] == 0x90 | channel and event.data[2]]


def practises(make_evening: Callable[..., Any], kit: Any, home: Path, *how: str, tempo: int) -> Any:
    """Practice of the intro, ready to begin; the log lies in a home of its own."""
    home.mkdir()
    evening = make_evening(
        rig=kit.CLICKING,
        practise=[INTRO, *how],
        options=["--tempo", str(tempo), "--key", "C"],
        environ={"INTROIT_HOME": str(home)},
    )
    evening.wait_for("ready: ")
    return evening


def in_time(evening: Any, clicks: list[int], *, passes: int, beat: float, beats: int) -> int:
    """Holds the clicks of a count of four to a grid that begins with the first; returns how many were held.

    Args:
        evening: which, to know what JACK skipped.
        clicks: frames.
        passes: how many must be heard at least.
        beat: frames of a beat.
        beats: from the first click of a pass to that of the next.
    """
    skips = evening.skips()
    first, held = clicks[0], 0
    for frame in clicks:
        number = round((frame - first) / beat)
        off = abs(frame - first - beat * number)
        assert (off <= 1.5 and number % beats < 4) or skips.excuse(frame), (frame - first, number, off)
        held += off <= 1.5
    assert held >= 4 * passes - 4 * skips.number
    return held


def test_passes_follow_each_other_on_the_bar_line_to_the_frame(
    kit: Any, make_evening: Callable[..., Any], owed: Callable[[Any], dict[Any, int]], tmp_path: Path
) -> None:
    evening = practises(
        make_evening, kit, tmp_path / "home", "bars 1 to 2, keys in half steps, rest 1, count 1", tempo=300
    )
    evening.press()
    evening.wait_for("4: ", seconds=40)
    assert evening.end() == 0
    clicks = struck(evening.listen.events(), CLICKS)
    # two bars of the intro, one of rest, one of count
    in_time(evening, clicks, passes=4, beat=evening.listen.rate * 60 / 300, beats=4 * 4)
    assert owed(evening.notes()) == {}
    time.sleep(0.2)
    assert owed(evening.notes()) == {}


def test_a_hold_stops_it_and_a_press_plays_the_same_again(
    kit: Any, make_evening: Callable[..., Any], owed: Callable[[Any], dict[Any, int]], tmp_path: Path
) -> None:
    evening = practises(make_evening, kit, tmp_path / "home", "bars 1 to 2, keys in half steps", tempo=240)
    evening.press()
    evening.wait_for("1: ")
    time.sleep(0.1)
    evening.press(0.7)
    evening.wait_for("stopped; press: the same again")
    time.sleep(0.3)
    assert owed(evening.notes()) == {}
    evening.press()
    evening.wait_for("1: ")
    evening.wait_for("2: ")
    assert evening.end() == 0
    assert owed(evening.notes()) == {}


TUNE = """\
title: Copper Gate
key: Bb
tempo: 300
feel: medium-swing
first_chord: I
intro: three-six-two-five
chart: |
  | Imaj7 | vi7 | ii7 | V7 |
"""


def test_the_tune_follows_its_intro_until_a_press_and_lands(
    kit: Any, make_evening: Callable[..., Any], owed: Callable[[Any], dict[Any, int]], tmp_path: Path
) -> None:
    (tmp_path / "home").mkdir()
    (tmp_path / "tune.yaml").write_text(TUNE)
    evening = make_evening(
        practise=[str(tmp_path / "tune.yaml"), "--with-tune"],
        environ={"INTROIT_HOME": str(tmp_path / "home")},
    )
    evening.wait_for("ready: ")
    evening.press()
    evening.wait_for("bar 14 ")  # eight bars of intro, a chorus of four, and into the next
    evening.press()
    evening.wait_for("in the tune")
    evening.wait_for("ready: ")  # a bar later, by itself
    assert owed(evening.notes()) == {}
    assert evening.end() == 0
    chords = [line.split()[2] for line in evening.printed if line.startswith("  bar") and "head" not in line]
    assert chords[8:13] == ["Bbmaj7", "Gm7", "Cm7", "F7", "Bbmaj7"]


@pytest.mark.long
def test_ten_minutes_in_twelve_keys(
    kit: Any, make_evening: Callable[..., Any], owed: Callable[[Any], dict[Any, int]], tmp_path: Path
) -> None:
    evening = practises(make_evening, kit, tmp_path / "home", "keys in fourths, rest 1, count 1", tempo=200)
    evening.press()
    seconds = 6 * 4 * 60 / 200
    passes = round(600 / seconds)
    evening.wait_for(f"{passes}: ", seconds=700)
    assert evening.end() == 0
    clicks = struck(evening.listen.events(), CLICKS)
    in_time(evening, clicks, passes=passes, beat=evening.listen.rate * 60 / 200, beats=6 * 4)
    keys = {line.split(": ", 1)[1].split(",")[0] for line in evening.printed if line[:1].isdigit()}
    assert len(keys) == 12
    assert owed(evening.notes()) == {}
