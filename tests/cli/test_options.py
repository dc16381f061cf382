"""The stage that a tune and a rig make together."""

from __future__ import annotations

from dataclasses import replace

from introit.arrange.line_up import ClickSound
from introit.cli.staging import stage_for
from introit.library.model import Library
from introit.library.stage import CLICK_SOUNDS, RigGuitar


def test_a_rig_and_the_arranger_use_the_same_words() -> None:
    assert tuple(CLICK_SOUNDS) == tuple(ClickSound)


def test_the_click_is_the_rigs_and_has_every_beat_where_there_is_no_rig(library: Library) -> None:
    tune = next(iter(library.tunes.values()))
    assert stage_for(tune).click is ClickSound.BEATS
    shared = library.rigs["default"]
    assert stage_for(tune, shared).click is ClickSound.TWO_AND_FOUR
    guitar = RigGuitar((40, 45, 50, 55, 59, 64), capo=0, highest_fret=20, plucking="pick")
    assert stage_for(tune, replace(shared, guitar=guitar)).click is ClickSound.TWO_AND_FOUR
    assert stage_for(tune, library.rigs["hardware-synth"]).click is ClickSound.BEATS
