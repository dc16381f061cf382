"""An independent JACK client in a process of its own: records what is heard.

It uses none of the project's code, so that its sound is not judged by its own ear.
Run as a script it is the child: it connects itself to an output by its full name as soon as that is there,
records until its standard input ends, and writes samples and their frames to a file.
"""

from __future__ import annotations

import contextlib
import select
import subprocess
import sys
from collections import deque
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np


class Microphone:
    """The parent's handle.

    Attributes:
        skipped: once it is finished: spans of samples that JACK skipped or some client overran.

    Args:
        source: full name of the output to record, or its first part.
        file: where the recording is written.
        environ: surroundings that name the JACK server.
    """

    def __init__(self, source: str, file: Path, environ: Mapping[str, str]) -> None:
        self._file = file
        self._child = subprocess.Popen(
            [sys.executable, str(Path(__file__)), source, str(file)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=dict(environ),
        )
        assert self._child.stdout is not None
        self.rate = int(self._child.stdout.readline())
        self.skipped: list[tuple[int, int]] = []

    def finish(self) -> Any:
        """Ends the recording: samples from the first frame on; what JACK skipped is silence."""
        self.close()
        kept = np.load(self._file)
        starts, blocks = kept["starts"], kept["blocks"]
        size = blocks.shape[1]
        follows = zip(starts[:-1] + size, starts[1:], strict=True)
        spans = [(due, came) for due, came in follows if due != came]
        spans += [(frame, frame) for frame in kept["overrun"]]
        self.skipped = [(int(due - starts[0]), int(came - starts[0])) for due, came in spans]
        samples = np.zeros(int(starts[-1] - starts[0]) + size)
        for start, block in zip(starts - starts[0], blocks, strict=True):
            samples[start : start + size] = block
        return samples

    def close(self) -> None:
        """Ends the process. Safe to call twice."""
        if self._child.poll() is None:
            assert self._child.stdin is not None
            assert self._child.stdout is not None
            self._child.stdin.close()
            self._child.wait(20)
            self._child.stdout.close()


def main(source: str, file: str) -> None:
    import jack

    client = jack.Client("microphone", no_start_server=True)
    port = client.inports.register("in")
    kept: deque[tuple[int, Any]] = deque()
    overrun: list[int] = []

    @client.set_process_callback  # type: ignore[untyped-decorator, unused-ignore]
    def process(_frames: int) -> None:
        kept.append((client.last_frame_time, port.get_array().copy()))

    @client.set_xrun_callback  # type: ignore[untyped-decorator, unused-ignore]
    def told(_delayed_microseconds: float) -> None:
        overrun.append(kept[-1][0] if kept else client.last_frame_time)

    client.activate()
    print(client.samplerate, flush=True)
    while not port.connections and not select.select([sys.stdin], [], [], 0.02)[0]:
        for other in client.get_ports(is_audio=True, is_output=True):
            if other.name.startswith(source) and other.name.endswith(("left", "l", "00", "0")):
                with contextlib.suppress(jack.JackError):
                    client.connect(other, port)
                break
    sys.stdin.read()
    client.deactivate()
    with open(file, "wb") as out:  # noqa: PTH123 - numpy would add an ending to a path
        np.savez(
            out,
            starts=np.array([one[0] for one in kept]),
            blocks=np.array([one[1] for one in kept]),
            overrun=np.array(overrun, dtype=np.int64),
        )
    client.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
