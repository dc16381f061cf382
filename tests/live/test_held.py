"""What is held down while the program starts: nothing starts by it, and the first true press works."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from introit.live.messages import control, note_off, note_on, program
from introit.live.setup import Control, FootSwitch, KeyZone, Setup
from introit.testing import Rehearsal, SketchFront, rehearse, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

MS = NS_PER_MS
LET_GO, PRESSED = 1_000, 2_000
"""Milliseconds at which what was held comes up, and at which it is truly pressed."""
NOTE = FootSwitch(message="note", number=40)


def evening(setup: Setup, *messages: tuple[int, bytes]) -> Rehearsal:
    """What comes of messages at milliseconds, until eight seconds have passed."""
    script = [(ms * MS, data) for ms, data in messages]
    return rehearse(setup, SketchFront(), script, until=8 * NS_PER_SECOND)


def starts(rehearsal: Rehearsal) -> list[int]:
    return [ns // MS for ns, state in rehearsal.states() if state in ("counting off", "playing")]


@pytest.mark.parametrize(
    ("switch", "let_go", "pressed"),
    [
        (FootSwitch(), [control(0, 64, 0)], control(0, 64, 127)),
        (FootSwitch(inverted=True), [control(0, 64, 127)], control(0, 64, 0)),
        (FootSwitch(action="latching"), [], control(0, 64, 127)),
        (FootSwitch(action="latching"), [], control(0, 64, 0)),  # it was left on
        (FootSwitch(action="press-only"), [control(0, 64, 0)], control(0, 64, 127)),
        (NOTE, [note_off(0, 40)], note_on(0, 40, 90)),
        (NOTE, [note_on(0, 40, 1)[:2] + b"\x00"], note_on(0, 40, 90)),
        (FootSwitch(message="note", number=40, inverted=True), [note_on(0, 40, 90)], note_off(0, 40)),
        (FootSwitch(message="program", number=5), [], program(0, 5)),
        # Half-way pedals pass through every value on their way up.
        (FootSwitch(), [control(0, 64, value) for value in range(126, -1, -6)], control(0, 64, 127)),
        (FootSwitch(), [control(0, 64, value) for value in (100, 90, 70, 30, 0)], control(0, 64, 127)),
        (FootSwitch(inverted=True), [control(0, 64, value) for value in (9, 50, 90, 127)], control(0, 64, 0)),
    ],
)
def test_a_switch_that_was_held_at_the_start_starts_nothing(
    switch: FootSwitch, let_go: Sequence[bytes], pressed: bytes
) -> None:
    comes_up = [(LET_GO + 4 * place, data) for place, data in enumerate(let_go)]
    setup = sketch_setup(foot_switch=switch)
    assert starts(evening(setup, *comes_up)) == []
    assert starts(evening(setup, *comes_up, (PRESSED, pressed))) == [PRESSED]


def test_a_held_switch_that_is_let_go_before_anything_is_ready_starts_nothing_later() -> None:
    rehearsal = Rehearsal(sketch_setup(), SketchFront(), answer_after=2 * NS_PER_SECOND)
    rehearsal.play([(LET_GO * MS, control(0, 64, 0))])
    rehearsal.run(6 * NS_PER_SECOND)
    assert starts(rehearsal) == []


@pytest.mark.parametrize("value", [127, 100, 72])
def test_the_first_true_press_may_be_any_value_that_is_down(value: int) -> None:
    (ms,) = starts(evening(sketch_setup(), (PRESSED, control(0, 64, value))))
    assert PRESSED <= ms <= PRESSED + FootSwitch().bounce_ms


def test_a_pedal_that_is_pressed_through_every_value_starts_at_once() -> None:
    rising = [(PRESSED + 2 * place, control(0, 64, value)) for place, value in enumerate(range(10, 128, 9))]
    first_down = next(ms for ms, data in rising if data[2] >= FootSwitch().on_at)
    assert starts(evening(sketch_setup(), *rising)) == [first_down]


def test_a_hold_that_began_before_the_start_is_no_hold() -> None:
    foot = [(PRESSED, control(0, 64, 127)), (PRESSED + 50, control(0, 64, 0))]
    rehearsal = evening(sketch_setup(), (LET_GO, control(0, 64, 0)), *foot)
    assert [state for _, state in rehearsal.states()] == ["playing", "in the tune"]


def tunes_wanted(rehearsal: Rehearsal) -> list[int]:
    return [wanted.request.tune for wanted in rehearsal.wanted]


@pytest.mark.parametrize("inverted", [False, True])
def test_a_control_of_the_rig_that_was_held_orders_nothing_until_it_is_pressed(inverted: bool) -> None:
    order = Control("next", message="control", number=65, inverted=inverted)
    up, down = (control(0, 65, value) for value in ((127, 0) if inverted else (0, 127)))
    setup = sketch_setup(controls=(order,), tunes=3)
    assert tunes_wanted(evening(setup, (LET_GO, up))) == [0]
    pressed = evening(setup, (LET_GO, up), (PRESSED, down))
    assert tunes_wanted(pressed)[:2] == [0, 1]


@pytest.mark.parametrize("minor", ["third", "half", "tune"])
def test_a_key_that_was_held_names_nothing_until_it_is_struck(minor: str) -> None:
    setup = sketch_setup(key_zone=KeyZone(minor=minor, starts=True))
    for up in (note_off(0, 33), bytes((0x90, 33, 0))):
        rehearsal = evening(setup, (LET_GO, up))
        assert starts(rehearsal) == []
        assert {wanted.request.tonic for wanted in rehearsal.wanted} == {None}
        struck = evening(setup, (LET_GO, up), (PRESSED, note_on(0, 33, 80)))
        assert 9 in {wanted.request.tonic for wanted in struck.wanted}
        assert len(starts(struck)) == 1
