"""A second evening into the same synth is refused in a line, and the first plays on; after a kill none is."""

from __future__ import annotations

import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any


def run(kit: Any, folder: Path, environ: dict[str, str], *arguments: str) -> subprocess.CompletedProcess[str]:
    command = [*kit.command(), *arguments, "--rig", str(folder / "rig.yaml")]
    return subprocess.run(command, capture_output=True, text=True, check=False, env=environ, timeout=60)


def test_the_second_is_refused_and_the_first_plays_on(
    kit: Any,
    make_evening: Callable[..., Any],
    jack_server: Any,
    tmp_path: Path,
    owed: Callable[[Any], dict[Any, int]],
) -> None:
    state = {"XDG_STATE_HOME": str(tmp_path / "state")}
    first = make_evening(environ=state)
    first.wait_for("ready: Copper Kettle Lane")
    first.press()
    first.wait_for("playing")
    before = len(first.notes())
    other = tmp_path / "other.yaml"
    other.write_text(kit.SET)
    for arguments in (["run", str(other)], ["play", "back-door", "--seed", "1"]):
        second = run(kit, tmp_path, {**jack_server.environ, **state}, *arguments)
        assert second.returncode == 1
        assert second.stderr.count("\n") == 1
        assert second.stderr.startswith("introit: 'listen:in' (jack) is being played already by another")
        assert f"process {first.process.pid}, since " in second.stderr
        assert "set 'Two for a test'" in second.stderr
        assert "seed" not in second.stdout or arguments[0] == "play"
    first.wait_for("in the tune")
    time.sleep(0.3)
    assert len(first.notes()) > before
    assert owed(first.notes()) == {}
    first.process.send_signal(signal.SIGKILL)
    first.process.wait()
    jack_server.killed_a_client()
    third = make_evening(environ=state)
    third.wait_for("ready: Copper Kettle Lane")
    assert third.end() == 0


def test_where_the_state_cannot_be_kept_the_evening_goes_on(
    make_evening: Callable[..., Any], tmp_path: Path
) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("")
    one = make_evening(environ={"XDG_STATE_HOME": str(in_the_way)})
    one.wait_for("ready: Copper Kettle Lane")
    assert one.end() == 0
    assert one.errors().count("nothing keeps a second introit from the same ports") == 1
