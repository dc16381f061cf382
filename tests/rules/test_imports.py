"""Architecture as tests: who may import whom, and what importing may load."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import introit

PACKAGE = Path(introit.__file__).parent
STOREYS = {
    "errors": 0,
    "units": 0,
    "chatter": 0,
    "performance": 1,
    "fluid": 1,
    "theory": 2,
    "library": 3,
    "arrange": 4,
    "live": 5,
    "export": 5,
    "practice": 5,
    "stand": 7,
    "testing": 8,
    "cli": 8,
}
"""The house from the ground up: a module imports only from storeys below its own (or from its own room)."""

LIVE_MAY_USE = {"errors", "units", "chatter", "performance", "fluid", "live"}
PORT_LIBRARIES = {"alsa": "alsa_midi", "libjack": "jack", "rtmidi": "rtmidi", "supriya": "supriya_midi"}
"""Port file under live/ports -> the one third-party package it may import."""


def modules() -> list[Path]:
    return sorted(path for path in PACKAGE.rglob("*.py") if "_content" not in path.parts)


def room(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return parts[0]


def imported(path: Path) -> list[tuple[str, bool]]:
    """Names of imported modules, each with whether the import stands at module level (runs on import)."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    inside = {
        id(node)
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for node in ast.walk(function)
    }
    found: list[tuple[str, bool]] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, id(node) not in inside) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.append((node.module or "", id(node) not in inside))
    return found


def third_party(name: str) -> bool:
    top = name.split(".")[0]
    return top != "introit" and top not in sys.stdlib_module_names


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_down_only(path: Path) -> None:
    here = room(path)
    if here in {"__init__", "__main__"}:
        return
    for name, _ in imported(path):
        parts = name.split(".")
        if parts[0] != "introit" or len(parts) == 1:
            continue
        there = parts[1]
        if there == here:
            continue
        assert STOREYS[there] < STOREYS[here], f"{here} imports {name}, which stands no lower"


@pytest.mark.parametrize(
    "path",
    [path for path in modules() if room(path) in {"live", "fluid", "chatter"}],
    ids=lambda path: str(path.relative_to(PACKAGE)),
)
def test_live_stands_alone(path: Path) -> None:
    for name, at_import in imported(path):
        parts = name.split(".")
        if parts[0] == "introit" and len(parts) > 1:
            assert parts[1] in LIVE_MAY_USE, f"{room(path)} imports {name}"
        if third_party(name):
            allowed = PORT_LIBRARIES.get(path.stem) if path.parent.name == "ports" else None
            assert parts[0] == allowed, f"{path.name} imports {name}"
            assert not at_import, f"{path.name} imports {name} when it is imported, not when a port is opened"


def in_practice(path: Path) -> str:
    """A practice module's place in its room, such as `room` or `log`; empty for what stands elsewhere."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return parts[1] if parts[0] == "practice" else ""


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_nobody_but_the_command_line_practises(path: Path) -> None:
    if room(path) not in {"practice", "cli"}:
        assert not [name for name, _ in imported(path) if name.startswith("introit.practice")]


PURE_MAY_USE = {
    "__future__", "bisect", "collections", "collections.abc", "copy", "dataclasses", "enum", "fractions",
    "functools", "itertools", "math", "random", "re", "typing",
}  # fmt: skip


@pytest.mark.parametrize(
    "path",
    [path for path in modules() if in_practice(path) not in {"", "log"}],
    ids=lambda path: str(path.relative_to(PACKAGE)),
)
def test_practice_is_pure_but_for_its_log(path: Path) -> None:
    for name, _ in imported(path):
        ours = name.startswith("introit.") and not name.startswith("introit.practice.log")
        assert ours or name in PURE_MAY_USE, f"{path.name} imports {name}"


def test_every_room_is_on_the_plan() -> None:
    assert {room(path) for path in modules()} - {"__init__", "__main__"} <= set(STOREYS)


def test_importing_everything_loads_no_port_library_and_no_system_library() -> None:
    names = [
        ".".join(("introit", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__")
        for path in modules()
        if path.stem != "__main__"
    ]
    code = f"""
import importlib, sys
for name in {names!r}:
    importlib.import_module(name)
loaded = sorted(set(sys.modules) & {set(PORT_LIBRARIES.values())!r})
try:
    maps = open('/proc/self/maps').read()
except OSError:
    maps = ''
libraries = sorted(word for word in ('libjack', 'libasound', 'librtmidi', 'libfluidsynth') if word in maps)
print(loaded, libraries)
"""
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.strip() == "[] []"


def test_importing_the_package_alone_is_light() -> None:
    code = "import sys, introit; print(sorted(name for name in sys.modules if name.startswith('introit')))"
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.strip() == "['introit']"
