"""The check that excuses skipped cycles excuses nothing else."""

from __future__ import annotations

from typing import Any

import pytest

RATE = 48_000


def bars(kit: Any) -> list[Any]:
    """Sixteen notes, half a second apart, each for a quarter of one."""
    ons = [kit.Message(24_000 * place, True, 0, 60) for place in range(16)]
    return sorted(ons + [on._replace(frame=on.frame + 12_000, on=False) for on in ons])


def test_what_agrees_agrees(kit: Any) -> None:
    heard = [message._replace(frame=message.frame + 2) for message in bars(kit)]
    kit.Skips([], RATE).agree(heard, bars(kit), by=2)


@pytest.mark.parametrize("spans", [[], [(24_000 * 12, 24_000 * 12)]], ids=["quiet", "skipped elsewhere"])
@pytest.mark.parametrize("wrong", ["missing", "late", "beside", "another pitch"])
def test_what_differs_outside_the_skipped_cycles_is_found(
    kit: Any, spans: list[tuple[int, int]], wrong: str
) -> None:
    heard = bars(kit)
    if wrong == "missing":
        del heard[6]
    elif wrong == "late":
        heard[6] = heard[6]._replace(frame=heard[6].frame + 3)
    elif wrong == "beside":
        heard.append(heard[6]._replace(frame=heard[6].frame + 5_000))
    else:
        heard[6] = heard[6]._replace(pitch=61)
    with pytest.raises(AssertionError, match="heard"):
        kit.Skips(spans, RATE).agree(heard, bars(kit), by=2)


def test_what_was_skipped_is_excused_and_its_off(kit: Any) -> None:
    lost = 24_000 * 12
    heard = [message for message in bars(kit) if message.frame not in (lost, lost + 12_000)]
    kit.Skips([(lost, lost + 256)], RATE).agree(heard, bars(kit), by=2)


def test_where_hardly_anything_was_heard_nothing_is_shown(kit: Any) -> None:
    with pytest.raises(AssertionError, match="skips too much"):
        kit.Skips([(0, 24_000 * 16)], RATE).agree(bars(kit)[:4], bars(kit), by=2)


def test_a_click_is_missed_only_where_a_cycle_was_skipped(kit: Any) -> None:
    clicks = [12_000, 24_000, 36_000]
    assert kit.Skips([(0, 0)], RATE).first_click(clicks, 12_000) == 0
    with pytest.raises(AssertionError, match="4 clicks"):
        kit.Skips([], RATE).first_click(clicks, 12_000)
    with pytest.raises(AssertionError, match="4 clicks"):
        kit.Skips([], RATE).first_click([0, 12_000, 24_001, 36_000], 12_000)


def test_one_late_note_moves_no_other(kit: Any) -> None:
    """Not even the first one: it is found late, and excused only where a cycle was skipped."""
    written = [kit.Note(message.frame / RATE, *message[1:]) for message in bars(kit)]
    heard = [message._replace(frame=message.frame + 7_000) for message in bars(kit)]
    heard[0] = heard[0]._replace(frame=heard[0].frame + 80)
    expected = kit.placed(written, heard, RATE, by=2)
    kit.Skips([(7_000, 7_128)], RATE).agree(heard, expected, by=2)
    with pytest.raises(AssertionError, match=r"frame=7080"):
        kit.Skips([], RATE).agree(heard, expected, by=2)
