"""A session that leads others by MIDI clock: where they stand at each moment of an evening.

The listener is the MIDI 1.0 Detailed Specification's: 24 clocks a quarter note, the first after Start is song
position 0, Song Position counts sixteenths of six clocks and moves who stands still, the first clock after
Continue is the position it stands at. Between Start and that clock lies 1 ms at least (from memory).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from introit.live.events import Request
from introit.live.messages import CLOCK, CONTINUE, START, STOP
from introit.live.setup import ClockLead
from introit.performance import Performance, Wait
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.testing.script import Script, feet
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

MS = NS_PER_MS
BAR = 4 * TICKS_PER_QUARTER
COMMANDS = {START: "start", CONTINUE: "continue", STOP: "stop"}


HOLD_MS = 700


class Heard:
    """What a listener made of it: when it was told what, and which position each clock had."""

    def __init__(self, rehearsal: Rehearsal, port: int = 1) -> None:
        self.told: list[tuple[float, str]] = []
        self.clocks: list[float] = []
        self.at: dict[int, float] = {}
        runs, position = False, 0
        for sent in rehearsal.receivers[port].messages:
            seconds = sent.actual / NS_PER_SECOND
            if sent.data in COMMANDS:
                runs, position = sent.data != STOP, 0 if sent.data == START else position
                self.told.append((seconds, COMMANDS[sent.data]))
            elif sent.data[0] == 0xF2:
                assert not runs, "Song Position to a listener that runs"
                position = (sent.data[1] | sent.data[2] << 7) * 6
                self.told.append((seconds, f"to {position // 24} quarters"))
            elif sent.data == CLOCK:
                self.clocks.append(seconds)
                if runs:
                    self.at[position] = seconds
                    position += 1

    def between(self, first: float, last: float) -> int:
        """Clocks from one second on, up to another."""
        return sum(first <= clock < last for clock in self.clocks)


def led(
    script: Script,
    *,
    start: str = "intro",
    until: float = 18,
    lookahead: int = 0,
    count_off: int = 4,
    bars: int = 2,
    befalls: Any = None,
    **changes: Any,
) -> tuple[Rehearsal, Heard]:
    """Bars of four at 120 (a bar lasts 2 s), led by a clock on the second port."""
    front = SketchFront(count_off=count_off, bars=bars, changes=changes)
    setup = sketch_setup(ports=2, lead=ClockLead(1, start))
    rehearsal = Rehearsal(setup, front, lookaheads=(0, lookahead))
    rehearsal.play(script)
    if befalls is not None:
        befalls(rehearsal)
    rehearsal.run(round(until * NS_PER_SECOND))
    return rehearsal, Heard(rehearsal)


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_the_first_clock_after_start_is_the_intros_downbeat(lookahead: int) -> None:
    # The count-off from 1 s, the intro from 3 s, the head at 7 s: eight quarters of 24 clocks between.
    _, heard = led(feet(1_000), lookahead=lookahead)
    (started, what), *_ = heard.told
    assert what == "start"
    assert 3 - 0.5 / 24 < started < 3 - 0.001
    assert heard.clocks[0] == 1.0
    assert heard.between(0, started) == 4 * 24
    assert heard.between(started, 7) == 8 * 24
    assert heard.at[0] == 3.0
    assert heard.at[8 * 24] == 7.0
    assert heard.between(7, 17) == 20 * 24  # in the tune, at the tune's tempo


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_or_the_heads(lookahead: int) -> None:
    _, heard = led(feet(1_000), start="head", lookahead=lookahead)
    (started, what), *_ = heard.told
    assert what == "start"
    assert 7 - 0.5 / 24 < started < 7 - 0.001
    assert heard.between(0, started) == 12 * 24
    assert heard.at[0] == 7.0
    assert heard.at[20 * 24] == 17.0


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
@pytest.mark.parametrize(("rig", "tune", "begins"), [("intro", "head", 7.0), ("head", "intro", 3.0)])
def test_a_tune_says_otherwise_than_the_rig(rig: str, tune: str, begins: float, lookahead: int) -> None:
    _, heard = led(feet(1_000), start=rig, start_clock=tune, lookahead=lookahead)
    assert [what for _, what in heard.told] == ["start", "stop"]
    assert begins - 0.5 / 24 < heard.told[0][0] < begins - 0.001
    assert heard.at[0] == begins
    assert heard.between(heard.told[0][0], 17) == 24 * 2 * (17 - begins)  # no clock more or less


def test_what_one_tune_says_is_not_said_for_the_next() -> None:
    class Evening(SketchFront):
        """Only the first tune says where Start is."""

        def performance(self, request: Request) -> Performance:
            said = "" if request.tune else "intro"
            return replace(super().performance(request), start_clock=said)

    setup = sketch_setup(ports=2, tunes=2, lead=ClockLead(1, "head"))
    rehearsal = Rehearsal(setup, Evening(count_off=4), lookaheads=(0, 0))
    rehearsal.play([*feet(1_000), *feet(9_000, down_ms=HOLD_MS), *feet(11_000)])
    rehearsal.run(22 * NS_PER_SECOND)
    heard = Heard(rehearsal)
    # The first from 1 s: its intro at 3 s. The second from 11 s: its head at 17 s.
    assert [what for _, what in heard.told] == ["start", "stop", "start", "stop"]
    assert [round(seconds, 1) for seconds, what in heard.told if what == "start"] == [3.0, 17.0]
    assert heard.at[0] == 17.0


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_tunes_own_head_is_met_after_a_vamp_and_after_a_held_chord(lookahead: int) -> None:
    script = feet(1_000, 12_000)
    _, heard = led(script, vamp=(0, 2 * BAR), lookahead=lookahead, start_clock="head")
    assert [what for _, what in heard.told] == ["start", "stop"]
    assert heard.at[0] == 15.0
    _, heard = led(feet(1_000, 9_000), waits=(Wait(BAR + 700, 2 * BAR),), start_clock="head")
    assert heard.told[0] == (9.0, "start")
    assert heard.at[0] == 9.001


def test_out_of_time_a_tune_may_start_them_with_the_head() -> None:
    # The press at 3 s goes on to bar 2; held until 3.5 s it keeps time, so bar 3 is at 5 s, the head at 9 s.
    waits = (Wait(500, BAR), Wait(3 * BAR + 500, 4 * BAR))
    script = [*feet(1_000), *feet(3_000, down_ms=HOLD_MS)]
    changes: dict[str, Any] = {"waits": waits, "out_of_time": True, "start_clock": "head"}
    _, heard = led(script, count_off=0, bars=4, **changes)
    assert [what for _, what in heard.told] == ["start", "stop"]
    assert heard.at[0] == 9.0


def test_without_a_count_off_the_first_clock_follows_the_press_by_a_millisecond() -> None:
    _, heard = led(feet(1_000), count_off=0)
    assert heard.told[0] == (1.0, "start")
    assert heard.at[0] == 1.001
    assert heard.at[24] == 1.5


@pytest.mark.parametrize("start", ["intro", "head"])
@pytest.mark.parametrize(
    ("script", "left"),
    [
        (feet(10_000, 10_200), 10.2),  # same tune
        (feet(10_000, down_ms=HOLD_MS), 10.5),  # next tune
        ([], 20.0),  # quit
    ],
)
def test_leaving_the_tune_stops_the_clock(script: list[Any], left: float, start: str) -> None:
    _, heard = led([*feet(1_000), *script], start=start, until=20)
    assert [what for _, what in heard.told] == ["start", "stop"]
    assert heard.told[1][0] == pytest.approx(left, abs=0.031)
    assert heard.between(left + 0.031, 99) == 0
    assert max(heard.clocks) > left - 0.03


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_silence_stops_it_and_the_next_intro_starts_it_afresh(lookahead: int) -> None:
    script = [*feet(1_000), *feet(5_000, down_ms=HOLD_MS), *feet(8_000)]
    _, heard = led(script, lookahead=lookahead)
    assert [what for _, what in heard.told] == ["start", "stop", "start", "stop"]
    assert heard.told[1][0] == pytest.approx(5.5, abs=0.031)
    assert heard.between(5.501, 8) == 0
    assert heard.at[0] == 10.0


def test_a_cancelled_count_off_has_nothing_to_stop() -> None:
    rehearsal, heard = led(feet(1_000, 2_000))
    assert rehearsal.states()[-1] == (2 * NS_PER_SECOND, "ready")
    assert heard.told == []
    assert heard.between(0, 99) == 2 * 24 + 1  # from 1 s to 2 s, both


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_vamp_is_played_through(lookahead: int) -> None:
    # Rounds of two bars from 3 s; the nod in the third, at 12 s, so the head is at 15 s.
    script = feet(1_000, 12_000)
    _, heard = led(script, vamp=(0, 2 * BAR), lookahead=lookahead)
    assert [what for _, what in heard.told] == ["start", "stop"]
    assert heard.at[24 * 24] == 15.0
    _, heard = led(script, vamp=(0, 2 * BAR), lookahead=lookahead, start="head")
    assert [what for _, what in heard.told] == ["start", "stop"]
    assert heard.between(0, heard.told[0][0]) == 28 * 24
    assert heard.at[0] == 15.0
    assert heard.told[0][0] < 15.0 - 0.001


def test_a_head_that_comes_later_or_earlier_is_met_too() -> None:
    # Once more: four bars from 3 s. Of four bars, finished early in the first, from 3 s: the last from 5 s.
    _, heard = led(feet(1_000, 4_000), once_more=True, start="head")
    assert heard.at[0] == 11.0
    _, heard = led(feet(1_000, 4_000, 4_200), once_more=True, start="head", bars=4)
    assert heard.at[0] == 7.0


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_where_a_chord_waits_they_wait_and_go_to_the_head_with_us(lookahead: int) -> None:
    # The second bar, from 5 s, is held from its tick 700 on: 5 s + 700/1920 s; the press is at 9 s.
    arrival = 5 + 700 / 1_920
    held = (Wait(BAR + 700, 2 * BAR),)
    rehearsal, heard = led(feet(1_000, 9_000), waits=held, lookahead=lookahead)
    assert [what for _, what in heard.told] == ["start", "stop", "to 8 quarters", "continue", "stop"]
    assert [seconds for seconds, _ in heard.told[1:4]] == pytest.approx([arrival, arrival, 9.0], abs=1e-6)
    assert rehearsal.states()[-1] == (9 * NS_PER_SECOND, "in the tune")
    assert heard.between(arrival, 9.0) == 0
    assert heard.at[8 * 24] == pytest.approx(9.001)
    assert heard.at[9 * 24] == 9.5


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_press_as_soon_as_it_waits_takes_them_over_without_a_heap(lookahead: int) -> None:
    held = (Wait(BAR + 700, 2 * BAR),)  # from 5.3646 s on
    _, heard = led(feet(1_000, 5_365), waits=held, lookahead=lookahead)
    assert heard.at[8 * 24] == pytest.approx(5.366)
    assert heard.at[9 * 24] == 5.865
    assert min(after - before for before, after in pairwise(heard.clocks)) > 0.0009


def test_a_held_head_starts_on_the_press() -> None:
    _, heard = led(feet(1_000, 9_000), waits=(Wait(BAR + 700, 2 * BAR),), start="head")
    assert [what for _, what in heard.told] == ["start", "stop"]
    assert heard.told[0][0] == 9.0
    assert heard.at[0] == 9.001
    assert heard.at[24] == 9.5


VOICE = {"waits": (Wait(500, BAR), Wait(BAR + 500, 2 * BAR)), "out_of_time": True}


def test_out_of_time_there_is_no_clock_and_it_begins_where_time_is_kept() -> None:
    # The first chord from 1 s; the press at 3 s goes on to bar 2, that at 5 s to the head.
    _, heard = led(feet(1_000, 3_000, 5_000), count_off=0, **VOICE)
    assert heard.between(0, 5) == 0
    assert heard.told[0] == (5.0, "start")
    assert heard.at[0] == 5.001
    assert heard.at[24] == 5.5


@pytest.mark.parametrize(("start", "begins"), [("intro", 5.0), ("head", 9.0)])
def test_kept_in_time_it_starts_on_the_next_bar_line(start: str, begins: float) -> None:
    # The press at 3 s goes on to bar 2; held until 3.5 s it keeps time, so bar 3 is at 5 s, the head at 9 s.
    waits = (Wait(500, BAR), Wait(3 * BAR + 500, 4 * BAR))
    script = [*feet(1_000), *feet(3_000, down_ms=HOLD_MS)]
    _, heard = led(script, count_off=0, bars=4, start=start, waits=waits, out_of_time=True)
    assert [what for _, what in heard.told] == ["start", "stop"]
    assert heard.at[0] == begins
    assert heard.clocks[0] == 3.5


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_after_colla_voce_a_held_chord_is_waited_for_in_time(lookahead: int) -> None:
    # The press at 3 s goes on to bar 2, in time; it is held from a tick 200 before the head on, until 6 s.
    waits = (Wait(500, BAR), Wait(2 * BAR - 200, 2 * BAR, fermata=True))
    _, heard = led(feet(1_000, 3_000, 6_000), count_off=0, waits=waits, out_of_time=True, lookahead=lookahead)
    assert [what for _, what in heard.told] == ["start", "stop", "to 4 quarters", "continue", "stop"]
    assert heard.at[0] == 3.001
    assert heard.told[1][0] == pytest.approx(5 - 200 / 1_920)
    assert heard.at[4 * 24] == 6.001


@pytest.mark.parametrize("lookahead", [0, 30 * MS])
def test_a_tapped_count_off_is_led_from_the_tap_that_tells_the_tempo(lookahead: int) -> None:
    script = feet(1_000, 1_500, 2_000, 2_500, down_ms=40)
    rehearsal, heard = led(script, count_off=0, tapped=True, lookahead=lookahead)
    begins = next(ns for ns, state in rehearsal.states() if state == "playing") / NS_PER_SECOND
    assert begins == pytest.approx(3.0, abs=0.01)
    assert [what for _, what in heard.told] == ["start", "stop"]
    assert heard.at[0] == pytest.approx(begins, abs=1e-6)
    # The third tap, at 2 s, tells; its own clock has passed by then.
    assert heard.between(0, heard.told[0][0]) == 2 * 24 - 1
    assert min(after - before for before, after in pairwise(heard.clocks)) > 0.009


def test_a_listener_that_comes_back_is_told_where_the_song_is() -> None:
    def befalls(rehearsal: Rehearsal) -> None:
        rehearsal.clock.at(4 * NS_PER_SECOND, lambda: rehearsal.ports[1].vanish("unplugged"))
        rehearsal.clock.at(5 * NS_PER_SECOND, lambda: rehearsal.ports[1].revive())

    rehearsal, heard = led(feet(1_000), befalls=befalls)
    assert any(isinstance(shown.text, str) and "unplugged" in shown.text for shown in rehearsal.shown)
    told = [what for _, what in heard.told]
    assert told[0] == "start"
    assert told[-2:] == ["continue", "stop"]
    assert heard.at[8 * 24] == 7.0


@pytest.mark.parametrize("at_ms", [3_990, 4_000, 5_000])
def test_a_lost_cycle_with_a_clock_in_it_is_made_good(at_ms: int) -> None:
    def befalls(rehearsal: Rehearsal) -> None:
        ns = at_ms * MS
        rehearsal.clock.at(ns, lambda: rehearsal.ports[1].lose(ns, ns + 25 * MS))

    _, heard = led(feet(1_000), lookahead=30 * MS, befalls=befalls)
    assert heard.at[8 * 24] == 7.0
    assert heard.at[9 * 24] == 7.5


def test_a_lost_stop_is_said_again() -> None:
    def befalls(rehearsal: Rehearsal) -> None:
        ns = 10_200 * MS + 1
        rehearsal.clock.at(ns, lambda: rehearsal.ports[1].lose(ns, ns + 35 * MS))
        rehearsal.clock.at(ns + 36 * MS, lambda: None)

    _, heard = led(feet(1_000, 10_000, 10_200), lookahead=30 * MS, befalls=befalls)
    assert [what for _, what in heard.told] == ["start", "stop"]


def test_clocks_are_no_notes_and_flood_no_log() -> None:
    rehearsal, heard = led(feet(1_000))
    assert rehearsal.ledger.owed(1) == []
    logged = [sent.data for sent in rehearsal.sent if sent.port == 1 and sent.data[0] >= 0xF0]
    assert logged == [START, STOP]
    assert len(heard.clocks) > 500
