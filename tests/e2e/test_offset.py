"""Two JACK ports, one of them lined up: its notes leave earlier, or later, to the frame."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

BASS = 2


@pytest.mark.parametrize("offset_ms", [30, -30])
def test_one_port_goes_out_earlier_or_later_than_the_other(
    offset_ms: int,
    kit: Any,
    make_evening: Callable[..., Any],
    make_recorder: Callable[[str], Any],
    jack_server: Any,
    tmp_path: Path,
) -> None:
    slow = make_recorder("slow")
    ports = f'  slow: {{system: jack, to: "slow:in", offset_ms: {offset_ms}}}\nparts:'
    rig = kit.RIG.replace("parts:", ports).replace("bass: {port: synth", "bass: {port: slow")
    evening = make_evening(rig=rig)
    said = evening.wait_for("slow: plays into slow:in")
    assert f"sent 30 ms {'earlier' if offset_ms > 0 else 'later'})" in said
    evening.wait_for("ready: Copper Kettle Lane")
    evening.press()
    evening.wait_for("in the tune")
    time.sleep(0.3)

    path = kit.write_file(tmp_path, jack_server.environ, *kit.FIRST, "--key", "Bb")
    notes, rate = kit.written_notes(path)[0], slow.rate
    shift = round(offset_ms / 1000 * rate)
    heard = [message for message in kit.messages(evening.notes()) if message.on]
    bass = [message for message in kit.messages(slow.events()) if message.on]
    assert len(heard) > 40
    # A frame for each end's rounding, and the file's tempo is in whole microseconds a quarter.
    everything = kit.placed([note for note in notes if note.on], heard, rate, by=2)
    early = min(message.frame for message in everything) + rate // 5
    in_time = [
        message._replace(frame=message.frame - shift) if message.channel == BASS else message
        for message in everything
        if message.frame >= early  # what begins at the press cannot be sent before it
    ]
    struck = [
        message
        for message in heard + bass
        if message.frame + (shift if message.channel == BASS else 0) >= early - 2
    ]
    skips = kit.Skips([*evening.listen.skipped(), *slow.skipped()], rate)
    skips.agree(sorted(struck), sorted(in_time), by=2)
    assert {message.channel for message in bass} == {BASS}
