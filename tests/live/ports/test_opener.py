"""Opening what a setup asks for, with ports in memory; and the hush over descriptor 2."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from introit.chatter import hushed
from introit.errors import PortError
from introit.live.clock import SystemClock
from introit.live.inbox import Inbox
from introit.live.ports.memory import MemoryPort
from introit.live.ports.offset import OffsetPort
from introit.live.ports.opener import open_ports
from introit.live.setup import PortSetup, Setup


def setup(*systems: str) -> Setup:
    ports = tuple(PortSetup(f"port {n}", system, to="") for n, system in enumerate(systems))
    return Setup(ports=ports, routes=(), tunes=1)


def test_ports_come_in_the_setups_order_with_their_clock() -> None:
    ports, clock = open_ports(setup("memory", "memory"), Inbox.__new__(Inbox))
    assert [port.name for port in ports] == ["port 0", "port 1"]
    assert all(isinstance(port, MemoryPort) for port in ports)
    assert isinstance(clock, SystemClock)


def test_a_port_that_is_lined_up_is_opened_with_its_offset() -> None:
    port = PortSetup("late", "memory", to="", offset_ns=30_000_000)
    (opened,), _ = open_ports(Setup(ports=(port,), routes=(), tunes=1), Inbox.__new__(Inbox))
    assert isinstance(opened, OffsetPort)
    assert opened.lookahead >= 30_000_000


def test_an_unknown_system_is_an_error() -> None:
    with pytest.raises(PortError, match="port 'port 1' asks for the unknown system 'telegraph'"):
        open_ports(setup("memory", "telegraph"), Inbox.__new__(Inbox))


def test_nothing_is_loaded_before_it_is_opened() -> None:
    script = (
        "import sys; from introit.live.ports import opener, jack, rtmidi, supriya, immediate, patchbay;"
        "print([n for n in ('jack', '_jack', 'rtmidi', 'supriya_midi', '_cffi_backend') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_what_is_written_to_descriptor_two_is_kept(capfd: pytest.CaptureFixture[str]) -> None:
    with hushed() as lines:
        os.write(2, b"ALSA lib seq_hw.c: no such file\nand more\n")
        subprocess.run([sys.executable, "-c", "import os; os.write(2, b'a child too')"], check=True)
    os.write(2, b"heard again")
    assert lines == ["ALSA lib seq_hw.c: no such file", "and more", "a child too"]
    assert capfd.readouterr().err == "heard again"


def test_an_error_while_hushed_passes_and_ends_the_hush(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ValueError, match="mine"), hushed():
        raise ValueError("mine")
    os.write(2, b"x")
    assert capfd.readouterr().err == "x"
