"""Which scores stand for an intro: its keys, feels, meters, tempi and line-ups, and the review of each.

The first chord of the head, its pickup, the landing and the seed are another one from score to score.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from introit.arrange.arranger import arrange, perform
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.review.breach import Breach
from introit.arrange.review.hearing import Hearing
from introit.arrange.review.movement import Movement, movement_in
from introit.arrange.review.occasions import HEADS, Occasion, occasion_of
from introit.arrange.review.review import breaches_in
from introit.library.measures import Measures
from introit.library.model import Feel, Intro, Library, Tune
from introit.theory.key import Key, Mode, keys
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

FAILS = "cannot be arranged"
_USUAL_METER = Meter(4)


class Setting(NamedTuple):
    """One way of playing an intro.

    Attributes:
        tune: the head that it leads to, in the key that was called.
        line_up: who plays.
        seed: of this playing.
    """

    tune: Tune
    line_up: LineUp
    seed: int = 0

    def __str__(self) -> str:
        """The playing whatever the key, such as `bossa 128 trio, pickup 1, landing ring, seed 3`."""
        tune = self.tune
        meter = "" if tune.meter == _USUAL_METER else f" {tune.meter}"
        return f"{tune.feel}{meter} {tune.tempo:g} {self.line_up}{Occasion(tune, self.seed)}"


class Reviewed(NamedTuple):
    """What a review of one setting found.

    Attributes:
        breaches: by bar and beat.
        movement: of voices and hand.
    """

    breaches: list[Breach]
    movement: Movement


def settings(
    intro: Intro, library: Library, *, keys_each: int = 12, feel: str | None = None, seed: int | None = None
) -> Iterator[Setting]:
    """Every setting of an intro: keys, feels in their meters, slow to fast, line-ups; each on one occasion.

    Args:
        intro: the intro.
        library: holds its feels; those that are missing are left out.
        keys_each: how many keys of each mode, 1 to 12, spread evenly over the octave from C.
        feel: id of the only feel; None for all of the intro's.
        seed: of every playing; None for another one from setting to setting.
    """
    names = intro.feels if feel is None else (feel,)
    feels = [library.feels[name] for name in names if name in library.feels]
    playings = [
        (one, meter, tempo)
        for one in feels
        for meter in intro.meters
        if meter in one.meters
        for tempo in tempi(intro, one)
    ]
    for key in (key for mode in Mode for key in some_keys(mode, keys_each)):
        for one, meter, tempo in playings:
            usual = Numeral.from_text(HEADS[key.mode][0])
            plain = Tune(intro.id, intro.name, key, meter, tempo, one.id, usual)
            for name in intro.line_ups:
                occasion = occasion_of(intro, plain, line_up=name, seed=seed)
                if occasion is not None:
                    yield Setting(occasion.tune, LineUp(name), occasion.seed)


def some_keys(mode: Mode, count: int) -> tuple[Key, ...]:
    """So many keys of a mode, spread evenly over the octave from C; three are C, E and Ab."""
    return tuple(keys(mode)[number * 12 // count] for number in range(count))


def tempi(intro: Intro, feel: Feel) -> list[float]:
    """The ends and the middle of the tempi that both suit; none where they share none."""
    low, high = max(intro.tempo[0], feel.tempo[0]), min(intro.tempo[1], feel.tempo[1])
    return sorted({low, float(round((low + high) / 2)), high}) if low <= high else []


def reviewed(intro: Intro, setting: Setting, library: Library, measures: Measures) -> Reviewed:
    """Arranges an intro in a setting, plays it, and reviews it.

    An intro that cannot be arranged there, for whichever reason, has that for its one breach: a sweep over
    thousands of scores goes on.
    """
    tune = setting.tune
    try:
        stage = Stage(setting.line_up)
        score = arrange(plan_intro(intro, tune, tune.key), library, stage=stage, seed=setting.seed)
        hearing = Hearing(score, perform(score, library), measures)
        return Reviewed(breaches_in(hearing), movement_in(hearing))
    except Exception as error:  # told with its setting, where it can be looked into
        return Reviewed([Breach(FAILS, 1, 1.0, f"{type(error).__name__}: {error}")], Movement())


def users_of(names: Iterable[str], library: Library) -> list[Intro]:
    """The intros that name any of the feels, comping rhythms or bass manners."""
    wanted = set(names)
    return [intro for intro in library.intros.values() if wanted & _named_by(intro)]


def _named_by(intro: Intro) -> set[str | None]:
    passages = {name for passage in intro.passages for name in (passage.comping, passage.bass)}
    return {intro.comping, intro.bass, *intro.feels, *passages}
