"""The built wheel, alone in a clean environment outside the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parents[2]
pytestmark = pytest.mark.e2e


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [
            sys.executable,
            "-m",
            "pip",
            "wheel",
            "--quiet",
            "--no-deps",
            "--wheel-dir",
            str(folder),
            str(CHECKOUT),
        ],
        check=True,
        timeout=300,
    )
    (built,) = folder.glob("introit-*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The command `introit` in a clean environment that holds the wheel and what it needs, wheels only."""
    folder = tmp_path_factory.mktemp("clean") / "env"
    venv.create(folder, with_pip=True)
    scripts = folder / ("Scripts" if os.name == "nt" else "bin")
    subprocess.run(
        [str(scripts / "python"), "-m", "pip", "install", "--quiet", "--only-binary", ":all:", str(wheel)],
        check=True,
        timeout=600,
        cwd=folder,
    )
    return scripts / "introit"


def run(
    command: Path, *arguments: str, cwd: Path, server: str = "no-such-server"
) -> subprocess.CompletedProcess[str]:
    environment = {
        "PATH": os.environ["PATH"],
        "HOME": str(cwd),
        "JACK_DEFAULT_SERVER": server,
        "JACK_NO_START_SERVER": "1",
    }
    return subprocess.run(
        [str(command), *arguments],
        capture_output=True,
        text=True,
        cwd=cwd,
        env=environment,
        timeout=120,
        check=False,
    )


def test_the_wheel_carries_code_and_content_and_no_tests(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert "introit/py.typed" in names
    assert any(name.startswith("introit/_content/patterns/intros/") for name in names)
    assert any(name.startswith("introit/_content/config/rigs/") for name in names)
    assert not [name for name in names if name.startswith(("tests/", "patterns/", "config/", "engine/"))]


def test_the_demo_runs_from_the_wheel(installed: Path, tmp_path: Path) -> None:
    done = run(installed, "demo", "--log", "demo.jsonl", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert "timing:" in done.stdout.splitlines()[-1]
    assert "in the tune" in done.stdout
    assert (tmp_path / "demo.jsonl").stat().st_size > 0


def test_every_command_answers_from_the_wheel(installed: Path, tmp_path: Path) -> None:
    for arguments in (
        ["intros"],
        ["tunes"],
        ["sets"],
        ["rigs"],
        ["feels"],
        ["check"],
        ["ports"],
        ["--version"],
    ):
        done = run(installed, *arguments, cwd=tmp_path)
        assert done.returncode == 0, (arguments, done.stderr)
        assert done.stdout
