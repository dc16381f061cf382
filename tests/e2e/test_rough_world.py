"""A rough stage over real JACK: floods from a device beside the foot-switch, and devices pulled in mid-intro.

What is heard is compared with the same intro's MIDI file, in the server's frames, by an independent client.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

RATE = 48_000
MS = RATE // 1000
PERIOD = 128
"""Of the server, in frames."""
PIECE = 240
"""Bytes of a piece of a long message, as a driver hands it on."""
FLOOD_MS = 5_000
"""How long the flood lasts: from before the press into the intro's second half."""
CLOCKS_A_MS = 10


@pytest.fixture
def written(kit: Any, jack_server: Any, tmp_path: Path) -> list[Any]:
    """What the intro's file says."""
    path = kit.write_file(tmp_path, jack_server.environ, *kit.FIRST, "--key", "Bb")
    return list(kit.written_notes(path)[0])


# --- floods -----------------------------------------------------------------------------------------


def flood(first: int) -> Iterator[list[tuple[int, bytes]]]:
    """What comes from a frame on, half a second at a time: whatever a foot-switch's neighbours may send."""
    dice = random.Random(5)
    long = b"\xf0\x7d" + bytes(place % 128 for place in range(65_533)) + b"\xf7"  # 7D: for research
    pieces = [long[at : at + PIECE] for at in range(0, len(long), PIECE)]
    for begin in range(0, FLOOD_MS, 500):
        section: list[tuple[int, bytes]] = []
        for ms in range(begin, begin + 500):
            others = [
                bytes((0xB0, (1, 7, 11, 63, 65, 74)[ms % 6], ms % 128)),
                bytes((0xE0, ms % 128, ms // 8 % 128)),
                bytes((0xD0, ms % 128)),
                b"\xf0\x7d\x01\xf7",
                b"\xfe",
                bytes((0x90, (12, 60, 100)[ms % 3], 90)),  # outside the key zone
                bytes((0xB0, 0x40)),  # cut short
                bytes(dice.randrange(0x80) for _ in range(3)),
                *(pieces[ms % 2500 : ms % 2500 + 1]),
            ]
            frame = first + ms * MS
            section += [(frame + place, b"\xf8") for place in range(CLOCKS_A_MS)]
            section += [(frame + CLOCKS_A_MS + place, data) for place, data in enumerate(others)]
        yield section


def agree_but_for_the_start(kit: Any, evening: Any, heard: list[Any], written: list[Any]) -> None:
    """Checks that all is on its frame, but what the press itself starts: that may miss its cycle.

    Some forty messages of the flood come with the press and are read beside it. What was due before then is
    placed at the beginning of the next cycle; nothing that comes after follows it there.
    """
    expected = kit.placed(written, heard, RATE, by=2)
    due, begun = min(message.frame for message in expected), min(message.frame for message in heard)
    print(f"what the press starts is placed {begun - due} frames after it was due")
    assert begun - due <= PERIOD or evening.skips().excuse(begun)
    evening.skips().agree(heard, [one._replace(frame=max(one.frame, begun)) for one in expected], by=2)


def test_a_flood_beside_the_foot_moves_no_note_and_loses_none(
    kit: Any,
    evening: Any,
    written: list[Any],
    make_recorder: Callable[[str], Any],
    owed: Callable[[Any], Any],
) -> None:
    neighbour = make_recorder("neighbour")
    neighbour.connect("neighbour:out", "introit:floor in")
    coming = flood(int(neighbour.frame()) + RATE // 2)
    neighbour.play(next(coming))
    neighbour.play(next(coming))
    time.sleep(0.7)  # it has begun
    pressed = evening.press()
    for section in coming:
        neighbour.play(section)
    evening.wait_for("in the tune")
    time.sleep(0.3)
    assert neighbour.alive()
    events = evening.notes()
    print(f"press to first note, in the flood: {(events[0].frame - pressed) / MS:.2f} ms")
    agree_but_for_the_start(kit, evening, kit.messages(events), written)
    assert owed(events) == {}
    assert not any("left out" in line for line in evening.printed)
    logged = sum('"heard"' in line for line in evening.log.read_text().splitlines())
    assert logged > FLOOD_MS, (
        f"only {logged} messages of the flood were heard"
    )  # of two a millisecond that are read


# --- devices that are pulled and plugged in again ---------------------------------------------------


def test_a_synth_that_is_pulled_in_mid_intro_goes_on_where_the_music_would_have_been(
    kit: Any,
    evening: Any,
    written: list[Any],
    make_recorder: Callable[[str], Any],
    owed: Callable[[Any], Any],
) -> None:
    evening.press()
    evening.listen.wait_until(lambda events: sum(one.data[0] & 0xF0 == 0x90 for one in events) > 12)
    before, skipped = kit.messages(evening.notes()), evening.listen.skipped()
    evening.listen.close()
    evening.wait_for("listen:in has gone")
    time.sleep(0.8)
    evening.listen = make_recorder("listen")
    evening.wait_for("listen:in is back")
    back = evening.listen.frame()
    evening.wait_for("in the tune")
    time.sleep(0.3)
    events = evening.notes()
    assert owed(events) == {}
    heard = [message for message in kit.messages(events) if message.on]
    # What is struck so long after the return must be there: else a synth that stays dumb would do.
    again = min(heard[0].frame, back + 300 * MS)
    everything = kit.placed(written, [*before, *heard], RATE, by=2)
    expected = [message for message in everything if message.on and message.frame >= again - 2]
    print(f"back {(heard[0].frame - back) / MS:.0f} ms after it was told; {len(expected)} notes to come")
    assert len(expected) > 12
    kit.Skips([*skipped, *evening.listen.skipped()], RATE).agree(heard, expected, by=2)


def test_a_foot_switch_that_is_pulled_in_mid_intro_stops_nothing_and_works_again(
    kit: Any,
    evening: Any,
    written: list[Any],
    make_recorder: Callable[[str], Any],
    owed: Callable[[Any], Any],
) -> None:
    evening.stage.play_now(kit.FOOT_DOWN)  # and it is pulled while it is down
    evening.wait_for("playing")
    evening.stage.close()
    evening.wait_for("stage:out has gone")
    evening.stage = make_recorder("stage")
    evening.wait_for("stage:out is back")
    evening.wait_for("in the tune")  # it was no hold
    time.sleep(0.3)
    evening.agrees(kit.messages(evening.notes()), written)
    time.sleep(0.3)
    evening.press(down_for=0.7)
    evening.wait_for("ready: The Slow Lift")
    assert owed(evening.notes()) == {}
