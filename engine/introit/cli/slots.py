"""Where the tunes of a set stand for the player, who counts them: a place is kept while its tune is there."""

from __future__ import annotations

from collections.abc import Sequence

from introit.library.model import Tune

Slots = list[Tune | None]
"""By the number that the player counts; None where a tune was taken out."""


def kept_slots(slots: Sequence[Tune | None], tunes: Sequence[Tune]) -> Slots:
    """The tunes of a set that was saved, in the slots of the set before.

    A tune that was taken out leaves its slot empty, another one in its place takes it over, and new ones at
    the end get slots of their own. Where tunes have changed places, or a new one stands between them, all
    are counted anew.

    Args:
        slots: as they were.
        tunes: of the set as it is now.

    Returns:
        Without empty slots at the end.
    """
    found: Slots = []
    names = [None if slot is None else slot.id for slot in slots]
    left = list(tunes)
    for number, name in enumerate(names):
        later = names[number + 1 :]
        if not left:
            break
        if left[0].id == name or not (left[0].id in later or _is_in(name, left)):
            found.append(left.pop(0))
        elif _is_in(name, left):
            return list(tunes)
        else:
            found.append(None)
    return found + left


def _is_in(name: str | None, tunes: Sequence[Tune]) -> bool:
    return any(tune.id == name for tune in tunes)
