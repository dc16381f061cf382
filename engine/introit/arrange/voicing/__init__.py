"""Voicings for the comp: what may be played (`candidates`), its price (`cost`), the best path (`path`)."""

from introit.arrange.voicing.path import voice_plan

__all__ = ["voice_plan"]
