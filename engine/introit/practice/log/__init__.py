"""The practice log: every pass that was played, in one SQLite file of the user's own.

    with PracticeLog.open(say) as log:
        log.add(Played(began, seconds, intro="dominant-vamp", key=key, tempo=120, clean=True))

Whoever practises needs no more than these two; views, homework and export read the same file.
"""

from introit.practice.log.keeper import PracticeLog
from introit.practice.log.played import Played

__all__ = ["Played", "PracticeLog"]
