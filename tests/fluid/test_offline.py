"""The library itself, rendering into memory: when a note begins, and which channels have reverb."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from introit.errors import PortError
from introit.fluid.library import load
from introit.fluid.offline import OfflineSynth
from introit.fluid.soundfonts import find_soundfont

BASS, WOOD_BLOCK = 32, 115
"""General MIDI's acoustic bass and wood block, counted from 0."""


@pytest.fixture(scope="module")
def soundfont() -> Path:
    try:
        load()
    except PortError as error:
        pytest.skip(str(error))
    return find_soundfont(folders=[])


def rendered(soundfont: Path, play: Callable[[OfflineSynth], None], *, rate: int = 48_000) -> np.ndarray:
    synth = OfflineSynth(soundfont, rate=rate)
    play(synth)
    sound = np.frombuffer(synth.render(rate // synth.block), np.float32).reshape(-1, 2)
    synth.close()
    synth.close()
    return sound


def test_a_note_begins_at_the_next_block_and_not_before(soundfont: Path) -> None:
    synth = OfflineSynth(soundfont, rate=48_000)
    assert synth.block == 64
    synth.program(0, WOOD_BLOCK)
    before = np.frombuffer(synth.render(5), np.float32)
    synth.note_on(0, 76, 100)
    after = np.frombuffer(synth.render(5), np.float32).reshape(-1, 2)
    synth.close()
    assert float(np.abs(before).max()) < 1e-6
    assert np.argmax(np.abs(after).max(axis=1) > 1e-4) < 64


def test_a_channel_that_is_dry_has_no_reverb_at_all(soundfont: Path) -> None:
    """Against the same synth with its reverb switched off; controller 91 at 0 alone leaves some of it."""

    def bass(synth: OfflineSynth) -> None:
        synth.program(2, BASS)
        synth.note_on(2, 40, 100)

    def without_reverb(synth: OfflineSynth) -> None:
        switch = synth._library.fluid_synth_set_reverb_on
        switch.argtypes = [ctypes.c_void_p, ctypes.c_int]
        switch(synth._synth, 0)
        bass(synth)

    def dry(synth: OfflineSynth) -> None:
        synth.dry([2])
        bass(synth)

    def controlled(synth: OfflineSynth) -> None:
        synth.control(2, 91, 0)
        bass(synth)

    off = rendered(soundfont, without_reverb)
    loud = float(np.abs(off).max())
    assert float(np.abs(rendered(soundfont, dry) - off).max()) < loud * 1e-5
    assert float(np.abs(rendered(soundfont, controlled) - off).max()) > loud * 1e-3
    assert float(np.abs(rendered(soundfont, bass) - off).max()) > loud * 1e-2


def test_what_is_no_soundfont_is_told_in_one_line(tmp_path: Path, soundfont: Path) -> None:
    (tmp_path / "x.sf2").write_text("this is no soundfont")
    with pytest.raises(PortError, match=r"x\.sf2' is no soundfont that FluidSynth can read") as told:
        OfflineSynth(tmp_path / "x.sf2", rate=48_000)
    assert "\n" not in str(told.value)
