"""How the player leads an intro with the foot: what a tune says of it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Leading:
    """How the player leads an intro.

    Attributes:
        tapped: the count-off is tapped, and the tempo with it.
        vamp: the intro goes round until the nod.
        once_more: the player may ask for another round while it plays, or for the last bar.
        hold: the last dominant waits for the player's breath; where there is none, the last chord does.
        colla_voce: bars from the first that are played out of time, a press a chord; 0 for none.
        tapped_on: a bar is tapped before time goes on after a wait, and with it the tempo.
    """

    tapped: bool = False
    vamp: bool = False
    once_more: bool = False
    hold: bool = False
    colla_voce: int = 0
    tapped_on: bool = False
