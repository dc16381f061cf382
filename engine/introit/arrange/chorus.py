"""A chorus of a tune: its chart as a plan, which the same `arrange` writes and `perform` plays as any intro.

A chorus leads to its own first chord. Where the chart's last chord does not, a short turnaround takes the
last bar, or what is left of it. The last chorus goes its own way from a bar line on: to the coda, or to a
last bar in which it lands and stays. Until there it has the bars of every other chorus, so whoever wants to
stop can leave any chorus there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from introit.arrange.form import ArrangeError
from introit.arrange.grid import lay_out
from introit.arrange.plan import Plan, PlannedChord, plan_intro
from introit.library.bars import Bar, HeadDominant, Slot
from introit.library.chart import chorus_bars, leaves_after
from introit.library.intros import LINE_UPS
from introit.library.leading import Leading
from introit.library.model import Form, Intro, Melody, Passage, Tune
from introit.theory.function import head_dominant
from introit.theory.key import Key
from introit.theory.numeral import Numeral
from introit.theory.quality import Family
from introit.theory.target import FIFTH_DOWN, HALF_STEP_DOWN, root_of
from introit.units import TEMPO_MAX, TEMPO_MIN

CHORUS = "chorus"
"""What stands in place of an intro's id."""
MOST_RINGS = 2
"""Bars that the last chord is held at most."""
HOME_IN_LAST = 4
"""Where the chart's last chord leads on, the last chorus ends on a tonic among these bars, or after them."""
NOT_ASKED = frozenset({"highest note"})
"""Rules of the review that ask nothing of a chorus. One highest note between 60 and 85 percent of the length
is the arc of an intro, which rises to a head; a chorus has none behind it, and goes round. The rest holds."""
_BACK_DOOR = 2
_UP_A_HALF_STEP = 1
_TONIC = {Family.MAJOR, Family.MINOR}
_HOME = {False: "I6/9", True: "i6/9"}


@dataclass(frozen=True, slots=True)
class Choruses:
    """How the choruses of a tune go, in bars.

    Attributes:
        bars: of every chorus but the last; its last chord leads to its first.
        leaves: after so many bars, 1 at least, the last chorus goes its own way.
        last: of the last chorus until it lands; the first `leaves` are those of `bars`.
        landing: the chord that it lands on.
        rings: bars that it stays on it, 1 or 2.
    """

    bars: tuple[Bar, ...]
    leaves: int
    last: tuple[Bar, ...]
    landing: Numeral
    rings: int = 1


def choruses_of(tune: Tune, key: Key) -> Choruses:
    """How the choruses of a tune go in a key.

    Raises:
        ArrangeError: when the tune has no chart, or has one for the other mode.
    """
    if tune.chart is None:
        raise ArrangeError(f"tune {tune.title!r} has no chart: nothing says how it goes on after the intro")
    if tune.chart.mode is not key.mode:
        raise ArrangeError(
            f"the chart of {tune.title!r} is in {tune.chart.mode}; {key} is {key.mode}. "
            f"Call a {tune.chart.mode} key, or leave the tune after its intro"
        )
    first = _first_chord(tune)
    written = _without_h([played.bar for played in chorus_bars(tune.chart)], first, key)
    coda = _without_h(tune.chart.coda, first, key)
    leads, leaves = _leads(_last_chord(written), first, key), leaves_after(tune.chart)
    has_turns = any(map(_is_dominant, _chords_of(written)))  # a mode has none
    is_shared = leaves == len(written) or len(written) == 1  # with the last chorus, up to its end
    bars = written if leads or is_shared or not has_turns else _turned_round(written, first, tune, key)
    if coda:
        until, landing, rings = _landed([*written[:leaves], *coda])
        return Choruses(tuple(bars), min(leaves, len(until)), until, landing, rings)
    return _at_home(tuple(bars), written, first, key, leads=leads)


def chorus_plan(tune: Tune, key: Key, *, last: bool = False) -> Plan:
    """Plans a chorus of a tune in a key.

    Nothing of it is asked of the foot, and the tune's pickup is played over. A chorus leads to its first
    chord and is cut there; the last one lands on its last chord, which rings.

    Args:
        tune: with a chart.
        key: the key that was called, of the chart's mode.
        last: whether it is the last chorus.

    Raises:
        ArrangeError: when the tune has no chart, or has one for the other mode.
    """
    choruses = choruses_of(tune, key)
    bars = choruses.last if last else choruses.bars
    plain = replace(
        tune,
        first_chord=choruses.landing if last else _first_chord(tune),
        key=key,
        pickup=Fraction(0),
        count_off=0,
        landing="ring" if last else "cut",
        ring=Fraction(tune.meter.beats * choruses.rings if last else 0),
        first_note=None,
        leading=Leading(),
    )
    plan = plan_intro(_as_intro(tune, Form(key.mode, bars)), plain, key)
    parted = choruses.leaves * plan.bar_ticks
    return replace(plan, chords=_held_through(plan.chords, parted))


def _held_through(chords: Sequence[PlannedChord], parted: int) -> tuple[PlannedChord, ...]:
    """The chords, one that is repeated from bar to bar as one chord, coloured by what it leads to in the end.

    At the bar line where the last chorus goes its own way, a chord begins in any case.
    """
    found: list[PlannedChord] = []
    for chord in chords:
        before = found[-1] if found else None
        if before and before.numeral == chord.numeral and chord.onset != parted:
            found[-1] = replace(chord, onset=before.onset, length=before.length + chord.length)
        else:
            found.append(chord)
    return tuple(found)


def _as_intro(tune: Tune, form: Form) -> Intro:
    """A form in the shape that plans are made of: block chords, the feel's own rhythms, no melody."""
    return Intro(
        id=CHORUS,
        name=tune.title,
        forms=(form,),
        meters=(tune.meter,),
        tempo=(TEMPO_MIN, TEMPO_MAX),
        feels=(tune.feel,),
        passages=(Passage(1, "block"),),
        line_ups=LINE_UPS,
        difficulty=1,
        comping=None,
        bass=None,
        pedal=None,
        melody=Melody("none"),
        stretch_above=None,
        halve_below=None,
        why="",
    )


# --- where the last chorus goes ---------------------------------------------------------------------


def _at_home(bars: tuple[Bar, ...], written: list[Bar], first: Numeral, key: Key, *, leads: bool) -> Choruses:
    """Without a coda: the last chorus lands on the chart's last chord, or on the tonic.

    A chart that comes to rest ends as it is written. One whose end leads on (`leads`) ends on the last tonic
    before that; and one that has none there has a bar more.
    """
    count = len(written)
    if not leads:
        until, landing, rings = _landed(written)
        return Choruses(bars, min(count - 1, len(until)) or 1, until, landing, rings)
    at_home = [number for number in range(1, count) if _begins_at_home(written[number], first)]
    if at_home and at_home[-1] >= count - HOME_IN_LAST:
        until, landing, _ = _landed([*written[: at_home[-1]], Bar(written[at_home[-1]].slots[:1])])
        leaves = len(until)
        return Choruses(bars, leaves, until, landing, min(MOST_RINGS, count - leaves))
    homes = [chord for chord in _chords_of(written) if _is_home(chord, first)]
    landing = homes[-1] if homes else Numeral.from_text(_HOME[key.is_minor])
    return Choruses(bars, count, tuple(written), landing)


def _landed(bars: Sequence[Bar]) -> tuple[tuple[Bar, ...], Numeral, int]:
    """The bars until the landing, its chord, the last one, and for how many bars that is there to stay on.

    A last bar that has other chords as well is played before the landing.
    """
    chord, count = _last_chord(bars), len(bars)
    while count > 1 and all(_stays(_numeral(slot.chord), chord) for slot in bars[count - 1].slots):
        count -= 1
    return tuple(bars[:count]), chord, max(1, min(MOST_RINGS, len(bars) - count))


def _stays(chord: Numeral, last: Numeral) -> bool:
    """Whether a chord is the last one already, or differs in colour alone, as Imaj7 and then I6."""
    places = {(one.degree, one.alter, one.applied, one.bass_degree) for one in (chord, last)}
    return chord == last or (len(places) == 1 and {chord.kind.family, last.kind.family} <= _TONIC)


def _begins_at_home(bar: Bar, first: Numeral) -> bool:
    return _is_home(_numeral(bar.slots[0].chord), first)


def _is_home(chord: Numeral, first: Numeral) -> bool:
    """Whether a chord is the tonic at rest; a dominant seventh is in a tune that begins so, as a blues."""
    on_one = (chord.degree, chord.alter, chord.applied, chord.bass_degree) == (1, 0, None, None)
    blue = _is_dominant(chord) and _is_dominant(first) and (first.degree, first.alter) == (1, 0)
    return on_one and (chord.kind.family in _TONIC or blue)


# --- the way back -----------------------------------------------------------------------------------


def _leads(chord: Numeral, to: Numeral, key: Key) -> bool:
    """Whether a chord leads to another: as its dominant or a substitute, by the back door, by a half step."""
    target = root_of(to, key).pitch_class
    moves = (target - root_of(chord, key).pitch_class) % 12
    family = chord.kind.family
    if family in (Family.DOMINANT, Family.SUSPENDED, Family.AUGMENTED) and chord.kind.name != "sus2":
        return moves in (FIFTH_DOWN, HALF_STEP_DOWN, _BACK_DOOR)
    if family is Family.DIMINISHED:
        return moves == _UP_A_HALF_STEP
    if chord.bass_degree and chord.degree != 1:  # two, or four, over five
        bass = key.degree(chord.bass_degree, chord.bass_alter).pitch_class
        return (target - bass) % 12 == FIFTH_DOWN
    return False


def _turned_round(bars: list[Bar], first: Numeral, tune: Tune, key: Key) -> list[Bar]:
    """The bars with a turnaround in the last one.

    A bar that only holds on to the chord before it becomes a two-five; any other keeps its first chords and
    leaves the second half, or the last beat, to a dominant.
    """
    five = head_dominant(first, key.mode)
    *before, last = bars
    if len(last.slots) == 1:
        holds_on = bool(before) and _last_chord(before) == _last_chord(bars)
        chord = _two_of(first, key) if holds_on else _last_chord(bars)
        return [*before, Bar((Slot(chord), Slot(five)))]
    grid = lay_out(
        _as_intro(tune, Form(key.mode, (last,))), Form(key.mode, (last,)), meter=tune.meter, tempo=1
    )
    slots = [Slot(entry.chord, entry.beats) for entry in grid.chords]
    ending = slots.pop()
    room = ending.share // 2
    slots += [Slot(ending.chord, ending.share - room), Slot(five, room)] if room else [Slot(five)]
    return [*before, Bar(tuple(slots))]


def _two_of(first: Numeral, key: Key) -> Numeral:
    """The two of the two-five into a chord: half-diminished where that is minor."""
    above = head_dominant(head_dominant(first, key.mode), key.mode)
    return replace(above, upper=False, quality="m7b5" if first.is_minor else "m7", alterations=())


# --- chords -----------------------------------------------------------------------------------------


def _without_h(bars: Sequence[Bar], first: Numeral, key: Key) -> list[Bar]:
    """The bars with every `H` as the dominant of the chart's first chord that it is."""

    def named(slot: Slot) -> Slot:
        if not isinstance(slot.chord, HeadDominant):
            return slot
        return replace(slot, chord=head_dominant(first, key.mode, sus=slot.chord.text == "Hsus"))

    return [Bar(tuple(map(named, bar.slots))) for bar in bars]


def _first_chord(tune: Tune) -> Numeral:
    assert tune.chart is not None
    return _numeral(tune.chart.first.chord)


def _last_chord(bars: Sequence[Bar]) -> Numeral:
    return _numeral(bars[-1].slots[-1].chord)


def _chords_of(bars: Sequence[Bar]) -> list[Numeral]:
    return [_numeral(slot.chord) for bar in bars for slot in bar.slots]


def _is_dominant(chord: Numeral) -> bool:
    return chord.kind.family in (Family.DOMINANT, Family.SUSPENDED) and chord.kind.has_seventh


def _numeral(chord: Numeral | HeadDominant) -> Numeral:
    """A chord of a chart, in which no `H` is left; a chart never begins with one."""
    assert isinstance(chord, Numeral)
    return chord
