"""What the page is told of an instant: one snapshot holds all that it shows. Pure.

A snapshot is whole: whoever has the newest needs none before it, so any number may be left out on the way.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from introit.errors import IntroitError

KIND: Final = "snapshot"
"""What a line that holds one is called on the way from the front."""


class SnapshotError(IntroitError):
    """Fields that are no snapshot."""


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord as the page shows it: its symbol in the key that sounds, and its numeral."""

    symbol: str
    numeral: str


@dataclass(frozen=True, slots=True)
class NextChord:
    """The chord that follows.

    Attributes:
        symbol, numeral: as for `Chord`.
        in_beats: in how many beats from this snapshot's it comes; above 0.
    """

    symbol: str
    numeral: str
    in_beats: float


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What is so at an instant.

    Attributes:
        number: rises with each snapshot of a front.
        at: when it is so, in nanoseconds of the machine's monotonic clock; for a beat, when it sounds.
        now: when it was sent, by the same clock.
        state: the session's state, a word of `live.states.State`.
        what: what is new, a word of `live.events.Shown.what`.
        tune: index of the tune in the set, from 0.
        title: the tune's title.
        intro, intro_name: the intro's name in its file, and how it is called.
        key: such as `E flat minor`.
        tempo: beats a minute; 0 while nothing is ready.
        meter: beats a bar.
        bar: bar of the intro from 1; 0 or less in the count-off.
        beat: beat of the bar from 1; 0 while nothing plays.
        beats_to_head: beats from this one to the downbeat of the head.
        beats_in_all: beats of the whole intro, without its count-off.
        chord, next: the present chord and the one that follows; None where there is none.
        pickup: beats of the tune's pickup, which lie before the downbeat of the head.
        press, double, hold: what each gesture does now, in few words; empty where it does nothing.
        course: what will be led by foot.
        text: a sentence for the player.
        up_next: title of the tune after this.
        step: in a lesson, the index of the chord that the foot has stepped to; -1 while it does not step.
        first_bar, last_bar: of what goes round until the nod, from 1; 0 where nothing does.
        muted: the parts that are, a bit each, by their index in `performance.PARTS`.
    """

    number: int
    at: int
    now: int
    state: str
    what: str = "state"
    tune: int = 0
    title: str = ""
    intro: str = ""
    intro_name: str = ""
    key: str = ""
    tempo: float = 0.0
    meter: int = 4
    bar: int = 0
    beat: int = 0
    beats_to_head: float = 0
    beats_in_all: float = 0
    chord: Chord | None = None
    next: NextChord | None = None
    pickup: float = 0
    press: str = ""
    double: str = ""
    hold: str = ""
    course: str = ""
    text: str = ""
    up_next: str = ""
    step: int = -1
    first_bar: int = 0
    last_bar: int = 0
    muted: int = 0

    def to_dict(self) -> dict[str, Any]:
        """As the fields of a JSON object, without what kind of line it is."""
        return dataclasses.asdict(self)

    @classmethod
    def from_dict(cls, fields: Mapping[str, Any]) -> Snapshot:
        """The snapshot that `to_dict` gave; `kind` is passed over.

        Raises:
            SnapshotError: if a field is missing, unknown or of another type.
        """
        given = {name: value for name, value in fields.items() if name != "kind"}
        unknown = given.keys() - _FIELDS.keys()
        missing = _NEEDED - given.keys()
        if unknown or missing:
            raise SnapshotError(f"a snapshot: unknown {sorted(unknown)}, missing {sorted(missing)}")
        return cls(**{name: _read(name, value) for name, value in given.items()})


_FIELDS: Final = {field.name: str(field.type) for field in dataclasses.fields(Snapshot)}
_NEEDED: Final = frozenset(
    field.name for field in dataclasses.fields(Snapshot) if field.default is dataclasses.MISSING
)
_CHORDS: Final[dict[str, type[Chord | NextChord]]] = {"Chord | None": Chord, "NextChord | None": NextChord}
_TYPES: Final[dict[str, tuple[type, ...]]] = {"int": (int,), "float": (int, float), "str": (str,)}


def _read(name: str, value: Any) -> Any:
    kind = _FIELDS[name]
    if kind in _CHORDS:
        return None if value is None else _read_chord(name, _CHORDS[kind], value)
    if not isinstance(value, _TYPES[kind]) or isinstance(value, bool):
        raise SnapshotError(f"a snapshot's {name} is {value!r}; expected is {kind}")
    return value


def _read_chord(name: str, cls: type[Chord | NextChord], value: Any) -> Chord | NextChord:
    names = {field.name for field in dataclasses.fields(cls)}
    if not isinstance(value, Mapping) or value.keys() != names:
        raise SnapshotError(f"a snapshot's {name} is {value!r}; expected are {sorted(names)}")
    if not isinstance(value["symbol"], str) or not isinstance(value["numeral"], str):
        raise SnapshotError(f"a snapshot's {name} is {value!r}; expected are strings")
    beats = value.get("in_beats", 0.0)
    if isinstance(beats, bool) or not isinstance(beats, int | float):
        raise SnapshotError(f"a snapshot's {name} comes in {beats!r} beats; expected is a number")
    return cls(**value)
