"""Two JACK ports, one of them lined up: its notes leave earlier, or later, to the frame."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

INTRO = ("three-six-two-five", "--tempo", "240", "--feel", "medium-swing", "--key", "Bb")
BASS = 2


@pytest.mark.parametrize("offset_ms", [30, -30])
def test_one_port_goes_out_earlier_or_later_than_the_other(
    offset_ms: int,
    e2e_helper: Callable[[str], Any],
    make_recorder: Callable[[str], Any],
    jack_server: Any,
    tmp_path: Path,
) -> None:
    kit = e2e_helper("evening")
    stage, listen, slow = make_recorder("stage"), make_recorder("listen"), make_recorder("slow")
    ports = f'  slow: {{system: jack, to: "slow:in", offset_ms: {offset_ms}}}\nparts:'
    rig = kit.RIG.replace("parts:", ports).replace("bass: {port: synth", "bass: {port: slow")
    evening = kit.Evening(tmp_path, stage=stage, listen=listen, environ=jack_server.environ, rig=rig)
    try:
        said = evening.wait_for("slow: plays into slow:in")
        assert f"sent 30 ms {'earlier' if offset_ms > 0 else 'later'})" in said
        evening.wait_for("ready: Copper Kettle Lane")
        evening.press()
        evening.wait_for("in the tune")
        time.sleep(0.3)
        skipped = evening.skipped()
    finally:
        evening.close()
        jack_server.killed_a_client()

    notes, _ = kit.written_notes(kit.write_file(tmp_path, jack_server.environ, *INTRO))
    rate = listen.rate
    begun = min(event.frame for event in listen.events() if event.data[0] & 0xF0 == 0x90)
    first = min(note.seconds for note in notes if note.on and note.channel != BASS)
    off = []
    for recorder, shift in ((listen, 0.0), (slow, offset_ms / 1000)):
        ours = recorder is slow
        # What begins at the press cannot be sent before it.
        due = [note for note in notes if note.on and (note.channel == BASS) == ours and note.seconds > 0.2]
        struck = [event for event in recorder.events() if event.data[0] & 0xF0 == 0x90]
        for note in due:
            at = begun + (note.seconds - first - shift) * rate
            same = [event.frame - at for event in struck if event.data[1] == note.pitch]
            off.append(min(same, key=abs))
    assert len(off) > 60
    # A frame for each end's rounding, and the file's tempo is in whole microseconds a quarter.
    worst = max(map(abs, off))
    assert worst <= 2 or skipped, f"{worst:.2f} frames off at most, of {len(off)} notes"
    print(f"{worst:.2f} frames off at most, of {len(off)} notes")
