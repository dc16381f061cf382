"""`introit bind` over real JACK: a switch that is pressed and held, beside a device that never stops."""

from __future__ import annotations

import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

RIG = """\
name: Test stage   # small
ports:
  synth: {system: jack, to: any}   # nothing listens here
parts:
  comp: {port: synth, channel: 2}
"""


def test_a_switch_is_learned_beside_a_clock_and_a_stream(
    e2e_helper: Callable[[str], Any],
    jack_server: Any,
    make_recorder: Callable[[str], Any],
    tmp_path: Path,
) -> None:
    rig = tmp_path / "rig.yaml"
    rig.write_text(RIG)
    floor, desk = make_recorder("floor"), make_recorder("desk")
    done = threading.Event()

    def chatter() -> None:
        value = 0
        while not done.wait(0.02):
            value = (value + 3) % 128
            desk.play_now(bytes((0xF8,)))
            desk.play_now(bytes((0xB0, 1, value)))

    noise = threading.Thread(target=chatter)
    noise.start()
    process = subprocess.Popen(
        [*e2e_helper("evening").command(), "bind", str(rig)],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=jack_server.environ,
    )  # fmt: skip
    assert process.stdout is not None
    printed = []
    try:
        for line in process.stdout:
            printed.append(line)
            if line.startswith(("press the switch", "now hold it")):
                floor.play_now(bytes((0xB4, 81, 0)))  # it rests high
                time.sleep(0.15 if line.startswith("press") else 2.0)
                floor.play_now(bytes((0xB4, 81, 127)))
        assert process.wait(20) == 0, printed
    finally:
        done.set()
        noise.join()
        process.kill()
        process.wait()
        process.stdout.close()
    text = "".join(printed)
    assert "controller 81 on channel 5, from floor:out" in text
    assert "momentary" in text
    assert "inverted" in text
    port = "  feet: {system: jack, from: floor:out}\n"
    foot = "port: feet|message: control|number: 81|channel: 5|action: momentary|inverted: true"
    expected = RIG.replace("ports:\n", f"ports:\n{port}")
    assert rig.read_text() == expected + "foot_switch:\n  " + foot.replace("|", "\n  ") + "\n"


def test_an_expression_pedal_is_learned_for_a_level(
    e2e_helper: Callable[[str], Any],
    jack_server: Any,
    make_recorder: Callable[[str], Any],
    tmp_path: Path,
) -> None:
    rig = tmp_path / "rig.yaml"
    rig.write_text(RIG)
    floor = make_recorder("floor")
    process = subprocess.Popen(
        [*e2e_helper("evening").command(), "bind", str(rig), "--order", "level", "--part", "comp"],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=jack_server.environ,
    )  # fmt: skip
    assert process.stdout is not None
    ways = {
        "move the pedal": [*range(60, 121, 4), *range(120, 2, -4), 3],
        "now move": [*range(3, 121, 4), 120],
    }
    printed = []
    try:
        for line in process.stdout:
            printed.append(line)
            for begins, values in ways.items():
                if line.startswith(begins):
                    for value in values:
                        floor.play_now(bytes((0xB1, 11, value)))
                        time.sleep(0.005)
        assert process.wait(20) == 0, printed
    finally:
        process.kill()
        process.wait()
        process.stdout.close()
    assert printed[-1] == "controls: level comp: CC 11 on channel 2\n"
    learned = "{do: level, part: comp, port: feet, message: control, number: 11, channel: 2, inverted: true, "
    assert learned + "low: 5, high: 118}" in rig.read_text()
