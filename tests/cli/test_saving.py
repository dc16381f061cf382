"""A set that is saved while the installed program plays it, and what is ready then."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

RIG = "name: Nowhere\nports:\n  main: {system: memory, to: any}\nparts:\n  comp: {port: main, channel: 2}\n"
SET = """\
title: Friday
tunes:
  - {title: Copper Lamp, key: Bb, meter: 4/4, tempo: 280, feel: medium-swing, first_chord: I,
     intro: three-six-two-five}
"""


def test_a_tune_saved_while_it_is_ready_is_what_comes_next(start: Callable[..., Any], tmp_path: Path) -> None:
    rig, chosen = tmp_path / "rig.yaml", tmp_path / "friday.yaml"
    rig.write_text(RIG)
    chosen.write_text(SET)
    stand = start("-m", "introit", "run", str(chosen), "--rig", str(rig))
    stand.until("ready: Copper Lamp, Bb, 280")
    chosen.write_text(SET.replace("280", "20000"))
    column = SET.splitlines()[2].index("280") + 1
    stand.until(f"friday.yaml:3:{column}: 20000 is out of range")
    stand.until("kept as it was")
    chosen.write_text(SET.replace("280", "270").replace("Lamp", "Kettle"))
    stand.until("read again: friday.yaml")
    stand.strike(b" ")
    stand.until("playing")
    stand.strike(b"h")
    stand.until("ready: Copper Kettle, Bb, 270")
    stand.strike(b"q")
    stand.until("all notes off")
