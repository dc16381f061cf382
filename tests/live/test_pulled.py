"""A synth that is pulled in mid-intro: once it is back, all falls on the beat where it would have been."""

from __future__ import annotations

import pytest

from introit.live.events import Plugged, Unplugged
from introit.live.messages import control, note_on
from introit.testing import Rehearsal, SketchFront, sketch, sketch_setup
from introit.testing.sketch import CLICK
from introit.units import NS_PER_MS, NS_PER_SECOND, ns_per_tick

MS = NS_PER_MS
PRESS = 1_000 * MS
PULLED, BACK = 2_130 * MS, 3_610 * MS
"""Between beats, so that each falls into the middle of notes."""


def ideal() -> list[tuple[int, bytes]]:
    """Every note-on of the intro at its nanosecond, by arithmetic: a quarter at 120 is half a second."""
    made = sketch()
    pace = ns_per_tick(made.tempo)
    return sorted(
        (PRESS + round(note.onset * pace), note_on(note.part, note.pitch, note.velocity))
        for note in made.notes
        if note.part != CLICK
    )


@pytest.mark.parametrize("lookahead", [0, 30 * MS], ids=["immediate", "ahead"])
@pytest.mark.parametrize("how", ["the port itself", "what it plays into"])
def test_what_comes_after_the_return_is_where_it_would_have_been(how: str, lookahead: int) -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(), lookaheads=[lookahead])
    rehearsal.play([(PRESS, control(0, 64, 127)), (PRESS + 80 * MS, control(0, 64, 0))])
    if how == "the port itself":
        rehearsal.clock.at(PULLED, lambda: rehearsal.ports[0].vanish("pulled"))
        rehearsal.clock.at(BACK, rehearsal.ports[0].revive)
    else:
        rehearsal.put(PULLED, Unplugged(0, "synth:in", True))
        rehearsal.put(BACK, Plugged(0, "synth:in", True))
    rehearsal.run(8 * NS_PER_SECOND)
    struck = sorted((sent.actual, sent.data) for sent in rehearsal.receivers[0].ons())
    assert [note for note in struck if note[0] < PULLED] == [note for note in ideal() if note[0] < PULLED]
    again = [note for note in struck if note[0] > BACK]
    assert again == [note for note in ideal() if note[0] >= BACK + lookahead]
    assert len(again) > 4
    assert rehearsal.states() == [(PRESS, "playing"), (PRESS + 4 * NS_PER_SECOND, "in the tune")]
    assert not rehearsal.receivers[0].sounding
    assert rehearsal.ledger.owed(0) == []
