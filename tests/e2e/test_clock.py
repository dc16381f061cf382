"""Leading and following by MIDI clock over real JACK, with an independent client beside the synth.

24 clocks a quarter note, the first after Start on the song's beginning, at least 1 ms after it (MIDI 1.0
Detailed Specification; the millisecond from memory). At 240 to the minute and 48000 frames a second a quarter
is 12000 frames, a clock 500.
"""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

CLOCK, START, CONTINUE, STOP = (bytes((status,)) for status in (0xF8, 0xFA, 0xFB, 0xFC))
QUARTER = 12_000
TICK = QUARTER // 24
QUARTERS = 32
"""From the intro's downbeat to the head's: eight bars of four."""

TUNES = """\
title: Led by clock
tunes:
  - title: Copper Kettle Lane
    key: Bb
    meter: 4/4
    tempo: 240
    feel: medium-swing
    first_chord: I
    intro: three-six-two-five
    count_off: 1
"""


@pytest.fixture
def begin(
    kit: Any, jack_server: Any, make_recorder: Callable[[str], Any], tmp_path: Path
) -> Iterator[Callable[[str], tuple[Any, Any]]]:
    """Begins an evening; gives it, and who listens to the clock or gives it."""
    begun: list[Any] = []

    def begin(clock: str) -> tuple[Any, Any]:
        drums = make_recorder("drums")
        port = '  drums: {system: jack, to: "drums:in", from: "drums:out"}\n'
        rig = kit.CLICKING.replace("parts:", f"{port}parts:")
        evening = kit.Evening(
            tmp_path,
            stage=make_recorder("stage"),
            listen=make_recorder("listen"),
            environ=jack_server.environ,
            rig=f"{rig}clock: {{{clock}}}\n",
            tunes=TUNES,
        )
        begun.append(evening)
        evening.wait_for("ready: Copper Kettle Lane")
        time.sleep(0.1)
        return evening, drums

    yield begin
    for evening in begun:
        evening.close()
        jack_server.killed_a_client()


def clicks(evening: Any) -> list[int]:
    """Frames of the count-off's clicks: channel 10."""
    return [event.frame for event in evening.listen.events() if event.data[0] == 0x99 and event.data[2]]


def told(drums: Any) -> list[Any]:
    """What was heard beside Active Sensing."""
    return [event for event in drums.events() if event.data != b"\xfe"]


def on_the_grid(evening: Any, kit: Any, clocks: list[int], beginning: int, number: int) -> None:
    """Checks that so many clocks fall each on its frame, counted from a beginning."""
    expected = [beginning + TICK * place for place in range(number)]
    evening.skips().agree(as_messages(kit, clocks), as_messages(kit, expected), by=1)


def as_messages(kit: Any, frames: list[int]) -> list[Any]:
    """Clocks have neither channel nor pitch."""
    return [kit.Message(frame, True, -1, -1) for frame in frames]


def begun(evening: Any) -> int:
    """The frame of the count-off's first click."""
    return int(evening.skips().first_click(clicks(evening), QUARTER))


def in_these_places(evening: Any, commands: list[Any], *places: tuple[bytes, int, int]) -> None:
    """Checks that these commands were heard, each from one frame to another, and no other."""
    skips, rest = evening.skips(), list(commands)
    for data, start, end in places:
        found = next((event for event in rest if event.data == data and start <= event.frame <= end), None)
        assert found is not None or skips.excuse(start, end), (data, start, end, commands)
        if found is not None:
            rest.remove(found)
    assert all(skips.excuse(event.frame) for event in rest), rest


def test_clocks_between_start_and_head_and_the_first_on_the_beat(begin: Any, kit: Any) -> None:
    evening, drums = begin("port: drums")
    evening.press()
    evening.wait_for("in the tune")
    time.sleep(0.5)
    evening.press()
    time.sleep(0.1)
    evening.press()  # the same tune
    evening.wait_for("ready: Copper Kettle Lane")
    time.sleep(0.3)
    counted = begun(evening)
    downbeat = counted + 4 * QUARTER
    head = downbeat + QUARTERS * QUARTER
    events = told(drums)
    commands = [event for event in events if event.data != CLOCK]
    clocks = [event.frame for event in events if event.data == CLOCK]
    before = (downbeat - TICK + 1, downbeat - drums.rate // 1000)
    in_these_places(evening, commands, (START, *before), (STOP, head, int(drums.frame())))
    assert events[-1].data == STOP
    on_the_grid(evening, kit, [frame for frame in clocks if frame < before[1]], counted, 4 * 24)
    intro = [frame for frame in clocks if before[1] <= frame < head - TICK // 2]
    on_the_grid(evening, kit, intro, downbeat, QUARTERS * 24)
    in_the_tune = [frame for frame in clocks if frame >= head - TICK // 2]
    number = 1 + round((in_the_tune[-1] - head) / TICK)
    assert number > 24
    on_the_grid(evening, kit, in_the_tune, head, number)


def test_start_is_on_the_heads_downbeat_and_stop_is_the_last_word(begin: Any) -> None:
    evening, drums = begin("port: drums, start: head")
    evening.press()
    evening.wait_for("in the tune")
    time.sleep(0.4)
    assert evening.end(signal.SIGTERM) == 0
    time.sleep(0.2)
    head = begun(evening) + (4 + QUARTERS) * QUARTER
    events = told(drums)
    commands = [event for event in events if event.data != CLOCK]
    stops = [event for event in commands if event.data == STOP]  # repeated on the way out, as offs are
    start = (START, head - TICK + 1, head - drums.rate // 1000)
    in_these_places(evening, commands, start, *((STOP, stop.frame, stop.frame) for stop in stops))
    assert all(stop.frame > head for stop in stops)
    skips = evening.skips()
    first = next(event.frame for event in events if event.frame > start[2] and event.data == CLOCK)
    assert abs(first - head) <= 1 or skips.excuse(head)
    assert events[-1].data == STOP


def test_the_log_tells_of_start_and_stop_and_not_of_every_clock(begin: Any) -> None:
    evening, drums = begin("port: drums")
    evening.press()
    evening.wait_for("playing")
    time.sleep(0.3)
    evening.press(down_for=0.7)  # silence
    evening.wait_for("ready: Copper Kettle Lane")
    time.sleep(0.2)
    assert told(drums)[-1].data == STOP
    assert evening.end() == 0
    log = evening.log.read_text()
    assert '"sent": "fa"' in log
    assert '"sent": "fc"' in log
    assert '"f8"' not in log


def test_a_clock_made_elsewhere_is_entered_and_followed(begin: Any, kit: Any) -> None:
    # The leader plays at 200: a quarter is 14400 frames, a clock 600; our own tempo would be 240.
    evening, drums = begin("follow: drums")
    first, quarter = int(drums.frame()) + drums.rate // 4, 14_400
    clocks = [(first + place * quarter // 24, CLOCK) for place in range(80 * 24)]
    drums.play([(first - 240, START), *clocks])
    time.sleep(1.5)
    pressed = evening.press()
    evening.wait_for("playing")
    evening.wait_for("in the tune")
    time.sleep(0.2)
    skips, counted = evening.skips(), clicks(evening)
    heard = [event for event in kit.without_repeats(evening.listen.events()) if event.data[0] & 0x0F != 9]
    over = max(event.frame for event in heard)
    beats = [round((frame - first) / quarter) for frame in counted[:4]]
    # The bar that it enters in: of the first click, which is the one before it where that was skipped.
    entered = first + beats[0] // 4 * 4 * quarter
    assert entered > pressed
    assert entered - pressed <= 4 * quarter + drums.rate // 10
    # A port in and a port out may cost a period each way, and the clock reads as late as that.
    late = [frame - first - beat * quarter for frame, beat in zip(counted, beats, strict=True)]
    print(f"clicks against the leader's beats: {late} frames")
    assert max(map(abs, late)) <= 3 * drums.period
    assert skips.first_click(counted, quarter, by=3 * drums.period) - entered <= 3 * drums.period
    head = entered + (4 + QUARTERS) * quarter
    print(f"the last message against the leader's head: {over - head} frames; {skips.number} skipped cycles")
    assert abs(over - head) <= 3 * drums.period or skips.excuse(head)
