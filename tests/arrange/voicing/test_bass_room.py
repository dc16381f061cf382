"""Room for a bass note under a voicing, against the limits themselves ([LI-A], [LI-B])."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.voicing.bass_room import FIFTH, HIGHEST_BASS, LOWEST_BASS, over_a_bass
from introit.theory.limits import too_low

grips = st.lists(st.integers(40, 80), min_size=2, max_size=4, unique=True).map(sorted)


@given(grips, st.integers(0, 11))
def test_it_is_there_when_some_octave_of_the_bass_keeps_every_limit(grip: list[int], bass: int) -> None:
    octaves = [pitch for pitch in range(LOWEST_BASS, HIGHEST_BASS + 1) if pitch % 12 == bass]
    clear = [low for low in octaves if all(v - low >= FIFTH and not too_low(low, v) for v in grip)]
    padded = np.array([[*grip, *[-1] * (4 - len(grip))]])
    assert over_a_bass(padded, bass).tolist() == [bool(clear)]


@pytest.mark.parametrize(("lowest", "room"), [(52, False), (53, True)])
def test_over_e_flat_the_limit_of_the_minor_ninth_decides(lowest: int, room: bool) -> None:
    """Eb2 (39) may not lie a minor ninth under E3: the limit is E2 ([LI-B])."""
    assert over_a_bass(np.array([[lowest, 60, 64, -1]]), 3).tolist() == [room]
