"""What a running player with a JACK port holds in its interpreter: the live core and the port library."""

from __future__ import annotations

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
    assert not held & (FOREIGN | ABOVE)
    third_party = (
        {name.partition(".")[0] for name in held} - sys.stdlib_module_names - {"introit", "__main__"}
    )
    assert third_party <= {"jack", "_jack", "_cffi_backend"} | site_hooks(third_party)


def site_hooks(names: set[str]) -> set[str]:
    """What the environment's own start-up files bring in before any program runs."""
    return {name for name in names if name.startswith(("_distutils_hack", "__editable__", "sitecustomize"))}
