"""Doubles and checks that tests of the live core share: a fake clock, a rehearsal, the ports' contract."""

from introit.testing.contract import PortBench, check_port
from introit.testing.fake_clock import FakeClock
from introit.testing.receiver import Receiver
from introit.testing.rehearsal import Rehearsal, rehearse

__all__ = ["FakeClock", "PortBench", "Receiver", "Rehearsal", "check_port", "rehearse"]
