"""The session by itself: what it says it waits for, and that it asks nothing of the world."""

from __future__ import annotations

from introit.live.cue import Rank
from introit.live.events import Back, Gone, Hand, Heard, Quit, Ready, Request, Shown, Silence, Wanted
from introit.live.messages import control, note_off
from introit.live.session import Session
from introit.testing import sketch, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

MS = NS_PER_MS
LAST_NOTES = ((0, 72), (1, 52), (1, 55), (1, 59), (2, 36))
"""What sounds up to the head in a sketch in C."""
DOWN, UP = control(0, 64, 127), control(0, 64, 0)


def ready_session(lookahead: int = 0) -> Session:
    session = Session(sketch_setup(), [lookahead])
    assert session.take(0) == [Wanted(Request(0))]
    session.hear(Ready(0, True, sketch()), 0)
    session.take(0)
    return session


def test_waits_for_nothing_when_nothing_is_due() -> None:
    session = ready_session()
    assert (session.state, session.next_due(), session.finished) == ("ready", None, False)
    assert session.take(10 * NS_PER_SECOND) == []


def test_says_when_to_come_again_for_a_port_with_a_lookahead() -> None:
    session = ready_session(lookahead=30 * MS)
    session.hear(Heard(0, 1_000 * MS, DOWN), 1_000 * MS)
    first = session.take(1_000 * MS)
    cues = [cue for effect in first if isinstance(effect, Hand) for cue in effect.cues]
    assert {cue.ns for cue in cues} == {1_000 * MS}
    assert session.next_due() == 1_250 * MS - 30 * MS
    # Between calls nothing is due; at the time said, something is.
    assert session.take(1_219 * MS) == []
    assert session.take(1_220 * MS) != []


def test_what_came_between_two_calls_happens_in_the_order_of_its_times() -> None:
    # A hold that is complete at 2.5 s counts although its release is heard in the same moment, at 3 s.
    session = ready_session()
    for ms, data in ((1_000, DOWN), (1_100, UP)):
        session.hear(Heard(0, ms * MS, data), ms * MS)
        session.take(ms * MS)
    session.hear(Heard(0, 2_000 * MS, DOWN), 3_000 * MS)
    session.hear(Heard(0, 2_600 * MS, UP), 3_000 * MS)
    effects = session.take(3_000 * MS)
    assert Silence() in effects
    assert session.state == "ready"
    # Released at 2.4 s it does not.
    session = ready_session()
    session.hear(Heard(0, 1_000 * MS, DOWN), 1_000 * MS)
    session.hear(Heard(0, 1_100 * MS, UP), 1_100 * MS)
    session.hear(Heard(0, 2_000 * MS, DOWN), 3_000 * MS)
    session.hear(Heard(0, 2_400 * MS, UP), 3_000 * MS)
    assert Silence() not in session.take(3_000 * MS)
    assert session.state == "playing"


def test_a_time_from_the_future_or_the_past_is_taken_as_now_or_as_the_last_heard() -> None:
    session = ready_session()
    session.take(5_000 * MS)
    session.hear(Heard(0, 99 * NS_PER_SECOND, DOWN), 6_000 * MS)
    shown = [
        effect for effect in session.take(6_000 * MS) if isinstance(effect, Shown) and effect.what == "state"
    ]
    assert [(one.ns, one.state) for one in shown] == [(6_000 * MS, "playing")]


def test_nothing_starts_among_what_a_silence_could_not_withdraw() -> None:
    session = ready_session(lookahead=40 * MS)
    for ms, data in ((1_000, DOWN), (1_040, UP), (2_000, DOWN)):
        session.hear(Heard(0, ms * MS, data), ms * MS)
        session.take(ms * MS)
    session.take(2_500 * MS)  # the hold
    session.hear(Heard(0, 2_501 * MS, UP), 2_501 * MS)
    session.hear(Heard(0, 2_535 * MS, DOWN), 2_535 * MS)
    cues = [cue for effect in session.take(2_535 * MS) if isinstance(effect, Hand) for cue in effect.cues]
    assert min(cue.ns for cue in cues) == 2_540 * MS


def test_the_offs_of_an_intro_come_before_the_next_one_however_late_the_calls() -> None:
    session = ready_session()
    session.hear(Heard(0, 1_000 * MS, DOWN), 1_000 * MS)
    session.hear(Heard(0, 1_050 * MS, UP), 1_050 * MS)
    session.take(4_900 * MS)
    session.hear(Ready(1, True, sketch(5)), 4_900 * MS)
    # Nothing was taken from then to 9 s: the landing, a hold to the next tune, its start are heard late.
    for ms, data in ((5_600, DOWN), (6_200, UP), (7_000, DOWN)):
        session.hear(Heard(0, ms * MS, data), 9_000 * MS)
    effects = session.take(9_000 * MS)
    states = [effect.state for effect in effects if isinstance(effect, Shown) and effect.what == "state"]
    assert states == ["in the tune", "ready", "playing"]
    cues = [cue for effect in effects if isinstance(effect, Hand) for cue in effect.cues]
    landing = [cue.data for cue in cues if cue.ns == 5_000 * MS]
    assert sorted(landing) == sorted(note_off(channel, pitch) for channel, pitch in LAST_NOTES)
    assert (
        min(cue.ns for cue in cues[cues.index(next(cue for cue in cues if cue.rank == Rank.ON)) :])
        == 9_000 * MS
    )


def test_a_port_that_has_gone_is_handed_nothing_until_it_is_back() -> None:
    session = ready_session()
    session.hear(Gone(0, "unplugged"), 500 * MS)
    session.hear(Heard(0, 1_000 * MS, DOWN), 1_000 * MS)
    assert not any(isinstance(effect, Hand) for effect in session.take(2_400 * MS))
    session.hear(Back(0), 2_450 * MS)
    hands = [effect for effect in session.take(2_500 * MS) if isinstance(effect, Hand)]
    assert [cue.rank for cue in hands[0].cues] == [Rank.CONTROL] * 3 + [Rank.PROGRAM] * 3
    assert {cue.ns for cue in hands[1].cues} == {2_500 * MS}


def test_quitting_is_a_silence_and_then_nothing_more() -> None:
    session = ready_session()
    session.hear(Heard(0, 1_000 * MS, DOWN), 1_000 * MS)
    session.hear(Quit("the front left"), 1_100 * MS)
    assert not session.finished
    assert session.take(1_100 * MS)[-1] == Silence()
    assert session.finished
    assert session.reason == "the front left"
    session.hear(Heard(0, 1_200 * MS, DOWN), 1_200 * MS)
    assert session.take(9_000 * MS) == []
    assert session.next_due() is None
