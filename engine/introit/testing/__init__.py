"""Doubles and checks that tests of the live core share.

A fake clock, a receiver, a rehearsal of both halves, sketches to play, and the ports' contract as a check.
"""

from introit.testing.contract import PortBench, check_port
from introit.testing.fake_clock import FakeClock
from introit.testing.receiver import Receiver
from introit.testing.rehearsal import Rehearsal, rehearse
from introit.testing.sketch import SketchFront, sketch, sketch_setup

__all__ = [
    "FakeClock",
    "PortBench",
    "Receiver",
    "Rehearsal",
    "SketchFront",
    "check_port",
    "rehearse",
    "sketch",
    "sketch_setup",
]
