"""Shapes: the ways to stack a few tones, and the family that a stack belongs to. Semitones only, no key.

Close positions have their tones within an octave. Drop 2 takes the second voice from the top down an octave,
drop 3 the third ([DV1], [DV2]). The rootless forms are 3-5-7-9 and 7-9-3-5, with 13 for 5 on
dominants ([RL]); on guitar they are played as their drop 2, for four close tones do not lie under a hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

from introit.arrange.voicing.material import Material

OCTAVE = 12
FAMILIES = ("shell", "drop 2", "drop 3", "rootless", "quartal", "spread", "upper structure", "close")
"""Every family that is found here; `bell` has a module of its own."""

FOURTH = 5
_FOURTHS = frozenset({FOURTH, FOURTH + 1})
_TRIADS = frozenset({(4, 3), (3, 5), (5, 4), (3, 4), (4, 5), (5, 3)})
"""Gaps of major and minor triads in close position, with each tone at the bottom."""
_TENSIONS_OF_UPPER_STRUCTURE = 2
_WIDEST_SHELL, _WIDEST_ROOTLESS_SHELL = 17, 14
"""Semitones of a shell with its bass, such as 1-7-3, and of one without; wider is spread."""
_LOW_GAP = 8
"""Semitones from the bass of a spread of four to what lies over it: a sixth, or more."""

Stack = tuple[int, ...]
"""Semitones from the chord's root, rising; the lowest is 0 to 11."""


def stacks(tones: Sequence[int]) -> Iterator[Stack]:
    """Every stack of distinct tones that has a name: close, open, drop 2, drop 3, the lowest dropped.

    Args:
        tones: 0 to 11 above the root, in any order.
    """
    rising = sorted(tones)
    for turn in range(len(rising)):
        close = (*rising[turn:], *(tone + OCTAVE for tone in rising[:turn]))
        yield close
        for voice in range(len(close) - 1):
            yield _grounded(sorted((*close[:voice], close[voice] - OCTAVE, *close[voice + 1 :])))


def stacks_over(bass: int, tones: Sequence[int]) -> Iterator[Stack]:
    """Every stack of distinct tones in close position, or of two, over a bass note, and an octave higher.

    Args:
        bass: 0 to 11 above the root, not among the tones.
        tones: 0 to 11 above the root.
    """
    rising = sorted(tones)
    for turn in range(len(rising)):
        close = (*rising[turn:], *(tone + OCTAVE for tone in rising[:turn]))
        lift = bass + (close[0] - bass) % OCTAVE - close[0]
        for octave in (0, OCTAVE):
            yield (bass, *(tone + lift + octave for tone in close))
        if len(close) == 1:
            return


def fourths(tones: frozenset[int], count: int) -> Iterator[Stack]:
    """Every stack of perfect fourths from the tones, one of them augmented at most."""
    for start in sorted(tones):
        for wide in range(count):  # 0: none of them
            gaps = [FOURTH + (place == wide) for place in range(1, count)]
            stack = tuple(start + sum(gaps[:place]) for place in range(count))
            if {tone % OCTAVE for tone in stack} <= tones:
                yield stack


def is_clean(stack: Stack, material: Material, *, bass_in_grip: bool = False) -> bool:
    """No minor ninth between voices but over a tone that may bear it, and no #9 in the third's lap.

    A dominant's #9 lies over its third by a major seventh, or it is heard as a wrong third. A pedal point in
    the bass of the grip bears a minor ninth; the same note higher up does not.

    Args:
        stack: of a chord with its root on 0.
        material: the chord's, with its root on 0.
        bass_in_grip: True where the lowest voice is the chord's bass note.
    """
    held = stack[0] if bass_in_grip and material.pedal else None
    for low, high in combinations(stack, 2):
        apart = high - low
        if apart in (13, 25, 37) and low != held and not material.may_rub(low):
            return False
        if material.flat_nine and apart == 1 and low % OCTAVE == 3:
            return False
    return True


def family_of(stack: Stack, material: Material, *, bass_in_grip: bool = False) -> str | None:
    """The family of a stack; None where no family has it.

    Args:
        stack: of a chord with its root on 0.
        material: the chord's, with its root on 0.
        bass_in_grip: True where the lowest voice is the chord's bass note.
    """
    tones = {tone % OCTAVE for tone in stack}
    if len(stack) <= 3:
        return _small_family(stack, material, tones, bass_in_grip=bass_in_grip)
    if _is_upper_structure(stack, material, tones):
        return "upper structure"
    if len(stack) > 4:
        return None
    closed = _closed(stack)
    dropped = closed.index(min(closed)) if closed else None
    if closed and dropped != 1 and _is_rootless(closed, material):
        return "rootless"
    if _is_quartal(stack, material):
        return "quartal"
    if closed is None:
        return "spread" if stack[1] - stack[0] >= _LOW_GAP and stack[3] - stack[1] <= OCTAVE else None
    return ("close", "drop 3", "drop 2")[closed.index(min(closed))]


def _closed(stack: Stack) -> list[int] | None:
    """A stack of four as the close position that it was dropped from, its dropped voice left low.

    The voices are in the close position's order; None where one octave does not bring it about.
    """
    if stack[3] - stack[0] < OCTAVE:
        return list(stack)
    lifted = stack[0] + OCTAVE
    if stack[3] - stack[1] >= OCTAVE or not stack[1] < lifted < stack[3]:
        return None
    place = 1 if lifted < stack[2] else 2
    return [*stack[1 : place + 1], stack[0], *stack[place + 1 :]]


def _is_rootless(close: Sequence[int], material: Material) -> bool:
    """3-5-7-9 or 7-9-3-5: guide tones first and third, ninth and fifth (or thirteenth) between and over."""
    tones = [tone % OCTAVE for tone in close]
    if len(material.guides) < 2 or 0 in tones:
        return False
    third, seventh = material.guides
    if (tones[0], tones[2]) == (third, seventh):
        fifth, ninth = tones[1], tones[3]
    elif (tones[0], tones[2]) == (seventh, third):
        ninth, fifth = tones[1], tones[3]
    else:
        return False
    return ninth in (1, 2, 3) and fifth in (6, 7, 8, 9)


def _is_quartal(stack: Stack, material: Material) -> bool:
    """Fourths, one of them augmented at most, with a guide tone among them."""
    gaps = [high - low for low, high in pairwise(stack)]
    if not (material.quartal and len(stack) > 2 and _FOURTHS.issuperset(gaps)):
        return False
    return gaps.count(FOURTH + 1) < 2 and any(tone % OCTAVE in material.guides for tone in stack)


def _is_upper_structure(stack: Stack, material: Material, tones: set[int]) -> bool:
    """A close triad of tensions on top, the guide tones below it or, one of them, within it."""
    top = stack[-3:]
    if (top[1] - top[0], top[2] - top[1]) not in _TRIADS or not set(material.guides) <= tones:
        return False
    if not {tone % OCTAVE for tone in stack[:-3]} <= {*material.guides, material.bass}:
        return False
    tense = [tone % OCTAVE for tone in top if tone % OCTAVE in material.tensions]
    coloured = material.flat_nine or bool(set(tense) & {5, 6})
    return coloured and len(tense) >= _TENSIONS_OF_UPPER_STRUCTURE and bool(set(tense) & {1, 3, 5, 6, 8})


def _small_family(stack: Stack, material: Material, tones: set[int], *, bass_in_grip: bool) -> str:
    """Shell, quartal or spread, for three voices or fewer."""
    whole = set(material.guides) <= tones
    bare = tones <= {*material.guides, material.root}
    if _is_quartal(stack, material) and not bare and (not whole or stack[-1] - stack[0] == 2 * FOURTH):
        return "quartal"
    widest = OCTAVE - 1
    if whole and len(material.guides) > 1:
        widest = _WIDEST_SHELL if bass_in_grip else _WIDEST_ROOTLESS_SHELL
    return "shell" if stack[-1] - stack[0] <= widest or len(stack) < 3 else "spread"


def _grounded(stack: Sequence[int]) -> Stack:
    """A stack moved by octaves until its lowest tone is 0 to 11."""
    down = stack[0] // OCTAVE * OCTAVE
    return tuple(tone - down for tone in stack)
