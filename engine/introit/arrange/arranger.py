"""From a plan to a score to a performance, and all of it at once for a tune in a key."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from introit.arrange.bass import bass_notes, pedal_notes
from introit.arrange.comping import Stroke, comp_strokes, pushes_of
from introit.arrange.count_off import DEFAULT_LEVEL, count_off
from introit.arrange.cue import cue_of, first_note_of
from introit.arrange.ending import finish
from introit.arrange.feel import played
from introit.arrange.fermata import asked_whole, gathered, in_time, with_whole_grips
from introit.arrange.form import ArrangeError
from introit.arrange.giving_way import breathed, cleared
from introit.arrange.heard import hits_of, passed_over
from introit.arrange.led import vamp_of
from introit.arrange.legal import ChannelOf, legal, own_channel
from introit.arrange.line_up import Stage
from introit.arrange.melody import write_melody
from introit.arrange.one_guitar import on_one_guitar, one_sound, thumb_notes
from introit.arrange.ornaments import ornamented
from introit.arrange.peak import with_a_peak, without_a_late_top
from introit.arrange.plan import Plan, PlannedChord, plan_intro
from introit.arrange.rhythms import manners_of, rhythms_of, with_rhythms
from introit.arrange.ride import ride_notes
from introit.arrange.round import going_round, heard_each_round
from introit.arrange.scene import Scene, set_scene
from introit.arrange.score import COMP, Score, ScoreNote
from introit.arrange.shelf import feel_of
from introit.arrange.suggest import rank
from introit.arrange.textures import TEXTURES, Work
from introit.arrange.textures.inner_line import tops_of_lines
from introit.arrange.voicing import Voicing, Wish, voice
from introit.arrange.waits import waits
from introit.arrange.wishes import wishes
from introit.errors import did_you_mean
from introit.library.model import Intro, Library, Tune
from introit.performance import ChordMark, Performance
from introit.theory.key import Key
from introit.units import TICKS_PER_QUARTER

__all__ = ["ArrangeError", "arrange", "feel_of", "handed_over", "perform", "ready", "symbol_of", "written"]

MOST_TOPS = 3
"""How often the voicings are asked to go with the tops of inner lines, which may change with them."""
MOST_PEAKS = 3
"""How often a peak is asked for: where a chord cannot rise to it, the others are asked to stay lower yet."""


def arrange(plan: Plan, library: Library, *, stage: Stage | None = None, seed: int = 0) -> Score:
    """Writes the notes of a plan.

    The melody comes first, the comping answers in its gaps, the voicings lie under it and are found all at
    once, the textures lay them out in time, and the bass goes under what is there.

    Args:
        plan: the chords.
        library: holds the feel, the comping rhythms and the bass manners.
        stage: who plays; the default line-up on a standard guitar when left out.
        seed: of this playing; the same one gives the same notes.

    Raises:
        ArrangeError: when the feel, a comping rhythm or a bass manner for the meter is not in the library.
    """
    feel = feel_of(plan.tune, library)
    scene = set_scene(plan, stage or Stage(), seed=seed)
    melody = write_melody(scene)
    pushes = pushes_of(plan.tune.feel)
    rhythms = rhythms_of(scene, feel, library)
    scene = with_rhythms(scene, rhythms)
    strokes = in_time(scene, comp_strokes(scene, rhythms, melody=melody, pushes=pushes))
    voicings = _voicings(scene, melody, strokes)
    notes = [*melody, *_textured(scene, voicings, strokes, melody)]
    if scene.seats.bass:
        notes += bass_notes(scene, manners_of(scene, feel, library), above=notes)
        notes += pedal_notes(plan, above=notes, distance=scene.seats.over_bass)
        notes = cleared(notes, distance=scene.seats.over_bass)
    else:
        notes += thumb_notes(scene, voicings, strokes, above=notes)
    notes = ornamented(scene, feel, notes)
    if scene.seats.ride:
        notes += ride_notes(scene, feel)
    notes = finish(scene, notes, may_push=pushes[0] > 0)
    if scene.seats.one_pair_of_hands:
        notes = on_one_guitar(scene, notes)
    elif scene.seats.comp_on == "guitar":
        notes = breathed(notes, scene.stage, bar_ticks=plan.bar_ticks)
    notes = gathered(scene, notes)
    return Score(scene, tuple(sorted(notes, key=lambda note: (note.onset, note.part, note.pitch))))


def _voicings(scene: Scene, melody: Sequence[ScoreNote], strokes: Sequence[Stroke]) -> tuple[Voicing, ...]:
    """A voicing for each unit; where no melody is the highest, found again for a peak of the comp's own."""
    asked = asked_whole(scene, wishes(scene, melody, strokes))
    hits = hits_of(scene, strokes, melody)
    found = voice(scene, asked, hits=hits)
    led: list[Wish] = []
    for _ in range(MOST_TOPS):
        known = _with_tops_of_lines(scene, asked, found, melody)
        if known is None:
            break
        found, led = voice(scene, known, hits=hits), known
    for _ in range(0 if melody or led else MOST_PEAKS):
        peaked = with_a_peak(scene, asked, found, strokes)
        if peaked is None:
            break
        found = voice(scene, peaked, hits=hits)
    late = without_a_late_top(scene, led, found, strokes) if led and not melody else None
    return voice(scene, late, hits=hits) if late else found


def _with_tops_of_lines(
    scene: Scene, asked: Sequence[Wish], found: tuple[Voicing, ...], melody: Sequence[ScoreNote]
) -> list[Wish] | None:
    """Wishes that know the tops of the grips that inner lines will bring, so that the others go with them.

    None where there is no such line, or all of its tops are those found.
    """
    tops: dict[int, int] = {}
    for passage in scene.passages:
        if passage.texture == "inner line":
            tops |= tops_of_lines(Work(scene, passage, found, (), tuple(melody)))
    if all(found[unit].top == top for unit, top in tops.items()):
        return None
    return [
        wish._replace(top=frozenset({tops[unit] % 12}), lowest_top=tops[unit]) if unit in tops else wish
        for unit, wish in enumerate(asked)
    ]


def _textured(
    scene: Scene, voicings: tuple[Voicing, ...], strokes: Sequence[Stroke], melody: Sequence[ScoreNote]
) -> list[ScoreNote]:
    notes: list[ScoreNote] = []
    for passage in scene.passages:
        texture = TEXTURES[passage.texture]
        own = tuple(stroke for stroke in strokes if passage.start <= stroke.onset < passage.end)
        work = Work(scene, passage, voicings, own if texture.stroked else (), tuple(melody))
        notes += texture.notes(work)
        notes += _passed_over(work, notes, melody)
    notes = with_whole_grips(scene, voicings, notes, melody)
    return heard_each_round(scene, voicings, notes, melody)


def _passed_over(work: Work, notes: Sequence[ScoreNote], melody: Sequence[ScoreNote]) -> list[ScoreNote]:
    """A short grip of each chord that begins in a passage and that nothing else there sounds.

    It gives way to the next one, which may be pushed.
    """
    scene = work.scene
    gripped, sung = ({note.harmony_tick for note in part} for part in (notes, melody))
    bars = {note.onset // scene.plan.bar_ticks for note in notes}
    onsets = sorted({note.onset for note in notes if note.part == COMP})
    found: list[ScoreNote] = []
    for unit in passed_over(scene, work.passage, gripped=gripped, sung=sung, bars=bars):
        start = scene.units[unit].start
        following = onsets[bisect_right(onsets, start) :][:1]
        end = min(start + TICKS_PER_QUARTER, scene.units[unit].end, *following)
        found += [work.sound(unit, voice, (start, end)) for voice in work.voices(unit)]
    return found


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
    counted = count_off(plan.meter, tune.count_off, level=level, sound=score.scene.stage.click)
    sounding, where = waits(score.scene, played(score, feel))
    if (vamp := vamp_of(plan)) is not None:
        sounding = going_round(plan, sounding, vamp)
    notes = [*counted, *sounding]
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
        end_tick=max([plan.head_tick, *(note.end for note in notes)]),
        notes=legal(notes, channel_of),
        chords=tuple(ChordMark(chord.onset, symbol_of(chord), str(chord.numeral)) for chord in plan.chords),
        vamp=vamp,
        once_more=tune.leading.once_more,
        waits=where,
        out_of_time=bool(where and tune.leading.colla_voce),
        tapped=tune.leading.tapped,
        tapped_on=tune.leading.tapped_on,
        start_clock=tune.leading.start_clock,
        cue=cue_of(plan),
        first_note=first_note_of(plan),
    )


def ready(
    tune: Tune,
    key: Key,
    library: Library,
    *,
    intro: Intro | None = None,
    channel_of: ChannelOf = own_channel,
    stage: Stage | None = None,
    seed: int = 0,
) -> Performance:
    """Everything from tune and key to a performance.

    Args:
        tune: the tune.
        key: the key that was called.
        library: all content.
        intro: the intro to play; None for the tune's own, else the one that suits best.
        channel_of: part number to (output, channel).
        stage: who plays; the default line-up when left out.
        seed: of this playing.

    Raises:
        ArrangeError: when the intro does not suit, or none does.
    """
    score = written(tune, key, library, intro=intro, stage=stage, seed=seed)
    return handed_over(score, library, channel_of=channel_of)


def written(
    tune: Tune,
    key: Key,
    library: Library,
    *,
    intro: Intro | None = None,
    stage: Stage | None = None,
    seed: int = 0,
) -> Score:
    """From tune and key to a score; the arguments are those of `ready`.

    Raises:
        ArrangeError: when the intro does not suit, or none does.
    """
    chosen = intro or _intro_for(tune, key, library, stage)
    return arrange(plan_intro(chosen, tune, key), library, stage=stage, seed=seed)


def handed_over(score: Score, library: Library, *, channel_of: ChannelOf = own_channel) -> Performance:
    """A score's performance as the player takes it: one guitar has one sound."""
    performance = perform(score, library, channel_of=channel_of)
    return one_sound(performance, channel_of) if score.scene.seats.one_pair_of_hands else performance


def symbol_of(planned: PlannedChord) -> str:
    """The chord's symbol, with the pedal point's note after a slash where it is not the bass already."""
    if planned.pedal is None:
        return planned.chord.symbol
    return planned.chord.symbol_over(planned.pedal, lowered=planned.numeral.alter < 0)


def _intro_for(tune: Tune, key: Key, library: Library, stage: Stage | None) -> Intro:
    """The tune's own intro; else the one that suits it best."""
    if tune.intro is not None:
        named = library.intros.get(tune.intro)
        if named is None:
            hint = did_you_mean(tune.intro, library.intros)
            raise ArrangeError(f"no intro {tune.intro!r} in the library. {hint}".strip())
        return named
    suggestions = rank(library.intros.values(), tune, key, line_up=stage.line_up if stage else tune.line_up)
    if not suggestions:
        raise ArrangeError(
            f"no intro in the library suits {tune.title!r} ({tune.meter}, {key}, {tune.first_chord})"
        )
    return suggestions[0].intro
