"""A cable that is out before anybody is told, on ports that are lined up, and a player that dies at any time.

Each evening is thrown by a seed: how far ahead the port takes its cues, its offset, the feet, late wake-ups,
when the cable is out (what goes out meanwhile reaches nobody, and the port knows nothing of it), how much
later that is told, and how the evening ends: in order, or by a death, after which the front releases. The
synth ignores All Notes Off, as MIDI 1.0 lets it; in the end it must be silent.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from introit.live import aftermath
from introit.live.events import Ordered, Plugged, Sent, Unplugged
from introit.live.messages import control
from introit.live.ports.memory import MemoryPort
from introit.live.setup import Setup
from introit.live.states import Order
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

MS, SECOND = NS_PER_MS, NS_PER_SECOND
LONGEST_UNTOLD = SECOND
"""A binding to RtMidi is asked once a second who is there."""
LEADS: tuple[dict[str, Any], ...] = (
    {},
    {"vamp": (0, 2 * 3840)},
    {"once_more": True},
)


class Cable:
    """To the synth: what is sent while it is out reaches nobody."""

    def __init__(self, synth: Callable[[Sent], None]) -> None:
        self.out = False
        self._synth = synth

    def __call__(self, sent: Sent) -> None:
        if not self.out:
            self._synth(sent)


class Night:
    """One evening, with whatever its seed throws."""

    def __init__(self, seed: int) -> None:
        self.dice = dice = random.Random(seed)
        setup = sketch_setup()
        offset = dice.choice([0, 0, 15, 40, -15, -40]) * MS
        self.setup: Setup = replace(setup, ports=(replace(setup.ports[0], offset_ns=offset),))
        front = SketchFront(
            tempo=dice.choice([120.0, 280.0]),
            bars=4,
            count_off=dice.choice([0, 2]),
            changes=dice.choice(LEADS),
        )
        self.one = Rehearsal(self.setup, front, lookaheads=[dice.choice([0, 0, 20, 33]) * MS])
        self.cable = Cable(self.one.receivers[0])
        self.one.ports[0]._listener = self.cable
        late = dice.choice([0, 0, 2, 40, 700]) * MS
        self.one.clock.lateness = lambda _deadline: (
            dice.randrange(late) if late and dice.random() < 0.1 else 0
        )
        self.told_until = 0

    def play(self, seconds: int) -> None:
        """Feet, orders, and cables that are pulled and put back."""
        dice, at = self.dice, SECOND
        while at < seconds * SECOND:
            self.one.play([(at, control(0, 64, 127)), (at + 60 * MS, control(0, 64, 0))])
            if dice.random() < 0.3:
                order = dice.choice([Order.SILENCE, Order.FASTER, Order.NEXT])
                self.one.put(at + dice.randrange(3 * SECOND), Ordered(order))
            if dice.random() < 0.6:
                self._pull(at + dice.randrange(3 * SECOND))
            at += dice.randrange(300, 5_000) * MS

    def _pull(self, at: int) -> None:
        """The cable is out from here on for a while, and that is told later, as its return is."""
        dice, clock = self.dice, self.one.clock
        if at <= self.told_until:
            return
        told = at + dice.randrange(LONGEST_UNTOLD)
        back = told + dice.randrange(2 * SECOND)
        self.told_until = back + dice.randrange(LONGEST_UNTOLD)
        clock.at(at, lambda: self._set(out=True))
        self.one.put(told, Unplugged(0, "synth:in", True))
        clock.at(back, lambda: self._set(out=False))
        self.one.put(self.told_until, Plugged(0, "synth:in", True))

    def _set(self, *, out: bool) -> None:
        self.cable.out = out

    def end(self, monkeypatch: pytest.MonkeyPatch) -> str:
        """In order, or by a death that the front sees; while the cable is in."""
        one, how = self.one, self.dice.choice(["in order", "killed"])
        one.advance(max(self.told_until, one.clock.now()) + self.dice.randrange(4 * SECOND))
        if how == "in order":
            errors = one.loop.leave()
            assert errors == []
            return how
        fresh = MemoryPort("fresh", one.clock, listener=self.cable)
        monkeypatch.setattr(aftermath, "open_ports", lambda *_args, **_kwargs: ([fresh], one.clock))
        dead = replace(self.setup, ports=(replace(self.setup.ports[0], system="rtmidi"),))
        aftermath.release(dead, one.ledger, {"0": ["synth:in"]}, sleep=lambda _seconds: None)
        return how


@pytest.mark.parametrize("seed", range(60))
def test_whatever_is_pulled_untold_the_synth_is_silent_in_the_end(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    night = Night(seed)
    try:
        night.play(20)
        night.one.advance(20 * SECOND)
        how = night.end(monkeypatch)
        synth = night.one.receivers[0]
        assert synth.ons(), "it must have played"
        assert not synth.sounding, how
        assert night.one.ledger.owed(0) == []
    finally:
        night.one.inbox.close()
