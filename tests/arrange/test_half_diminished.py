"""A half-diminished chord is heard as one: the flat five parts it from a minor seventh (no source needed)."""

from __future__ import annotations

from collections.abc import Iterator

from introit.arrange.arranger import arrange, perform
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro, suits
from introit.arrange.review import review
from introit.arrange.score import RIDE, Score
from introit.library.content import program_root
from introit.library.measures import load_measures
from introit.library.model import Library, Tune
from introit.theory.key import Key, Mode, keys
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

DIMINISHED_FIFTH = 6
"""Semitones over the root."""
MOST_UNTOLD = 0.02
"""A share of the chords, where comp and bass are two (judgement). A guitar alone is not asked: under a melody
and over its own bass it has no finger left for it in two of five."""


def told(score: Score) -> Iterator[bool]:
    """For each half-diminished chord that is struck, whether any part sounds its flat five.

    Over a foreign bass it is another chord: over its fourth a dominant's flat nine with the fourth held.
    """
    for planned in score.plan.chords:
        chord, own = planned.chord, {tone.pitch_class for tone in planned.chord.required}
        if chord.quality in {"m7b5", "m9b5", "m11b5"} and score.plan.strikes(planned):
            bass = (planned.pedal or chord.bass).pitch_class
            if bass not in {chord.root.pitch_class, *own}:
                continue
            flat_five = (planned.chord.root.pitch_class + DIMINISHED_FIFTH) % 12
            yield any(
                note.pitch % 12 == flat_five
                for note in score.notes
                if note.harmony_tick == planned.onset and note.part < RIDE
            )


def scores(library: Library, line_up: LineUp) -> Iterator[Score]:
    """Every intro in its first meter and feel, in four keys of each of its modes."""
    for number, intro in enumerate(library.intros.values()):
        for mode in sorted({form.mode for form in intro.forms}):
            for key in keys(mode)[number % 3 :: 3]:
                first = Numeral.from_text("i6/9" if key.is_minor else "Imaj7")
                feel = library.feels[intro.feels[0]]
                tempo = min(max(feel.typical_tempo, intro.tempo[0]), intro.tempo[1])
                tune = Tune("t", "T", key, intro.meters[0], tempo, feel.id, first)
                if intro.meters[0] in feel.meters and suits(intro, tune, key) is None:
                    plan = plan_intro(intro, tune, key)
                    if any(planned.chord.quality.endswith("b5") for planned in plan.chords):
                        yield arrange(plan, library, stage=Stage(line_up))


def test_the_shipped_intros_sound_the_flat_five(shipped: Library) -> None:
    for line_up in set(LineUp) - {LineUp.SOLO_GUITAR}:
        found = [one for score in scores(shipped, line_up) for one in told(score)]
        assert len(found) > 100
        assert found.count(False) <= MOST_UNTOLD * len(found), line_up


def test_a_two_five_in_minor_tells_it_slow_and_fast(shipped: Library) -> None:
    intro = shipped.intros["two-bars-two-five"]
    for key in keys(Mode.MINOR):
        for tempo in (80.0, 200.0):
            tune = Tune("t", "T", key, intro.meters[0], tempo, "medium-swing", Numeral.from_text("i6/9"))
            for line_up in set(LineUp) - {LineUp.SOLO_GUITAR}:
                score = arrange(plan_intro(intro, tune, key), shipped, stage=Stage(line_up))
                assert all(told(score)), (key, tempo, line_up)


def test_two_bounds_that_push_each_other_back_and_forth_are_parted(shipped: Library) -> None:
    """With the flat five a leap came where the last dominant had two tensions, and went where it had one.

    The densest chord is the last dominant, and the top voice leaps once in four bars (both judgement).
    """
    intro, key = shipped.intros["last-four-bars"], Key.from_text("F")
    tune = Tune("t", "T", key, Meter(3), 56.0, "ballad", Numeral.from_text("ii7"))
    score = arrange(plan_intro(intro, tune, key), shipped, stage=Stage(LineUp.TRIO), seed=3)
    breaches = review(score, perform(score, shipped), load_measures([program_root()]))
    assert [str(breach) for breach in breaches] == []
