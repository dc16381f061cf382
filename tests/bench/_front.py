"""A front with its player, in a process of its own, for benchmarks; and the handle that drives it.

As a script it is the child: arguments are a setup as JSON, the file of a performance, and what it does
beside. Standard input takes `press`, `silence` and `quit`, one a line; standard output tells, as JSON, the
player's process and everything that is shown of states, keys and skipped cycles.
"""

from __future__ import annotations

import contextlib
import gc
import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from introit.live.events import Ordered, Played, Ready, Shown, Wanted
from introit.live.keeper import Keeper, PlayerLeft
from introit.live.messages import control
from introit.live.setup import PortSetup, Route, Setup
from introit.live.states import Order
from introit.performance import PLAYED_PARTS, Performance

DOWN, UP = control(0, 64, 127), control(0, 64, 0)
TOLD = ("state", "key", "lost")
SET_TUNES = 300
"""Tunes in the set that is read again and again."""


def setup(system: str, to: str, source: str | None = None) -> Setup:
    """One port; each part on the channel of its number."""
    return Setup(
        ports=(PortSetup("synth", system, to=to, source=source),),
        routes=tuple(Route(part, 0, part) for part in range(len(PLAYED_PARTS))),
        tunes=1,
    )


class Front:
    """The handle. Ends with its `with` block, its player too.

    Args:
        what: the setup.
        performance: what every `Wanted` is answered with.
        folder: for the performance.
        environ: surroundings, which name the JACK server.
        works: True for a front that arranges without pause, collects garbage and reads a large set.
    """

    def __init__(
        self,
        what: Setup,
        performance: Performance,
        folder: Path,
        environ: Mapping[str, str],
        *,
        works: bool = False,
    ) -> None:
        path = folder / f"performance-{time.monotonic_ns()}"
        path.write_bytes(performance.to_bytes())
        arguments = [what.to_json(), str(path), "works" if works else "rests"]
        self._process = subprocess.Popen(
            [sys.executable, __file__, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=dict(environ),
        )
        self.told: list[dict[str, Any]] = []
        self._queue: queue.Queue[dict[str, Any] | None] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()
        self.player = 0
        try:
            self.player = int(self.wait(lambda one: "player" in one)["player"])
        except BaseException:
            self.__exit__()
            raise

    @property
    def pid(self) -> int:
        """The front's own process."""
        return self._process.pid

    def _read(self) -> None:
        assert self._process.stdout is not None
        with contextlib.suppress(ValueError):  # closed meanwhile
            for line in self._process.stdout:
                self._queue.put(json.loads(line))
        self._queue.put(None)

    def wait(self, wanted: Callable[[dict[str, Any]], bool], seconds: float = 30.0) -> dict[str, Any]:
        """Waits until something is told.

        Raises:
            RuntimeError: if it is not, in time.
        """
        limit = time.monotonic() + seconds
        while (left := limit - time.monotonic()) > 0:
            try:
                one = self._queue.get(timeout=left)
            except queue.Empty:
                break
            if one is None:
                raise RuntimeError(f"the front ended with {self._process.wait()}")
            self.told.append(one)
            if wanted(one):
                return one
        raise RuntimeError(f"nothing of the kind was told in {seconds} s")

    def wait_ready(self) -> None:
        """Waits until a performance is ready."""
        self.wait(lambda one: one.get("what") == "key")

    def wait_state(self, state: str, seconds: float = 30.0) -> None:
        """Waits until a state begins."""
        self.wait(lambda one: one.get("what") == "state" and one["state"] == state, seconds)

    def say(self, word: str) -> None:
        """`press`, `silence` or `quit`."""
        assert self._process.stdin is not None
        self._process.stdin.write(word + "\n")
        self._process.stdin.flush()

    def lost(self) -> int:
        """How many skipped cycles were told of."""
        return sum(one.get("what") == "lost" for one in self.told)

    def kill(self) -> None:
        """SIGKILL."""
        self._process.kill()
        self._process.wait()

    def __enter__(self) -> Front:
        return self

    def __exit__(self, *_: object) -> None:
        process = self._process
        assert process.stdin is not None
        assert process.stdout is not None
        with contextlib.suppress(OSError, ValueError):
            process.stdin.close()  # its end is `quit`
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            if self.player:
                with contextlib.suppress(ProcessLookupError):
                    os.kill(self.player, signal.SIGKILL)
            process.kill()
            process.wait()
        process.stdout.close()


# --- the child -------------------------------------------------------------------------------------


def _tell(**what: object) -> None:
    print(json.dumps(what), flush=True)


def _work(folder: Path) -> Iterator[None]:
    """Arranges, collects garbage and reads a large set, a little at each step, for ever."""
    import start_up

    from introit.arrange.arranger import ready
    from introit.cli.content import find_intro, open_library
    from introit.cli.options import tune_for
    from introit.library.loader import read_file
    from introit.theory.key import Mode, keys

    library = open_library(quiet=True)
    large = start_up.fill_one_file(folder / "large", SET_TUNES)
    while True:
        for name in ("three-six-two-five", "dominant-vamp"):
            intro = find_intro(library, name)
            for key in keys(Mode.MAJOR):
                with contextlib.suppress(ValueError):  # not every intro is for every mode
                    tune = tune_for(
                        intro,
                        library,
                        key=key,
                        tempo=132,
                        meter=None,
                        feel=None,
                        first_chord=None,
                        count_off=0,
                    )
                    ready(tune, key, library, intro=intro)
                yield
                gc.collect()
                yield
        _, problems = read_file(large, library)
        assert not problems, problems
        yield


def _main(what: str, path: str, manner: str) -> None:
    performance = Performance.from_bytes(Path(path).read_bytes())
    said: queue.Queue[str] = queue.Queue()

    def listen() -> None:
        for line in sys.stdin:
            said.put(line.strip())
        said.put("quit")

    work = _work(Path(path).parent) if manner == "works" else None
    if work is not None:
        next(work)  # the imports
    keeper = Keeper(Setup.from_json(what))
    keeper.start()
    threading.Thread(target=listen, daemon=True).start()
    _tell(player=keeper.pid)
    try:
        while True:
            for told in keeper.receive(0 if work else 0.01):
                if isinstance(told, Wanted):
                    keeper.send(Ready(told.request.tune, True, performance))
                elif isinstance(told, Shown) and told.what in TOLD:
                    _tell(what=told.what, state=told.state, ns=told.ns)
                elif isinstance(told, PlayerLeft):
                    _tell(what="left", released=told.released, restarted=told.restarted, reason=told.reason)
            while not said.empty():
                word = said.get()
                if word == "quit":
                    return
                if word == "press":
                    keeper.send(Played(0, DOWN))
                    keeper.send(Played(0, UP))
                else:
                    keeper.send(Ordered(Order.SILENCE))
            if work is not None:
                next(work)
    finally:
        keeper.stop("measured")


if __name__ == "__main__":
    _main(*sys.argv[1:])
