"""What has become of a set, in a few words: which tunes came, went, were moved or changed. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from introit.library.model import Tune

_MOST = 3
"""So many things are told; then it is how many more there are."""


def told_news(before: Sequence[Tune], now: Sequence[Tune]) -> str:
    """The difference of two sets, joined by semicolons; empty where there is none.

    A tune is known by its id, and among those of one id by its turn.
    """
    old, new = _named(before), _named(now)
    said = [f"“{old[name].title}” is gone" for name in old if name not in new]
    said += [f"“{new[name].title}” is new" for name in new if name not in old]
    stayed = [name for name in new if name in old]
    if stayed != [name for name in old if name in new]:
        first = next(
            name for name, was in zip(stayed, (n for n in old if n in new), strict=True) if name != was
        )
        said.append(f"“{new[first].title}” is number {list(new).index(first) + 1} now")
    for name in stayed:
        said += _changes(old[name], new[name])
    more = [f"{len(said) - _MOST} more"] if len(said) > _MOST else []
    return "; ".join([*said[:_MOST], *more])


def _named(tunes: Sequence[Tune]) -> dict[tuple[str, int], Tune]:
    found: dict[tuple[str, int], Tune] = {}
    for tune in tunes:
        turn = sum(1 for name, _ in found if name == tune.id)
        found[tune.id, turn] = tune
    return found


def _changes(old: Tune, new: Tune) -> list[str]:
    if old == new:
        return []
    said = []
    if old.key != new.key:
        said.append(f"“{new.title}” is in {new.key} now")
    if old.tempo != new.tempo:
        said.append(f"“{new.title}” goes at {new.tempo:g} now")
    return said or [f"“{new.title}” is played otherwise now"]
