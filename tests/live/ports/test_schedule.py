from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from introit.live.cue import Cue, Rank
from introit.live.messages import control, note_off, note_on
from introit.live.ports.schedule import Schedule


class Waiting:
    """A sequencer that only waits, and plays what has one tick in no order that can be relied on."""

    def __init__(self, *, free: bool = True) -> None:
        self.waiting: dict[int, tuple[int, bytes]] = {}
        self.free = free

    def send(self, number: int, tick: int, data: bytes) -> bool:
        assert number not in self.waiting
        self.waiting[number] = (tick, data)
        return self.free

    def remove(self, number: int) -> None:
        self.waiting.pop(number, None)

    def order(self) -> list[bytes]:
        ticks = [tick for tick, _ in self.waiting.values()]
        assert len(set(ticks)) == len(ticks)
        return [data for _, data in sorted(self.waiting.values())]


def on(ns: int, pitch: int = 60, sequence: int = 0) -> Cue:
    return Cue(ns, Rank.ON, sequence, note_on(0, pitch, 80))


def off(ns: int, pitch: int = 60) -> Cue:
    return Cue(ns, Rank.OFF, 0, note_off(0, pitch))


def test_what_shares_a_tick_is_played_by_rank_whenever_it_was_handed() -> None:
    sequencer = Waiting()
    schedule = Schedule(sequencer)
    level = Cue(100, Rank.CONTROL, 0, control(0, 7, 9))
    for cue in (on(100), on(100, 64), level, off(100, 50)):
        schedule.hand(cue, 5, fixed=0)
    assert sequencer.order() == [off(0, 50).data, level.data, on(0).data, on(0, 64).data]


def test_an_off_is_played_behind_an_on_that_was_handed_before() -> None:
    sequencer = Waiting()
    schedule = Schedule(sequencer)
    schedule.hand(on(100), 10, fixed=0)
    schedule.hand(off(50), 5, fixed=0)
    schedule.hand(off(50, 61), 5, fixed=0)
    assert sequencer.order() == [off(0, 61).data, on(0).data, off(0).data]


def test_what_is_about_to_be_played_is_not_moved() -> None:
    sequencer = Waiting()
    schedule = Schedule(sequencer)
    schedule.hand(on(100), 5, fixed=0)
    schedule.hand(off(100, 50), 5, fixed=7)
    assert sequencer.order() == [on(0).data, off(0, 50).data]


def test_what_was_played_is_told_once_in_the_order_played() -> None:
    schedule = Schedule(Waiting())
    for cue, tick in ((on(300), 30), (on(100), 10), (on(200), 20)):
        schedule.hand(cue, tick, fixed=0)
    assert [entry.cue.ns for entry in schedule.played(21)] == [100, 200]
    assert schedule.played(21) == []
    assert len(schedule) == 1


def test_what_was_played_while_it_was_taken_back_counts_as_played() -> None:
    sequencer = Waiting()
    schedule = Schedule(sequencer)
    for ns in (100, 200, 300):
        schedule.hand(on(ns), ns, fixed=0)
    back = schedule.withdraw(0, fixed=150, reached=lambda: 201)
    assert [cue.ns for cue in back] == [300]
    assert [entry.cue.ns for entry in schedule.played(1000)] == [100, 200]


def test_an_off_comes_back_with_its_on_alone_and_a_lamp_never() -> None:
    schedule = Schedule(Waiting())
    lamp = Cue(100, Rank.LAMP, 0, note_on(0, 60, 127))
    ours = [off(100, 50), on(110), lamp, off(150), off(160)]
    for cue in ours:
        schedule.hand(cue, cue.ns, fixed=0)
    assert schedule.withdraw(0, fixed=0, reached=lambda: 0) == [ours[1], ours[3]]


def test_what_the_sequencer_cannot_give_back_stays() -> None:
    schedule = Schedule(Waiting(free=False))
    schedule.hand(on(100), 100, fixed=0)
    assert schedule.withdraw(0, fixed=0, reached=lambda: 0) == []
    assert len(schedule) == 1


@given(
    st.lists(st.tuples(st.integers(0, 30), st.sampled_from(list(Rank)), st.integers(60, 62)), max_size=30),
    st.integers(0, 40),
)
def test_whatever_is_handed_is_in_order_and_nothing_is_lost(
    told: list[tuple[int, Rank, int]], after: int
) -> None:
    sequencer = Waiting()
    schedule = Schedule(sequencer)
    cues = []
    for place, (ns, rank, pitch) in enumerate(told):
        data = note_off(0, pitch) if rank is Rank.OFF else note_on(0, pitch, place + 1)
        cues.append(Cue(ns, rank, place, data))
        schedule.hand(cues[-1], ns, fixed=0)
    played = sequencer.order()
    first = [cue for cue in cues if cue.rank is not Rank.OFF]
    expected = [cue.data for cue in sorted(first, key=lambda cue: (cue.ns, cue.rank, cue.sequence))]
    assert [data for data in played if data[0] & 0xF0 == 0x90] == expected
    for place, cue in enumerate(cues):
        if cue.rank is Rank.OFF:  # the ons of its pitch that were handed before stand before one of its like
            last = max((at for at, data in enumerate(played) if data == cue.data), default=-1)
            earlier = [
                other.data for other in cues[:place] if other.rank is Rank.ON and other.data[1] == cue.data[1]
            ]
            assert all(played.index(data) < last for data in earlier)
    back = schedule.withdraw(after, fixed=0, reached=lambda: 0)
    left = [entry.cue for entry in schedule.played(1 << 40)]
    assert sorted([*back, *left]) == sorted(cues)
    assert sorted(data for _, data in sequencer.waiting.values()) == sorted(cue.data for cue in left)
