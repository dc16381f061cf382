from __future__ import annotations

from typing import Any

from introit.arrange.comp import Figure, Stroke, comp_notes, comp_strokes
from introit.arrange.plan import Plan, plan_intro
from introit.arrange.voicing import voice_plan
from introit.units import TICKS_PER_QUARTER


def plan_of(make: Any, text: str, **fields: Any) -> Plan:
    tune = make.tune(**fields)
    return plan_intro(make.intro(make.form(text)), tune, tune.key)


def beats(strokes: tuple[Stroke, ...]) -> list[tuple[float, float, int]]:
    """(onset, length) in beats, and the chord's index."""
    return [
        (stroke.onset / TICKS_PER_QUARTER, (stroke.end - stroke.onset) / TICKS_PER_QUARTER, stroke.chord)
        for stroke in strokes
    ]


def charleston(make: Any) -> Any:
    """One and the off-beat of two ([CP1] item 2); the second hit takes a chord on three early ([CP2])."""
    return make.rhythm((make.hit("0", "3/2"), make.hit("3/2", "2", push=True)))


def test_a_push_takes_the_coming_chord_and_its_harmony(make: Any) -> None:
    plan = plan_of(make, "ii7 V7 | Imaj7")
    strokes = comp_strokes(plan, charleston(make))
    assert beats(strokes) == [(0, 1.5, 0), (1.5, 2, 1), (4, 1.5, 2), (5.5, 2, 2)]
    notes = comp_notes(plan, strokes, voice_plan(plan))
    assert {note.harmony_tick for note in notes if note.onset == 1440} == {1920}


def test_a_push_with_no_change_within_a_beat_stays_on_its_chord(make: Any) -> None:
    strokes = comp_strokes(plan_of(make, "Imaj7 | ii7"), charleston(make))
    assert [stroke.chord for stroke in strokes] == [0, 0, 1, 1]


def test_a_push_into_the_head_is_left_out(make: Any) -> None:
    late = make.rhythm((make.hit("0", "1"), make.hit("7/2", "1/2", push=True)))
    assert beats(comp_strokes(plan_of(make, "ii7 | V7"), late)) == [(0, 1, 0), (3.5, 0.5, 1), (4, 1, 1)]


def test_a_chord_that_only_the_push_would_have_stated_is_stated_all_the_same(make: Any) -> None:
    only_push = make.rhythm((make.hit("7/2", "1/2", push=True),))
    assert beats(comp_strokes(plan_of(make, "V7"), only_push)) == [(0, 2, 0)]


def test_chords_that_the_rhythm_passes_over_are_stated_where_they_begin(make: Any) -> None:
    on_two_only = make.rhythm((make.hit("1", "4"),))
    strokes = comp_strokes(plan_of(make, "I6 vi7 ii7 V7"), on_two_only)
    assert beats(strokes) == [(0, 1, 0), (1, 1, 1), (2, 1, 2), (3, 1, 3)]


def test_held_hits_end_at_the_next_hit_the_chord_change_and_the_head(make: Any) -> None:
    held = make.rhythm((make.hit("0", "4"), make.hit("3", "4")))
    assert beats(comp_strokes(plan_of(make, "ii7 V7 | Imaj7"), held)) == [
        (0, 2, 0),
        (3, 1, 1),
        (4, 3, 2),
        (7, 1, 2),
    ]


def test_bars_of_a_rhythm_are_repeated_in_turn(make: Any) -> None:
    two_bars = make.rhythm((make.hit("0", "1"),), (make.hit("1", "1"),))
    strokes = comp_strokes(plan_of(make, "I6 | I6 | I6 | I6"), two_bars)
    assert {0, 5, 8, 13} <= {stroke.onset // TICKS_PER_QUARTER for stroke in strokes}


def test_the_comp_leaves_the_riff_alone_and_answers_with_accents(make: Any) -> None:
    plan = plan_of(make, "ii7 V7 | Imaj7")
    figures = [Figure(0, 1920, frozenset({0})), Figure(3840, 5760, frozenset({2}))]
    busy = make.rhythm(tuple(make.hit(str(beat), "1") for beat in range(4)))
    strokes = comp_strokes(plan, busy, figures=figures)
    assert beats(strokes) == [(2, 1, 1), (3, 1, 1), (6, 1, 2), (7, 1, 2)]
    assert all(stroke.accent for stroke in strokes)


def test_a_riff_may_leave_nothing_to_the_comp(make: Any) -> None:
    plan = plan_of(make, "Imaj7")
    assert comp_strokes(plan, charleston(make), figures=[Figure(0, 3840, frozenset({0}))]) == ()
