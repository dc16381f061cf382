"""The tune after the intro: choruses by its chart, arranged like any intro, and joined behind one.

Each chorus is another playing of the same chart. With an open end they go round until the nod. Any chorus
can be left at the bar line from which the last one goes its own way: there lie the exits, and there the vamp
begins and ends. So the last chorus is written out behind the others, and its first bars lead back into the
vamp as well as on to the end.
"""

from __future__ import annotations

from dataclasses import replace
from operator import itemgetter

from introit.arrange.arranger import arrange, handed_over, ready, symbol_of
from introit.arrange.chorus import CHORUS, chorus_plan, choruses_of
from introit.arrange.joined import joined, starts_of
from introit.arrange.legal import ChannelOf, legal, own_channel
from introit.arrange.line_up import Stage
from introit.arrange.plan import Plan, PlannedChord
from introit.arrange.score import BASS, COMP, Score
from introit.arrange.variation import dice
from introit.library.leading import Leading
from introit.library.model import Intro, Library, Tune
from introit.performance import ChordMark, Performance, PlayedNote
from introit.theory.key import Key
from introit.units import TICKS_PER_QUARTER

SEVERAL = 3
"""Choruses that differ before the first comes again, where they go round."""
UNLIKE = 0.5
"""Share of the bars that are comped in another way from chorus to chorus, at least (judgement, no source)."""
_THROWS = 6
_LETS_GO = "lets go"
_AROUND = TICKS_PER_QUARTER // 8
"""Ticks before a beat within which a note belongs to it: players drift."""
_MEMBERS = (1, 3, 5, 7)
_OCTAVE = 12


def with_the_tune(
    tune: Tune,
    key: Key,
    library: Library,
    *,
    intro: Intro | None = None,
    choruses: int = SEVERAL,
    open_end: bool = True,
    channel_of: ChannelOf = own_channel,
    stage: Stage | None = None,
    seed: int = 0,
) -> Performance:
    """An intro and the tune behind it, as one performance.

    Where the tune lets its intro wait for the foot, or go round, it does not do so here: the choruses do.

    Args:
        tune: with a chart.
        key: the key that was called, of the chart's mode.
        library: all content.
        intro: the intro; None for the tune's own, else the one that suits best.
        choruses: 1 at least. With an open end so many are different ones before the first comes again, and
            the last chorus is any at which it is left; else so many are played, the last one among them.
        open_end: whether the choruses go round until the nod.
        channel_of: part number to (output, channel).
        stage: who plays; the default line-up when left out.
        seed: of this playing.

    Raises:
        ArrangeError: when the tune has no chart, or has one for the other mode; or for its intro's sake.
        ValueError: for no chorus.
    """
    choruses_of(tune, key)  # without a chart no intro need be arranged
    led = Leading(tapped=tune.leading.tapped, start_clock=tune.leading.start_clock)
    plain = replace(tune, landing="cut", leading=led)
    begins = ready(plain, key, library, intro=intro, channel_of=channel_of, stage=stage, seed=seed)
    return followed(
        begins,
        tune,
        key,
        library,
        choruses=choruses,
        open_end=open_end,
        channel_of=channel_of,
        stage=stage,
        seed=seed,
    )


def followed(
    intro: Performance,
    tune: Tune,
    key: Key,
    library: Library,
    *,
    choruses: int = SEVERAL,
    open_end: bool = True,
    channel_of: ChannelOf = own_channel,
    stage: Stage | None = None,
    seed: int = 0,
) -> Performance:
    """A performance of an intro with the tune behind it, at the intro's tempo.

    The arguments are those of `with_the_tune`; of its landing nothing is left, for a chorus begins there.
    With an open end it waits for nobody either: what was to wait is played in time.

    Raises:
        ArrangeError: when the tune has no chart, or has one for the other mode.
        ValueError: for no chorus.
    """
    if choruses < 1:
        raise ValueError(f"one chorus at least, not {choruses}")
    if open_end:
        intro = replace(intro, waits=(), out_of_time=False, tapped_on=False)
    tune = replace(tune, tempo=intro.tempo)
    count = choruses + 1 if open_end else choruses
    scores = chorus_scores(tune, key, library, count=count, stage=stage, seed=seed)
    parts = [played_chorus(score, library, channel_of=channel_of) for score in scores]
    begins = starts_of([intro, *parts])[1:-1]
    away = choruses_of(tune, key).leaves * intro.bar_ticks
    *exits, end = (start + away for start in begins)
    vamp = (exits[0], end) if open_end else None
    return joined([intro, *parts], vamp=vamp, exits=exits if open_end else (), channel_of=channel_of)


def chorus_scores(
    tune: Tune, key: Key, library: Library, *, count: int, stage: Stage | None = None, seed: int = 0
) -> list[Score]:
    """Writes choruses of a tune by its chart, the last chorus last.

    Of each two, half of the bars at least are comped in different ways, as far as a few throws of the dice
    can bring it about: a ballad's chords have few places to be struck at.

    Args:
        tune: with a chart.
        key: the key that was called, of the chart's mode.
        library: all content.
        count: how many, the last one among them.
        stage: who plays; the default line-up when left out.
        seed: of the whole playing; the same one gives the same choruses.

    Raises:
        ArrangeError: when the tune has no chart, or has one for the other mode.
    """
    fitting = for_choruses(library)
    found: list[Score] = []
    for number in range(1, count + 1):
        plan = chorus_plan(tune, key, last=number == count)
        thrown: list[tuple[float, Score]] = []
        while not thrown or (thrown[-1][0] < UNLIKE and len(thrown) < _THROWS):
            own = dice(seed, CHORUS, number, len(thrown)).getrandbits(32)
            score = arrange(plan, fitting, stage=stage, seed=own)
            thrown.append((min((unlike(score, before) for before in found), default=1.0), score))
        found.append(max(thrown, key=itemgetter(0))[1])
    return found


def unlike(one: Score, other: Score) -> float:
    """The share of the bars that both have in which the comp plays something else, 0 to 1."""
    bars = min(one.plan.bars, other.plan.bars)
    mine, yours = (_comped(score)[:bars] for score in (one, other))
    return sum(own != theirs for own, theirs in zip(mine, yours, strict=True)) / bars


def _comped(score: Score) -> list[list[tuple[int, int]]]:
    """What the comp strikes in each bar: (tick in the bar, MIDI note)."""
    bar = score.plan.bar_ticks
    found: list[list[tuple[int, int]]] = [[] for _ in range(score.plan.bars)]
    for note in score.notes:
        if note.part == COMP and note.onset < score.plan.head_tick:
            found[note.onset // bar].append((note.onset % bar, note.pitch))
    return found


def played_chorus(score: Score, library: Library, *, channel_of: ChannelOf = own_channel) -> Performance:
    """A chorus as the player takes it, its first downbeat at tick 0.

    The last one ends behind the bar in which it lands, and rings on where its chord is held for another.
    """
    performance = handed_over(score, for_choruses(library), channel_of=channel_of)
    plan = score.plan
    last = plan.tune.landing != "cut"
    regular, ending = (chorus_plan(plan.tune, plan.key, last=which) for which in (False, True))
    away = choruses_of(plan.tune, plan.key).leaves * plan.bar_ticks
    notes = performance.notes
    if score.scene.seats.bass and _bass(_chord_at(regular, away)) != _bass(_chord_at(ending, away)):
        notes = legal(_open_to_both(plan, notes, away), channel_of)
    if not last:
        return replace(performance, notes=notes)
    landing = _head_of(plan)
    end = plan.head_tick + plan.bar_ticks
    return replace(
        performance,
        notes=notes,
        head_tick=end,
        end_tick=max(end, performance.end_tick),
        chords=(*performance.chords, ChordMark(landing.onset, symbol_of(landing), str(landing.numeral))),
    )


def for_choruses(library: Library) -> Library:
    """The library, with feels that let go in the last bar: the next chorus begins as softly as the first.

    An intro may dig in towards the head; a chorus that did would fall back by twenty units of velocity at its
    own first bar.
    """
    feels = {name: replace(feel, last_bar=_LETS_GO) for name, feel in library.feels.items()}
    return replace(library, feels=feels)


def _open_to_both(plan: Plan, notes: tuple[PlayedNote, ...], line: int) -> list[PlayedNote]:
    """The notes, the bass's last ones before a bar line tones of their chord: else they lead one way only."""
    first = line - TICKS_PER_QUARTER - _AROUND
    return [
        note._replace(pitch=_nearest(plan.chords[plan.at(max(note.onset, note.harmony_tick))], note.pitch))
        if note.part == BASS and first <= note.onset < line - _AROUND and note.harmony_tick < line
        else note
        for note in notes
    ]


def _nearest(chord: PlannedChord, pitch: int) -> int:
    """The nearest pitch of the chord's bass, root, third, fifth and seventh."""
    own = {_bass(chord), *(tone.pitch_class for tone in chord.chord.required if tone.degree in _MEMBERS)}
    near = range(pitch - _OCTAVE // 2, pitch + _OCTAVE // 2 + 1)
    return min((one for one in near if one % _OCTAVE in own), key=lambda one: abs(one - pitch))


def _chord_at(plan: Plan, tick: int) -> PlannedChord:
    return plan.chords[plan.at(tick)] if tick < plan.head_tick else _head_of(plan)


def _head_of(plan: Plan) -> PlannedChord:
    """What a chorus leads to, as a chord of it."""
    return PlannedChord(plan.head_tick, plan.bar_ticks, plan.tune.first_chord, plan.head, None)


def _bass(chord: PlannedChord) -> int:
    return chord.chord.bass.pitch_class
