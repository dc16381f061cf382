"""Expression pedals as scripts of messages, and what is made of them.

How such a pedal moves and where it rests is common practice (no source); that controller 11 is expression and
values go from 0 to 127 is from the MIDI 1.0 Detailed Specification, table III.
"""

from __future__ import annotations

import pytest

from introit.cli.travel import Travel, judged_travel, travel_is_over
from introit.cli.verdict import Doubt
from introit.live.controls import Controls
from introit.live.events import Heard
from introit.live.messages import control, note_on, parse
from introit.live.setup import Control

MS = 1_000_000


def moved(*way: int, number: int = 11, start: int = 0, channel: int = 2, port: int = 0) -> list[Heard]:
    """A controller on its way from turn to turn, a message every 5 ms in steps of at most 3."""
    values = [way[0]]
    for there in way[1:]:
        while values[-1] != there:
            left = there - values[-1]
            values.append(values[-1] + max(-3, min(3, left)))
    return [
        Heard(port, (start + 5 * place) * MS, control(channel, number, value))
        for place, value in enumerate(values)
    ]


LOUD, SILENT = moved(40, 127, 0, 127), moved(126, 0)


def test_a_pedal_that_goes_all_the_way() -> None:
    assert judged_travel([], LOUD, SILENT) == Travel(0, 2, 11, 0, 127, inverted=False)


def test_one_that_works_the_other_way_round() -> None:
    assert judged_travel([], moved(40, 127, 0), moved(1, 127)) == Travel(0, 2, 11, 0, 127, inverted=True)


def test_one_that_reaches_no_end_is_given_some_slack() -> None:
    assert judged_travel([], moved(60, 5, 118), moved(117, 5)) == Travel(0, 2, 11, 7, 116, inverted=False)


@pytest.mark.parametrize("ends", [(127, 0), (118, 5), (9, 120), (0, 127)])
def test_what_was_learned_sets_silence_and_full_level_at_the_ends(ends: tuple[int, int]) -> None:
    """The last word is the session's own reader's."""
    at_loud, at_silent = ends
    found = judged_travel([], moved(60, at_silent, at_loud), moved(at_loud, at_silent))
    assert isinstance(found, Travel)
    learned = Control(
        "level", number=11, channel=2, part=1, low=found.low, high=found.high, inverted=found.inverted
    )
    reader = Controls((learned,))
    heard = []
    for value in (at_loud, (at_loud + at_silent) // 2, at_silent):
        message = parse(control(2, 11, value))
        assert message is not None
        heard += [order.value for order in reader.hear(0, message, 0)]
    assert (heard[0], heard[-1]) == (127, 0)
    assert 55 < heard[1] < 72


def test_what_moves_by_itself_is_no_pedal() -> None:
    stream = moved(0, 127, 0, number=1)
    found = judged_travel(stream, [*LOUD, *stream], [*SILENT, *stream])
    assert isinstance(found, Travel)
    assert found.number == 11
    assert judged_travel(stream, stream, stream) == Doubt("no controller moved both times")


def test_of_two_that_move_the_one_that_goes_further_counts() -> None:
    found = judged_travel([], [*LOUD, *moved(60, 100, number=7)], [*SILENT, *moved(100, 60, number=7)])
    assert isinstance(found, Travel)
    assert found.number == 11


@pytest.mark.parametrize(
    ("loud", "silent", "says"),
    [
        (moved(40, 127, 0, 100), moved(100, 0, 90), "left at 100, then at 90; too near"),
        (LOUD, [Heard(0, 0, note_on(0, 60, 9))], "no controller moved both times"),
        ([], [], "no controller moved both times"),
    ],
)
def test_what_is_not_clear(loud: list[Heard], silent: list[Heard], says: str) -> None:
    found = judged_travel([], loud, silent)
    assert isinstance(found, Doubt)
    assert says in found.reason


def test_it_is_over_once_the_pedal_rests() -> None:
    end = LOUD[-1].ns
    assert not travel_is_over(LOUD, [], end + 999 * MS)
    assert travel_is_over(LOUD, [], end + 1000 * MS)
    assert not travel_is_over(moved(60, 70), [], 60_000 * MS)  # a nudge
    assert not travel_is_over([], [], 60_000 * MS)
    assert not travel_is_over(LOUD, LOUD, end + 5000 * MS)  # it moved before, too
