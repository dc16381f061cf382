"""Which port is opened in place of one that has gone. Boards with a number under the table say who is who."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.live.ports.names import told_apart
from introit.live.ports.whereabouts import Whereabouts


@dataclass
class Table:
    """Boards of one name, plugged in, in the system's order.

    Args:
        boards: which board is where, by the number under the table.
        numbered: whether the system gives each a number of its own, as ALSA does.
    """

    boards: list[int]
    numbered: bool

    def __post_init__(self) -> None:
        self._numbers = {board: 20 + 4 * board for board in self.boards}
        self._known = self.names()

    def names(self) -> list[str]:
        if self.numbered:
            return [f"Board:MIDI {self._numbers[board]}:0" for board in self.boards]
        return told_apart("Board" for _ in self.boards)

    def at(self, name: str) -> int:
        return self.boards[self.names().index(name)]

    def pull(self, board: int) -> None:
        self.boards.remove(board)

    def plug(self, board: int, number: int) -> None:
        """The system lists it last; a number may be the one it had, or one that nobody has had."""
        self._numbers[board] = number
        self.boards.append(board)

    def look(self) -> tuple[list[str], list[str]]:
        """All names, and those that are new since the last look."""
        names = self.names()
        new = [name for name in names if name not in self._known]
        self._known = names
        return names, new


@pytest.mark.parametrize("ours", [0, 1, 2])
@given(st.lists(st.tuples(st.integers(0, 2), st.booleans()), max_size=12))
def test_while_one_is_away_at_a_time_each_is_found_again_under_any_number(
    ours: int, steps: list[tuple[int, bool]]
) -> None:
    table = Table([0, 1, 2], numbered=True)
    where = Whereabouts(f"Board ({ours + 1})")
    where.opened(table.names()[ours], table.names())
    fresh = 100
    for board, new_number in steps:
        before = table._numbers[board]
        table.pull(board)
        names, new = table.look()
        assert where.here(names) is (board != ours)
        if board == ours:
            assert where.again(names, new=new) is None  # those that stayed are not taken for it
        fresh += 4
        table.plug(board, fresh if new_number else before)
        names, new = table.look()
        if board == ours:
            found = where.again(names, new=new)
            assert found is not None
            assert table.at(found) == ours
            where.opened(found, names)
        assert where.here(names)


@pytest.mark.parametrize("ours", [0, 1, 2])
@given(st.integers(0, 2))
def test_of_namesakes_the_one_that_appears_is_ours_once_sending_has_failed(ours: int, looks: int) -> None:
    table = Table([0, 1, 2], numbered=False)
    where = Whereabouts(f"Board ({ours + 1})")
    where.opened(table.names()[ours], table.names())
    table.pull(ours)
    assert where.here(table.names())  # which of them went is not known
    for _ in range(looks + 1):
        names, new = table.look()
        assert where.again(names, new=new) is None
    table.plug(ours, 0)
    names, new = table.look()
    found = where.again(names, new=new)
    assert found is not None
    assert table.at(found) == ours


@given(st.permutations([0, 1, 2]), st.sampled_from([0, 1, 2]))
def test_when_all_were_away_their_old_numbers_tell_who_is_who(order: list[int], ours: int) -> None:
    table = Table([0, 1, 2], numbered=True)
    where = Whereabouts(f"Board ({ours + 1})")
    where.opened(table.names()[ours], table.names())
    for board in (0, 1, 2):
        table.pull(board)
    assert not where.here(table.look()[0])
    for board in order:
        table.plug(board, 20 + 4 * board)
        names, new = table.look()
        found = where.again(names, new=new)
        assert (found is not None) is (ours in table.boards)
        assert found is None or table.at(found) == ours


def test_when_all_namesakes_were_away_the_systems_order_decides() -> None:
    where = Whereabouts("Board (2)")
    where.opened("Board (2)", ["Board", "Board (2)"])
    assert not where.here([])
    assert where.again([], new=[]) is None
    assert where.again(["Board"], new=["Board"]) is None
    assert where.again(["Board", "Board (2)"], new=["Board (2)"]) == "Board (2)"
