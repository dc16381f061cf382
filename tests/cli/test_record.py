"""The log file and the timing report."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from introit.chatter import hushed
from introit.cli.record import LogFile, Timing, kept_log
from introit.errors import IntroitError
from introit.live.events import Heard, Sent


def lines(path: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def test_one_line_for_each_message_and_a_second_run_adds_to_the_first(tmp_path: Path) -> None:
    path = tmp_path / "log.jsonl"
    for _ in range(2):
        log = LogFile(path)
        log.heard(Heard(0, 5, bytes((0xB0, 64, 127))))
        log.sent(Sent(1, 10, 12, bytes((0x90, 60, 80))))
        log.close()
        assert log.failure == ""
    run = lines(path)[1:3]
    assert run == [
        {"heard": "b0 40 7f", "port": 0, "ns": 5},
        {"sent": "90 3c 50", "port": 1, "ideal_ns": 10, "actual_ns": 12},
    ]
    assert lines(path)[4:] == run
    assert "introit" in lines(path)[0]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_ends_the_log_and_is_remembered() -> None:
    log = LogFile(Path("/dev/full"))
    log.note(much="x" * 100)
    log.close()
    assert log.failure == "No space left on device"


def test_a_pipe_that_nobody_reads_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(IntroitError, match="nobody reads this pipe"):
        LogFile(tmp_path / "pipe")


def test_a_stalled_reader_is_never_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    reader = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    log = LogFile(path, room=100)
    for number in range(5000):  # more than a pipe holds
        log.note(number=number, filling="x" * 100)
    assert log.dropped > 0
    os.close(reader)


def test_what_drivers_print_is_in_the_log_and_not_in_sight(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.jsonl"
    with kept_log(path), hushed():
        os.write(2, b"driver: no such card\n")
    with hushed():
        os.write(2, b"after the log was closed\n")
    assert [line["driver"] for line in lines(path)[1:]] == ["driver: no such card"]
    assert capfd.readouterr().err == ""


def test_timing_counts_notes_only() -> None:
    timing = Timing()
    assert timing.summary() == "timing: no note was sent"
    for late in range(100):
        timing.add(Sent(0, 0, late * 10_000, bytes((0x90, 60, 80))))
    timing.add(Sent(0, 0, 9_000_000, bytes((0xFE,))))
    assert timing.summary() == (
        "timing: 100 note messages, late by 0.490 ms (middle), 0.980 ms (99 %), 0.990 ms (worst) "
        "against the ideal grid"
    )
