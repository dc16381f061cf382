"""The page for the music stand, put together for an evening."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from introit.cli.stand_in import foot_of
from introit.live.events import Shown
from introit.live.setup import Setup

if TYPE_CHECKING:
    from introit.cli.front import Front
    from introit.cli.interlude import Interlude
    from introit.cli.repertoire import Repertoire, Rereader
    from introit.cli.screen import Screen
    from introit.cli.stand_front import StandFront, StandPlan
    from introit.cli.stand_lesson import Lessons
    from introit.cli.stand_set import StandSet
    from introit.cli.stand_teller import Arranged, FootWords
    from introit.library.model import Library
    from introit.library.stage import Rig
    from introit.live.keeper import Keeper


def page_of(
    plan: StandPlan,
    setup: Setup,
    keeper: Keeper,
    foot: FootWords,
    desk: Arranged,
    library: Library,
    repertoire: Repertoire | None,
    screen: Screen,
    lessons: Lessons | None,
    sets: StandSet | None,
    interlude: Interlude | None,
) -> StandFront:
    """The page for the music stand, not begun yet."""
    from introit.cli.stand_front import StandFront
    from introit.cli.stand_teller import Teller

    def order() -> Sequence[int]:
        return repertoire.order if repertoire else range(setup.tunes)

    def intro_name(name: str) -> str:
        intro = library.intros.get(name)
        return intro.name if intro else name

    def latency() -> int:
        return heard_after(setup, keeper.opened.latencies if keeper.opened else ())

    teller = Teller(foot, desk, order=order, intro_name=intro_name, latency=latency)
    return StandFront(
        plan, teller, foot_of(setup), say=screen.say, lessons=lessons, sets=sets, practice=interlude
    )


def set_of(
    rig: Rig, repertoire: Repertoire | None, rereader: Rereader | None, screen: Screen
) -> StandSet | None:
    """The set that pages may change; None where nothing names it."""
    if repertoire is None or rereader is None:
        return None
    from introit.cli.stand_set import StandSet

    return StandSet(repertoire, rereader, rig, screen.say)


def lessons_of(library: Library, repertoire: Repertoire | None) -> Lessons:
    """What the page teaches from."""
    from introit.cli.stand_lesson import Lessons

    return Lessons(lambda: repertoire.library if repertoire else library)


def heard_after(setup: Setup, latencies: Sequence[int]) -> int:
    """How many nanoseconds after it is due a note is heard, as the ports tell it: of several the latest.

    Args:
        setup: what each port is sent earlier by, for the same reason.
        latencies: of the ports, in their order; those that are not known yet are 0.
    """
    known = [*latencies, *[0] * (len(setup.ports) - len(latencies))]
    late = [known[index] - port.offset_ns for index, port in enumerate(setup.ports) if port.to is not None]
    return max([0, *late])


def told_too(
    on_shown: Callable[[Shown, Front], None] | None,
    page: StandFront | None,
    told: Callable[[Shown], Shown] | None = None,
) -> Callable[[Shown, Front], None] | None:
    """Whoever asked is told of everything shown, then the page, in the words that `told` gives."""
    if page is None:
        return on_shown

    def tell(shown: Shown, front: Front) -> None:
        if on_shown:
            on_shown(shown, front)
        page.show(told(shown) if told else shown)

    return tell
