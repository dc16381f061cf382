"""A pass made ready to play: arranged, then cut as the pass wants it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from introit.arrange.arranger import feel_of, perform
from introit.arrange.count_off import DEFAULT_LEVEL
from introit.arrange.legal import ChannelOf, own_channel
from introit.arrange.one_guitar import one_sound
from introit.arrange.score import Score
from introit.arrange.tune_sounds import sounds_of
from introit.performance import Performance
from introit.practice.cut import cut
from introit.practice.goal import Lesson
from introit.practice.growing import grown
from introit.practice.listening import with_wrong_chord
from introit.practice.passes import Pass
from introit.practice.string_sets import strings_score
from introit.practice.subject import Subject


def made(one: Pass, subjects: Sequence[Subject], *, channel_of: ChannelOf = own_channel) -> Performance:
    """The performance of a pass, legal for the given channels.

    On a guitar alone all that is not hidden sounds where the melody goes, as it does on stage.

    Args:
        one: the pass.
        subjects: those that the room was given.
        channel_of: part number to (output, channel).

    Raises:
        ArrangeError: when the intro cannot be played in the pass's key.
        UsageError: when a chord cannot be held on a string set.
    """
    subject = subjects[one.tune]
    score = written(one, subject)
    library, tune = subject.library, subject.tune
    mistaken = None
    if one.planted is not None and one.planted.instead is not None:
        wrong = with_wrong_chord(subject, score, one.planted.chord, one.planted.instead)
        mistaken = perform(wrong, library)
    performance = cut(
        perform(score, library),
        one,
        mistaken=mistaken,
        click=subject.stage.click,
        level=feel_of(tune, library).velocity.get("click", DEFAULT_LEVEL),
        channel_of=channel_of,
    )
    if score.scene.seats.one_pair_of_hands:
        performance = one_sound(performance, channel_of)
    rest = one.rest * performance.bar_ticks
    return replace(performance, sounds=sounds_of(tune), rest=rest)


def written(one: Pass, subject: Subject) -> Score:
    """The score of a pass, whole and once: what a page or a screen shows of it.

    Raises:
        ArrangeError: when the intro cannot be played in the pass's key.
        UsageError: when a chord cannot be held on a string set.
    """
    if one.build == Lesson.STRINGS:
        return strings_score(subject.plan(one.key, one.tempo), subject.stage, one.step, seed=one.seed)
    if one.build == Lesson.CHORDS:
        subject = grown(subject, one.step, one.key)
    return subject.score(one.key, one.tempo, one.seed)
