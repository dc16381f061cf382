"""The systemd unit: what it says, how words are quoted, and that no hand's work is overwritten."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable
from configparser import ConfigParser
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.cli.main import run
from introit.cli.unit import is_untouched, quoted, unit
from introit.live.keeper import QUIT_SECONDS, START_SECONDS

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="systemd is Linux's")

SET = """\
title: Friday
tunes:
  - {title: Copper Lamp, key: Bb, feel: medium-swing}
"""


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("config", "state", "own"):
        (tmp_path / name).mkdir()
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("INTROIT_HOME", str(tmp_path / "own"))
    monkeypatch.setattr(sys, "platform", "linux")
    (tmp_path / "friday night.yaml").write_text(SET)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def place(home: Path) -> Path:
    return home / "config" / "systemd" / "user" / "introit.service"


def parsed(text: str) -> ConfigParser:
    """The unit as an INI file, which a simple one is."""
    parser = ConfigParser(interpolation=None, strict=False)
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read_string(text)
    return parser


def test_it_is_written_and_how_to_switch_it_on_is_said(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["service", "friday night.yaml", "--rig", "default"]) == 0
    out = capsys.readouterr().out
    assert str(place(home)) in out
    for word in ("daemon-reload", "enable --now introit", "loginctl enable-linger", "journalctl --user"):
        assert word in out
    service = parsed(place(home).read_text())["Service"]
    start = shlex.split(service["ExecStart"])
    assert start[:6] == [sys.executable, "-P", "-m", "introit", "run", "--service"]
    assert start[6:] == ["--rig", "default", "--", str(home / "friday night.yaml")], (
        "files by their full path"
    )
    assert service["Environment"] == f"INTROIT_HOME={home / 'own'}"


def test_what_a_manager_must_know(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["service", "--print"]) == 0
    text = capsys.readouterr().out
    assert not place(home).exists()
    service = parsed(text)["Service"]
    assert service["Type"] == "notify"
    assert service["Restart"] == "on-failure"
    assert service["RestartPreventExitStatus"] == "2"
    assert service["LimitRTPRIO"] == "95"
    assert service["LimitMEMLOCK"] == "infinity"
    # systemd.kill(5): "mixed" sends SIGKILL to the rest as soon as the main process has gone.
    assert service["KillMode"] == "control-group"
    assert service["WatchdogSignal"] == service["KillSignal"] == "SIGTERM"
    assert int(service["TimeoutStopSec"]) > 3 * QUIT_SECONDS, "ask, end, kill: each may take so long"
    assert int(service["WatchdogSec"]) > START_SECONDS, "a new player may take so long to begin"
    assert parsed(text)["Install"]["WantedBy"] == "default.target"


def test_a_second_time_changes_nothing_and_another_set_replaces_ours(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, says in (
        ("demo", "written to"),
        ("demo", "is so already"),
        ("friday night.yaml", "written to"),
    ):
        assert run(["service", name]) == 0
        assert says in capsys.readouterr().out
    assert "friday" in place(home).read_text()


def test_a_unit_that_was_changed_by_hand_is_kept(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["service", "demo"]) == 0
    mine = place(home).read_text().replace("RestartSec=5", "RestartSec=60")
    place(home).write_text(mine)
    capsys.readouterr()
    assert run(["service", "friday night.yaml"]) == 1
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "changed by hand, and nothing was written" in error
    assert "--force" in error
    assert place(home).read_text() == mine
    assert run(["service", "friday night.yaml", "--force"]) == 0
    assert "friday" in place(home).read_text()
    assert place(home).with_name("introit.service.old").read_text() == mine


def test_a_unit_that_is_not_ours_is_kept(home: Path) -> None:
    place(home).parent.mkdir(parents=True)
    place(home).write_text("[Service]\nExecStart=/bin/true\n")
    assert run(["service"]) == 1
    assert place(home).read_text() == "[Service]\nExecStart=/bin/true\n"


def test_the_messages_log_lies_with_the_programs_state(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["service", "--log"]) == 0
    capsys.readouterr()
    start = shlex.split(parsed(place(home).read_text())["Service"]["ExecStart"])
    log = Path(start[start.index("--log") + 1])
    assert log.parent == home / "state" / "introit"
    assert log.parent.is_dir()


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["no-such-set"], 2, "no-such-set"),
        (["--rig", "no-such-rig"], 2, "no rig"),
        (["broken.yaml"], 1, "broken.yaml:1:1"),
    ],
)
def test_what_cannot_be_run_is_not_written(
    home: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int, says: str
) -> None:
    (home / "broken.yaml").write_text("titel: x\ntunes: []\n")
    assert run(["service", *arguments]) == code
    printed = capsys.readouterr()
    assert says in printed.err
    assert "Traceback" not in printed.err
    assert not place(home).exists()


def test_a_folder_that_cannot_be_made_is_one_line(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "config" / "systemd").write_text("in the way")
    assert run(["service"]) == 1
    assert capsys.readouterr().err.count("\n") == 1


def test_elsewhere_than_on_linux_it_says_so(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "platform", "darwin")
    assert run(["service"]) == 1
    assert "systemd is Linux's" in capsys.readouterr().err


# --- the text ---------------------------------------------------------------------------------------


@given(st.text(st.characters(exclude_characters="%$\n\t\0", exclude_categories=("Cs",)), min_size=1))
def test_a_quoted_word_is_one_word(text: str) -> None:
    # Of double quotes and backslashes systemd.syntax(7) says what a shell does.
    assert shlex.split(quoted(text, argument=True)) == [text]


def test_signs_that_systemd_replaces_stand_twice() -> None:
    assert quoted("100%") == '"100%%"'  # systemd.unit(5), specifiers
    assert quoted("$5 bill", argument=True) == '"$$5 bill"'  # systemd.service(5), command lines
    assert quoted("A=$5") == '"A=$5"'  # systemd.exec(5), Environment=: a dollar sign has no meaning there
    assert quoted("a\nb") == '"a\\nb"'


def test_whoever_touches_a_line_has_touched_the_unit() -> None:
    text = unit("x", ["/bin/true"], {"A": "b c"}, kill="/bin/kill")
    assert is_untouched(text)
    assert not is_untouched(text + "\n")
    assert not is_untouched(text.replace("on-failure", "always"))
    assert not is_untouched("")
    assert not is_untouched("\n".join(text.splitlines()[2:]))


@pytest.fixture
def verify(home: Path) -> Callable[[str], tuple[int, str]]:
    """What `systemd-analyze verify` says of a unit; it also looks whether the program can be run."""
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd-analyze is not installed")

    def verified(text: str) -> tuple[int, str]:
        path = home / "introit.service"
        path.write_text(text)
        done = subprocess.run(
            ["systemd-analyze", "--user", "verify", str(path)],
            capture_output=True,
            text=True,
            check=False,
            env={**os.environ, "XDG_RUNTIME_DIR": str(home)},
            timeout=60,
        )
        return done.returncode, done.stdout + done.stderr

    return verified


def test_systemd_itself_finds_nothing_wrong(
    home: Path, verify: Callable[[str], tuple[int, str]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["service", "friday night.yaml", "--rig", "default", "--log"]) == 0
    capsys.readouterr()
    text = place(home).read_text()
    # What it does not know it only tells, and leaves with 0.
    assert verify(text) == (0, "")
    assert "WatchdogSignl" in verify(text.replace("WatchdogSignal=", "WatchdogSignl="))[1], "it would tell"


@pytest.mark.parametrize("folder", ["a b", "100%", "50$ a", "it's", 'the "box"', "back\\slash", "Übung"])
def test_a_program_is_found_in_a_folder_of_any_name(
    home: Path, verify: Callable[[str], tuple[int, str]], folder: str
) -> None:
    program = home / folder / "python"
    program.parent.mkdir()
    program.symlink_to(sys.executable)
    odd = {"INTROIT_HOME": f"{home}/{folder}"}
    text = unit(f"Introit: {folder}", [str(program), f"{folder} $HOME"], odd, kill="/bin/kill")
    assert verify(text) == (0, "")
    if any(sign in folder for sign in "'\"\\"):
        return  # started by env, which is what was looked for
    program.unlink()
    assert "is not executable" in verify(text)[1], "it was this very file that it looked for"
