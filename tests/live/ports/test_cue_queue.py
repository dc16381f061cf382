"""Cues between two threads: placed by frame, withdrawn exactly. One thread plays both, except at the end."""

from __future__ import annotations

import threading

from hypothesis import given
from hypothesis import strategies as st

from introit.live.cue import Cue, Rank
from introit.live.messages import all_notes_off, control, note_off, note_on
from introit.live.ports.cue_queue import CueQueue, Entry, offs_first

FRAME_NS = 1000


def queue() -> CueQueue:
    return CueQueue(lambda ns: ns // FRAME_NS)


def on(ns: int, pitch: int = 60, channel: int = 0) -> Cue:
    return Cue(ns, Rank.ON, ns * 2, note_on(channel, pitch, 80))


def off(ns: int, pitch: int = 60, channel: int = 0) -> Cue:
    return Cue(ns, Rank.OFF, ns * 2 + 1, note_off(channel, pitch))


def play(cues: CueQueue, start: int, end: int) -> list[Cue]:
    return [entry.cue for entry in cues.due(start, end) if cues.claim(entry)]


def test_each_cue_falls_due_once_in_its_own_cycle() -> None:
    cues = queue()
    cues.hand([on(0), off(127_999), on(128_000)])
    assert play(cues, 0, 128) == [on(0), off(127_999)]
    assert play(cues, 128, 256) == [on(128_000)]
    assert play(cues, 256, 384) == []
    assert len(cues) == 0


def test_handed_late_it_comes_in_the_next_cycle_in_the_order_of_time() -> None:
    cues = queue()
    cues.hand([on(500_000, 62)])
    cues.hand([on(1_000, 60), off(2_000, 60)])
    assert play(cues, 640, 768) == [on(1_000, 60), off(2_000, 60), on(500_000, 62)]


def test_same_instant_off_before_control_before_on() -> None:
    cues = queue()
    bend = Cue(5, Rank.CONTROL, 9, control(0, 7, 100))
    cues.hand([on(5), bend, off(5)])
    assert play(cues, 0, 1) == [off(5), bend, on(5)]


def test_a_lamp_comes_last_stays_when_all_is_withdrawn_and_frees_no_off_of_its_number() -> None:
    cues = queue()
    lit = Cue(5_000, Rank.LAMP, 20, bytes((0x90, 60, 127)))
    cues.hand([on(0), on(5_000, 62), lit])
    assert play(cues, 0, 1) == [on(0)]
    cues.hand([off(9_000)])
    assert cues.withdraw(-1) == [on(5_000, 62)]
    cues.hand([on(5_000, 64)])
    assert play(cues, 0, 128) == [on(5_000, 64), lit, off(9_000)]


def test_what_has_not_sounded_is_withdrawn_with_its_off() -> None:
    cues = queue()
    cues.hand([on(1_000), off(9_000)])
    assert cues.withdraw(-1) == [on(1_000), off(9_000)]
    assert play(cues, 0, 128) == []


def test_an_off_is_not_withdrawn_without_its_on() -> None:
    cues = queue()
    cues.hand([on(1_000), off(200_000), on(210_000), off(220_000)])
    assert play(cues, 0, 128) == [on(1_000)]
    assert cues.withdraw(-1) == [on(210_000), off(220_000)]
    assert play(cues, 128, 256) == [off(200_000)]


def test_only_what_is_due_later_is_withdrawn() -> None:
    cues = queue()
    cues.hand([on(10, 60), off(30, 60), on(40, 62), off(50, 62)])
    assert cues.withdraw(20) == [on(40, 62), off(50, 62)]
    assert play(cues, 0, 128) == [on(10, 60), off(30, 60)]


def test_all_notes_off_is_never_withdrawn() -> None:
    cues = queue()
    panic = Cue(99, Rank.OFF, 1, all_notes_off(0))
    cues.hand([panic])
    assert cues.withdraw(-1) == []


def test_on_closing_the_offs_that_are_left_come_at_once() -> None:
    cues = queue()
    cues.hand([on(0), off(900_000), on(950_000), off(960_000)])
    assert play(cues, 0, 128) == [on(0)]
    cues.hurry(0)
    assert [cue.data for cue in play(cues, 128, 256)] == [note_off(0, 60)]
    assert len(cues) == 0


def test_what_did_not_fit_comes_first_next_time_offs_before_all() -> None:
    cues = queue()
    cues.hand([on(0, 60), on(1, 62), off(2, 64), off(3, 62)])
    entries = cues.due(0, 128)
    assert cues.claim(entries[0])
    cues.keep(entries[1:])
    cues.hand([on(130_000, 70)])
    # off 64 may go ahead; off 62 may not, since its own on is still waiting.
    assert play(cues, 128, 256) == [off(2, 64), on(1, 62), off(3, 62), on(130_000, 70)]


def test_kept_cues_can_still_be_withdrawn() -> None:
    cues = queue()
    cues.hand([on(1), off(2)])
    cues.keep(cues.due(0, 128))
    assert cues.withdraw(-1) == [on(1), off(2)]
    assert play(cues, 128, 256) == []


MESSAGES = st.lists(st.tuples(st.booleans(), st.integers(60, 63)), max_size=20)


@given(MESSAGES)
def test_offs_first_never_moves_an_off_before_its_on(notes: list[tuple[bool, int]]) -> None:
    cues = [on(n, p) if is_on else off(n, p) for n, (is_on, p) in enumerate(notes)]
    entries = [Entry(cue.ns, cue.rank, n, n, cue) for n, cue in enumerate(cues)]
    moved = [entry.cue for entry in offs_first(entries)]
    assert sorted(moved) == sorted(cues)
    for pitch in range(60, 64):
        assert [c for c in moved if c.data[1] == pitch] == [c for c in cues if c.data[1] == pitch]


@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(1, 20), st.integers(60, 62)), max_size=12), st.data()
)
def test_every_cue_is_sounded_or_withdrawn_and_no_note_hangs(
    notes: list[tuple[int, int, int]], data: st.DataObject
) -> None:
    cues = queue()
    handed, free_from = [], dict.fromkeys(range(60, 63), 0)
    for gap, length, pitch in notes:
        start = free_from[pitch] + gap * FRAME_NS
        free_from[pitch] = start + length * FRAME_NS
        handed += [on(start, pitch), off(free_from[pitch], pitch)]
    cues.hand(sorted(handed))
    at = data.draw(st.integers(0, 80))
    sounded = play(cues, 0, at)
    withdrawn = cues.withdraw(-1)
    sounded += play(cues, at, 10**6)
    assert sorted(sounded + withdrawn) == sorted(handed)
    for pitch in range(60, 63):
        ours = [c.rank for c in sounded if c.data[1] == pitch]
        assert ours == [Rank.ON, Rank.OFF] * (len(ours) // 2)


def test_two_threads_never_both_get_a_cue() -> None:
    cues = queue()
    handed = [on(n, n % 128) for n in range(4000)]
    sounded: list[Cue] = []
    done = threading.Event()

    def callback() -> None:
        start = 0
        while not done.is_set() or len(cues):
            sounded.extend(play(cues, start, start + 10**9))

    thread = threading.Thread(target=callback)
    thread.start()
    withdrawn = []
    for first in range(0, len(handed), 10):
        cues.hand(handed[first : first + 10])
        withdrawn += cues.withdraw(-1)
    done.set()
    thread.join(10)
    assert sorted(sounded + withdrawn) == sorted(handed)
