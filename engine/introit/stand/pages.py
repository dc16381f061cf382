"""The pages that are open, and which of them holds the foot-switch down. Pure: times in seconds of any clock.

There is one foot-switch. The page that pressed it is the one that lets it go; where that page is gone, the
stand lets it go for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

MOST: Final = 64
"""How many pages may be open, all devices together."""
MOST_OF_ONE: Final = 8
"""How many of one device; a browser opens no more than six streams to one place."""
UNSEEN_SECONDS: Final = 2.0
"""So long a page without an event stream may hold the switch: nobody would tell when it is gone."""
HERE: Final = "here"
"""Key of whoever sits at the machine, where nobody else can come: theirs is the limit of all together."""


@dataclass(frozen=True, slots=True)
class Page:
    """A page in a browser.

    Attributes:
        who: `Visitor.key` of its device.
        name: what it calls itself; empty where it does not.
    """

    who: str
    name: str = ""


class Pages:
    """Keeps count of streams and of the switch."""

    def __init__(self) -> None:
        self._streams: dict[Page, int] = {}
        self._holder: Page | None = None
        self._since = 0.0
        self._lessons: set[Page] = set()

    @property
    def count(self) -> int:
        """How many streams are open."""
        return sum(self._streams.values())

    @property
    def holder(self) -> Page | None:
        """Who holds the switch down."""
        return self._holder

    def open(self, page: Page) -> bool:
        """Counts a stream; False where there are too many, and it is not to be opened."""
        of_one = sum(count for other, count in self._streams.items() if other.who == page.who)
        if self.count >= MOST or (of_one >= MOST_OF_ONE and page.who != HERE):
            return False
        self._streams[page] = self._streams.get(page, 0) + 1
        return True

    def is_open(self, page: Page) -> bool:
        """Whether any stream of a page is."""
        return page in self._streams

    def close(self, page: Page) -> bool:
        """A stream has ended; True where the switch is to be let go for its page."""
        left = self._streams.pop(page, 0) - 1
        if left > 0:
            self._streams[page] = left
        return left <= 0 and self._let_go(page)

    def open_lesson(self, page: Page) -> None:
        """A page has a lesson open, and is looked at."""
        self._lessons.add(page)

    def close_lessons(self) -> None:
        """Somebody has closed it, for all pages."""
        self._lessons.clear()

    def leave_lesson(self, page: Page) -> bool:
        """A page is not looked at any more, or gone; True where it was the last that had the lesson open."""
        if page not in self._lessons:
            return False
        self._lessons.discard(page)
        return not self._lessons

    def down(self, page: Page, now: float) -> bool:
        """A page presses the switch; False where it is down already."""
        if self._holder is not None:
            return False
        self._holder, self._since = page, now
        return True

    def up(self, page: Page) -> bool:
        """A page lets the switch go; False where it does not hold it."""
        return self._let_go(page)

    def overdue(self, now: float) -> bool:
        """Whether the switch is to be let go because its page cannot be seen; it counts as let go then."""
        holder = self._holder
        if holder is None or holder in self._streams or now < self._since + UNSEEN_SECONDS:
            return False
        return self._let_go(holder)

    def _let_go(self, page: Page) -> bool:
        if self._holder != page:
            return False
        self._holder = None
        return True
