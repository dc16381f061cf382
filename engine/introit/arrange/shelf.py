"""What the library has for a plan: its feel, and the first rhythm or manner that fits the meter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol, TypeVar

from introit.arrange.form import ArrangeError
from introit.arrange.plan import Plan
from introit.errors import did_you_mean
from introit.library.model import Feel, Library, Tune
from introit.theory.meter import Meter


class _ForMeters(Protocol):
    @property
    def meters(self) -> tuple[Meter, ...]: ...


_Rhythm = TypeVar("_Rhythm", bound=_ForMeters)


def feel_of(tune: Tune, library: Library) -> Feel:
    """The tune's feel.

    Raises:
        ArrangeError: when the library has none of that name.
    """
    feel = library.feels.get(tune.feel)
    if feel is None:
        raise ArrangeError(
            f"no feel {tune.feel!r} in the library. {did_you_mean(tune.feel, library.feels)}".strip()
        )
    return feel


def first_fitting(
    plan: Plan, names: Sequence[str | None], shelf: Mapping[str, _Rhythm], *, what: str
) -> _Rhythm:
    """The first named thing that is in the library and written for the meter; a name may be None.

    Raises:
        ArrangeError: when there is none.
    """
    for name in names:
        found = shelf.get(name) if name else None
        if found is not None and plan.meter in found.meters:
            return found
    tried = ", ".join(name for name in names if name) or "none"
    where = f"{plan.meter} in feel {plan.tune.feel!r}"
    raise ArrangeError(f"intro {plan.intro.id!r}: no {what} for {where}; tried: {tried}")
