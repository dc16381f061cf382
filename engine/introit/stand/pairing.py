"""The pairing code: short-lived, used once, few guesses. Pure: times are passed in, in seconds."""

from __future__ import annotations

import hmac
import re
from dataclasses import dataclass
from typing import Final

from introit.stand.rates import Rate, Rates

LIFE_SECONDS: Final = 300.0
"""How long a code is good for."""
GUESSES: Final = 5
"""After so many wrong ones, whoever makes them, a code is good for nothing."""
_BY_ADDRESS: Final = Rate(3, 1 / 30)
"""Tries of one address, so that none alone uses up a code at once."""
_CODE: Final = re.compile(r"[0-9]{6,12}", re.ASCII)


class PairingError(Exception):
    """A guess was wrong, or came too soon.

    Attributes:
        too_soon: True where the code was not even looked at.
    """

    def __init__(self, sentence: str, *, too_soon: bool = False) -> None:
        super().__init__(sentence)
        self.too_soon = too_soon


@dataclass
class _Offer:
    code: str
    view: bool
    until: float
    guesses: int = GUESSES


class Pairing:
    """One code at a time."""

    def __init__(self) -> None:
        self._offer: _Offer | None = None
        self._tries = Rates(_BY_ADDRESS)
        self._gone = ""

    def offer(self, code: str, now: float, *, view: bool) -> None:
        """Accepts this code from now on, in place of any before.

        Raises:
            ValueError: if it is not of 6 to 12 digits.
        """
        if not _CODE.fullmatch(code):
            raise ValueError("a pairing code has 6 to 12 digits")
        self._offer, self._gone = _Offer(code, view, now + LIFE_SECONDS), ""

    def withdraw(self) -> None:
        """Accepts no code until another is offered."""
        self._offer, self._gone = None, ""

    def take_gone(self) -> str:
        """Why the code is gone, told once: `used`, `guessed` (too often wrong) or `old`; else empty."""
        gone, self._gone = self._gone, ""
        return gone

    def age(self, now: float) -> None:
        """Lets a code go that has had its time."""
        if self._offer is not None and now >= self._offer.until:
            self._offer, self._gone = None, "old"

    def guess(self, text: str, address: str, now: float) -> bool:
        """Uses up the code where the guess is right; returns whether it is for viewing only.

        Args:
            text: what was typed; spaces and hyphens are passed over.
            address: where it comes from.
            now: in seconds.

        Raises:
            PairingError: in one plain sentence, the same for a wrong code as for one that was good.
        """
        self.age(now)
        if not self._tries.allows(address, now):
            raise PairingError("That was too often. Wait half a minute.", too_soon=True)
        typed = re.sub(r"[\s-]", "", text)
        if self._offer is None or not _CODE.fullmatch(typed) or not self._is_right(self._offer, typed):
            raise PairingError("That code is not good, or not any more. The terminal shows a new one.")
        view = self._offer.view
        self._offer, self._gone = None, "used"
        return view

    def _is_right(self, offer: _Offer, typed: str) -> bool:
        if hmac.compare_digest(typed, offer.code):
            return True
        offer.guesses -= 1
        if offer.guesses == 0:
            self._offer, self._gone = None, "guessed"
        return False
