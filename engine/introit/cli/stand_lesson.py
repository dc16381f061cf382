"""What the stand page teaches from: the engraved passage with its beats, grips, sentences a chord."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any
from xml.etree import ElementTree

from introit.arrange.arranger import symbol_of
from introit.arrange.plan import Plan
from introit.arrange.score import Score
from introit.cli.shown import chord_rows
from introit.cli.stand_motif import sayings
from introit.export.diagram import Diagram, diagrams
from introit.export.engraving import System, engrave
from introit.export.lettering import printed
from introit.export.picture import Letter
from introit.export.sheet.builder import sheet_of
from introit.library.model import Library
from introit.theory.chord import Chord
from introit.theory.fretboard import Fretboard
from introit.units import TICKS_PER_QUARTER

_KEPT = 60
"""Scores: two tunes in every key, and some that were played again."""


class Lessons:
    """Keeps what was arranged last, and makes a lesson of what is shown.

    Args:
        library: gives all content.
    """

    def __init__(self, library: Callable[[], Library]) -> None:
        self._library = library
        self._scores: dict[tuple[int, str], Score] = {}
        self._taught: Score | None = None

    def keep(self, tune: int, key: str, score: Score) -> None:
        """Keeps the score of a tune in a key."""
        self._scores.pop((tune, key), None)
        self._scores[tune, key] = score
        if len(self._scores) > _KEPT:
            del self._scores[next(iter(self._scores))]

    def forget(self) -> None:
        """Whoever asks next has seen none."""
        self._taught = None

    def lesson(self, tune: int, key: str) -> dict[str, Any] | None:
        """The lesson of a tune in a key; None where it was given last, or nothing is known of it.

        Raises:
            IntroitError: when the engraver is not installed.
        """
        score = self._scores.get((tune, key))
        if score is None or score is self._taught:
            return None
        self._taught = score
        return lesson_of(score, self._library(), tune=tune, key=key)


def lesson_of(score: Score, library: Library, *, tune: int, key: str) -> dict[str, Any]:
    """A lesson as JSON holds it.

    Args:
        score: what is taught.
        library: holds its feel.
        tune: index of the tune in the set.
        key: the key's name, as snapshots have it.

    Raises:
        IntroitError: when the engraver is not installed.
    """
    plan = score.plan
    sheet = sheet_of(score, library)
    systems = engrave(sheet)
    neck = score.scene.stage.fretboard
    return {
        "tune": tune,
        "key": key,
        "title": sheet.title,
        "beats": plan.head_tick / TICKS_PER_QUARTER,
        "systems": [_system(system) for system in systems],
        "strings": len(neck.tuning),
        "grips": [
            {"beat": tick / TICKS_PER_QUARTER, "of": of / TICKS_PER_QUARTER, **_grip(diagram, chord, neck)}
            for tick, diagram in diagrams(score)
            for of, chord in (_chord_of(diagram, tick, plan),)
        ],
        "chords": [
            {
                "beat": chord.onset / TICKS_PER_QUARTER,
                "symbol": printed(symbol_of(chord)),
                "numeral": printed(str(chord.numeral)),
                "does": signed(row["does"]),
                "lesson": signed(row["lesson"]),
            }
            for chord, row in zip(plan.chords, chord_rows(plan), strict=True)
        ],
        "motif": [
            {"beat": said.onset / TICKS_PER_QUARTER, "end": said.end / TICKS_PER_QUARTER, "how": said.how}
            for said in sayings(score)
        ],
        "bar": plan.bar_ticks / TICKS_PER_QUARTER,
        "why": sheet.why,
    }


def _system(system: System) -> dict[str, Any]:
    picture = system.picture
    return {
        "drawing": _tree(ElementTree.fromstring(picture.drawing)),
        "width": picture.width,
        "height": picture.height,
        "share": system.share,
        "letters": [_letter(letter) for letter in picture.letters],
        "beats": [[round(beat, 4), round(x, 5)] for beat, x in system.beats],
    }


def _tree(element: ElementTree.Element) -> list[Any]:
    """A drawing as [tag, attributes, children]: a page builds it part by part, and reads no markup."""
    tag = element.tag.rpartition("}")[2]
    attributes = {name.rpartition("}")[2]: value for name, value in element.items()}
    children = [_tree(child) for child in element if child.tag.rpartition("}")[2] in _DRAWN]
    return [tag, {name: attributes[name] for name in _SHAPING if name in attributes}, children]


_DRAWN = frozenset({"svg", "defs", "symbol", "g", "use", "path", "rect", "ellipse", "polygon", "polyline"})
_SHAPING = (
    "id", "class", "viewBox", "transform", "d", "points", "x", "y", "width", "height", "cx", "cy", "rx", "ry",
    "href", "stroke-width", "fill", "overflow",
)  # fmt: skip
"""Elements and attributes that engraved music is made of; a style sheet or a description is none of them."""


def _letter(letter: Letter) -> dict[str, Any]:
    return {
        "text": letter.text,
        "x": letter.x,
        "y": letter.y,
        "size": letter.size,
        "anchor": letter.anchor,
        "style": letter.style,
        "weight": letter.weight,
        "room": letter.room,
    }


def _chord_of(diagram: Diagram, tick: int, plan: Plan) -> tuple[int, Chord]:
    """The chord that a grip is of, with its onset: the present one, or the coming one where it is early."""
    if tick >= plan.head_tick:
        return plan.head_tick, plan.head
    number = plan.at(tick)
    near = plan.chords[number : number + 2]
    found = next((one for one in near if symbol_of(one) == diagram.symbol), plan.chords[number])
    return found.onset, found.chord


def _grip(diagram: Diagram, chord: Chord, neck: Fretboard) -> dict[str, Any]:
    dots = [(dot.string, dot.fret, dot.finger) for dot in diagram.dots]
    places = [*dots, *((string, 0, None) for string in diagram.open_strings)]
    return {
        "symbol": printed(diagram.symbol),
        "first": diagram.first_fret,
        "rows": diagram.rows,
        "muted": list(diagram.muted),
        "places": [
            {
                "string": string,
                "fret": fret,
                "finger": finger,
                "degree": printed(degree_of(neck.open_pitches[-string] + fret, chord)),
            }
            for string, fret, finger in sorted(places)
        ],
    }


def signed(text: str) -> str:
    """A sentence with the signs of music in its chords' and notes' names."""
    return _NAMED.sub(lambda found: printed(found[0]), text)


def degree_of(pitch: int, chord: Chord) -> str:
    """What a note is in a chord: `R` for its root, else its degree, such as `b3`, `9` or `#11`."""
    if pitch % 12 == chord.root.pitch_class:
        return "R"
    tones = (*chord.required, *chord.optional, *chord.avoid)
    found = next((tone.name for tone in tones if tone.pitch_class == pitch % 12), None)
    return found or _DEGREES[(pitch - chord.root.pitch_class) % 12]


_NAMED = re.compile(
    r"\b[A-G](?:[b#](?:maj|sus|alt|m(?![a-z])|(?![a-z]))|(?:(?:m|maj|°|ø)\d*|\d+)\(?[b#])[^\s,;:]*"
)
"""Names with an accidental, of notes and chords; the ends of words are none of them."""
_DEGREES: Sequence[str] = ("R", "b9", "9", "b3", "3", "11", "b5", "5", "b13", "13", "b7", "7")
