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
def kit(e2e_helper: Callable[[str], Any]) -> Any:
    return e2e_helper("evening")


@pytest.fixture
def begin(
    kit: Any, jack_server: Any, make_recorder: Callable[[str], Any], tmp_path: Path
) -> Iterator[Callable[[str], tuple[Any, Any]]]:
    """Begins an evening; gives it, and who listens to the clock or gives it."""
    begun: list[Any] = []

    def begin(clock: str) -> tuple[Any, Any]:
        drums = make_recorder("drums")
        port = '  drums: {system: jack, to: "drums:in", from: "drums:out"}\n'
        rig = kit.RIG.replace("parts:", f"{port}parts:")
        rig = rig.replace("foot_switch:", "  click: {port: synth, channel: 10, sound: beats}\nfoot_switch:")
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


def on_the_grid(evening: Any, clocks: list[int], beginning: int, number: int) -> None:
    """Checks that so many clocks fall each on its frame, counted from a beginning."""
    if skipped := evening.skipped():  # the machine's fault: the clock goes on from the next sixteenth
        print(f"JACK skipped {skipped} cycles; {len(clocks)} clocks heard, {number} expected")
        return
    assert len(clocks) == number
    late = [frame - beginning - TICK * place for place, frame in enumerate(clocks)]
    print(f"clocks against their frames: {min(late)} to {max(late)}")
    assert max(map(abs, late)) <= 1


def test_clocks_between_start_and_head_and_the_first_on_the_beat(begin: Any) -> None:
    evening, drums = begin("port: drums")
    evening.press()
    evening.wait_for("in the tune")
    time.sleep(0.5)
    evening.press()
    time.sleep(0.1)
    evening.press()  # the same tune
    evening.wait_for("ready: Copper Kettle Lane")
    time.sleep(0.3)
    counted = clicks(evening)
    downbeat = counted[0] + 4 * QUARTER
    head = downbeat + QUARTERS * QUARTER
    events = told(drums)
    commands = [event for event in events if event.data != CLOCK]
    clocks = [event.frame for event in events if event.data == CLOCK]
    if not evening.skipped():
        assert [event.data for event in commands] == [START, STOP]
    start = next(event.frame for event in commands if event.data == START)
    assert downbeat - TICK < start <= downbeat - drums.rate // 1000
    assert events[events.index(commands[-1]) :] == [commands[-1]]
    on_the_grid(evening, [frame for frame in clocks if frame < start], counted[0], 4 * 24)
    intro = [frame for frame in clocks if start < frame < head - TICK // 2]
    on_the_grid(evening, intro, downbeat, QUARTERS * 24)
    in_the_tune = [frame for frame in clocks if frame >= head - TICK // 2]
    assert len(in_the_tune) > 24
    on_the_grid(evening, in_the_tune, head, len(in_the_tune))


def test_start_is_on_the_heads_downbeat_and_stop_is_the_last_word(begin: Any) -> None:
    evening, drums = begin("port: drums, start: head")
    evening.press()
    evening.wait_for("in the tune")
    time.sleep(0.4)
    assert evening.end(signal.SIGTERM) == 0
    time.sleep(0.2)
    head = clicks(evening)[0] + (4 + QUARTERS) * QUARTER
    events = told(drums)
    start = next(event.frame for event in events if event.data == START)
    first = next(event.frame for event in events if event.frame > start and event.data == CLOCK)
    if not evening.skipped():
        commands = [event.data for event in events if event.data != CLOCK]
        assert commands[0] == START
        assert set(commands[1:]) == {STOP}  # repeated on the way out, as offs are
        assert abs(first - head) <= 1
        assert head - TICK < start <= head - drums.rate // 1000
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
    counted = clicks(evening)
    beats, apart = zip(*(divmod(frame - first + quarter // 2, quarter) for frame in counted[:4]), strict=True)
    late = [frames - quarter // 2 for frames in apart]
    print(f"clicks against the leader's beats: {late} frames")
    assert counted[0] > pressed
    if not evening.skipped():
        assert beats[0] % 4 == 0
        assert beats == tuple(range(beats[0], beats[0] + 4))
        assert beats[0] * quarter + first - pressed <= 4 * quarter + drums.rate // 10
        # A port in and a port out may cost a period each way, and the clock reads as late as that.
        assert max(map(abs, late)) <= 3 * drums.period
        heard = kit.without_repeats(evening.listen.events())
        offs = [event.frame for event in heard if event.data[0] & 0xF0 == 0x80]
        head = first + (beats[0] + 4 + QUARTERS) * quarter
        print(f"the last off against the leader's head: {max(offs) - head} frames")
        assert abs(max(offs) - head) <= 3 * drums.period
