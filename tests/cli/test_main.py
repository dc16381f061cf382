"""The command line as a user meets it: answers, errors in one line, exit codes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import mido
import pytest

from introit.cli.main import run


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = run(list(arguments))
    printed = capsys.readouterr()
    return code, printed.out, printed.err


def one_line(error: str) -> bool:
    return error.startswith("introit: ") and error.count("\n") == 1


def test_help_and_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert call(capsys, "--help")[0] == 0
    code, out, _ = call(capsys, "--version")
    assert (code, out.startswith("introit, version")) == (0, True)


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["intro"], 2, "Did you mean 'intros'?"),
        (["frobnicate"], 2, "Commands:"),
        (["show", "no-such-intro"], 2, "'introit intros' lists them"),
        (["show", "three-six-two-five", "--key", "H"], 2, "a key is a note name"),
        (["show", "three-six-two-five", "--key", "D# minor"], 2, "Did you mean"),
        (["show", "three-six-two-five", "--tempo", "2000"], 2, "400"),
        (["show", "three-six-two-five", "--tempo", "nan"], 2, "tempo"),
        (["show", "three-six-two-five", "--meter", "7/8"], 2, "4/4"),
        (["show", "three-six-two-five", "--feel", "balad"], 2, "Did you mean 'ballad'?"),
        (["show", "three-six-two-five", "--first-chord", "Q"], 2, "numeral"),
        (["write", "back-door", "--seed", "x"], 2, "allowed is a whole number from 0"),
        (["write", "back-door", "--seed", "-1"], 2, "allowed is a whole number from 0"),
        (["write", "back-door", "--seed", "9" * 30], 2, "allowed is a whole number from 0"),
        (["write", "back-door", "--landing", "ring"], 2, "`ring 4`"),
        (["write", "back-door", "--pickup", "nan"], 2, "allowed is 0 to 8 beats"),
        (["write", "back-door", "--first-note", "8"], 2, "allowed is 1 to 7"),
        (["write", "back-door", "--line-up", "solo gitar"], 2, "'solo guitar'"),
        (["check", "--music", "--seed", "x"], 2, "allowed is a whole number from 0"),
        (["run", "no-such-set"], 2, "'introit sets'"),
        (["run", "demo", "--rig", "no-such-rig"], 2, "rig"),
        (["run", "medium swing, H, starts on two"], 2, "key"),
        (["check", "no-such-file.yaml"], 2, "no-such-file.yaml"),
        (["intros", "--mode", "dorian"], 2, "major"),
    ],
)
def test_wrong_use_is_one_clear_line(
    capsys: pytest.CaptureFixture[str], arguments: list[str], code: int, says: str
) -> None:
    given, out, error = call(capsys, *arguments)
    assert given == code
    assert one_line(error), error
    assert says in error
    assert out == ""


def test_an_intros_id_is_what_other_commands_take(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = call(capsys, "intros", "--json")
    assert code == 0
    rows = json.loads(out)
    assert len(rows) >= 10
    for row in rows:
        key = "C" if "major" in row["modes"] else "C minor"
        assert call(capsys, "show", row["id"], "--key", key)[0] == 0


def test_listings_have_ids(capsys: pytest.CaptureFixture[str]) -> None:
    for kind in ("tunes", "sets", "rigs", "feels"):
        code, out, _ = call(capsys, kind, "--json")
        assert code == 0
        assert all(row["id"] for row in json.loads(out))
        assert call(capsys, kind)[1]


def test_show_names_chords_in_the_key(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = call(capsys, "show", "three-six-two-five", "--key", "Eb", "--json")
    shown = json.loads(out)
    assert [row["bar"] for row in shown["chords"]] == [1, 1, 2, 2, 3, 3, 4, 4]
    # iii11 VI7 | ii9 V13(b9) | Imaj9 VI7(b13) | ii9 V7(b13) in Eb, common practice (no source).
    roots = [row["symbol"][:2].rstrip("m1379") for row in shown["chords"]]
    assert roots == ["G", "C", "F", "Bb", "Eb", "C", "F", "Bb"]
    assert all(row["does"] for row in shown["chords"])


def test_a_minor_form_is_not_forced(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, error = call(capsys, "show", "sharp-four-descent", "--key", "C minor")
    assert (code, out) == (1, "")
    assert "minor" in error
    assert one_line(error)


def test_play_refuses_an_intro_that_has_no_form_for_the_key(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, error = call(capsys, "play", "sharp-four-descent", "--key", "C minor")
    assert code == 1
    assert one_line(error)
    assert "has no minor form" in error


def test_write_makes_a_midi_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "x.mid"
    code, out, _ = call(
        capsys, "write", "three-six-two-five", "--key", "Bb", "--tempo", "132", "-o", str(path)
    )
    assert code == 0
    assert str(path) in out
    written = mido.MidiFile(path)
    assert written.type == 1
    assert any(message.type == "marker" and message.text == "head" for message in written.tracks[0])


@pytest.mark.parametrize("target", ["missing/x.mid", "x.mp3"])
def test_write_refuses_what_it_cannot_write(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, target: str
) -> None:
    code, _, error = call(capsys, "write", "three-six-two-five", "-o", str(tmp_path / target))
    assert code in {1, 2}
    assert one_line(error), error
    assert list(tmp_path.iterdir()) == []


def test_check_finds_every_mistake(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert call(capsys, "check")[0] == 0
    bad = tmp_path / "tunes" / "bad.yaml"
    bad.parent.mkdir()
    bad.write_text("titel: Nothing\nkey: H\ntempo: 4000\n", encoding="utf-8")
    code, out, _ = call(capsys, "check", str(bad))
    assert code == 1
    assert f"{bad}:1:1" in out
    assert "Did you mean 'title'?" in out
    assert f"{bad}:2:" in out
    assert f"{bad}:3:" in out


def shell(command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Runs a line of bash in which `introit` is this interpreter's."""
    line = command.replace("introit", f"{sys.executable} -m introit")
    return subprocess.run(
        ["bash", "-o", "pipefail", "-c", line],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        env={**os.environ, **environment},
    )


@pytest.mark.parametrize("reader", ["head -c 10", "true", "head -1"])
@pytest.mark.parametrize("command", ["introit intros --json", "introit tunes", "introit show dominant-vamp"])
def test_a_closed_pipe_is_no_error(command: str, reader: str) -> None:
    done = shell(f"{command} | {reader}")
    assert done.stderr == ""
    assert done.returncode == 0


@pytest.mark.parametrize("stream", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_stream_that_is_closed_is_no_error(stream: str) -> None:
    done = shell(f"introit intros {stream}")
    assert done.returncode == 0
    assert done.stderr == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_is_one_line() -> None:
    done = shell("introit intros > /dev/full")
    assert done.returncode == 1
    assert done.stderr == "introit: cannot write the output: No space left on device\n"


def test_an_old_terminal_gets_what_it_can_show() -> None:
    done = shell("introit show sharp-four-descent", PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == 0
    assert done.stderr == ""
    assert "F#m7b5" in done.stdout


def test_the_command_alone_shows_its_help(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, error = call(capsys)
    assert code == 2
    assert error.startswith("Usage: introit")


def test_a_question_ends_without_a_full_stop(capsys: pytest.CaptureFixture[str]) -> None:
    assert call(capsys, "paly")[2] == "introit: no command 'paly'. Did you mean 'play'?\n"
