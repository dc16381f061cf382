"""The table that the session executes is the one that the README prints."""

from __future__ import annotations

from pathlib import Path

from introit.live.states import (
    ORDERS,
    TABLE,
    Action,
    Gesture,
    Order,
    OrderRow,
    Row,
    State,
    order_row,
    row_for,
)

README = Path(__file__).parents[2] / "README.md"


def printed_rows(heading: str, first_line: str) -> list[tuple[str, ...]]:
    section = README.read_text(encoding="utf-8").split(f"## {heading}", 1)[1].split("\n## ", 1)[0]
    table = section[section.index(first_line) :].split("\n\n", 1)[0]
    return [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in table.splitlines()[2:]]


def as_printed(row: Row) -> tuple[str, ...]:
    return (row.state, row.gesture, row.action, " or ".join(row.leads_to), str(row.guard))


def test_the_readme_prints_the_table_row_by_row() -> None:
    """All of it but what does nothing."""
    rows = [row for row in TABLE if row.action is not Action.NONE]
    assert [as_printed(row) for row in rows] == printed_rows(
        "What the foot-switch does", "| state | gesture |"
    )


def order_as_printed(row: OrderRow) -> tuple[str, ...]:
    states = "every state" if row.states == tuple(State) else ", ".join(row.states)
    return (row.order, states, row.leads_to or "the same", str(row.guard))


def test_the_readme_prints_the_orders_row_by_row() -> None:
    assert [order_as_printed(row) for row in ORDERS] == printed_rows("More than a foot", "| order | in |")


def test_every_order_can_be_given_somewhere_and_has_one_row_in_a_state() -> None:
    cases = [(row.order, state) for row in ORDERS for state in row.states]
    assert len(set(cases)) == len(cases)
    assert {order for order, _ in cases} == set(Order)
    assert all(order_row(state, row.order) is row for row in ORDERS for state in row.states)


def test_every_state_and_gesture_has_one_row() -> None:
    cases = [(row.state, row.gesture) for row in TABLE]
    assert sorted(cases) == sorted((state, gesture) for state in State for gesture in Gesture)
    assert all(row_for(row.state, row.gesture) is row for row in TABLE)


def test_every_state_has_a_way_on() -> None:
    # Counting off and playing also end by themselves, at the downbeat and at the head.
    for state in State:
        assert any(row.state is state and set(row.leads_to) - {state} for row in TABLE)


def test_a_press_never_silences_what_plays() -> None:
    for state in (State.PLAYING, State.VAMPING, State.OUT_OF_TIME, State.WAITING, State.TAPPING):
        row = row_for(state, Gesture.PRESS)
        assert row.action not in (Action.SILENCE, Action.CANCEL)
        assert State.READY not in row.leads_to


def test_no_state_makes_a_start_wait_for_a_hold() -> None:
    """Where a press starts or leaves something, a hold means nothing, or ends what a press does not begin."""
    acting = (Action.START, Action.TAP, Action.CANCEL, Action.NOD, Action.END_CHECK)
    for row in TABLE:
        if row.gesture is Gesture.PRESS and row.action in acting:
            hold = row_for(row.state, Gesture.HOLD)
            assert hold.action in (Action.NONE, Action.SILENCE)
