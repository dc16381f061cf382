"""From a plan to a score to a performance, and all of it at once for a tune in a key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol, TypeVar

from introit.arrange.bass import bass_notes, pedal_notes
from introit.arrange.comp import comp_notes, comp_strokes
from introit.arrange.count_off import DEFAULT_LEVEL, count_off
from introit.arrange.feel import played
from introit.arrange.form import ArrangeError
from introit.arrange.legal import ChannelOf, legal, own_channel
from introit.arrange.melody import line_notes
from introit.arrange.plan import Plan, PlannedChord, plan_intro
from introit.arrange.riff import riff_figures, riff_notes
from introit.arrange.score import Score, ScoreNote
from introit.arrange.suggest import rank
from introit.arrange.voicing import voice_plan
from introit.errors import did_you_mean
from introit.library.model import Feel, Intro, Library, Tune
from introit.performance import ChordMark, Performance
from introit.theory.key import Key
from introit.theory.meter import Meter


class _ForMeters(Protocol):
    @property
    def meters(self) -> tuple[Meter, ...]: ...


_Rhythm = TypeVar("_Rhythm", bound=_ForMeters)


def arrange(plan: Plan, library: Library) -> Score:
    """Writes the notes of a plan: comp, bass or pedal point, melody.

    Raises:
        ArrangeError: when the feel, a comping rhythm or a bass manner for the meter is not in the library.
    """
    feel = feel_of(plan.tune, library)
    riff = riff_notes(plan) if plan.intro.melody.style == "riff" else []
    voicings = voice_plan(plan, beside=_beside(plan, riff))
    rhythm = _first_fitting(
        plan, _names(plan.intro.comping, feel.comping), library.comping, what="comping rhythm"
    )
    manner = _first_fitting(plan, _names(plan.intro.bass, feel.bass), library.bass, what="bass manner")
    strokes = comp_strokes(plan, rhythm, figures=riff_figures(plan, riff))
    line = line_notes(plan, voicings, strokes) if plan.intro.melody.style == "line" else []
    comp = comp_notes(plan, strokes, voicings)
    notes = [*riff, *line, *comp, *bass_notes(plan, manner, above=[*riff, *line, *comp]), *pedal_notes(plan)]
    return Score(plan, tuple(sorted(notes, key=lambda note: (note.onset, note.part, note.pitch))))


def perform(score: Score, library: Library, *, channel_of: ChannelOf = own_channel) -> Performance:
    """Plays a score with the tune's feel, with its count-off before it; legal for the given channels.

    Args:
        score: what to play.
        library: holds the feel.
        channel_of: part number to (output, channel); by default each part has its own.
    """
    plan = score.plan
    tune = plan.tune
    feel = feel_of(tune, library)
    level = feel.velocity.get("click", DEFAULT_LEVEL)
    notes = [*count_off(plan.meter, tune.count_off, level=level), *played(score, feel)]
    return Performance(
        intro=plan.intro.id,
        title=tune.title,
        key=str(plan.key),
        tonic=plan.key.tonic.pitch_class,
        minor=plan.key.is_minor,
        tempo=plan.tempo,
        beats=plan.meter.beats,
        start_tick=-tune.count_off * plan.bar_ticks,
        head_tick=plan.head_tick,
        notes=legal(notes, channel_of),
        chords=tuple(ChordMark(chord.onset, symbol_of(chord), str(chord.numeral)) for chord in plan.chords),
    )


def ready(
    tune: Tune,
    key: Key,
    library: Library,
    *,
    intro: Intro | None = None,
    channel_of: ChannelOf = own_channel,
) -> Performance:
    """Everything from tune and key to a performance.

    Args:
        tune: the tune.
        key: the key that was called.
        library: all content.
        intro: the intro to play; None for the tune's own, else the one that suits best.
        channel_of: part number to (output, channel).

    Raises:
        ArrangeError: when the intro does not suit, or none does.
    """
    chosen = intro or _intro_for(tune, key, library)
    return perform(arrange(plan_intro(chosen, tune, key), library), library, channel_of=channel_of)


def symbol_of(planned: PlannedChord) -> str:
    """The chord's symbol, with the pedal point's note after a slash where it is not the bass already."""
    if planned.pedal is None:
        return planned.chord.symbol
    return planned.chord.symbol_over(planned.pedal, lowered=planned.numeral.alter < 0)


def feel_of(tune: Tune, library: Library) -> Feel:
    """The tune's feel.

    Raises:
        ArrangeError: when the library has none of that name.
    """
    feel = library.feels.get(tune.feel)
    if feel is None:
        raise ArrangeError(
            f"no feel {tune.feel!r} in the library. {did_you_mean(tune.feel, library.feels)}".strip()
        )
    return feel


def _beside(plan: Plan, riff: Sequence[ScoreNote]) -> dict[int, frozenset[int]]:
    """Index of each chord that the riff plays on -> the riff's pitch classes there."""
    played_on: dict[int, frozenset[int]] = {}
    for note in riff:
        chord = plan.at(note.harmony_tick)
        played_on[chord] = played_on.get(chord, frozenset()) | {note.pitch % 12}
    return played_on


def _intro_for(tune: Tune, key: Key, library: Library) -> Intro:
    """The tune's own intro; else the one that suits it best."""
    if tune.intro is not None:
        named = library.intros.get(tune.intro)
        if named is None:
            hint = did_you_mean(tune.intro, library.intros)
            raise ArrangeError(f"no intro {tune.intro!r} in the library. {hint}".strip())
        return named
    suggestions = rank(library.intros.values(), tune, key)
    if not suggestions:
        raise ArrangeError(
            f"no intro in the library suits {tune.title!r} ({tune.meter}, {key}, {tune.first_chord})"
        )
    return suggestions[0].intro


def _names(own: str | None, of_feel: Sequence[str]) -> list[str]:
    return [*([own] if own else []), *of_feel]


def _first_fitting(plan: Plan, names: Sequence[str], shelf: Mapping[str, _Rhythm], *, what: str) -> _Rhythm:
    """The first named thing that is in the library and written for the meter."""
    for name in names:
        found = shelf.get(name)
        if found is not None and plan.meter in found.meters:
            return found
    tried = ", ".join(names) or "none"
    where = f"{plan.meter} in feel {plan.tune.feel!r}"
    raise ArrangeError(f"intro {plan.intro.id!r}: no {what} for {where}; tried: {tried}")
