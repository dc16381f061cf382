from __future__ import annotations

import pytest

from introit.live.ports.blocks import TICKS_PER_MS, Blocks
from introit.units import NS_PER_SECOND

BOTH = pytest.mark.parametrize("blocks", [Blocks(48_000, 64), Blocks(44_100, 64)], ids=("48k", "44k1"))
SOME = range(1, 3000)


def shown(blocks: Blocks, block: int) -> int:
    """What FluidSynth's sequencer shows once a block has begun: whole milliseconds of what was rendered."""
    return int(1000.0 * (block * blocks.size) / blocks.rate) * TICKS_PER_MS


@BOTH
def test_a_tick_is_played_by_its_block_and_not_by_the_one_before(blocks: Blocks) -> None:
    for block in SOME:
        first = blocks.first_tick(block)
        assert shown(blocks, block - 1) < first <= shown(blocks, block)
        assert blocks.of_tick(first) == block
        assert blocks.of_tick(first + TICKS_PER_MS - 1) == block


@BOTH
def test_what_the_sequencer_shows_says_which_block_is_next(blocks: Blocks) -> None:
    for block in SOME:
        assert blocks.next(shown(blocks, block)) == block + 1


@BOTH
def test_a_time_goes_to_the_block_that_starts_nearest(blocks: Blocks) -> None:
    length = blocks.size * NS_PER_SECOND // blocks.rate
    for block in SOME:
        start = blocks.ns(block)
        assert blocks.nearest(start) == block
        assert blocks.nearest(start + length // 2 - 2) == block
        assert blocks.nearest(start - length // 2 + 2) == block
