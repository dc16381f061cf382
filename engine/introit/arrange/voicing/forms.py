"""Forms of a chord: tones that tell it, stacked, each with its family and its price; the root on 0.

What is worked out here holds in all twelve keys. Prices are judgement, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

from introit.arrange.voicing.cost import stack_price
from introit.arrange.voicing.material import UNTOLD, Material
from introit.arrange.voicing.shapes import OCTAVE, Stack, family_of, fourths, is_clean, stacks, stacks_over
from introit.arrange.voicing.strings import ROOTED_SHELLS, Strings, string_sets

FULL = 4
"""Voices of a full chord; five and six only where a wish allows them."""
_SETS_KEPT = {1: 2, 2: 4, 3: 12, 4: 14}
_SETS_WITHOUT_GUIDE = 3
"""Sets of tones that are stacked, cheapest first, by how many tones they have; and of those without a guide
tone, which are for a melody that clashes with it."""

VOICE_PRICE = {1: 20.0, 2: 12.0, 3: 0.6, 4: 0.0, 5: 2.0}
"""By voices: a chord gives way to its guide tones, and these to one of them, before a wish for the top."""
_PLAIN_SHELL = 2.2
"""Of the guide tones alone, which are no makeshift: the plainest shell there is over a bass."""
_MISSING_COLOUR = 4.0
_MISSING_GUIDE, _MISSING_IN_FOURTHS = 7.0, 1.5
"""A stack of fourths may miss one guide tone: the bass helps to tell it."""
_FAMILIAR = 4.0
_UNROOTED, _UNROOTED_DOMINANT = 3.0, 1.0
"""Over a foreign bass."""
_LONE_FIFTH = 0.5
"""A fifth as the only tone beside the guide tones: it tells nothing."""
_FAMILY_PRICE = {
    "guitar": {"shell": 0.2, "rootless": 0.0, "drop 2": 0.2, "drop 3": 0.4, "quartal": 0.5, "spread": 1.0},
    "keys": {"rootless": 0.0, "shell": 0.2, "close": 0.3, "drop 2": 0.5, "quartal": 0.5, "spread": 1.0},
}
_OTHER_FAMILY = 0.6


class Layout(NamedTuple):
    """What decides which forms there are, beside the chord.

    Attributes:
        strings: of the guitar, 6 or 7; 0 on keys.
        bass_in_grip: True where the lowest voice is the chord's bass note.
        most_voices: 4, or 5 and more where upper structures may be full.
    """

    strings: int
    bass_in_grip: bool
    most_voices: int = FULL


class Form(NamedTuple):
    """One form of a chord, with its root on 0.

    Attributes:
        stack: semitones from the root, rising; the lowest is 0 to 11.
        family: of `shapes.FAMILIES`.
        price: of its tones, its family and its gaps.
        plain: True for a shell of root, third and seventh (or what stands for them) and nothing else.
        tensions: how many.
        strings: string sets it may lie on; one empty one on keys.
    """

    stack: Stack
    family: str
    price: float
    plain: bool
    tensions: int
    strings: tuple[Strings, ...]


@lru_cache(maxsize=2048)
def forms_of(material: Material, layout: Layout) -> tuple[Form, ...]:
    """Every form of a chord.

    Args:
        material: the chord's, with its root on 0.
        layout: the instrument, and whether the bass note is in the grip.
    """
    if layout.bass_in_grip:
        fillers = tuple(filler for filler in material.fillers if filler[0] != material.bass)
        material = material._replace(fillers=fillers)
    found: dict[Stack, Form] = {}
    for tones, price in _tone_sets(material, layout):
        for stack in _stacked(tones, material, layout):
            _add(found, stack, price, material, layout)
    for stack, price in _fourths(material, layout):
        _add(found, stack, price, material, layout)
    for stack, price in _upper_structures(material, layout):
        _add(found, stack, price, material, layout)
    return tuple(found.values())


def _add(found: dict[Stack, Form], stack: Stack, price: float, material: Material, layout: Layout) -> None:
    if layout.bass_in_grip and stack[0] != material.bass:
        return
    if not is_clean(stack, material, bass_in_grip=layout.bass_in_grip):
        return
    family = family_of(stack, material, bass_in_grip=layout.bass_in_grip)
    if family is None or (stack in found and found[stack].price <= price):
        return
    strings = _strings(stack, family, material, layout)
    if strings:
        families = _FAMILY_PRICE["guitar" if layout.strings else "keys"]
        total = price + families.get(family, _OTHER_FAMILY)
        total += stack_price(stack, material, bass_in_grip=layout.bass_in_grip)
        if stack not in found or total < found[stack].price:
            tones = {tone % 12 for tone in stack}
            comp = {tone % 12 for tone in stack[1:]} if layout.bass_in_grip else tones
            plain = (family == "shell" and _is_plain(tones, material)) or (
                len(stack) == 3 and _is_plain(comp, material)
            )
            found[stack] = Form(stack, family, total, plain, len(tones & material.tensions), strings)


def _tone_sets(material: Material, layout: Layout) -> Iterator[tuple[tuple[int, ...], float]]:
    """Tones with their prices, cheapest first of each number; without the bass where it is in the grip."""
    bass = int(layout.bass_in_grip)
    for count in range(FULL, 0, -1):
        for missing in range(len(material.guides) + 1):
            sets = sorted(_sets_of(count - bass, material, missing), key=lambda item: item[1])
            for tones, price in sets[: _SETS_WITHOUT_GUIDE if missing else _SETS_KEPT[count]]:
                yield tones, price + _thickness(count, tones, material, layout)


def _thickness(count: int, tones: tuple[int, ...], material: Material, layout: Layout) -> float:
    guides = set(material.guides) <= set(tones)
    if count == 2 and _is_plain(set(tones), material) and not layout.bass_in_grip:
        return _PLAIN_SHELL
    fifth = count == 3 and guides and material.fifth in tones and not layout.bass_in_grip
    return VOICE_PRICE[count] + _LONE_FIFTH * (fifth and len(material.guides) > 1)


def _sets_of(count: int, material: Material, missing: int) -> Iterator[tuple[tuple[int, ...], float]]:
    """Guide tones but for so many, colours of the chord's name, the cheapest of the rest; `count` in all."""
    kept = len(material.guides) - missing
    for guides in combinations(material.guides, kept) if kept <= count else ():
        for named in range(min(count - kept, len(material.colours)), -1, -1):
            unnamed = min(len(material.colours), FULL - kept) - named
            price = _MISSING_GUIDE * missing + _MISSING_COLOUR * unnamed
            for colours in combinations(material.colours, named):
                dull = _FAMILIAR * (bool(material.familiar) and material.familiar == set(colours))
                yield from _filled((*guides, *colours), count, material, price=price + dull)


def _filled(
    tones: tuple[int, ...], count: int, material: Material, *, price: float
) -> Iterator[tuple[tuple[int, ...], float]]:
    for fill in combinations(material.fillers, count - len(tones)):
        chosen = (*tones, *(tone for tone, _ in fill))
        if len(set(chosen)) < count or material.has_two_fifths(chosen):
            continue
        rootless = material.root not in chosen and material.bass != material.root
        unrooted = _UNROOTED_DOMINANT if material.flat_nine else _UNROOTED
        untold = UNTOLD * (not material.is_told_by(chosen))
        yield chosen, price + sum(cost for _, cost in fill) + unrooted * rootless + untold


def _stacked(tones: tuple[int, ...], material: Material, layout: Layout) -> Iterable[Stack]:
    if not layout.bass_in_grip:
        return stacks(tones)
    return stacks_over(material.bass, tones) if tones else [(material.bass,)]


def _fourths(material: Material, layout: Layout) -> Iterator[tuple[Stack, float]]:
    if not material.quartal:
        return
    prices = dict(material.fillers) | dict.fromkeys((*material.guides, *material.colours), 0.0)
    if layout.bass_in_grip:
        prices[material.bass] = 0.0
    for count in (3, 4):
        for stack in fourths(frozenset(prices), count):
            tones = {tone % 12 for tone in stack}
            missing = len(set(material.guides) - tones)
            if missing < max(1, len(material.guides)) and len(tones) == count:
                price = (
                    VOICE_PRICE[count] + sum(prices[tone] for tone in tones) + _MISSING_IN_FOURTHS * missing
                )
                yield stack, price + _MISSING_COLOUR * len(set(material.colours) - tones)


def _upper_structures(material: Material, layout: Layout) -> Iterator[tuple[Stack, float]]:
    """Five voices: the guide tones and a triad over them."""
    if layout.most_voices <= FULL or layout.bass_in_grip or len(material.guides) < 2:
        return
    prices = dict(material.fillers) | dict.fromkeys(material.colours, 0.0) | {material.root: 0.0}
    for low, high in (material.guides, material.guides[::-1]):
        shell = (low, low + (high - low) % 12)
        for triad in combinations(sorted(prices), 3):
            price = VOICE_PRICE[5] + sum(prices[tone] for tone in triad)
            price += _MISSING_COLOUR * len(set(material.colours) - set(triad))
            price += UNTOLD * (not material.is_told_by({*material.guides, *triad}))
            if material.has_two_fifths(triad):
                continue
            for over in stacks_over(shell[1], triad):
                yield (shell[0], *over), price


def _strings(stack: Stack, family: str, material: Material, layout: Layout) -> tuple[Strings, ...]:
    if not layout.strings:
        return ((),) if family != "drop 3" else ()
    if len(stack) >= FULL and stack[-1] - stack[0] < OCTAVE:
        return ()  # close form belongs to keys
    rooted = layout.bass_in_grip and material.bass == material.root
    if rooted and family == "shell" and len(stack) == 3 and _has_both_guides(stack, material):
        return ROOTED_SHELLS[_order(stack, material)]
    return string_sets(family, len(stack), layout.strings, bass_in_grip=layout.bass_in_grip)


def _has_both_guides(stack: Stack, material: Material) -> bool:
    return len(material.guides) == 2 and {tone % 12 for tone in stack[1:]} == set(material.guides)


def _order(stack: Stack, material: Material) -> str:
    return "1-3-7" if stack[1] % 12 == material.guides[0] else "1-7-3"


def _is_plain(tones: set[int], material: Material) -> bool:
    """Whether tones are those of a shell and nothing else; a half-diminished chord's has its flat five."""
    telling = set() if material.telling is None else {material.telling}
    own = {*material.guides, *telling}
    return bool(material.guides) and len(tones) > 1 and own <= tones <= {*own, material.root}
