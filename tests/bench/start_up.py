"""How soon `introit run` is ready, what it holds while it is, and what it does while nothing happens.

    python tests/bench/start_up.py [--short] [--json FILE]

Each start is a process of its own with a content folder of its own. The second start follows the first, so
what the first has kept is there. Time is from the start of the command to its line `ready:`; processor time
is what the front and the player have taken by then, together. Memory is the proportional set size (PSS) that
Linux tells in /proc/PID/smaps_rollup, once all keys of the first tune are arranged: what several processes
share is divided among them, so it falls while other Pythons run. Beside it stand what nobody shares, and
what is JACK's own segment, which each client of this server maps as a whole and locks; idle is the processor
time of both processes, in percent of one core, while nothing is played. All of it runs on a JACK server of
our own (dummy driver, period 1024); where none can be had, on a port in memory, which the table says. In the
same run, for reference: a Python that imports numpy and PyYAML and ends, PyYAML's own safe loader reading the
very same files, and a JACK client in Python whose callback is empty.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO, NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1] / "e2e"))

from jack_server import JackServer, JackUnavailableError

PERIOD = 1024
KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
MINOR = (0, 2, 4, 7, 9, 11)
READY = b"ready:"
START_SECONDS = 120.0
SETTLE_SECONDS = 3.0
"""After the tune is ready its other keys are arranged; then nothing more is to be done."""
READ_BY_PYYAML = """
import sys, pathlib, yaml
for path in sorted(pathlib.Path(sys.argv[1]).rglob("*.yaml")):
    yaml.safe_load(path.read_bytes())
"""


IDLE_CLIENT = """
import sys, jack
client = jack.Client("nothing", no_start_server=True)
client.midi_outports.register("out"), client.midi_inports.register("in")
client.set_process_callback(lambda frames: None)
client.activate()
print("ready:", flush=True)
sys.stdin.read()
"""
"""A JACK client in Python that is called in every cycle and does nothing."""


class Work(NamedTuple):
    """What a start took: seconds by the clock, and of the processor by both processes."""

    clock: float
    processor: float


def tune(number: int) -> dict[str, object]:
    """One invented tune; their tempi, keys and feels go round."""
    swings = number % 2 == 0
    return {
        "title": f"Tune {number} of many",
        "key": f"{KEYS[number % 12]}{' minor' if number % 12 in MINOR else ''}",
        "feel": "medium-swing" if swings else "ballad",
        "tempo": 120 + number % 60 if swings else 60 + number % 12,
        "notes": f"Take it easy on number {number}.",
    }


def written(path: Path, text: str) -> None:
    """Writes a file that was saved an hour ago: one that has only just been is not trusted to stay so."""
    path.write_text(text, encoding="utf-8")
    then = path.stat().st_mtime - 3600
    os.utime(path, (then, then))


def fill(home: Path, tunes: int) -> None:
    """Writes a user's folder with so many tunes, a file each, and one set that names them all."""
    for folder in ("patterns/tunes", "config/sets"):
        (home / folder).mkdir(parents=True)
    names = [f"tune-{number:05}" for number in range(tunes)]
    for number, name in enumerate(names):
        lines = [f"{key}: {value}\n" for key, value in tune(number).items()]
        written(home / "patterns/tunes" / f"{name}.yaml", "".join(lines))
    entries = [f"  - tune: {name}\n" for name in names]
    written(home / "config/sets/many.yaml", "".join(["title: Many\ntunes:\n", *entries]))


def fill_one_file(home: Path, tunes: int) -> Path:
    """Writes one file that holds so many tunes, in no folder of ours; its path."""
    home.mkdir(parents=True)
    entries = [
        f"  - {{{', '.join(f'{k}: {v}' for k, v in tune(n).items() if k != 'notes')}}}\n"
        for n in range(tunes)
    ]
    path = home.parent / f"{home.name}.yaml"
    written(path, "".join(["title: Many in one\ntunes:\n", *entries]))
    return path


class Started:
    """A running `introit run`, from its start on.

    Args:
        environ: its surroundings.
        name: of the set, as on the command line.
        rig: the same for the rig; None for the usual one.
    """

    def __init__(self, environ: dict[str, str], name: str, rig: Path | None) -> None:
        command = [sys.executable, "-m", "introit", "run", name, "--seed", "0"]
        command += [] if rig is None else ["--rig", str(rig)]
        self._began = time.perf_counter()
        self._process = subprocess.Popen(
            command, env=environ, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )

    def wait_ready(self) -> Work:
        """Waits for the line that says so.

        Raises:
            RuntimeError: when it ends without one; with what it printed.
        """
        output = self._process.stdout
        assert output is not None
        printed: list[bytes] = []
        for line in _lines(output):
            printed.append(line)
            if line.startswith(READY):
                return Work(time.perf_counter() - self._began, sum(map(processor_seconds, self.pids)))
        raise RuntimeError(b"".join(printed).decode(errors="replace"))

    @property
    def pids(self) -> list[int]:
        """The front's process and the player's."""
        return [self._process.pid, *children(self._process.pid)]

    def stop(self) -> None:
        """Ends it in order."""
        self._process.send_signal(signal.SIGTERM)
        try:
            self._process.communicate(timeout=20)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.communicate()


def _lines(output: IO[bytes]) -> Iterator[bytes]:
    yield from iter(output.readline, b"")


def children(pid: int) -> list[int]:
    """The processes that a process has started and that still run."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return [int(one) for task in tasks for one in (task / "children").read_text().split()]


def processor_seconds(pid: int) -> float:
    """What all threads of a process have taken of the processor, those that have ended included."""
    running = 0
    for task in Path(f"/proc/{pid}/task").iterdir():
        with contextlib.suppress(OSError):  # it has just ended
            running += int((task / "schedstat").read_text().split()[0])
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    ticks = int(fields[11]) + int(fields[12])
    return max(running / 1e9, ticks / os.sysconf("SC_CLK_TCK"))


class Memory(NamedTuple):
    """What a process holds, in megabytes of 1,000,000 bytes.

    Attributes:
        pss: its proportional set size.
        private: what it shares with nobody.
        jack: how much of the first is JACK's own segment.
    """

    pss: float
    private: float
    jack: float


def memory(pid: int) -> Memory:
    """What a process holds."""
    mapped = ""
    found = dict.fromkeys(("Pss:", "Private_Clean:", "Private_Dirty:", "jack"), 0)
    for line in Path(f"/proc/{pid}/smaps").read_text().splitlines():
        first, *rest = line.split(maxsplit=5)
        if not first.endswith(":"):
            mapped = rest[-1]
        elif first in found:
            found[first] += int(rest[0])
            if first == "Pss:" and mapped.startswith("/dev/shm/jack"):
                found["jack"] += int(rest[0])
    pss, clean, dirty, jack = (kilobytes * 1024 / 1e6 for kilobytes in found.values())
    return Memory(pss, clean + dirty, jack)


def with_bytecode(folder: Path, environ: dict[str, str], rig: Path | None) -> dict[str, str]:
    """Surroundings in which Python finds its modules compiled, as after an installation.

    They are compiled in a folder of their own by starts that do not count, so that nothing is left behind.
    """
    made = {name: value for name, value in environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    made["PYTHONPYCACHEPREFIX"] = str(folder / "bytecode")
    fill(home := folder / "compiling", 1)
    starts("not measured", made, home, "many", rig, 1)
    for code in (READ_BY_PYYAML, "import numpy, yaml"):
        alone(code, made, str(home))
    return made


def start_rows(
    folder: Path, environ: dict[str, str], rig: Path | None, sizes: list[int], rounds: int
) -> list[dict[str, object]]:
    """First and second start for each size of set, each with the reference that reads the same files."""
    rows: list[dict[str, object]] = []
    for size in sizes:
        fill(home := folder / f"home-{size}", size)
        rows += starts(f"{size} tunes, a file each", environ, home, "many", rig, rounds)
        rows.append(
            row(
                f"  reference: PyYAML's safe loader, {size + 1} files",
                [alone(READ_BY_PYYAML, environ, str(home))],
            )
        )
    size = sizes[-1] if sizes[-1] <= 2000 else 2000
    path = fill_one_file(folder / f"one-{size}", size)
    rows += starts(f"{size} tunes in one file", environ, path.with_suffix(""), str(path), rig, rounds)
    rows.append(
        row(
            "reference: python -c 'import numpy, yaml'",
            [alone("import numpy, yaml", environ) for _ in range(rounds)],
        )
    )
    return rows


def starts(
    what: str, environ: dict[str, str], home: Path, name: str, rig: Path | None, rounds: int
) -> list[dict[str, object]]:
    taken = []
    for _ in range(1 + rounds):
        running = Started({**environ, "INTROIT_HOME": str(home)}, name, rig)
        try:
            taken.append(running.wait_ready())
        finally:
            running.stop()
    return [row(f"{what}: first start", taken[:1]), row(f"{what}: second start", taken[1:])]


def alone(code: str, environ: dict[str, str], *arguments: str) -> Work:
    """What a Python takes that runs some code and ends."""
    before, began = os.times(), time.perf_counter()
    subprocess.run([sys.executable, "-c", code, *arguments], check=True, env=environ)
    after = os.times()
    used = after.children_user + after.children_system - before.children_user - before.children_system
    return Work(time.perf_counter() - began, used)


def row(what: str, taken: list[Work]) -> dict[str, object]:
    """The best of several: what others on the machine take can only add to it."""
    best = min(taken)
    return {
        "what": what,
        "seconds": round(best.clock, 3),
        "cpu s": round(min(one.processor for one in taken), 3),
    }


class Rest(NamedTuple):
    """A process at rest: its memory, and percent of one core."""

    memory: Memory
    idle: float

    def row(self, what: str) -> dict[str, object]:
        return {
            "what": what,
            "PSS MB": round(self.memory.pss, 1),
            "private MB": round(self.memory.private, 1),
            "MB JACK's": round(self.memory.jack, 1),
            "idle % of a core": round(self.idle, 3),
        }


def resting(pids: list[int], seconds: float) -> list[Rest]:
    """What processes hold, and take in so many seconds."""
    held = [memory(pid) for pid in pids]
    before, began = [processor_seconds(pid) for pid in pids], time.perf_counter()
    time.sleep(seconds)
    passed = time.perf_counter() - began
    used = [processor_seconds(pid) - taken for pid, taken in zip(pids, before, strict=True)]
    return [Rest(has, took / passed * 100) for has, took in zip(held, used, strict=True)]


def rest_rows(
    folder: Path, environ: dict[str, str], rig: Path | None, tunes: int, seconds: float
) -> list[dict[str, object]]:
    """Memory and idle time of front and player while a tune is ready; on JACK, beside a client of no use."""
    if not (home := folder / f"home-{tunes}").exists():
        fill(home, tunes)
    running = Started({**environ, "INTROIT_HOME": str(home)}, "many", rig)
    try:
        running.wait_ready()
        time.sleep(SETTLE_SECONDS)
        front, player = resting(running.pids, seconds)
    finally:
        running.stop()
    rows = [front.row(f"at rest, {tunes} tunes: front"), player.row(f"at rest, {tunes} tunes: player")]
    together = Memory(*map(sum, zip(front.memory, player.memory, strict=True)))
    rows.append(Rest(together, front.idle + player.idle).row(f"at rest, {tunes} tunes: both"))
    if "JACK_DEFAULT_SERVER" in environ:
        rows.append(nothing(environ, seconds).row("  reference: a JACK client in Python that does nothing"))
    return rows


def nothing(environ: dict[str, str], seconds: float) -> Rest:
    """The same of a JACK client in Python whose callback is empty."""
    pipe = subprocess.PIPE
    with subprocess.Popen(
        [sys.executable, "-c", IDLE_CLIENT], env=environ, stdin=pipe, stdout=pipe
    ) as client:
        assert client.stdout is not None
        client.stdout.readline()
        return resting([client.pid], seconds)[0]


def usual_rig(folder: Path, system: str) -> Path:
    """The rig of who names none, on one system: by itself it takes a synth inside where nothing listens."""
    usual = Path(__file__).parents[2] / "config" / "rigs" / "default.yaml"
    rig = folder / f"{system}.yaml"
    text = usual.read_text(encoding="utf-8")
    written(rig, text.replace("system: auto", f"system: {system}"))
    return rig


@contextlib.contextmanager
def surroundings(folder: Path) -> Iterator[tuple[dict[str, str], Path, str]]:
    """An environment with a JACK server, the rig, and what they are; without a server, a rig in memory."""
    server = JackServer(f"introit-start-{os.getpid()}", folder / "jackd.log", period=PERIOD)
    try:
        server.start()
    except JackUnavailableError as error:
        yield dict(os.environ), usual_rig(folder, "memory"), f"a port in memory ({error})"
        return
    try:
        rig = usual_rig(folder, "jack")
        yield server.environ, rig, f"JACK, dummy driver, {server.rate} frames a second, {PERIOD} a period"
    finally:
        server.stop()


def printed(rows: list[dict[str, object]]) -> str:
    lines = []
    for one in rows:
        facts = "  ".join(f"{value:>9} {name}" for name, value in one.items() if name != "what")
        lines.append(f"{one['what']!s:56}{facts}")
    return "\n".join(lines)


def main() -> None:
    """Measures and prints a table; with --json writes the figures as well."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument(
        "--short", action="store_true", help="10 and 2,000 tunes, one second start, 4 s of rest"
    )
    parser.add_argument("--json", type=Path, help="also write the figures here")
    options = parser.parse_args()
    if sys.platform != "linux":
        print("what a process takes is read from /proc: measured on Linux alone")
        return
    sizes = [10, 2000] if options.short else [10, 100, 1000, 2000, 10_000]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with surroundings(folder) as (environ, rig, system):
            print(f"on {system}; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
            environ = with_bytecode(folder, environ, rig)
            rows = start_rows(folder, environ, rig, sizes, 1 if options.short else 3)
            rows += rest_rows(folder, environ, rig, 2000, 4.0 if options.short else 20.0)
    print(printed(rows))
    if options.json:
        figures = {"bench": "start_up", "system": system, "rows": rows}
        options.json.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
