"""A front that plays sketches, for tests that kill it: prints its player's process, then what is told.

A script; its argument is a setup as JSON. The player's foot-switch starts it as usual.
"""

from __future__ import annotations

import sys

from introit.live.events import Shown, Wanted
from introit.live.keeper import Keeper, PlayerLeft
from introit.live.setup import Setup
from introit.testing import SketchFront


def main(setup: str) -> None:
    keeper = Keeper(Setup.from_json(setup))
    keeper.start()
    print(keeper.pid, flush=True)
    answer = SketchFront(bars=8)
    try:
        while True:
            for told in keeper.receive(1.0):
                if isinstance(told, Wanted):
                    for reply in answer(told):
                        keeper.send(reply)
                elif isinstance(told, Shown) and told.what in ("state", "key"):
                    print(told.state, flush=True)
                elif isinstance(told, PlayerLeft):
                    print(told, flush=True)
    except KeyboardInterrupt:
        keeper.stop("Ctrl-C")
        print("stopped", flush=True)


if __name__ == "__main__":
    main(sys.argv[1])
