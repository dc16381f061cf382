"""What a page may ask for: each command read from untrusted JSON into what the front is told. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from introit.errors import IntroitError, did_you_mean
from introit.live.states import Ask, Order
from introit.performance import PARTS
from introit.units import TEMPO_MAX, TEMPO_MIN

MOST_TUNES: Final = 10_000
"""No index of a tune is as high; whether there is such a tune is the front's to say."""
ORDERS: Final = (
    Order.NEXT,
    Order.BACK,
    Order.TUNE,
    Order.ANOTHER_INTRO,
    Order.FASTER,
    Order.SLOWER,
    Order.FIRST_NOTE,
    Order.SOUND_CHECK,
    Order.SILENCE,
    Order.MUTE,
)
"""Those that make sense from a page. A level is the rig's, and a tempo can be said instead of tapped."""
AWAY: Final = "away"
"""A page that has a lesson open is not looked at any more; the stand says `close` where it was the last."""
MOST_BARS: Final = 999
_TONICS: Final = 12
_MUTES: Final = (1, 0, -1)
_SHOWN: Final = 40


class CommandError(IntroitError):
    """A page asked for what there is not; says what was given and what is allowed."""


def read_command(given: Any) -> dict[str, Any]:
    """The command as the front is told it: nothing in it that was not looked at.

    Raises:
        CommandError: in one plain sentence.
    """
    if not isinstance(given, Mapping):
        raise CommandError("A command is an object with 'do'.")
    does = given.get("do")
    if not isinstance(does, str) or does not in _READERS:
        raise CommandError(f"'do' is {_told(does)}; {_choices(does, _READERS)}")
    return {"do": does, **_READERS[does](given)}


def _nothing(given: Mapping[str, Any]) -> dict[str, Any]:
    _only(given)
    return {}


def _order(given: Mapping[str, Any]) -> dict[str, Any]:
    order = given.get("order")
    if not isinstance(order, str) or order not in ORDERS:
        raise CommandError(f"'order' is {_told(order)}; {_choices(order, ORDERS)}")
    if order == Order.TUNE:
        _only(given, "order", "value")
        return {"order": order, "value": _whole(given, "value", range(MOST_TUNES))}
    if order == Order.MUTE:
        _only(given, "order", "part", "value")
        part = given.get("part")
        if not isinstance(part, str) or part not in PARTS:
            raise CommandError(f"'part' is {_told(part)}; {_choices(part, PARTS)}")
        value = given.get("value", -1)
        if value not in _MUTES or isinstance(value, bool | float):
            raise CommandError(
                f"'value' is {_told(value)}; allowed is 1 to mute, 0 to play, -1 for the other."
            )
        return {"order": order, "part": part, "value": value}
    _only(given, "order")
    return {"order": order}


def _key(given: Mapping[str, Any]) -> dict[str, Any]:
    _only(given, "tonic", "minor")
    minor = given.get("minor")
    if minor is not None and not isinstance(minor, bool):
        raise CommandError(f"'minor' is {_told(minor)}; allowed is true, false or null.")
    return {"tonic": _whole(given, "tonic", range(_TONICS)), "minor": minor}


def _tempo(given: Mapping[str, Any]) -> dict[str, Any]:
    _only(given, "tempo")
    tempo = given.get("tempo")
    if isinstance(tempo, bool) or not isinstance(tempo, int | float) or not TEMPO_MIN <= tempo <= TEMPO_MAX:
        raise CommandError(f"'tempo' is {_told(tempo)}; allowed is {TEMPO_MIN:g} to {TEMPO_MAX:g}.")
    return {"tempo": float(tempo)}


def _lesson(given: Mapping[str, Any]) -> dict[str, Any]:
    ask, asks = given.get("ask"), (*Ask, AWAY)
    if not isinstance(ask, str) or ask not in asks:
        raise CommandError(f"'ask' is {_told(ask)}; {_choices(ask, asks)}")
    if ask != Ask.LOOP:
        _only(given, "ask")
        return {"ask": ask}
    _only(given, "ask", "first", "last")
    first, last = (_whole(given, name, range(1, MOST_BARS + 1)) for name in ("first", "last"))
    if first > last:
        raise CommandError(f"'first' is {first}, 'last' is {last}; the last bar is never before the first.")
    return {"ask": ask, "first": first, "last": last}


_READERS: Final[dict[str, Callable[[Mapping[str, Any]], dict[str, Any]]]] = {
    "down": _nothing,
    "up": _nothing,
    "order": _order,
    "key": _key,
    "tempo": _tempo,
    "lesson": _lesson,
}


def _only(given: Mapping[str, Any], *names: str) -> None:
    for name in given:
        if name not in names and name != "do":
            raise CommandError(f"{_told(name)} has no meaning with {_told(given['do'])}.")


def _whole(given: Mapping[str, Any], name: str, allowed: range) -> int:
    value = given.get(name)
    if isinstance(value, bool) or not isinstance(value, int) or value not in allowed:
        raise CommandError(f"{name!r} is {_told(value)}; allowed is {allowed[0]} to {allowed[-1]}.")
    return value


def _choices(given: object, allowed: Any) -> str:
    words = [str(word) for word in allowed]
    hint = did_you_mean(given[:_SHOWN], words) if isinstance(given, str) else ""
    return f"allowed is {', '.join(words)}.{' ' * bool(hint)}{hint}"


def _told(value: object) -> str:
    """What was given, cut short, since it comes from anybody."""
    if value is None:
        return "missing"
    if isinstance(value, str | int | float):
        text = ascii(value) if isinstance(value, str) else str(value)[: _SHOWN + 1]
        return text if len(text) <= _SHOWN else text[:_SHOWN] + "…"
    return "no plain value"
