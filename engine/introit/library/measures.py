"""The measures of a human intro: bounds in `patterns/measures.yaml`, read by `introit check --music`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from introit.errors import ContentError
from introit.library.composing import compose
from introit.library.fields import Fields, Reader, beats, choice, listing, number, whole, word
from introit.library.intros import TEXTURES
from introit.library.musical import note
from introit.library.nodes import Node
from introit.library.nodes import Sequence as NodeSequence
from introit.library.reading import WHOLE_FILE, Reading, read_source
from introit.performance import PARTS
from introit.theory.meter import METERS, Meter

FILE = Path("patterns") / "measures.yaml"
"""Where the file lies below a content root."""
PITCHED = PARTS[:4]
"""The parts that have a range."""

_BOUNDS, _COUNTS = ("least", "most"), ("from", "bars")
_NONE: tuple[str, ...] = ()
_NO_BEATS = Fraction(0)
_MOST_COUNTED = 64
_LONGEST = 8


@dataclass(frozen=True, slots=True)
class Measure:
    """The bounds of one measure. Which of them a measure has, and in which unit, `UNITS` says.

    Attributes:
        least: lowest good value.
        most: highest good value.
        judged_from: how many things must be there before a share or a mean is judged; `from` in the file.
        beats: a length in beats that the measure compares with.
        bars: over how many bars running it is counted.
        apart: textures that are left out.
    """

    least: float = 0.0
    most: float = 0.0
    judged_from: int = 0
    beats: Fraction = Fraction(0)
    bars: int = 0
    apart: frozenset[str] = frozenset()


class _Unit(NamedTuple):
    """Unit and highest value of a measure's bounds, and the keys that it has."""

    unit: str
    high: float
    keys: tuple[str, ...]


_PERCENT = ("percent", 100.0)

UNITS: dict[str, _Unit] = {
    "position change": _Unit("frets", 24, ("most", "beats")),
    "roots": _Unit("", 0, ("apart",)),
    "pickup": _Unit("onsets", 16, ("most",)),
    "one mover": _Unit(*_PERCENT, ("least", "from", "apart")),
    "comp in the gaps": _Unit(*_PERCENT, ("least", "from", "apart")),
    "comp on the melody": _Unit(*_PERCENT, ("most", "from", "apart")),
    "hits a bar": _Unit("hits", 16, ("least", "most", "from")),
    "thin bar": _Unit("hits", 16, ("most", "from")),
    "melody sounding": _Unit(*_PERCENT, ("most", "from", "apart")),
    "melody rest": _Unit("beats", 10, ("least", "from", "apart")),
    "phrases off one": _Unit(*_PERCENT, ("least", "from")),
    "voices a chord": _Unit("voices", 7, ("most", "from")),
    "full grips": _Unit("chords", 64, ("most",)),
    "same rhythm": _Unit("bars", 64, ("most",)),
    "short hits": _Unit(*_PERCENT, ("least", "beats", "from")),
    "held hits": _Unit(*_PERCENT, ("least", "beats", "from")),
    "release": _Unit("", 0, ("beats",)),
    "pushes": _Unit(*_PERCENT, ("least", "most", "from")),
    "pushes in a ballad": _Unit("changes", 64, ("most",)),
    "top voice steps": _Unit(*_PERCENT, ("least", "from", "apart")),
    "top voice leaps": _Unit("leaps", 64, ("most", "bars", "apart")),
    "under the melody": _Unit("semitones", 24, ("least", "apart")),
    "melody's place": _Unit("", 0, ("apart",)),
    "highest note": _Unit(*_PERCENT, ("least", "most", "from", "apart")),
    "densest tension": _Unit("", 0, ("from",)),
    "plain shell": _Unit("hits", 64, ("least", "from")),
    "dynamic range": _Unit("velocity units", 127, ("least", "from")),
    "one arc": _Unit("velocity units", 127, ("most", "from")),
    "top voice level": _Unit("velocity units", 127, ("least", "most", "from")),
    "slides": _Unit("slides", 64, ("most", "bars")),
    "grace notes": _Unit("grace notes", 64, ("most",)),
}
"""Every measure: the unit of its bounds, their highest value, and the keys it has in the file."""


@dataclass(frozen=True, slots=True)
class Measures:
    """What the file says.

    Attributes:
        ranges: lowest and highest MIDI note of melody, comp, bass and pedal, by part name.
        swing, ballads: ids of feels.
        own_rhythm: textures whose notes are no comping hits.
        melody_out: by beats a bar, the beat of the last bar by which the melody is out.
        measures: by name; each name of `UNITS` is there.
    """

    ranges: dict[str, tuple[int, int]]
    swing: frozenset[str]
    ballads: frozenset[str]
    own_rhythm: frozenset[str]
    melody_out: dict[int, int]
    measures: dict[str, Measure]

    def __getitem__(self, name: str) -> Measure:
        """The measure of a name in `UNITS`."""
        return self.measures[name]


def load_measures(roots: Sequence[Path]) -> Measures:
    """The measures of the last root that has the file: a user's own replaces the program's.

    Raises:
        ContentError: with every mistake in that file, or that no root has one.
    """
    paths = [root / FILE for root in roots]
    return read_measures(next((path for path in reversed(paths) if path.is_file()), paths[0]))


def read_measures(path: Path) -> Measures:
    """The measures in a file.

    Raises:
        ContentError: with every mistake, by line and column.
    """
    reading = read_source(path)
    node = compose(reading) if reading.clean else None
    if node is None and reading.clean:
        reading.report(WHOLE_FILE, "missing-key", "the file is empty; it needs 'ranges' and 'measures'")
    found = _measures(node, reading) if node is not None else None
    if found is None or not reading.clean:
        raise ContentError(sorted(set(reading.problems)))
    return found


def _measures(node: Node, reading: Reading) -> Measures:
    fields = Fields(node, reading, what="the file of measures")
    names: Reader[tuple[str, ...]] = listing(word)
    textures: Reader[tuple[str, ...]] = listing(choice(TEXTURES))
    found = Measures(
        ranges=fields.required("ranges", _ranges, {}),
        swing=frozenset(fields.required("swing", names, _NONE)),
        ballads=frozenset(fields.required("ballads", names, _NONE)),
        own_rhythm=frozenset(fields.required("own_rhythm", textures, _NONE)),
        melody_out=fields.required("melody_out", _melody_out, {}),
        measures=fields.required("measures", _by_name, {}),
    )
    fields.finish()
    return found


def _ranges(node: Node, reading: Reading) -> dict[str, tuple[int, int]]:
    fields = Fields(node, reading, what="ranges")
    found = {part: fields.required(part, _range, (0, 127)) for part in PITCHED}
    fields.finish()
    return found


def _range(node: Node, reading: Reading) -> tuple[int, int] | None:
    if not isinstance(node, NodeSequence) or len(node.items) != 2:
        reading.report(node.place, "wrong-type", "a lowest and a highest note are needed, such as [C3, C6]")
        return None
    low, high = (note(item, reading) for item in node.items)
    if low is None or high is None:
        return None
    if low > high:
        reading.report(node.place, "out-of-range", "the lower note comes first")
        return None
    return low, high


def _melody_out(node: Node, reading: Reading) -> dict[int, int]:
    fields = Fields(node, reading, what="melody_out")
    meters = [Meter.from_text(text) for text in METERS]
    found = {
        meter.beats: fields.required(str(meter), whole(1, meter.beats, unit="beats"), 1) for meter in meters
    }
    fields.finish()
    return found


def _by_name(node: Node, reading: Reading) -> dict[str, Measure]:
    fields = Fields(node, reading, what="measures")
    found = {name: fields.required(name, _one(name, asked), Measure()) for name, asked in UNITS.items()}
    fields.finish()
    return found


def _one(name: str, asked: _Unit) -> Reader[Measure]:
    """A reader of one measure, which has just the keys that it is asked for."""

    def read(node: Node, reading: Reading) -> Measure | None:
        fields = Fields(node, reading, what=f"the measure {name!r}")
        bound, count = number(0, asked.high, unit=asked.unit), whole(1, _MOST_COUNTED)
        values = {key: fields.required(key, bound, 0.0) for key in _BOUNDS if key in asked.keys}
        counts = {key: fields.required(key, count, 1) for key in _COUNTS if key in asked.keys}
        length = _NO_BEATS
        if "beats" in asked.keys:
            length = fields.required("beats", beats(_LONGEST), _NO_BEATS)
        apart = fields.optional("apart", listing(choice(TEXTURES)), _NONE) if "apart" in asked.keys else _NONE
        fields.finish()
        _check_order(fields, values, reading)
        return Measure(
            least=values.get("least", 0.0),
            most=values.get("most", 0.0),
            judged_from=counts.get("from", 0),
            beats=length,
            bars=counts.get("bars", 0),
            apart=frozenset(apart),
        )

    return read


def _check_order(fields: Fields, values: dict[str, float], reading: Reading) -> None:
    least, most = values.get("least"), values.get("most")
    if least is not None and most is not None and least > most:
        message = f"least is {least:g} and most {most:g}: nothing is between them"
        reading.report(fields.place_of("least"), "out-of-range", message)
