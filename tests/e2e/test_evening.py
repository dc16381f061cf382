"""The installed command over real JACK: notes against the same intro's MIDI file, and every way out.

Times are compared in the server's frames, as an independent client recorded them.
"""

from __future__ import annotations

import json
import os
import signal
import time
from collections.abc import Callable
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import pytest


def struck(evening: Any) -> int:
    """How many notes have begun so far. (An off may be repeated, after a skipped cycle.)"""
    return sum(event.data[0] & 0xF0 == 0x90 and event.data[2] > 0 for event in evening.notes())


def agree(kit: Any, evening: Any, events: list[Any], written: Path) -> float:
    """Checks recorded events against a file, to the frame; returns the head's second from the first."""
    notes, head = kit.written_notes(written)
    evening.agrees(kit.messages(events), notes)
    return float(head)


def agree_in_order(skips: Any, sent: list[str], recorded: list[Any]) -> None:
    """Checks that what the log has sent is what was recorded, in its order, but for what was skipped."""
    frames = [event.frame for event in recorded]
    alike = SequenceMatcher(None, sent, [event.data.hex(" ") for event in recorded], autojunk=False)
    shown = 0
    for what, logged, to, first, last in alike.get_opcodes():
        if what == "equal":
            shown += to - logged
            continue
        around = frames[max(0, first - 1) : last + 1]
        assert skips.excuse(around[0], around[-1]), (what, sent[logged:to], recorded[first:last])
    print(f"{shown} of {len(sent)} messages of the log were heard, in order; {skips.number} skipped cycles")
    assert 2 * shown >= len(sent)


def test_a_press_plays_the_intro_and_it_stops_on_the_head(
    kit: Any, evening: Any, tmp_path: Path, jack_server: Any, owed: Callable[[Any], dict[Any, int]]
) -> None:
    frame = evening.press()
    evening.wait_for("in the tune")
    time.sleep(0.3)
    events = evening.notes()
    written = kit.write_file(tmp_path, jack_server.environ, *kit.FIRST, "--key", "Bb")
    head = agree(kit, evening, events, written)
    assert owed(events) == {}
    events = kit.without_repeats(events)
    over = (events[-1].frame - events[0].frame) / evening.listen.rate
    assert over <= head + 1 / evening.listen.rate or evening.skips().excuse(events[-1].frame)
    late = (events[0].frame - frame) / evening.listen.rate
    print(f"press to first note: {late * 1000:.2f} ms")
    assert late < 0.5  # the bench measures how fast; here only that the press is what started it


def test_a_key_note_with_its_third_rekeys_to_minor(
    kit: Any, evening: Any, tmp_path: Path, jack_server: Any, owed: Callable[[Any], dict[Any, int]]
) -> None:
    evening.key(29, 32)  # F and the A flat above it
    assert "F minor" in evening.wait_for("F minor")
    time.sleep(0.3)
    evening.press()
    evening.wait_for("in the tune")
    time.sleep(0.3)
    written = kit.write_file(tmp_path, jack_server.environ, *kit.FIRST, "--key", "F minor")
    agree(kit, evening, evening.notes(), written)
    assert owed(evening.notes()) == {}


def test_a_hold_is_silence_and_the_same_tune_is_ready_again(
    kit: Any, evening: Any, owed: Callable[[Any], dict[Any, int]]
) -> None:
    evening.press()
    evening.wait_for("playing")
    time.sleep(1.0)
    down = int(evening.stage.play_now(kit.FOOT_DOWN))
    time.sleep(0.8)
    evening.stage.play_now(kit.FOOT_UP)
    evening.wait_for("ready: Copper Kettle Lane")
    time.sleep(0.2)
    events = evening.notes()
    assert owed(events) == {}
    assert events
    held = (events[-1].frame - down) / evening.listen.rate
    assert 0.4 < held < 0.6, "silence comes half a second after the foot went down"


def test_a_hold_in_the_tune_readies_the_next_one(
    kit: Any, evening: Any, owed: Callable[[Any], dict[Any, int]]
) -> None:
    evening.press()
    evening.wait_for("in the tune")
    before = struck(evening)
    time.sleep(0.6)
    evening.press()  # inert
    time.sleep(0.6)
    evening.press(down_for=0.7)
    assert "G minor" in evening.wait_for("ready: The Slow Lift")
    assert struck(evening) == before
    evening.press()
    evening.wait_for("counting off")
    evening.wait_for("in the tune")
    time.sleep(0.2)
    assert struck(evening) > before
    assert owed(evening.notes()) == {}


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_signal_in_mid_bar_releases_everything(
    evening: Any, owed: Callable[[Any], dict[Any, int]], number: int
) -> None:
    evening.press()
    evening.wait_for("playing")
    time.sleep(0.9)
    assert evening.end(number) == 0
    time.sleep(0.2)
    assert evening.notes()
    assert owed(evening.notes()) == {}


def test_interrupting_the_whole_group_releases_everything(
    evening: Any, owed: Callable[[Any], dict[Any, int]]
) -> None:
    evening.press()
    evening.wait_for("playing")
    time.sleep(0.9)
    os.killpg(evening.process.pid, signal.SIGINT)  # what Ctrl-C in a terminal does
    assert evening.process.wait(15) == 0
    time.sleep(0.2)
    assert owed(evening.notes()) == {}


@pytest.mark.parametrize("victim", ["player", "front"])
def test_a_killed_process_leaves_no_pitch_owed(
    make_evening: Callable[..., Any], owed: Callable[[Any], dict[Any, int]], victim: str
) -> None:
    """Asked again, twice at most, where the listener itself lost a cycle after the kill."""
    for last in (False, False, True):
        evening = make_evening()
        evening.wait_for("ready: Copper Kettle Lane")
        evening.press()
        evening.wait_for("playing")
        began = len(evening.listen.events())
        evening.listen.wait_until(lambda events, began=began: len(owed(events[began:])) >= 4)  # in mid-chord
        skipped = len(evening.listen.skipped())
        os.kill(evening.player() if victim == "player" else evening.process.pid, signal.SIGKILL)
        evening.listen.wait_until(lambda events, began=began: not owed(events[began:]), seconds=2.0)
        time.sleep(0.5)
        left = owed(evening.listen.events()[began:])
        if left == {}:
            return
        assert not last, left
        assert len(evening.listen.skipped()) > skipped, left
        evening.close()


def test_the_evening_goes_on_after_the_player_was_killed(
    evening: Any, owed: Callable[[Any], dict[Any, int]]
) -> None:
    evening.press()
    evening.wait_for("playing")
    time.sleep(0.8)
    os.kill(evening.player(), signal.SIGKILL)
    evening.wait_for("ready: Copper Kettle Lane")
    before = struck(evening)
    time.sleep(0.3)
    evening.press()
    evening.wait_for("in the tune")
    time.sleep(0.2)
    assert struck(evening) > before
    assert owed(evening.notes()) == {}


def test_the_log_holds_every_message_with_its_times(kit: Any, evening: Any) -> None:
    evening.press()
    evening.wait_for("in the tune")
    time.sleep(0.2)
    recorded = evening.notes()
    assert evening.end() == 0
    lines = [json.loads(line) for line in evening.log.read_text().splitlines()]
    heard = [line for line in lines if "heard" in line]
    sent = [line for line in lines if "sent" in line and int(line["sent"][:2], 16) & 0xE0 == 0x80]
    assert [line["heard"] for line in heard] == [kit.FOOT_DOWN.hex(" "), kit.FOOT_UP.hex(" ")]
    agree_in_order(evening.skips(), [line["sent"] for line in sent], recorded)
    late = [line["actual_ns"] - line["ideal_ns"] for line in sent]
    print(f"against the ideal grid: {min(late)} to {max(late)} ns")
