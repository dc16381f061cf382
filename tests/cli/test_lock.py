"""Who has a port: one process at a time, and what the second is told. Locks are tried between processes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest

from introit.cli import lock
from introit.cli.claims import claims_of
from introit.cli.lock import Claim, Holder, TakenError, held
from introit.library.content import program_root
from introit.live.setup import PortSetup, Setup

SYNTH = Claim("port jack default synth:in", "'synth:in' (jack)")
OTHER = Claim("port jack default other:in", "'other:in' (jack)")

HOLD = """
import sys
from pathlib import Path
from introit.cli.lock import Claim, held
with held([Claim(key, name) for key, name in [sys.argv[2:4]]], plays="set 'Friday'", folder=Path(sys.argv[1]),
          say=print, service=len(sys.argv) > 4):
    print("held", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def another(tmp_path: Path) -> Iterator[Callable[..., subprocess.Popen[str]]]:
    started: list[subprocess.Popen[str]] = []

    def hold(claim: Claim, *more: str) -> subprocess.Popen[str]:
        arguments = [sys.executable, "-c", HOLD, str(tmp_path), claim.key, claim.name, *more]
        process = subprocess.Popen(arguments, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        started.append(process)
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        return process

    yield hold
    for process in started:
        process.kill()
        process.communicate()


def hold_here(folder: Path, *claims: Claim) -> list[str]:
    """What is said while these are held; raises where they cannot be."""
    said: list[str] = []
    with held(claims, plays="set 'Monday'", folder=folder, say=said.append):
        pass
    return said


def test_a_second_one_is_told_who_has_it_since_when_and_what_it_plays(
    another: Callable[..., subprocess.Popen[str]], tmp_path: Path
) -> None:
    first = another(SYNTH)
    with pytest.raises(TakenError) as told:
        hold_here(tmp_path, SYNTH)
    line = str(told.value)
    assert "\n" not in line
    assert f"'synth:in' (jack) is being played already by another introit: process {first.pid}, since" in line
    assert "set 'Friday'" in line
    assert f"'kill {first.pid}'" in line
    assert told.value.exit_code == 1
    assert first.poll() is None


def test_a_service_is_ended_by_its_own_command(
    another: Callable[..., subprocess.Popen[str]], tmp_path: Path
) -> None:
    another(SYNTH, "service")
    with pytest.raises(TakenError, match="'systemctl --user stop introit'"):
        hold_here(tmp_path, SYNTH)


def test_what_is_not_the_same_goes_side_by_side(
    another: Callable[..., subprocess.Popen[str]], tmp_path: Path
) -> None:
    another(SYNTH)
    assert hold_here(tmp_path, OTHER) == []


def test_all_or_nothing(another: Callable[..., subprocess.Popen[str]], tmp_path: Path) -> None:
    first = another(SYNTH)
    with pytest.raises(TakenError):
        hold_here(tmp_path, OTHER, SYNTH)
    first.communicate()
    another(OTHER)  # it was let go of when the second of them was refused


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_whoever_is_killed_leaves_nothing_locked(
    another: Callable[..., subprocess.Popen[str]], tmp_path: Path, number: int
) -> None:
    first = another(SYNTH)
    first.send_signal(number)
    first.wait()
    assert hold_here(tmp_path, SYNTH) == []


def test_an_end_in_order_lets_go(another: Callable[..., subprocess.Popen[str]], tmp_path: Path) -> None:
    another(SYNTH).communicate()
    assert hold_here(tmp_path, SYNTH) == []
    assert list(tmp_path.iterdir()) == [], "no file is left"


def test_a_file_that_its_holder_took_away_is_not_taken_for_the_lock(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Opened while somebody had it, locked when that one had taken it away: another must be opened."""
    true, calls = lock._lock, []

    def late(descriptor: int) -> bool:
        calls.append(descriptor)
        if len(calls) == 1:
            next(tmp_path.iterdir()).unlink()
        return true(descriptor)

    monkeypatch.setattr(lock, "_lock", late)
    with held([SYNTH], plays="x", folder=tmp_path, say=pytest.fail):
        assert len(calls) == 2
        assert "synth" in next(tmp_path.iterdir()).name, "its name says what it is"
        monkeypatch.undo()
        with pytest.raises(TakenError):
            hold_here(tmp_path, SYNTH)


def test_where_nothing_can_be_written_it_goes_on_and_says_so_once(tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("")
    said = hold_here(in_the_way / "locks", SYNTH, OTHER)
    assert len(said) == 1
    assert "nothing keeps a second introit from the same ports" in said[0]


def test_the_day_is_told_where_it_is_another() -> None:
    holder = Holder(7, datetime(2031, 5, 2, 23, 50).timestamp(), "the demo")
    assert holder.told(datetime(2031, 5, 2, 23, 59)) == "process 7, since 23:50, the demo"
    assert holder.told(datetime(2031, 5, 3, 0, 5)) == "process 7, since 2031-05-02 23:50, the demo"


# --- what is claimed --------------------------------------------------------------------------------

THERE = ("Sound Module MIDI 1", "Headphone MIDI 1")


def keys(*ports: PortSetup, set_file: Path | None = None, there: tuple[str, ...] = THERE) -> set[str]:
    setup = Setup(ports=ports, routes=(), tunes=1)
    claims = claims_of(setup, set_file, destinations=lambda _: there, environ={"JACK_DEFAULT_SERVER": "x"})
    return {claim.key for claim in claims}


def synth(to: str | None, system: str = "rtmidi") -> PortSetup:
    return PortSetup("main", system, to=to, source="")


def test_two_rigs_that_call_one_synth_differently_want_the_same() -> None:
    assert keys(synth("sound")) & keys(synth("Sound Module")) == {"port rtmidi Sound Module MIDI 1"}
    assert keys(synth("")) & keys(synth("Sound Module"))
    assert not keys(synth("Headphone")) & keys(synth("Sound Module"))


def test_a_synth_that_is_not_there_yet_counts_by_its_name_in_the_rig() -> None:
    before = keys(synth("Organ"), there=())
    assert before == keys(synth("organ"), there=())
    assert before & keys(synth("Organ"), there=("Organ MIDI 1",))


def test_another_jack_server_is_another_place() -> None:
    assert keys(synth("Headphone", "jack")) & keys(synth("Headphone", "rtmidi")) == set()
    assert "port jack x Headphone MIDI 1" in keys(synth("Headphone", "jack"))


def test_memory_and_what_is_only_listened_to_are_nobodys() -> None:
    assert keys(synth("", "memory"), synth(None), synth("", "of-the-players-own")) == set()


def test_a_set_of_the_users_is_claimed_and_one_of_the_programs_is_not(tmp_path: Path) -> None:
    assert keys(set_file=tmp_path / "friday.yaml") == {f"set {(tmp_path / 'friday.yaml').resolve()}"}
    assert keys(set_file=program_root() / "config" / "sets" / "demo.yaml") == set()


def test_our_own_ports_are_no_synth() -> None:
    assert keys(synth(""), there=("introit:main", *THERE)) == keys(synth(""))


def test_this_process_holds_nothing_twice() -> None:
    two = (PortSetup("band", "rtmidi", to="Sound"), PortSetup("click", "rtmidi", to="Sound"))
    assert keys(*two) == keys(two[0])


def test_the_text_of_a_holder_that_died_is_not_believed(tmp_path: Path) -> None:
    """One that was killed leaves its text; whoever then holds the lock may not have written its own yet."""
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    script = (
        "import json, os, sys\nfrom introit.cli.lock import _lock\n"
        "fd = os.open(sys.argv[1], os.O_RDWR)\nassert _lock(fd)\nprint('held', flush=True)\nsys.stdin.read()"
    )
    path = tmp_path / lock._file_name(SYNTH.key)
    path.write_text(f'{{"pid": {gone.pid}, "since": 0, "plays": "x", "service": false}}')
    arguments = [sys.executable, "-c", script, str(path)]
    with subprocess.Popen(arguments, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(TakenError) as told:
            hold_here(tmp_path, SYNTH)
        other.communicate()
    assert str(gone.pid) not in str(told.value)
    assert os.getpid() != gone.pid
