"""The library's objects: what a content file says, checked and frozen. Made by loaders, used to arrange.

Positions and lengths inside a bar are in quarter-note beats as exact fractions, counted from 0 (beat 1 is 0,
`&2` is 3/2).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from introit.library.bars import Bar, HeadDominant, Slot
from introit.library.goals import Goal
from introit.library.stage import Rig
from introit.library.tune import Tune
from introit.theory.key import Mode
from introit.theory.meter import Meter

__all__ = [
    "Bar",
    "BassManner",
    "BassStep",
    "CompingRhythm",
    "Feel",
    "Form",
    "HeadDominant",
    "Hit",
    "Intro",
    "Library",
    "Melody",
    "MotifNote",
    "Passage",
    "PedalPoint",
    "SetList",
    "Slot",
    "Tap",
    "TimeLine",
    "Tune",
]


@dataclass(frozen=True, slots=True)
class PedalPoint:
    """A note held or repeated under changing chords, released on the head.

    Attributes:
        degree: Arabic degree of the key, as text such as `5`.
    """

    degree: str


@dataclass(frozen=True, slots=True)
class MotifNote:
    """One note of a motif.

    Attributes:
        bar: of the motif, 0 or 1.
        position: beats from the start of that bar; below 0, in bar 0, for a pick-up.
        tone: as written: a degree of the chord or of the key such as `3`, `b9`, `5`, a trailing `+` an octave
            up and `-` an octave down; in a contour, for all but the first note, steps: `+1`, `-2`, `0`.
        length: beats.
    """

    bar: int
    position: Fraction
    tone: str
    length: Fraction


@dataclass(frozen=True, slots=True)
class Melody:
    """The melody of an intro.

    Attributes:
        style: `line` (a line of its own), `motif` (a figure said in the bars named by `bars`, the comping
            answering in its gaps) or `none`.
        motif: the figure, for `motif`.
        tones: what its tones are: `chord` (degrees of the chord that sounds), `key` (degrees of the key) or
            `contour` (steps in the scale of each chord, from a degree of the first).
        bars: bars, from 1, in which the motif begins; empty for every bar that it fills before the last.
        change: what changes when it comes back: `end`, `octave`, `inner` or `none`.
    """

    style: str
    motif: tuple[MotifNote, ...] = ()
    tones: str = "chord"
    bars: tuple[int, ...] = ()
    change: str = "end"

    @property
    def has_motif(self) -> bool:
        """Whether a motif is said, which the comping answers."""
        return self.style == "motif"

    @property
    def motif_bars(self) -> int:
        """How many bars the motif fills, 1 or 2, its pick-up not counted."""
        return 1 + max((note.bar for note in self.motif), default=0)


@dataclass(frozen=True, slots=True)
class Passage:
    """From which bar on an intro is played in which texture.

    Attributes:
        start: bar of the form from 1; -1 for the last bar, whichever that is.
        texture: a name in `library.intros.TEXTURES`.
        comping: id of a comping rhythm; None for the intro's own.
        bass: id of a bass manner; None for the intro's own.
        top: for `common tone`, the degree of the key that stays on top; None for the best one.
        moves: for `inner line`, one of `library.intros.MOVES`; None for the best one.
    """

    start: int
    texture: str
    comping: str | None = None
    bass: str | None = None
    top: str | None = None
    moves: str | None = None


@dataclass(frozen=True, slots=True)
class Form:
    """One way an intro goes: its harmony for one mode, and for some first chords of the head.

    Attributes:
        mode: of the head.
        bars: the harmony.
        heads: first chords it is for, as root-and-mode numerals (`I`, `ii`, `IV`, `vi`, `i`); empty for any.
        leads_to: first chords it leads to as written; for another one its last chord gives way to `H`.
            Empty when the form ends on `H` itself.
    """

    mode: Mode
    bars: tuple[Bar, ...]
    heads: tuple[str, ...] = ()
    leads_to: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Intro:
    """An introduction, free of key.

    Attributes:
        id: the file's name without its ending; what commands take.
        name: for people.
        forms: tried in order; the first whose mode and heads fit is played.
        meters: meters it can be played in.
        tempo: lowest and highest tempo it suits, quarter notes a minute.
        feels: ids of feels it suits.
        passages: textures, in rising order of their bars; the first starts in bar 1.
        line_ups: line-ups it suits, by their words (`solo guitar`, ...).
        difficulty: 1 (a student's first) to 5, to play on the guitar from the page.
        comping: id of a comping rhythm; None for the feel's own.
        bass: id of a bass manner; None for the feel's own.
        pedal: the pedal point, or None.
        melody: the melody.
        stretch_above: above this tempo every chord lasts twice as long (four bars become eight); None never.
        halve_below: below this tempo every chord lasts half as long; None never.
        why: the teacher's note, in two or three sentences.
    """

    id: str
    name: str
    forms: tuple[Form, ...]
    meters: tuple[Meter, ...]
    tempo: tuple[float, float]
    feels: tuple[str, ...]
    passages: tuple[Passage, ...]
    line_ups: tuple[str, ...]
    difficulty: int
    comping: str | None
    bass: str | None
    pedal: PedalPoint | None
    melody: Melody
    stretch_above: float | None
    halve_below: float | None
    why: str


@dataclass(frozen=True, slots=True)
class Hit:
    """One comping hit.

    Attributes:
        position: beats from the start of its bar.
        length: beats, up to the next hit at most.
        push: True when it takes the coming chord early.
        accent: True when it is played harder.
    """

    position: Fraction
    length: Fraction
    push: bool = False
    accent: bool = False


@dataclass(frozen=True, slots=True)
class CompingRhythm:
    """A comping rhythm of one or more bars. `bars[i]` holds the hits of bar i.

    Attributes:
        steady: whether it is repeated as it stands, as a pulse or a pattern is; else phrases are made of it.
    """

    id: str
    name: str
    meters: tuple[Meter, ...]
    bars: tuple[tuple[Hit, ...], ...]
    steady: bool = False

    def __hash__(self) -> int:
        """Of what tells nearly all rhythms apart: much is kept by rhythm, and fractions are slow."""
        return hash((self.id, len(self.bars)))


@dataclass(frozen=True, slots=True)
class BassStep:
    """One bass note of a manner.

    Attributes:
        position: beats from the start of the manner's first bar.
        tone: a member of the chord (`root`, `third`, `fifth`, `seventh`, `octave`, or any: `chord`), a tone
            of its `scale`, or a way into the coming root: `approach` (any), `chromatic` (a half step),
            `dominant` (the fifth above it), `enclosure` (one side of it, the next note taking the other),
            `skip` (a short pickup).
        length: beats.
        push: whether it takes the coming chord early.
        sometimes: whether it is played in some bars only.
    """

    position: Fraction
    tone: str
    length: Fraction
    push: bool = False
    sometimes: bool = False


@dataclass(frozen=True, slots=True)
class BassManner:
    """How the bass moves; where a chord changes between its steps, the chord's root is played there.

    Attributes:
        steps: over all its bars, in order.
        bars: number of bars, repeated.
        answering: whether it also fills the gaps that the comping leaves, with notes into the next root.
    """

    id: str
    name: str
    meters: tuple[Meter, ...]
    steps: tuple[BassStep, ...]
    bars: int = 1
    answering: bool = False

    def __hash__(self) -> int:
        """Of what tells nearly all manners apart, as for rhythms."""
        return hash((self.id, len(self.steps)))

    @property
    def walks(self) -> bool:
        """True for a line of one note on every beat; what is played now and then does not count."""
        firm = [step.position for step in self.steps if not step.sometimes]
        return firm == list(range(self.bars * self.meters[0].beats))


@dataclass(frozen=True, slots=True)
class Tap:
    """One stroke of light time. position: beats from the start of its bar; accent: struck harder."""

    position: Fraction
    accent: bool = False


@dataclass(frozen=True, slots=True)
class TimeLine:
    """What one instrument plays of light time.

    Attributes:
        instrument: a word in `library.light_time.INSTRUMENTS`.
        bars: one or more, repeated.
        fourth: True when it takes the place of the instrument's own line in every fourth bar.
    """

    instrument: str
    bars: tuple[tuple[Tap, ...], ...]
    fourth: bool = False


@dataclass(frozen=True, slots=True)
class Feel:
    """How time is felt.

    Attributes:
        swing: for each of `ride`, `comp` and `line`, (tempo, ratio) points in rising tempo; between them the
            ratio is drawn straight. Ratio is long eighth : short eighth, 1 (even) to 3.5, from onset to onset
            of one player; a late line's too.
        tempo: lowest and highest usual tempo.
        typical_tempo: what a tune without a tempo of its own gets.
        comping, bass: ids used where the intro names none; the first that fits the meter is taken.
        velocity: base velocity of each part, 1 to 127.
        strum_ms: milliseconds from string to string in a block chord, 8 to 25; 0 for plucked together.
        late_line_ms: how late the melody's on-beats are at 150 bpm, falling as the tempo rises; 0 for none.
        drift_ms: standard deviation of each player's slow drift about the beat, at most, 0 to 8.
        roll_ms: milliseconds from string to string in a rolled chord, 30 to 70.
        last_bar: `digs in` (the intro ends at its loudest) or `lets go`.
        ornaments: which are idiomatic, of `library.rhythm.ORNAMENTS`.
        time: light time by meter; in a meter that is not there, none is played.
    """

    id: str
    name: str
    meters: tuple[Meter, ...]
    tempo: tuple[float, float]
    typical_tempo: float
    swing: dict[str, tuple[tuple[float, float], ...]]
    comping: tuple[str, ...]
    bass: tuple[str, ...]
    velocity: dict[str, int]
    strum_ms: float
    late_line_ms: float
    drift_ms: float = 0.0
    roll_ms: float = 45.0
    last_bar: str = "lets go"
    ornaments: tuple[str, ...] = ()
    time: dict[Meter, tuple[TimeLine, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SetList:
    """Tunes in playing order. `rig` is a rig's id or None.

    `goals` is homework: one for each tune, None where nothing is asked for; empty where it is for none.
    """

    id: str
    title: str
    tunes: tuple[Tune, ...]
    rig: str | None = None
    goals: tuple[Goal | None, ...] = ()


@dataclass(frozen=True, slots=True)
class Library:
    """Everything that loaded without a mistake, by id."""

    intros: dict[str, Intro]
    comping: dict[str, CompingRhythm]
    bass: dict[str, BassManner]
    feels: dict[str, Feel]
    tunes: dict[str, Tune]
    sets: dict[str, SetList]
    rigs: dict[str, Rig]
