"""The JACK port alone in a process, as it is in the player. Plays random notes on time; a script, not a test.

Arguments: how many notes, seconds, the destination. Prints one JSON line: frame and message of each cue as it
was to sound, the frames on which the port says they were placed, and how often it told of lost cycles.
"""

from __future__ import annotations

import contextlib
import gc
import json
import os
import random
import sys
import time

from introit.live.cue import Cue, Rank
from introit.live.events import Lost, Sent
from introit.live.inbox import Inbox
from introit.live.messages import note_on
from introit.live.ports.jack import JackClient
from introit.live.setup import PortSetup
from introit.units import NS_PER_MS, NS_PER_SECOND


def main(count: int, seconds: float, destination: str) -> None:
    sys.setswitchinterval(0.0002)
    with contextlib.suppress(PermissionError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(2))
    client = JackClient("alone", Inbox())
    port = client.add(0, PortSetup("port", "jack", to=destination))
    clock = client.clock
    client.start()
    rng = random.Random(7)
    begin = clock.now() + 200 * NS_PER_MS
    times = sorted(begin + rng.randrange(round(seconds * NS_PER_SECOND)) for _ in range(count))
    cues = [Cue(ns, Rank.ON, n, note_on(n % 16, n // 16 % 128, 1 + n % 127)) for n, ns in enumerate(times)]
    gc.collect()
    gc.freeze()
    gc.disable()
    sent: list[Sent] = []
    lost = 0
    rest = iter(cues)
    waiting = next(rest, None)
    while len(sent) < count and clock.now() < times[-1] + NS_PER_SECOND:
        ready = []
        while waiting is not None and waiting.ns <= clock.now() + port.lookahead:
            ready.append(waiting)
            waiting = next(rest, None)
        port.hand(ready)
        sent += port.sent()
        lost += sum(isinstance(event, Lost) for event in port.heard())
        time.sleep(0.003)
    port.close()
    frame = client.scale.frame
    answer = {
        "wanted": [(frame(cue.ns), cue.data.hex()) for cue in cues],
        "placed": [frame(one.actual) for one in sent],
        "lost": lost,
        "faults": client.faults,
    }
    print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), float(sys.argv[2]), sys.argv[3])
