"""The bass: a manner laid over the plan (`manner`), or a pedal point."""

from introit.arrange.bass.manner import bass_notes, pedal_notes

__all__ = ["bass_notes", "pedal_notes"]
