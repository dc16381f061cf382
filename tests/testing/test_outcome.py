"""The check for silence at the end finds what hangs, and what is released twice, at any port."""

from __future__ import annotations

import pytest

from introit.live.events import Sent
from introit.live.messages import note_off, note_on
from introit.testing import Rehearsal, SketchFront, rehearse, sketch_setup
from introit.testing.outcome import ends_in_silence, notes, states
from introit.testing.script import feet
from introit.units import NS_PER_SECOND


@pytest.fixture
def done() -> Rehearsal:
    return rehearse(sketch_setup(ports=2), SketchFront(), feet(1000), until=8 * NS_PER_SECOND)


def test_an_undisturbed_playing_ends_in_silence(done: Rehearsal) -> None:
    assert states(done) == [(1.0, "playing"), (5.0, "in the tune")]
    assert notes(done) == []
    assert all(receiver.ons() for receiver in done.receivers)
    assert ends_in_silence(done)


@pytest.mark.parametrize("port", [0, 1])
@pytest.mark.parametrize(
    "more",
    [[note_on(2, 36, 80)], [note_off(2, 36)], [note_on(2, 36, 80), note_off(2, 37)]],
    ids=["hangs", "released twice", "another released"],
)
def test_one_message_more_is_found_at_any_port(done: Rehearsal, port: int, more: list[bytes]) -> None:
    for data in more:
        done.receivers[port](Sent(port, 0, 0, data))
    assert not ends_in_silence(done)
