"""Somebody saves the set by hand, as fast as he can, while the page edits it as fast as it can: none is lost.

The savers are processes of their own. A hand save is lost when the file does not hold it any more though the
same hand has saved nothing since: neither as it was saved, nor with an edit that was made upon it.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from introit.cli.set_file import SetFile, StaleError
from introit.library.content import program_root
from introit.library.loader import load_library
from introit.library.set_editing import Change

SET = """\
title: Tonight
tunes:
  - call: ballad, Db
    title: Lift
    tempo: 60
"""
SAVES = 2000

SAVER = """
import os, pathlib, random, sys, time
path, saves, way, text = pathlib.Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3], sys.argv[4]
dice, lost = random.Random(7), 0
new = path.with_name("new")
for number in range(saves):
    data = f"{text}# by hand {number}\\n"
    if way == "over":
        new.write_text(data)
        os.replace(new, path)
    else:
        path.write_text(data)
    time.sleep(dice.random() * dice.choice((0.004, 0.04)))
    for _ in range(2):
        found = f"# by hand {number}\\n" in path.read_text()
        if found:
            break
        time.sleep(0.1)  # the two are changing places back
    lost += not found
print(lost)
"""


@pytest.mark.long
@pytest.mark.skipif(sys.platform != "linux", reason="only Linux closes the gap")
@pytest.mark.parametrize("way", ["over", "into"])
def test_no_save_is_lost(tmp_path: Path, way: str) -> None:
    path = tmp_path / "tonight.yaml"
    path.write_text(SET)
    library = load_library([program_root()])[0]
    file = SetFile(path, lambda: library)
    made = refused = 0
    with subprocess.Popen(
        [sys.executable, "-c", SAVER, str(path), str(SAVES), way, SET], stdout=subprocess.PIPE, text=True
    ) as saver:
        while saver.poll() is None:
            try:
                now = file.read()
                file.edit(now.revision, Change(0, {"tempo": 40 + (made + refused) % 60}))
                made += 1
            except StaleError:
                refused += 1
            except Exception:  # what is read in the middle of a save is no set
                refused += 1
        assert saver.stdout is not None
        lost = int(saver.stdout.read())
    print(f"{SAVES} saves by hand, {made} edits made and {refused} refused: {lost} saves lost")
    assert made > 50
    assert refused > 50
    assert lost == 0
    assert list(tmp_path.iterdir()) == [path]
