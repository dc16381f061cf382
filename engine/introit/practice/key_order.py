"""In which order the keys come: every key once a round, however the round goes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import count
from random import Random

from introit.errors import UsageError
from introit.practice.goal import Keys, Order
from introit.theory.key import Key, Mode

_STEPS = {
    Order.FOURTHS: 5,
    Order.FIFTHS: 7,
    Order.HALF_STEPS: 1,
    Order.HALF_STEPS_DOWN: 11,
    Order.WHOLE_STEPS: 2,
    Order.WHOLE_STEPS_DOWN: 10,
    Order.MINOR_THIRDS: 3,
}
"""Semitones up from a key to the next; whole steps and minor thirds close before all twelve have come, and go
on a half step above where they began."""
OCTAVE = 12


def rounds(keys: Keys, start: Key, modes: Sequence[Mode], *, seed: int = 0) -> Iterator[tuple[Key, ...]]:
    """Round after round of keys, each key once a round; it never ends.

    A round begins in the tune's own key where that is among them, else with the first that comes after it. At
    random, no round begins with the key that ended the one before, where there is more than one.

    Args:
        keys: which, and in what order.
        start: the tune's own key.
        modes: in which the intro can be played, from one.
        seed: of the random order.

    Raises:
        UsageError: when the intro can be played in none of the keys that are asked for.
    """
    order = _one_round(keys, start, modes)
    if keys.order is not Order.RANDOM:
        return (order for _ in count())
    return _shuffled(order, Random(f"keys {seed}"))


def circle(order: Order, start: int) -> list[int]:
    """The twelve pitch classes in an order, from one of them; each once.

    Args:
        order: any but `as given`; at random they come by half steps, to be shuffled.
        start: pitch class, C = 0.
    """
    step = _STEPS.get(order, 1)
    found: list[int] = []
    while len(found) < OCTAVE:
        pitch_class = (found[-1] + step if found else start) % OCTAVE
        while pitch_class in found:  # the circle has closed: the next one begins beside where it began
            pitch_class = (pitch_class + 1) % OCTAVE
        found.append(pitch_class)
    return found


def _one_round(keys: Keys, start: Key, modes: Sequence[Mode]) -> tuple[Key, ...]:
    own = {(key.tonic.pitch_class, key.mode): key for key in (start, *reversed(keys.own))}
    wanted = _modes(keys, start, modes)
    asked = {(key.tonic.pitch_class, key.mode) for key in keys.own}
    if keys.order is Order.AS_GIVEN:
        names = list(dict.fromkeys((key.tonic.pitch_class, key.mode) for key in keys.own))
    else:
        names = [(pitch, mode) for mode in wanted for pitch in circle(keys.order, start.tonic.pitch_class)]
        names = [name for name in names if not asked or name in asked]
    found = [own.get(name) or Key.from_pitch_class(*name) for name in names if name[1] in wanted]
    if not found:
        there = " and ".join(mode.value for mode in modes)
        raise UsageError(
            f"none of the keys that are asked for ({', '.join(map(str, keys.own))}) can be practised: "
            f"the intro has forms for {there}"
        )
    return tuple(found)


def _modes(keys: Keys, start: Key, there: Sequence[Mode]) -> list[Mode]:
    """The modes that are practised, as far as the intro has forms for them.

    Those asked for; else those of the player's own keys; else the tune's own.
    """
    asked = list(keys.modes) or sorted({key.mode for key in keys.own}, key=lambda mode: mode != start.mode)
    asked = asked or [start.mode]
    if keys.modes and not set(keys.modes) & set(there):
        has = " and ".join(mode.value for mode in there)
        wanted = " or ".join(mode.value for mode in keys.modes)
        raise UsageError(f"the intro has no {wanted} form for this tune; it has: {has}")
    return [mode for mode in asked if mode in there]


def _shuffled(order: tuple[Key, ...], dice: Random) -> Iterator[tuple[Key, ...]]:
    before: Key | None = None
    while True:
        keys = list(order)
        dice.shuffle(keys)
        if keys[0] == before and len(keys) > 1:
            other = dice.randrange(1, len(keys))
            keys[0], keys[other] = keys[other], keys[0]
        before = keys[-1]
        yield tuple(keys)
