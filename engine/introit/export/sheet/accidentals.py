"""Which notes of a bar show an accidental: those that the signature, or the bar so far, would have otherwise.

No source but common practice: an accidental holds for its own line or space up to the bar line, and what it
is no longer is told in other octaves, too; what is tied over a bar line shows none, and tells what follows
nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from introit.export.sheet.model import Clef, Event, Head, SheetPart, Voice
from introit.theory.key import Key
from introit.theory.pitch import Tone

_State = dict[tuple[str, int], int]
_Place = tuple[int, int]


def with_accidentals(part: SheetPart, key: Key) -> SheetPart:
    """The part with `shown` set on the heads that show an accidental; tab shows none."""
    bars = tuple(_bar(voices, part.clefs, key) for voices in part.bars)
    return replace(part, bars=bars)


def _bar(voices: Sequence[Voice], clefs: Sequence[Clef], key: Key) -> tuple[Voice, ...]:
    states: dict[int, _State] = {}
    found: dict[_Place, Event] = {}
    for _, number, index in _in_order(voices):
        voice = voices[number]
        if clefs[voice.staff - 1] is Clef.TAB:
            continue
        event, state = voice.events[index], states.setdefault(voice.staff, {})
        grace = _shown(event.grace, state, key)
        found[number, index] = event._replace(grace=grace, heads=_shown(event.heads, state, key))
    return tuple(
        voice._replace(
            events=tuple(found.get((number, index), event) for index, event in enumerate(voice.events))
        )
        for number, voice in enumerate(voices)
    )


def _in_order(voices: Sequence[Voice]) -> list[tuple[int, int, int]]:
    """Tick, voice and place of each event, as they are read from left to right."""
    return sorted(
        (event.tick, number, index)
        for number, voice in enumerate(voices)
        for index, event in enumerate(voice.events)
        if event.heads
    )


def _shown(heads: Iterable[Head], state: _State, key: Key) -> tuple[Head, ...]:
    found = []
    for head in heads:
        place = (head.tone.letter, head.octave)
        now = state.get(place, _signed(head.tone.letter, key))
        elsewhere = {alter for (letter, _), alter in state.items() if letter == head.tone.letter}
        again = place not in state and any(alter != head.tone.alter for alter in elsewhere)
        show = (head.tone.alter != now or again) and not head.tied_from
        if not head.tied_from:
            state[place] = head.tone.alter
        found.append(head._replace(shown=show))
    return tuple(found)


def _signed(letter: str, key: Key) -> int:
    return next(alter for alter in (0, 1, -1) if key.holds(Tone(letter, alter)))
