"""`introit bind` with scripted devices: who is heard by which port, what is written, and where."""

from __future__ import annotations

import contextlib
import shlex
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from introit.cli.binding import binding_for
from introit.cli.commands import bind as command
from introit.cli.listening import Device, Ears, devices
from introit.cli.main import run
from introit.cli.rig_file import RigFile
from introit.cli.verdict import Verdict
from introit.errors import ContentError
from introit.library.content import HOME_VARIABLE, program_root
from introit.library.loader import load_library
from introit.library.model import Library
from introit.library.stage import RigFootSwitch, RigPort
from introit.live.events import Heard, Lost
from introit.live.inbox import Inbox
from introit.live.messages import control, note_off, note_on, program
from introit.live.ports.finder import Listing
from introit.live.ports.memory import MemoryPort
from introit.live.setup import FootSwitch
from introit.testing.fake_clock import FakeClock
from introit.units import NS_PER_MS, NS_PER_SECOND

BOARD, KEYS = Device("jack", "floor:board out"), Device("jack", "keys:midi out")
DOWN, UP = control(2, 80, 0), control(2, 80, 127)


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "home"))
    return tmp_path / "home"


# --- who is heard by which port ---------------------------------------------------------------------


def port(name: str, source: str | None, system: str = "jack") -> RigPort:
    return RigPort(name, system, "" if source is None else None, source, False)


def bound(library: Library, *ports: RigPort, foot: RigFootSwitch | None = None, **switch: object) -> object:
    rig = replace(library.rigs["default"], ports=ports, foot_switch=foot)
    verdict = Verdict(replace(FootSwitch(port=0, channel=2, number=80), **switch))  # type: ignore[arg-type]
    binding = binding_for(verdict, BOARD, rig, others=[KEYS], system_of=lambda port: port.system)
    assert binding.control == {}
    return binding.foot_switch, binding.ports


def test_a_rig_with_a_synth_inside_alone_learns_on_the_system_that_there_is(library: Library) -> None:
    def choose(wanted: str) -> str:
        return "jack" if wanted == "auto" else wanted

    inside, board = port("in", None, "fluidsynth"), port("board", "", "rtmidi")
    rig = library.rigs["default"]
    assert command._systems(replace(rig, ports=(inside,)), choose) == {"jack"}
    assert command._systems(replace(rig, ports=(inside, board)), choose) == {"rtmidi"}


PLAIN = {"message": "control", "number": 80, "channel": 3, "action": "momentary"}


@pytest.mark.parametrize(
    ("ports", "written", "added"),
    [
        ([port("main", "")], PLAIN, {}),
        ([port("main", "FLOOR")], PLAIN, {}),
        ([port("out", None), port("main", "")], PLAIN, {}),
        ([port("a", ""), port("b", "board")], {"port": "b", **PLAIN}, {}),
        ([port("a", "keys"), port("b", "")], {"port": "b", **PLAIN}, {}),
        ([port("main", None)], {"port": "feet", **PLAIN}, {"feet": BOARD}),
        ([port("main", "keys")], {"port": "feet", **PLAIN}, {"feet": BOARD}),
        ([port("main", "out")], {"port": "feet", **PLAIN}, {"feet": BOARD}),  # "out" would mean either
        ([port("feet", "", "rtmidi")], {"port": "feet2", **PLAIN}, {"feet2": BOARD}),
    ],
)
def test_the_port_that_hears_the_device(
    ports: list[RigPort], written: dict[str, object], added: dict[str, Device], library: Library
) -> None:
    new = {name: {"system": "jack", "from": device.name} for name, device in added.items()}
    assert bound(library, *ports) == (written, new)


def test_what_was_in_the_rig_is_overwritten(library: Library) -> None:
    old = library.rigs["hardware-synth"].foot_switch
    assert old is not None
    assert old.inverted
    keys = {"port": "main", **PLAIN, "inverted": False, "on_at": 72, "off_at": 56}
    assert bound(library, port("main", ""), foot=old) == (keys, {})


@pytest.mark.parametrize(
    ("switch", "written"),
    [
        ({"message": "program", "number": 0, "action": "press-only"}, {"message": "program", "number": 1}),
        ({"message": "program", "number": None, "action": "press-only"}, {"number": "any"}),
        ({"inverted": True, "on_at": 67, "off_at": 47}, {"inverted": True, "on_at": 67, "off_at": 47}),
        ({"channel": None}, {"channel": "any"}),
    ],
)
def test_numbers_as_players_count(
    switch: dict[str, object], written: dict[str, object], library: Library
) -> None:
    binding = bound(library, port("main", ""), **switch)
    assert isinstance(binding, tuple)
    assert written.items() <= binding[0].items()


def test_only_devices_of_the_rigs_systems_and_none_of_ours() -> None:
    listings = [
        Listing("jack", sources=("floor:board out", "introit:main in", "floor:board out")),
        Listing("rtmidi", sources=("Through 14:0",)),
    ]
    assert devices(listings, ["jack"]) == [BOARD]


# --- listening --------------------------------------------------------------------------------------


def test_ears_hear_until_it_is_enough_and_forget_what_came_before() -> None:
    clock = FakeClock()
    script = [(clock.now() + ms * NS_PER_MS, bytes((0xB0, 64, ms))) for ms in (0, 10, 20)]
    first = MemoryPort("a", clock, index=0, script=script)
    second = MemoryPort("b", clock, index=1, script=[(clock.now() + 15 * NS_PER_MS, b"\xf8")])
    second.lose(0, 1)
    inbox = Inbox()
    ears = Ears(clock, inbox, [first, second])

    def enough(heard: Sequence[Heard], _now: int) -> bool:
        assert not any(isinstance(event, Lost) for event in heard)
        return len(heard) == 3

    assert [(event.port, event.data[-1]) for event in ears.listen(enough, at_most=9.0)] == [
        (0, 10), (1, 0xF8), (0, 20),
    ]  # fmt: skip
    before = clock.now()
    assert ears.listen(lambda _heard, _now: False, at_most=0.5) == []
    assert clock.now() - before == NS_PER_SECOND // 2
    inbox.close()


# --- the command ------------------------------------------------------------------------------------


class Script:
    """Stands for `Ears`: each listening hears the next piece."""

    def __init__(self, *pieces: list[tuple[int, bytes]]) -> None:
        self._pieces = list(pieces)

    def listen(self, over: Callable[[Sequence[Heard], int], bool], *, at_most: float) -> list[Heard]:
        if at_most < 5:
            return []
        piece = self._pieces.pop(0) if self._pieces else []
        return [Heard(1, ms * NS_PER_MS, data) for ms, data in piece]


Bind = Callable[..., tuple[int, str, str]]


@pytest.fixture
def bind(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Bind:
    def call(rig: str, *pieces: list[tuple[int, bytes]], options: str = "") -> tuple[int, str, str]:
        @contextlib.contextmanager
        def scripted(found: Sequence[Device]) -> Iterator[Script]:
            assert list(found) == [KEYS, BOARD]
            yield Script(*pieces)

        monkeypatch.setattr(command, "open_ears", scripted)
        monkeypatch.setattr(command, "survey", lambda: [Listing("jack", sources=(KEYS.name, BOARD.name))])
        monkeypatch.setattr(command, "system_there_is", lambda: lambda _: "jack")
        code = run(["bind", rig, *shlex.split(options)])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


PRESS, HOLD = [(0, DOWN), (150, UP)], [(0, DOWN), (2000, UP)]


def test_a_rig_of_the_programs_is_copied_into_the_users_folder(bind: Bind, home: Path) -> None:
    shipped = program_root() / "config" / "rigs" / "default.yaml"
    before = shipped.read_bytes()
    code, out, error = bind("default", PRESS, HOLD)
    assert (code, error) == (0, "")
    assert shipped.read_bytes() == before
    mine = home / "config" / "rigs" / "default.yaml"
    assert f"written to {mine}" in out
    assert "number: 80             # the controller that most foot-switches send" in mine.read_text()
    rig = load_library([program_root(), home])[0].rigs["default"]
    assert rig.foot_switch == RigFootSwitch(None, "control", 80, 3, "momentary", True, 72, 56)
    assert "controller 80 on channel 3, from floor:board out" in out
    assert "inverted" in out
    assert any(line.split()[0] == "playing" and " silence " in line for line in out.splitlines() if line)
    assert out.endswith(
        "another switch, pad or pedal: introit bind default --order next (--help: all orders)\n"
    )
    mine.write_text(mine.read_text().replace("One synth", "My synth"))
    assert bind("default", PRESS, HOLD)[0] == 0  # now it is the user's that is read
    assert "My synth" in mine.read_text()


def test_a_switch_that_is_not_clear_is_tried_again_and_nothing_is_written_in_the_end(
    bind: Bind, tmp_path: Path
) -> None:
    rig = tmp_path / "mine.yaml"
    rig.write_text("name: x\nports:\n  a: {to: any}\nparts:\n  comp: {port: a, channel: 1}\n")
    before = rig.read_text()
    short = [(0, DOWN), (600, UP)]
    code, out, error = bind(str(rig), PRESS, short, PRESS, short, PRESS, short)
    assert code == 1
    assert out.count("Once more") == 3
    assert "could not be learned" in error
    assert rig.read_text() == before
    code, out, _ = bind(str(rig), PRESS, short, PRESS, HOLD)
    assert code == 0
    assert "feet: {system: jack, from: floor:board out}" in rig.read_text()


def test_silence_is_told(bind: Bind) -> None:
    code, _, error = bind("default")
    assert code == 1
    assert "nothing came in 60 s" in error


def test_a_press_only_switch_is_told_what_it_can_do(bind: Bind) -> None:
    note = [(0, note_on(0, 36, 90))]
    code, out, _ = bind("default", note, note)
    assert code == 0
    assert "press-only" in out
    assert ["foot", "press", "double", "press", "key", "note"] in [line.split() for line in out.splitlines()]
    assert any(line.split()[0] == "playing" and " silence " in line for line in out.splitlines() if line)


def test_a_file_that_would_have_mistakes_is_left_alone(tmp_path: Path, library: Library) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text("name: x\nports:\n  a: {to: any}\nparts:\n  comp: {port: a, channel: 1}\n")
    before = path.read_text()
    with pytest.raises(ContentError, match=r"mine\.yaml:\d+:\d+: .*200"):
        RigFile.named(str(path), library).rewritten({"number": 200}, {})
    assert path.read_text() == before
    assert sorted(tmp_path.iterdir()) == [path]


def test_a_rig_that_is_not_there(bind: Bind) -> None:
    code, _, error = bind("defalt")
    assert code == 2
    assert "Did you mean 'default'?" in error


# --- orders -----------------------------------------------------------------------------------------

PLAIN_RIG = """\
name: x   # mine
ports:
  a: {system: jack, to: any, from: any}
parts:
  comp: {port: a, channel: 1}
  click: {port: a, channel: 10, muted: true}
foot_switch: {number: 64}   # the left one
key_zone: {low: C1, high: B2}
"""


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    path = tmp_path / "mine.yaml"
    path.write_text(PLAIN_RIG)
    return path


def ramp(*way: int) -> list[tuple[int, bytes]]:
    values = [value for start, end in pairwise(way) for value in (start, (start + end) // 2, end)]
    return [(10 * place, control(0, 11, value)) for place, value in enumerate(values)]


def pad(note: int) -> tuple[list[tuple[int, bytes]], list[tuple[int, bytes]]]:
    on, off = note_on(9, note, 100), note_off(9, note)
    return [(0, on), (150, off)], [(0, on), (2000, off)]


@pytest.mark.parametrize(
    ("options", "pieces", "written", "told"),
    [
        (
            "--order next",
            (PRESS, HOLD),
            "{do: next, message: control, number: 80, channel: 3, inverted: true}",
            "next: CC 80 on channel 3",
        ),
        (
            "--order another-intro",
            pad(60),
            "{do: another intro, message: note, number: 60, channel: 10}",
            "another intro: note C4 on channel 10",
        ),
        (
            "--order mute --part comp",
            pad(60),
            "{do: mute, part: comp, message: note, number: 60, channel: 10}",
            "mute comp: note C4 on channel 10",
        ),
        (
            "--order tune --tune 3",
            pad(60),
            "{do: tune, tune: 3, message: note, number: 60, channel: 10}",
            "tune 3: note C4 on channel 10",
        ),
        (
            "--order tune",
            ([(0, program(0, 3))], [(0, program(0, 4))]),
            "{do: tune, message: program, channel: 1}",
            "tune: program on channel 1",
        ),
        (
            "--order faster",
            ([(0, program(0, 3))], [(0, program(0, 3))]),
            "{do: faster, message: program, number: 4, channel: 1}",
            "faster: program 4 on channel 1",
        ),
        (
            "--order 'tap tempo'",
            ([(0, control(0, 70, 1)), (150, control(0, 70, 0))],
             [(0, control(0, 70, 1)), (2000, control(0, 70, 0))]),
            "{do: tap tempo, message: control, number: 70, channel: 1, on_at: 1, off_at: 0}",
            "tap tempo: CC 70 on channel 1",
        ),
        (
            "--order level --part comp",
            (ramp(60, 0, 120), ramp(120, 0)),
            "{do: level, part: comp, message: control, number: 11, channel: 1, high: 118}",
            "level comp: CC 11 on channel 1",
        ),
        (
            "--order level --part comp",
            (ramp(60, 127, 5), ramp(5, 127)),
            "{do: level, part: comp, message: control, number: 11, channel: 1, inverted: true, low: 7}",
            "level comp: CC 11 on channel 1",
        ),
    ],
)  # fmt: skip
def test_an_order_is_learned(
    options: str,
    pieces: tuple[list[tuple[int, bytes]], ...],
    written: str,
    told: str,
    bind: Bind,
    mine: Path,
) -> None:
    code, out, error = bind(str(mine), *pieces, options=options)
    assert (code, error) == (0, "")
    assert mine.read_text() == f"{PLAIN_RIG}controls:\n  - {written}\n"
    assert out.endswith(f"controls: {told}\n")
    assert "double press" not in out


def test_an_order_that_is_learned_again_is_written_over(bind: Bind, mine: Path) -> None:
    assert bind(str(mine), PRESS, HOLD, options="--order next")[0] == 0
    assert bind(str(mine), *pad(60), options="--order next")[0] == 0
    assert mine.read_text() == (
        f"{PLAIN_RIG}controls:\n  - {{do: next, message: note, number: 60, channel: 10, inverted: false}}\n"
    )


def test_a_device_that_no_port_hears_gets_one(bind: Bind, mine: Path) -> None:
    mine.write_text(PLAIN_RIG.replace("from: any", "from: keys"))
    assert bind(str(mine), PRESS, HOLD, options="--order next")[0] == 0
    assert "feet: {system: jack, from: floor:board out}" in mine.read_text()
    assert "{do: next, port: feet, message: control" in mine.read_text()


@pytest.mark.parametrize(
    ("options", "code", "says"),
    [
        ("--order nxt", 2, "no order 'nxt'"),
        ("--order nxt", 2, "Did you mean 'next'?"),
        ("--order mute", 2, "'mute' needs --part; parts are comp"),
        ("--order mute --part bass", 2, "has no part 'bass'; parts are comp, click"),
        ("--order next --part comp", 2, "leave --part out"),
        ("--order next --tune 2", 2, "leave --tune out"),
        ("--tune 2", 2, "go with --order"),
        ("--order tune --tune 0", 2, "0"),
        ("--order next", 1, "nothing came in 60 s"),
        ("--order level --part comp", 1, "nothing came in 60 s"),
    ],
)
def test_an_order_that_cannot_be(options: str, code: int, says: str, bind: Bind, mine: Path) -> None:
    given, _, error = bind(str(mine), options=options)
    assert given == code
    assert says in error
    assert mine.read_text() == PLAIN_RIG


@pytest.mark.parametrize(
    ("options", "pieces", "says"),
    [
        (
            "--order next",
            ([(0, control(0, 64, 127)), (150, control(0, 64, 0))],
             [(0, control(0, 64, 127)), (2000, control(0, 64, 0))]),
            "controller 64 is the foot-switch's already (line 7). Nothing was written",
        ),
        ("--order next", pad(30), "note Gb1 lies in the key zone (line 8)"),
        ("--order next", ([(0, program(0, 3))], [(0, program(0, 4))]), "another program each time"),
        ("--order tune", pad(60), "a note cannot say which tune; name one: --tune 3"),
    ],
)  # fmt: skip
def test_what_was_learned_and_does_not_fit_is_not_written(
    options: str, pieces: tuple[list[tuple[int, bytes]], ...], says: str, bind: Bind, mine: Path
) -> None:
    code, _, error = bind(str(mine), *pieces, options=options)
    assert code == 1
    assert says in error
    assert mine.read_text() == PLAIN_RIG


def test_a_pedal_that_is_not_clear_is_tried_again(bind: Bind, mine: Path) -> None:
    near = (ramp(60, 0, 100), ramp(100, 0, 90))
    code, out, error = bind(str(mine), *near, *near, *near, options="--order level --part comp")
    assert code == 1
    assert out.count("too near. Once more") == 3
    assert "the pedal could not be learned" in error
