"""What is handed over is owed, and every way of taking it back or releasing it keeps the account."""

from __future__ import annotations

from collections.abc import Sequence

from introit.live.cue import Cue, Rank
from introit.live.events import Back, Gone, Heard, Lost, Sent
from introit.live.ledger import Ledger
from introit.live.messages import CLOCK, CONTINUE, START, STOP, all_notes_off, control, note_off, note_on
from introit.live.release import Releaser
from introit.live.setup import Lamp
from introit.units import NS_PER_MS

MS = NS_PER_MS
ON, OFF = note_on(0, 60, 80), note_off(0, 60)


class PortOfPaper:
    """A port that only writes down what it is handed, and is told what it withdraws."""

    name = "paper"
    lookahead = 30 * MS
    latency = 0

    def __init__(self) -> None:
        self.handed: list[Cue] = []
        self.withdraws: list[Cue] = []

    def hand(self, cues: Sequence[Cue]) -> None:
        self.handed += cues

    def withdraw(self, after: int) -> list[Cue]:
        return [cue for cue in self.withdraws if cue.ns > after]

    def sent(self) -> list[Sent]:
        return []

    def heard(self) -> list[Heard | Lost | Gone | Back]:
        return []

    def close(self) -> None:
        pass


class Desk:
    """A releaser with one port of paper."""

    def __init__(self) -> None:
        self.port = PortOfPaper()
        self.ledger = Ledger.create(bytearray(Ledger.size(1)), 1)
        self.releaser = Releaser([self.port], self.ledger)
        self._sequence = 0
        self.all: list[Cue] = []

    def hand(self, ms: int, data: bytes) -> Cue:
        self._sequence += 1
        rank = {0x90: Rank.ON, 0x80: Rank.OFF}.get(data[0] & 0xF0, Rank.REAL_TIME)
        cue = Cue(ms * MS, rank, self._sequence, data)
        self.releaser.hand(0, [cue])
        return cue

    def went_out(self, ms: int, data: bytes) -> None:
        self.releaser.went_out(Sent(0, ms * MS, ms * MS, data))

    def news(self) -> list[bytes]:
        """What the port was handed since the last call."""
        handed, self.port.handed = self.port.handed, []
        self.all += handed
        return [cue.data for cue in handed]

    def stop(self, ms: int) -> Cue:
        """The Stop that a silence at that time has handed over, as `news` told."""
        return next(cue for cue in self.all if cue.data == STOP and cue.ns == ms * MS)

    @property
    def owed(self) -> list[tuple[int, int, int]]:
        return self.ledger.owed(0)


def test_a_note_is_owed_from_its_hand_over_until_its_off_has_gone_out() -> None:
    desk = Desk()
    desk.hand(0, ON)
    assert desk.owed == [(0, 60, 1)]
    desk.hand(100, OFF)
    assert desk.owed == [(0, 60, 1)]
    desk.went_out(0, ON)
    desk.went_out(100, OFF)
    assert desk.owed == []


def test_an_off_without_an_on_of_its_own_pays_nothing() -> None:
    desk = Desk()
    desk.hand(100, OFF)  # its on was dropped
    desk.hand(100, ON)
    desk.went_out(100, OFF)
    assert desk.owed == [(0, 60, 1)]


def test_a_silence_releases_what_was_not_withdrawn_and_closes_the_channels_used() -> None:
    desk = Desk()
    desk.hand(0, ON)
    later = desk.hand(20, note_on(3, 64, 80))
    desk.news()
    desk.port.withdraws = [later]
    desk.releaser.silence(10 * MS)
    assert desk.news() == [OFF, all_notes_off(0), all_notes_off(3)]
    assert desk.owed == [(0, 60, 1)]
    desk.went_out(10, OFF)
    assert desk.owed == []


def test_an_off_left_over_by_a_silence_does_not_pay_for_the_next_note() -> None:
    desk = Desk()
    desk.hand(0, ON)
    desk.hand(20, OFF)  # on its way, and its on has sounded, so it cannot be withdrawn
    desk.releaser.silence(10 * MS)
    desk.went_out(10, OFF)
    assert desk.owed == []
    desk.hand(40, ON)
    desk.went_out(20, OFF)
    assert desk.owed == [(0, 60, 1)]


def lamp(desk: Desk, ms: int, velocity: int) -> bytes:
    """Hands over what lights a pad, or puts it out, by the same note as `ON`."""
    data = bytes((0x90, 60, velocity))
    desk.releaser.hand(0, [Cue(ms * MS, Rank.LAMP, 1_000 + ms, data)])
    return data


def test_a_lamp_is_owed_nothing_and_no_silence_puts_it_out() -> None:
    desk = Desk()
    lit = lamp(desk, 0, 127)
    assert desk.owed == []
    desk.went_out(0, lit)
    desk.releaser.silence(10 * MS)
    assert desk.news() == [lit]
    desk.hand(20, ON)
    out = lamp(desk, 30, 0)
    desk.went_out(30, out)
    assert desk.owed == [(0, 60, 1)]  # the light pays for no note


def test_what_a_lamp_was_told_last_is_told_again_where_it_was_lost_and_nothing_else() -> None:
    desk = Desk()
    lamp(desk, 0, 127)
    out = lamp(desk, 100, 0)
    desk.news()
    assert not desk.releaser.repeat_lost(Lost(0, 150 * MS, 155 * MS), 160 * MS)
    assert desk.releaser.repeat_lost(Lost(0, 95 * MS, 105 * MS), 160 * MS)
    assert desk.news() == [out]
    assert desk.releaser.repeat_lost(Lost(0, 158 * MS, 165 * MS), 170 * MS)
    assert desk.news() == [out]
    desk.releaser.gone(0)
    desk.releaser.back(0, 200 * MS)
    assert not desk.releaser.repeat_lost(Lost(0, 158 * MS, 205 * MS), 210 * MS)


def test_lamps_are_put_out_whatever_was_lit_on_the_ports_that_are_there() -> None:
    desk = Desk()
    lamps = [Lamp("ready", 0, "note", 36), Lamp("playing", 0, "control", 20, channel=3, on=1, off=2)]
    desk.releaser.put_out(lamps, 10 * MS)
    assert desk.news() == [bytes((0x90, 36, 0)), control(3, 20, 2)]
    desk.releaser.gone(0)
    desk.releaser.put_out(lamps, 20 * MS)
    assert desk.news() == []


def test_a_lost_off_is_repeated_and_pays_once() -> None:
    desk = Desk()
    desk.hand(0, ON)
    desk.hand(100, OFF)
    desk.news()
    desk.releaser.repeat_lost(Lost(0, 95 * MS, 105 * MS), 110 * MS)
    assert desk.news() == [OFF]
    desk.hand(120, ON)
    desk.went_out(110, OFF)
    assert desk.owed == [(0, 60, 1)]
    desk.went_out(100, OFF)  # told as sent after all: it has been paid for
    assert desk.owed == [(0, 60, 1)]


def test_an_off_that_was_told_as_sent_and_lost_is_repeated_and_pays_nothing() -> None:
    desk = Desk()
    desk.hand(0, ON)
    desk.hand(100, OFF)
    desk.went_out(100, OFF)
    desk.news()
    desk.releaser.repeat_lost(Lost(0, 95 * MS, 105 * MS), 110 * MS)
    assert desk.news() == [OFF]
    desk.hand(120, ON)
    desk.went_out(110, OFF)
    assert desk.owed == [(0, 60, 1)]


def test_offs_outside_the_lost_span_and_of_notes_struck_again_are_not_repeated() -> None:
    desk = Desk()
    desk.hand(0, OFF)
    desk.hand(100, note_off(0, 61))
    desk.hand(100, note_off(1, 62))
    desk.hand(100, note_on(1, 62, 80))  # struck again: an off would cut it
    desk.hand(130, note_off(0, 63))
    desk.news()
    desk.releaser.repeat_lost(Lost(0, 95 * MS, 105 * MS), 110 * MS)
    assert desk.news() == [note_off(0, 61)]


def test_a_lost_off_of_a_note_struck_again_goes_out_with_its_next_off() -> None:
    # A receiver that counts voices has two by now, and must be told twice.
    desk = Desk()
    for ms, data in ((0, ON), (100, OFF), (100, ON)):
        desk.hand(ms, data)
    desk.releaser.repeat_lost(Lost(0, 95 * MS, 105 * MS), 110 * MS)
    assert desk.news() == [ON, OFF, ON]
    desk.hand(200, OFF)
    assert desk.news() == [OFF, OFF]
    desk.went_out(200, OFF)
    assert desk.owed == [(0, 60, 1)]
    desk.went_out(200, OFF)
    assert desk.owed == []


def test_it_goes_out_with_its_next_off_when_that_was_handed_already() -> None:
    desk = Desk()
    for ms, data in ((0, ON), (100, OFF), (100, ON), (130, OFF), (140, ON)):
        desk.hand(ms, data)
    desk.port.handed.clear()
    desk.releaser.repeat_lost(Lost(0, 100 * MS, 100 * MS), 110 * MS)
    assert desk.news() == []  # struck yet again: with the off of that
    desk.hand(200, OFF)
    assert desk.news() == [OFF, OFF]
    other = Desk()
    for ms, data in ((0, ON), (100, OFF), (100, ON), (130, OFF)):
        other.hand(ms, data)
    other.port.handed.clear()
    other.releaser.repeat_lost(Lost(0, 100 * MS, 100 * MS), 110 * MS)
    assert [(cue.ns, cue.data) for cue in other.port.handed] == [(130 * MS, OFF)]
    other.went_out(130, OFF)
    other.went_out(130, OFF)
    assert other.owed == []


def test_an_off_that_came_late_into_a_lost_cycle_is_repeated() -> None:
    desk = Desk()
    desk.hand(0, ON)
    desk.hand(80, OFF)  # due up to a lookahead before the span
    desk.news()
    desk.releaser.repeat_lost(Lost(0, 110 * MS, 120 * MS), 125 * MS)
    assert desk.news() == [OFF]


def test_a_port_that_has_gone_is_handed_nothing_and_releases_first_when_it_is_back() -> None:
    desk = Desk()
    desk.hand(0, ON)
    desk.news()
    desk.releaser.gone(0)
    desk.hand(10, note_on(0, 61, 80))
    desk.releaser.silence(20 * MS)
    desk.releaser.sense([0], 20 * MS)
    assert desk.news() == []
    assert desk.owed == [(0, 60, 1)]
    assert not desk.releaser.owing()
    desk.releaser.back(0, 30 * MS)
    assert desk.news() == [OFF, all_notes_off(0)]
    desk.went_out(30, OFF)
    assert desk.owed == []


def test_what_ended_before_it_was_told_that_nobody_listens_is_ended_again_when_somebody_does() -> None:
    desk = Desk()
    for ms, data in ((0, ON), (5, ON), (10, OFF), (15, OFF), (20, ON), (25, OFF)):  # two at once, at most
        desk.hand(ms, data)
        desk.went_out(ms, data)
    desk.hand(30, note_on(0, 61, 80))
    desk.news()
    assert desk.owed == [(0, 61, 1)]
    desk.releaser.unplugged(0)
    desk.releaser.plugged(0, 900 * MS)
    assert desk.news() == [note_off(0, 61), OFF, OFF, all_notes_off(0)]
    for data in (note_off(0, 61), OFF, OFF):
        desk.went_out(900, data)
    assert desk.owed == []
    desk.releaser.silence(950 * MS)
    assert desk.news() == [all_notes_off(0)], "once is enough"


def test_who_was_started_is_stopped_by_a_silence_and_by_every_later_one_that_takes_it_back() -> None:
    desk = Desk()
    desk.hand(0, START)
    desk.hand(0, CLOCK)
    desk.news()
    desk.releaser.silence(10 * MS)
    assert desk.news() == [STOP]
    desk.port.withdraws = [desk.stop(10)]
    desk.releaser.silence(11 * MS)
    assert desk.news() == [STOP]
    desk.port.withdraws = []
    desk.releaser.silence(50 * MS)
    assert desk.news() == []
    assert desk.owed == []


def test_a_stop_is_owed_from_before_the_start_is_handed_until_a_stop_has_gone_out() -> None:
    desk = Desk()
    found: list[bool] = []
    hand = desk.port.hand

    def looking(cues: Sequence[Cue]) -> None:
        found.append(desk.ledger.leads(0))
        hand(cues)

    desk.port.hand = looking  # type: ignore[method-assign]
    desk.hand(0, CLOCK)
    desk.hand(10, START)
    assert found == [False, True]  # whoever dies in between leaves it owed
    desk.hand(40, STOP)
    assert desk.ledger.leads(0)
    desk.went_out(10, START)
    assert desk.releaser.owing()
    desk.went_out(40, STOP)
    assert not desk.ledger.leads(0)
    assert not desk.releaser.owing()


def test_a_stop_that_a_later_start_followed_leaves_another_owed() -> None:
    desk = Desk()
    for ms, data in ((0, START), (20, STOP), (25, CONTINUE)):
        desk.hand(ms, data)
    desk.went_out(20, STOP)
    assert desk.ledger.leads(0)
    desk.releaser.silence(30 * MS)
    desk.went_out(30, STOP)
    assert not desk.ledger.leads(0)


def test_no_stop_is_owed_for_a_start_that_was_taken_back() -> None:
    desk = Desk()
    desk.port.withdraws = [desk.hand(20, START)]
    desk.releaser.silence(10 * MS)
    assert not desk.ledger.leads(0)
    desk.port.withdraws = []
    desk.hand(30, START)
    desk.releaser.silence(35 * MS)
    desk.went_out(35, STOP)
    desk.port.withdraws = [desk.hand(60, START)]
    desk.releaser.silence(50 * MS)
    assert not desk.ledger.leads(0)


def test_a_stop_stays_owed_while_its_port_is_away_and_while_it_is_lost() -> None:
    desk = Desk()
    desk.hand(0, START)
    desk.releaser.gone(0)
    desk.releaser.silence(10 * MS)
    assert desk.ledger.leads(0)
    desk.releaser.back(0, 900 * MS)
    desk.went_out(900, STOP)
    assert not desk.ledger.leads(0)
    desk.hand(1_000, START)
    desk.hand(1_040, STOP)
    desk.releaser.repeat_lost(Lost(0, 1_030 * MS, 1_050 * MS), 1_060 * MS)
    desk.went_out(1_060, STOP)
    assert not desk.ledger.leads(0)


def test_a_start_that_was_taken_back_needs_no_stop_and_one_that_could_not_be_is_stopped_behind_it() -> None:
    desk = Desk()
    desk.port.withdraws = [desk.hand(20, START)]
    desk.news()
    desk.releaser.silence(10 * MS)
    assert desk.news() == []
    desk.port.withdraws = []
    desk.hand(40, CONTINUE)
    desk.port.handed.clear()
    desk.releaser.silence(30 * MS)
    assert [(cue.ns, cue.data) for cue in desk.port.handed] == [(40 * MS, STOP)]


def test_a_stop_that_was_lost_is_sent_again_also_by_a_port_that_had_gone() -> None:
    desk = Desk()
    desk.hand(0, START)
    desk.hand(40, STOP)
    desk.news()
    assert desk.releaser.repeat_lost(Lost(0, 30 * MS, 50 * MS), 60 * MS)
    assert desk.news() == [STOP]
    desk.releaser.gone(0)
    desk.releaser.back(0, 900 * MS)
    assert desk.news() == [STOP]
