"""What running processes hold in their interpreters: the player the live core and its port library, the front
no more than an evening needs."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from introit.live.keeper import Keeper
from introit.live.setup import PortSetup, Setup

SPY = """
import atexit, pathlib, sys
atexit.register(lambda: pathlib.Path(sys.argv[1]).write_text("\\n".join(sys.modules)))
from introit.live.player import main
sys.exit(main(sys.argv[2:]))
"""
ABOVE = {
    "introit.theory",
    "introit.library",
    "introit.arrange",
    "introit.export",
    "introit.cli",
    "introit.testing",
}
FRONT_SPY = """
import atexit, os, pathlib, sys
atexit.register(lambda: pathlib.Path(os.environ["MODULES"]).write_text("\\n".join(sys.modules)))
from introit.cli.main import main
main()
"""
RIG = """
name: In memory
ports:
  main: {system: memory, to: any}
parts:
  melody: {port: main, channel: 1}
  comp: {port: main, channel: 2}
  bass: {port: main, channel: 3}
"""
LARGE = {"asyncio", "ssl", "http", "email", "sqlite3", "multiprocessing", "concurrent", "unittest", "xml"}
"""Of the standard library, what neither needs, and what weighs most."""
PAGE_AND_PAPER = {"yaml", "starlette", "uvicorn", "segno", "introit.stand", "introit.export.music_xml", "xml"}
"""What only a page, or a file that must be read anew, needs."""
FOREIGN = {"yaml", "pydantic", "numpy", "click", "rich", "mido", "platformdirs", "music21", "pytest"}


def test_a_running_player_holds_the_live_core_and_the_port_library_only(
    recorder: Any, tmp_path: Path
) -> None:
    modules = tmp_path / "modules"
    setup = Setup(ports=(PortSetup("synth", "jack", to="probe:in"),), routes=(), tunes=1)
    keeper = Keeper(setup, program=(sys.executable, "-P", "-c", SPY, str(modules)))
    keeper.start()
    keeper.stop("enough")
    held = set(modules.read_text().split())
    assert {"jack", "introit.live.loop", "introit.live.ports.jack"} <= held
    assert not held & (FOREIGN | ABOVE | LARGE)
    third_party = (
        {name.partition(".")[0] for name in held} - sys.stdlib_module_names - {"introit", "__main__"}
    )
    assert third_party <= {"jack", "_jack", "_cffi_backend"} | site_hooks(third_party)


def test_a_running_front_holds_no_page_no_paper_and_no_yaml_once_its_files_are_kept(tmp_path: Path) -> None:
    rig = tmp_path / "rig.yaml"
    rig.write_text(RIG, encoding="utf-8")
    an_hour_ago = rig.stat().st_mtime - 3600  # what has only just been saved is not trusted to stay so
    os.utime(rig, (an_hour_ago, an_hour_ago))
    (tmp_path / "home").mkdir()
    environ = {**os.environ, "INTROIT_HOME": str(tmp_path / "home"), "MODULES": str(tmp_path / "modules")}
    held = [front_modules(environ, rig) for _ in range(2)]
    assert "introit.arrange.arranger" in held[1]
    assert "yaml" in held[0], "a first start reads everything"
    assert held[1] & (PAGE_AND_PAPER | LARGE) == set()


def front_modules(environ: dict[str, str], rig: Path) -> set[str]:
    """What a front has imported when its first tune is ready."""
    command = [sys.executable, "-P", "-c", FRONT_SPY, "run", "demo", "--rig", str(rig)]
    with subprocess.Popen(
        command, env=environ, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    ) as front:
        assert front.stdout is not None
        printed = []
        for line in front.stdout:
            printed.append(line.decode())
            if line.startswith(b"ready:"):
                break
        front.terminate()
        printed += [line.decode() for line in front.stdout]
    assert front.returncode == 0, "".join(printed)
    return set(Path(environ["MODULES"]).read_text(encoding="utf-8").split())


def site_hooks(names: set[str]) -> set[str]:
    """What the environment's own start-up files bring in before any program runs."""
    return {name for name in names if name.startswith(("_distutils_hack", "__editable__", "sitecustomize"))}
