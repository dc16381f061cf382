"""`introit doctor` on a port in memory and on a real JACK server; how late it was is not judged here."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

RIG = """\
name: To be measured
ports:
  synth: {{system: {system}, to: {to}, from: any}}
parts:
  melody: {{port: synth, channel: 1, program: 27}}
"""


@pytest.fixture
def doctor(
    e2e_helper: Callable[[str], Any], tmp_path: Path
) -> Callable[..., subprocess.CompletedProcess[str]]:
    def call(
        system: str, to: str, *more: str, environ: dict[str, str] | None = None
    ) -> subprocess.CompletedProcess[str]:
        rig = tmp_path / "rig.yaml"
        rig.write_text(RIG.format(system=system, to=to))
        command = [*e2e_helper("evening").command(), "doctor", "--rig", str(rig), "--seconds", "1", *more]
        surroundings = {**(environ or os.environ), "XDG_STATE_HOME": str(tmp_path / "state")}
        return subprocess.run(
            command, capture_output=True, text=True, check=False, env=surroundings, timeout=60
        )

    return call


def test_a_port_in_memory(doctor: Callable[..., subprocess.CompletedProcess[str]]) -> None:
    done = doctor("memory", "any", "--json")
    assert done.stderr == ""
    told = json.loads(done.stdout)
    assert done.returncode == (0 if told["fine"] else 1)
    (port,) = told["ports"]
    # A hundred a second, less what the machine was too busy to make or tell of.
    assert 50 <= port["late"]["count"] + told["records_dropped"] <= 150
    assert port["latency"] >= 0
    assert set(told["granted"]) == {
        "real-time scheduling",
        "exact timers",
        "locked memory",
        "cores kept awake",
    }


def test_in_words_within_eighty_columns(doctor: Callable[..., subprocess.CompletedProcess[str]]) -> None:
    done = doctor("memory", "any")
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) < 80
    assert any("up to 0.05 ms |" in line for line in lines)
    good = any(line.startswith("good enough for playing live") for line in lines)
    assert done.returncode == (0 if good else 1)
    assert good or any(line.startswith("not good enough") for line in lines)


def test_jack_hears_active_sensing_and_nothing_else(
    doctor: Callable[..., subprocess.CompletedProcess[str]],
    jack_server: Any,
    make_recorder: Callable[[str], Any],
) -> None:
    listen = make_recorder("listen")
    done = doctor("jack", "'listen:in'", "--json", environ=jack_server.environ)
    assert done.stderr == ""
    told = json.loads(done.stdout)
    assert done.returncode == (0 if told["fine"] else 1)
    (port,) = told["ports"]
    assert port["into"] == ["listen:in"]
    assert port["ahead"] is True
    # From the foot: two periods, and the half millisecond that the clock runs ahead.
    assert port["latency"] == pytest.approx(2 * listen.period / listen.rate * 1000 + 0.5, abs=0.2)
    assert told["machine"]["server"] == {"rate": listen.rate, "period": listen.period, "real_time": True}
    time.sleep(0.3)
    events = listen.events()
    assert {event.data for event in events} == {b"\xfe"}
    # What fell into a skipped cycle may be lost: one message, and one more for each hundredth of a second.
    lost = sum(1 + (end - start) * 100 // listen.rate for start, end in listen.skipped())
    assert abs(len(events) - port["late"]["count"] - told["records_dropped"]) <= lost


def test_a_port_that_somebody_plays_into_is_left_alone(
    doctor: Callable[..., subprocess.CompletedProcess[str]],
    e2e_helper: Callable[[str], Any],
    jack_server: Any,
    make_recorder: Callable[[str], Any],
    tmp_path: Path,
) -> None:
    kit = e2e_helper("evening")
    stage, listen = make_recorder("stage"), make_recorder("listen")
    environ = {**jack_server.environ, "XDG_STATE_HOME": str(tmp_path / "state")}
    folder = tmp_path / "evening"
    folder.mkdir()
    evening = kit.Evening(folder, stage=stage, listen=listen, environ=environ)
    try:
        evening.wait_for("ready: Copper Kettle Lane")
        done = doctor("jack", "listen", environ=environ)
        assert done.returncode == 1
        assert "is being played already" in done.stderr
        assert done.stderr.count("\n") == 1
        assert evening.end() == 0
    finally:
        evening.close()


def test_ctrl_c_breaks_it_off_and_leaves_no_player(e2e_helper: Callable[[str], Any], tmp_path: Path) -> None:
    rig = tmp_path / "rig.yaml"
    rig.write_text(RIG.format(system="memory", to="any"))
    command = [*e2e_helper("evening").command(), "doctor", "--rig", str(rig), "--seconds", "60"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
        limit = time.monotonic() + 20
        while not children.read_text() and time.monotonic() < limit:
            time.sleep(0.05)
        player = int(children.read_text())
        time.sleep(0.7)
        process.send_signal(signal.SIGINT)
        _, error = process.communicate(timeout=20)
    assert (process.returncode, error) == (130, "")
    assert not Path(f"/proc/{player}").exists()
