"""Snapshots for the stand page, of what a rehearsed intro shows: chords, what follows, the way to the head.

What they must agree with is the plan that the intro was arranged from, not the player's own words.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from introit.arrange.arranger import handed_over, symbol_of, written
from introit.arrange.plan import Plan, plan_intro
from introit.cli.hints import FootLanguage
from introit.cli.stand_page import heard_after
from introit.cli.stand_teller import Teller
from introit.library.model import Library, Tune
from introit.live.events import Shown
from introit.live.setup import PortSetup, Setup
from introit.performance import Performance
from introit.stand.snapshot import Snapshot
from introit.testing import Rehearsal, SketchFront, sketch_setup
from introit.testing.script import feet
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.units import NS_PER_MS, NS_PER_SECOND


class OneTune:
    """A desk with one tune."""

    def __init__(self, tune: Tune, performance: Performance) -> None:
        self._tune, self._performance = tune, performance

    def arranged(self, number: int, key: str) -> Performance | None:
        return self._performance if (number, key) == (0, self._performance.key) else None

    def tune(self, number: int) -> Tune | None:
        return self._tune if number == 0 else None


TUNE = Tune(
    "t", "Snow on the Ferry", Key.from_text("Gb"), Meter(4), 120, "medium-swing", Numeral.from_text("ii7"),
    intro="three-six-two-five", pickup=Fraction(3, 2), count_off=1,
)  # fmt: skip


@pytest.fixture(scope="module")
def told(library: Library) -> tuple[Plan, list[tuple[Shown, Snapshot]]]:
    """An intro of four bars, counted off, and everything that is shown of it."""
    plan = plan_intro(library.intros["three-six-two-five"], TUNE, TUNE.key)
    score = written(TUNE, TUNE.key, library, intro=plan.intro)
    performance = handed_over(score, library)
    setup = sketch_setup()
    front = SketchFront(bars=4, count_off=4)
    rehearsal = Rehearsal(setup, front, lookaheads=(0,))
    rehearsal.play(feet(1000))
    rehearsal.run(20 * NS_PER_SECOND)
    teller = make(setup, OneTune(TUNE, performance))
    # The sketch has the same four bars of 4/4 at 120; what is shown of it is told as our intro's.
    shown = [replace(one, key="Gb", title=TUNE.title, intro=plan.intro.id) for one in rehearsal.shown]
    return plan, [(one, teller.tell(one, one.ns + 700 * NS_PER_MS)) for one in shown]


def make(setup: Setup, desk: OneTune) -> Teller:
    foot = FootLanguage(setup, lambda: [TUNE])
    return Teller(foot, desk, order=lambda: [0], intro_name=lambda name: name.upper(), latency=lambda: 5)


def test_each_beat_tells_its_chord_and_the_next(told: tuple[Plan, list[tuple[Shown, Snapshot]]]) -> None:
    plan, snapshots = told
    beats = [snapshot for shown, snapshot in snapshots if shown.what == "beat" and shown.bar > 0]
    assert len(beats) == 16
    for number, snapshot in enumerate(beats):
        present = plan.chords[plan.at(number * 960)]
        assert snapshot.chord is not None
        assert (snapshot.chord.symbol, snapshot.chord.numeral) == (symbol_of(present), str(present.numeral))
        assert snapshot.next is not None
        assert snapshot.next.in_beats == (present.end - number * 960) / 960
        following = plan.at(present.end) if present.end < plan.head_tick else None
        expected = plan.head.symbol if following is None else symbol_of(plan.chords[following])
        assert snapshot.next.symbol == expected
        assert (snapshot.beats_to_head, snapshot.beats_in_all) == (16 - number, 16)
    assert beats[-1].next is not None
    assert beats[-1].next.symbol == "Abm7"


def test_before_the_first_beat_the_first_chord_is_to_come(
    told: tuple[Plan, list[tuple[Shown, Snapshot]]],
) -> None:
    plan, snapshots = told
    count = [snapshot for shown, snapshot in snapshots if shown.what == "beat" and shown.bar <= 0]
    assert [snapshot.next.in_beats for snapshot in count if snapshot.next] == [4, 3, 2, 1]
    assert {snapshot.chord for snapshot in count} == {None}
    ready = snapshots[0][1]
    assert ready.state == "ready"
    assert ready.next is not None
    assert ready.next.symbol == symbol_of(plan.chords[0])
    assert (ready.title, ready.intro_name, ready.pickup, ready.meter) == (
        "Snow on the Ferry", "THREE-SIX-TWO-FIVE", 1.5, 4
    )  # fmt: skip


def test_numbers_rise_and_times_are_the_machines(told: tuple[Plan, list[tuple[Shown, Snapshot]]]) -> None:
    _, snapshots = told
    assert [snapshot.number for _, snapshot in snapshots] == list(range(1, len(snapshots) + 1))
    assert all(snapshot.at - shown.ns == 700 * NS_PER_MS + 5 for shown, snapshot in snapshots)
    for _, snapshot in snapshots:
        assert Snapshot.from_dict(snapshot.to_dict()) == snapshot


def test_what_the_foot_does_is_what_the_table_says(told: tuple[Plan, list[tuple[Shown, Snapshot]]]) -> None:
    _, snapshots = told
    words = {snapshot.state: (snapshot.press, snapshot.hold) for _, snapshot in snapshots}
    assert words["ready"][0] == "start"
    assert words["counting off"][0] == "cancel"
    assert words["playing"] == ("", "silence")


def test_the_set_in_its_order(told: tuple[Plan, list[tuple[Shown, Snapshot]]], library: Library) -> None:
    plan, _ = told
    score = written(TUNE, TUNE.key, library, intro=plan.intro)
    teller = make(sketch_setup(), OneTune(TUNE, handed_over(score, library)))
    (tune,) = teller.tunes()
    assert (tune["title"], tune["key"], tune["tempo"], tune["meter"]) == ("Snow on the Ferry", "Gb", 120.0, 4)


def test_of_a_tune_that_is_not_arranged_yet_no_chord_is_told(library: Library) -> None:
    score = written(TUNE, TUNE.key, library, intro=library.intros["three-six-two-five"])
    teller = make(sketch_setup(), OneTune(TUNE, handed_over(score, library)))
    snapshot = teller.tell(Shown(0, "ready", "key", tune=0, key="A"), 10)
    assert (snapshot.chord, snapshot.next, snapshot.beats_in_all) == (None, None, 0)
    assert teller.tell(Shown(0, "ready", "key", tune=7), 10).title == ""


def test_a_beat_is_shown_when_it_is_heard() -> None:
    """The later of two synths counts; one that is sent earlier by the rig is heard the sooner by that."""
    slow, fast = (
        PortSetup("slow", "memory", to="a", offset_ns=20 * NS_PER_MS),
        PortSetup("fast", "memory", to="b"),
    )
    setup = replace(sketch_setup(), ports=(slow, fast, PortSetup("foot", "memory", to=None)))
    assert heard_after(setup, (30 * NS_PER_MS, 4 * NS_PER_MS, 90 * NS_PER_MS)) == 10 * NS_PER_MS
    assert heard_after(setup, (12 * NS_PER_MS, 4 * NS_PER_MS, 0)) == 4 * NS_PER_MS
    assert heard_after(setup, ()) == 0


def test_a_remark_between_beats_is_where_the_last_beat_was(library: Library) -> None:
    score = written(TUNE, TUNE.key, library, intro=library.intros["three-six-two-five"])
    teller = make(sketch_setup(), OneTune(TUNE, handed_over(score, library)))
    beat = Shown(5, "playing", "beat", key="Gb", tempo=120, bar=2, beat=3, beats_to_head=10)
    told = teller.tell(beat, 10)
    remark = teller.tell(Shown(6, "playing", "note", key="Gb", tempo=120, text="once more"), 11)
    assert (remark.bar, remark.beat, remark.beats_to_head) == (2, 3, 10)
    assert (remark.chord, remark.next, remark.what) == (told.chord, told.next, "note")
    over = teller.tell(Shown(7, "in the tune", "state", key="Gb"), 12)
    assert (over.bar, over.beats_to_head, over.chord) == (0, 0, None)
    again = teller.tell(Shown(8, "counting off", "state", key="Gb"), 13)
    assert again.beat == 0, "nothing is left of the intro before"


def test_in_a_lesson_the_chord_is_the_one_that_the_foot_has_stepped_to(library: Library) -> None:
    score = written(TUNE, TUNE.key, library, intro=library.intros["three-six-two-five"])
    performance = handed_over(score, library)
    teller = make(sketch_setup(), OneTune(TUNE, performance))
    assert len(performance.chords) == len(score.plan.chords), "the lesson counts the plan's"
    for step, chord in enumerate(score.plan.chords):
        told = teller.tell(Shown(step, "ready", "step", key="Gb", step=step), step)
        assert told.step == step
        assert told.chord is not None
        assert told.chord.symbol == symbol_of(chord)
        assert (told.press, told.double) == ("next chord", "chord before")
    assert told.next is not None
    assert told.next.symbol == "Abm7", "the head's first"


def test_bars_that_go_round_and_what_is_muted_are_told(library: Library) -> None:
    score = written(TUNE, TUNE.key, library, intro=library.intros["three-six-two-five"])
    teller = make(sketch_setup(), OneTune(TUNE, handed_over(score, library)))
    told = teller.tell(Shown(0, "vamping", "state", key="Gb", first_bar=2, last_bar=3, muted=5), 10)
    assert (told.first_bar, told.last_bar, told.muted, told.step) == (2, 3, 5, -1)
