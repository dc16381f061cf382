"""Orders over real JACK: from a second switch, a pad, a pedal and program changes, and from computer keys.

Times are the server's frames, as an independent client recorded them. The channel's messages are those of the
MIDI 1.0 Detailed Specification: controller 11 is expression, 80H and 90H begin note-off and note-on.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

RATE = 48000
COMP, CLICK = 1, 9
"""Channels, from 0."""
NEXT, FASTER = (bytes((0xB0, number, 127)) for number in (65, 66))
PAD, PAD_UP = bytes((0x99, 60, 100)), bytes((0x89, 60, 0))
MORE = """\
controls:
  - {do: next, port: floor, number: 65, action: press-only}
  - {do: faster, port: floor, number: 66, action: press-only}
  - {do: mute, part: comp, port: floor, message: note, number: 60, channel: 10}
  - {do: level, part: comp, port: floor, number: 11, low: 7, high: 117}
  - {do: tune, port: floor, message: program}
"""
TUNES = """\
title: Two for orders
tunes:
  - {title: Copper Kettle Lane, key: Bb, tempo: 240, feel: medium-swing, first_chord: I,
     intro: three-six-two-five, count_off: 1}
  - {title: The Slow Lift, key: G minor, tempo: 200, feel: medium-swing, first_chord: i, intro: dominant-vamp}
"""


def ons(events: list[Any], channel: int) -> list[int]:
    """Frames of the note-ons on a channel."""
    return [event.frame for event in events if event.data[0] == 0x90 | channel and event.data[2] > 0]


def test_orders_by_midi_and_by_keys(
    kit: Any, make_evening: Callable[..., Any], owed: Callable[[Any], dict[Any, int]]
) -> None:
    evening = make_evening(rig=kit.CLICKING + MORE, tunes=TUNES, typed=True)
    stage, listen = evening.stage, evening.listen
    evening.wait_for("controls: next: CC 65; faster: CC 66; mute comp: note C4 on channel 10")
    evening.wait_for("ready: Copper Kettle Lane")
    stage.play_now(NEXT)
    evening.wait_for("ready: The Slow Lift, G minor, 200")
    stage.play_now(bytes((0xC0, 0)))
    evening.wait_for("ready: Copper Kettle Lane, Bb, 240")
    evening.strike(b"?")
    assert "tune (1, 2; program), another intro (i), faster (+, =, up; CC 66)" in evening.wait_for("orders: ")
    evening.strike(b"n")
    evening.wait_for("ready: The Slow Lift")
    evening.strike(b"1")
    evening.wait_for("ready: Copper Kettle Lane")
    stage.play_now(FASTER)
    evening.wait_for("ready: Copper Kettle Lane, Bb, 242")
    evening.strike(b"-")
    evening.wait_for("ready: Copper Kettle Lane, Bb, 240")
    evening.strike(b"+")
    evening.wait_for("ready: Copper Kettle Lane, Bb, 242")

    before = len(listen.events())
    for value in (117, 62, 7):
        stage.play_now(bytes((0xB0, 11, value)))
    expression = bytes((0xB0 | COMP, 11))
    sent = listen.wait_until(
        lambda events: sum(event.data[:2] == expression for event in events[before:]) == 3
    )
    values = [event.data[2] for event in sent[before:] if event.data[:2] == expression]
    assert values == [127, 64, 0]

    evening.press()
    evening.wait_for("playing")
    listen.wait_until(lambda events: len(ons(events, COMP)) >= 2)
    stage.play_now(PAD)
    evening.wait_for("comp muted")
    muted_at = int(listen.frame())
    time.sleep(0.05)
    stage.play_now(PAD_UP)
    evening.wait_for("in the tune")
    time.sleep(0.2)
    events = listen.events()
    clicks = ons(events, CLICK)
    beat = RATE * 60 / 242
    evening.skips().first_click(clicks, beat, by=2)
    print("comp after the mute:", [frame - muted_at for frame in ons(events, COMP) if frame > muted_at])
    lookahead = RATE // 10
    assert not [frame for frame in ons(events, COMP) if frame > muted_at + lookahead]
    assert [frame for frame in ons(events, 2) if frame > muted_at + lookahead], "the bass goes on"
    evening.strike(b"q")
    assert evening.process.wait(20) == 0
    assert owed(listen.events()) == {}
