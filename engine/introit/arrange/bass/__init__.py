"""The bass: a manner laid over the plan (`line`), or a pedal point (`pedal`)."""

from introit.arrange.bass.line import bass_notes
from introit.arrange.bass.pedal import pedal_notes

__all__ = ["bass_notes", "pedal_notes"]
