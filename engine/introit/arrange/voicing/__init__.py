"""Voicings: what may be played (`candidates`), its price (`cost`), the best path through all (`path`)."""

from introit.arrange.voicing.hits import Hits
from introit.arrange.voicing.path import voice
from introit.arrange.voicing.voicing import Voicing
from introit.arrange.voicing.wish import Wish

__all__ = ["Hits", "Voicing", "Wish", "voice"]
