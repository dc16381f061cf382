"""Notes for one ear: at once, beside what plays, over before an intro, and owed like any other."""

from __future__ import annotations

from fractions import Fraction
from itertools import count

import pytest

from introit.live.asides import Asides, aside_steps
from introit.live.cue import Cue, Rank
from introit.live.ledger import Ledger
from introit.live.messages import note_off, note_on
from introit.live.outputs import Outputs
from introit.live.playing import Playing
from introit.live.ports.memory import MemoryPort
from introit.live.release import Releaser
from introit.live.setup import Route
from introit.performance import PARTS, PlayedNote
from introit.testing import FakeClock, Receiver, sketch
from introit.testing.sketch import COMP
from introit.units import NS_PER_MS

MS = NS_PER_MS
CUE = PARTS.index("cue")
PACE = Fraction(MS)
"""A tick a millisecond."""
AHEAD = 30 * MS
ROUTES = (Route(COMP, 0, 1), Route(CUE, 1, 4))
NOTES = (PlayedNote(0, 400, 0, CUE, 60, 48), *(PlayedNote(400, 900, 400, CUE, at, 48) for at in (60, 64, 67)))


def on(ms: int, pitch: int) -> tuple[int, bytes]:
    return ms * MS, note_on(4, pitch, 48)


def off(ms: int, pitch: int) -> tuple[int, bytes]:
    return ms * MS, note_off(4, pitch)


def asides(*routes: Route, lookahead: int = 0) -> Asides:
    return Asides(routes or ROUTES, (lookahead, lookahead), count().__next__)


def taken(made: Asides, now: int) -> list[tuple[int, bytes]]:
    """What is taken until `now`, each cue when it is due."""
    cues: list[Cue] = []
    while (due := made.next_due) is not None and due <= now:
        cues += sorted(made.take(1, due))
    return [(cue.ns, cue.data) for cue in cues]


def test_each_note_goes_where_its_part_goes_and_a_muted_part_nowhere() -> None:
    first, second = aside_steps(NOTES[:1], ROUTES, 2)
    assert first == []
    assert [(step.tick, step.rank, step.data) for step in second] == [
        (0, Rank.ON, note_on(4, 60, 48)),
        (400, Rank.OFF, note_off(4, 60)),
    ]
    assert aside_steps(NOTES, [Route(CUE, 1, 4, muted=True)], 2) == [[], []]


def test_notes_sound_from_now_on_at_their_pace_an_off_before_the_next_on() -> None:
    made = asides()
    assert made.sound(NOTES, PACE, 100 * MS)
    assert made.next_due == 100 * MS
    heard = taken(made, 2_000 * MS)
    assert heard[:3] == [on(100, 60), off(500, 60), on(500, 60)]
    assert heard[-1] == off(1000, 67)
    assert made.next_due is None


def test_what_the_rig_does_not_send_is_told_and_nothing_sounds() -> None:
    made = asides(Route(CUE, 1, 4, muted=True))
    assert not made.sound(NOTES, PACE, 0)
    assert made.next_due is None
    assert not made.sound((), PACE, 0)


@pytest.mark.parametrize("lookahead", [0, AHEAD])
def test_asked_again_it_begins_anew_and_no_old_off_cuts_a_new_note(lookahead: int) -> None:
    made = asides(lookahead=lookahead)
    made.sound(NOTES, PACE, 0)
    heard = taken(made, 450 * MS)
    made.sound(NOTES, PACE, 450 * MS)
    again = 450 + lookahead // MS  # what was handed over may sound until then
    heard += taken(made, 450 * MS)
    heard += taken(made, 2_000 * MS)
    assert sounding_after(heard) == []
    assert [one for one in heard if one[0] == again * MS] == [
        off(again, 60),
        off(again, 64),
        off(again, 67),
        on(again, 60),
    ]
    assert heard[-1] == off(again + 900, 67)


def test_asked_again_while_its_last_off_is_on_the_way_it_waits_for_that() -> None:
    made = asides(lookahead=AHEAD)
    made.sound(NOTES, PACE, 0)
    taken(made, 880 * MS)  # the offs at 900 have been handed over
    assert made.next_due is None
    made.sound(NOTES, PACE, 880 * MS)
    assert taken(made, 880 * MS) == [on(900, 60)]


def test_it_ends_when_it_is_told_to_and_what_has_not_begun_never_does() -> None:
    made = asides()
    made.sound(NOTES, PACE, 0)
    assert taken(made, 100 * MS) == [on(0, 60)]
    made.end(250 * MS)
    assert taken(made, 5_000 * MS) == [off(250, 60)]


def sounding_after(heard: list[tuple[int, bytes]]) -> list[int]:
    """Pitches that sound at the end, for a synth with one voice a pitch."""
    voices: set[int] = set()
    for _, data in heard:
        (voices.add if data[0] & 0xF0 == 0x90 else voices.discard)(data[1])
    return sorted(voices)


class Stage:
    """Outputs, a releaser and two ports in memory, led by hand."""

    def __init__(self, lookahead: int) -> None:
        self.clock = FakeClock()
        self.start = self.clock.now()
        self.receivers = [Receiver(), Receiver()]
        self.ports = [
            MemoryPort(str(index), self.clock, index=index, lookahead=lookahead, listener=receiver)
            for index, receiver in enumerate(self.receivers)
        ]
        self.ledger = Ledger.create(bytearray(Ledger.size(2)), 2)
        self.releaser = Releaser(self.ports, self.ledger)
        self.outputs = Outputs(ROUTES, (lookahead, lookahead))

    def go(self, ms: int) -> None:
        """Goes on to so many milliseconds after the beginning, a millisecond a turn."""
        while self.now < ms * MS:
            self._turn()
            self.clock.jump(self.clock.now() + MS)
        self._turn()

    def _turn(self) -> None:
        for hand in self.outputs.take(self.clock.now()):
            self.releaser.hand(hand.port, hand.cues)
        for sent in (one for port in self.ports for one in port.sent()):
            self.releaser.went_out(sent)

    @property
    def now(self) -> int:
        return self.clock.now() - self.start

    def sound(self) -> None:
        self.outputs.sound(NOTES, PACE, self.clock.now())

    def heard(self, port: int) -> list[tuple[int, bytes]]:
        return [(sent.actual - self.start, sent.data) for sent in self.receivers[port].notes()]


@pytest.fixture(params=[0, AHEAD], ids=["immediate", "ahead"])
def stage(request: pytest.FixtureRequest) -> Stage:
    return Stage(request.param)


def test_a_cue_is_owed_while_it_sounds_and_paid_when_it_is_over(stage: Stage) -> None:
    stage.sound()
    stage.go(200)
    assert stage.ledger.owed(1) == [(4, 60, 1)]
    stage.go(1_000)
    assert stage.ledger.owed(1) == []
    assert not stage.receivers[1].sounding
    assert len(stage.receivers[1].ons()) == len(NOTES)


def test_it_sounds_beside_what_plays_and_changes_nothing_of_it(stage: Stage) -> None:
    def played(*, with_cue: bool) -> list[tuple[int, bytes]]:
        one = Stage(stage.outputs.longest_lookahead)
        one.outputs.start(Playing(sketch(), one.clock.now() + AHEAD), one.clock.now())
        one.go(600)
        if with_cue:
            one.sound()
        one.go(6_000)
        assert len(one.receivers[1].ons()) == with_cue * len(NOTES)
        assert not one.receivers[1].sounding
        return one.heard(0)

    alone = played(with_cue=False)
    assert alone
    assert played(with_cue=True) == alone


def test_a_silence_withdraws_and_releases_it_like_everything_else(stage: Stage) -> None:
    stage.sound()
    stage.go(200)
    stage.outputs.stop(stage.clock.now())
    stage.releaser.silence(stage.clock.now())
    stage.go(2_000)
    assert [data for _, data in stage.heard(1)] == [note_on(4, 60, 48), note_off(4, 60)]
    assert stage.ledger.owed(1) == []
    assert stage.outputs.next_due is None


def test_it_is_over_when_an_intro_starts(stage: Stage) -> None:
    stage.sound()
    stage.go(200)
    start = stage.clock.now() + stage.outputs.longest_lookahead
    stage.outputs.start(Playing(sketch(), start), stage.clock.now())
    stage.go(2_000)
    assert stage.heard(1) == [on(0, 60), (start - stage.start, note_off(4, 60))]
    assert stage.ledger.owed(1) == []


def test_a_port_that_has_gone_is_handed_none_of_it(stage: Stage) -> None:
    stage.outputs.gone(1)
    stage.sound()
    assert [hand for hand in stage.outputs.take(stage.clock.now()) if hand.port == 1] == []


def test_a_part_that_is_muted_while_playing_is_muted_here_too(stage: Stage) -> None:
    stage.outputs.mute(CUE, True, stage.clock.now())
    assert not stage.outputs.sound(NOTES, PACE, stage.clock.now())
    stage.outputs.mute(CUE, False, stage.clock.now())
    assert stage.outputs.sound(NOTES, PACE, stage.clock.now())


def test_cues_are_handed_in_order(stage: Stage) -> None:
    stage.sound()
    cues: list[Cue] = []
    while (due := stage.outputs.next_due) is not None:
        cues += (cue for hand in stage.outputs.take(due) for cue in hand.cues)
    assert cues == sorted(cues)
