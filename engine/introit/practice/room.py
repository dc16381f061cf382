"""The practice room: gives the next pass, takes what came of the last. No clock, no I/O."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import replace

from introit.errors import UsageError
from introit.performance import PARTS
from introit.practice.climbing import Climbing
from introit.practice.goal import Goal, Lesson
from introit.practice.growing import BARS, CHORD_STEPS, STEP_WORDS
from introit.practice.hiding import hidden, melody_level
from introit.practice.listening import Mistakes, heard
from introit.practice.passes import FULL, Coming, Outcome, Pass
from introit.practice.stations import Station, Way, rounds_of
from introit.practice.string_sets import gripped, set_name, string_sets
from introit.practice.subject import Subject
from introit.theory.meter import Meter


class Room:
    """What is practised, pass after pass.

    The order of tunes, keys and hidden parts is settled before the first pass; the presses move the tempo of
    a climb and the step of a lesson that grows.

    Args:
        goal: what is practised, and how.
        subjects: the tunes, in their order; each with all its keys before the next one comes.
        seed: of everything that is thrown; the same one gives the same passes for the same outcomes.

    Raises:
        UsageError: when the goal does not suit what is practised; it says why.
    """

    def __init__(self, goal: Goal, subjects: Sequence[Subject], *, seed: int = 0) -> None:
        self._goal = goal
        self._subjects = tuple(subjects)
        self._seed = seed
        _check(goal, self._subjects)
        self._way = Way(goal, self._subjects, seed=seed)
        self._number = 1
        self._climbing = Climbing(goal.climb) if goal.climb else None
        self._step = 1
        self._said = ""
        self._pass: Pass | None = None

    @property
    def _here(self) -> Station:
        return self._way.at(self._number)

    @property
    def _ahead(self) -> Station:
        return self._way.at(self._number + 1)

    def first(self) -> Pass:
        """The first pass; from there on it is `next` that is asked. Asked again, it is the same one.

        Raises:
            UsageError: when the intro has too few chords to make a mistake in.
        """
        if self._pass is None:
            self._pass = self._made(1, fresh=True)
        return self._pass

    def next(self, outcome: Outcome) -> Pass | None:
        """The pass after one; None when the practice is over.

        Args:
            outcome: what came of the last pass that was given.
        """
        done = self.first()
        self._said = self._take(done, outcome)
        if outcome.over or done.number == self._goal.passes:
            return None
        before = self._here
        self._number = done.number + 1
        self._pass = self._made(self._number, fresh=_place(before) != _place(self._here))
        return self._pass

    def twin(self) -> Room:
        """Another room in the same state: what is asked of the one changes nothing in the other."""
        return copy(self)

    def clean(self, outcome: Outcome) -> bool | None:
        """Whether the last pass that was given was clean; None where nobody has said.

        A press says that it was; where the climb waits for presses, none says that it was not. A mistake that
        was heard, without a false alarm, is clean. In a lesson that grows a press says nothing of the kind.
        """
        done = self.first()
        if done.planted is not None:
            found = heard(done.planted, outcome.marks, self._bar_ticks(done))
            return found.heard and not found.false_alarms
        if done.build or self._goal.ear:
            return None
        if outcome.marks:
            return True
        return False if self._goal.climb and self._goal.climb.pressed else None

    def said(self) -> str:
        """What came of the pass before, for the screen; empty where there is nothing to say."""
        return self._said

    def sentence(self, one: Pass) -> str:
        """The pass that is played, in a line for the screen; a mistake is not told."""
        subject = self._subjects[one.tune]
        words = [subject.tune.title] if len(self._subjects) > 1 else []
        of_round = f" ({self._here.place} of {self._here.keys})" if self._here.keys > 1 else ""
        words.append(f"{one.key}{of_round}")
        where = self._climbing.sentence() if self._climbing else ""
        words.append(f"{one.tempo:g}" + (f" ({where})" if where else ""))
        if one.bars is not None:
            words.append(str(one.bars))
        if one.rounds > 1:
            words.append(f"{one.rounds} rounds")
        words += _out(one)
        if one.answer:
            bars = "1 bar" if one.answer == 1 else f"{one.answer} bars"
            words.append(f"{bars} the tool, {bars} you")
        if one.build == Lesson.CHORDS:
            words.append(f"step {one.step} of {one.steps}: {STEP_WORDS[one.step - 1]}")
        if one.build == Lesson.STRINGS:
            words.append(f"strings {set_name(one.step, subject.stage.fretboard)}")
        return ", ".join(words)

    # --- what came of a pass ------------------------------------------------------------------------

    def _take(self, done: Pass, outcome: Outcome) -> str:
        """Takes an outcome in; what it says, for the screen."""
        if done.planted is not None:
            return self._told(done, outcome)
        if done.build:
            self._step = (self._step - 1 + len(outcome.marks)) % done.steps + 1
            return ""
        if self._climbing is None or outcome.over:
            return ""
        before = self._climbing.tempo
        self._climbing = self._climbing.after(clean=bool(outcome.marks))
        tempo = self._climbing.tempo
        if tempo == before:
            return ""
        return f"{'up' if tempo > before else 'down'} to {tempo:g}"

    def _told(self, done: Pass, outcome: Outcome) -> str:
        """Whether the mistake was heard, and what it was."""
        planted, bar = done.planted, self._bar_ticks(done)
        if planted is None:
            return ""
        found = heard(planted, outcome.marks, bar)
        right = self._subjects[done.tune].plan(done.key, done.tempo).chords[planted.chord]
        where = f"in bar {right.onset // bar + 1}"
        if planted.instead is None:
            what = f"{right.numeral} was left out {where}"
        else:
            what = f"{planted.instead} stood for {right.numeral} {where}"
        words = [f"heard after {found.beats:.1f} beats" if found.beats is not None else "not heard", what]
        if found.false_alarms:
            words.append(f"{found.false_alarms} false alarm{'s' if found.false_alarms > 1 else ''}")
        return "; ".join(words)

    # --- the next one -------------------------------------------------------------------------------

    def _made(self, number: int, *, fresh: bool) -> Pass:
        """The pass at the station that has been reached. fresh: whether it is another key or tune's."""
        goal, here = self._goal, self._here
        subject = self._subjects[here.tune]
        tempo = self._climbing.tempo if self._climbing else goal.tempo or subject.tune.tempo
        last = number == goal.passes
        made = Pass(
            number=number,
            tune=here.tune,
            intro=subject.intro.id,
            key=here.key,
            tempo=tempo,
            rounds=goal.rounds,
            bars=goal.bars,
            rest=self._rest(last=last),
            count=self._count(number),
            cue=bool(goal.keys and goal.keys.cue and fresh),
            hidden=hidden(goal, here.turn),
            melody=melody_level(goal, here.turn),
            answer=goal.answer,
            build=goal.build or "",
            step=self._step if goal.build else 0,
            steps=_steps(goal, subject),
            seed=self._seed,
            coming=None if last else self._coming(),
        )
        if goal.ear is None:
            return made
        score = subject.score(made.key, made.tempo, made.seed)
        bar = score.plan.bar_ticks
        span = ((made.bars.first - 1) * bar, made.bars.last * bar) if made.bars else (0, score.plan.head_tick)
        last_planted = self._pass.planted if self._pass else None
        mistakes = Mistakes(
            goal.ear, seed=f"{self._seed} {number}", before=last_planted.chord if last_planted else None
        )
        try:
            return replace(made, planted=mistakes.plant(subject, score, span, made.rounds))
        except UsageError:
            if number == 1:
                raise
            return made  # in this key there is nowhere for one: it is played as it should be

    def _rest(self, *, last: bool) -> int:
        """Bars behind the pass; a cue without a count takes its bar from them, where they are two or more."""
        goal = self._goal
        fresh = _place(self._here) != _place(self._ahead)
        cued = not last and goal.keys is not None and goal.keys.cue and fresh
        return max(goal.rest - int(cued and not self._count(self._number + 1)), 1)

    def _count(self, number: int) -> int:
        """Bars of click before a pass: where a set goes over to another tempo or meter, one at least."""
        if number == 1:
            return self._goal.count
        before, here = (self._time(self._way.at(one)) for one in (number - 1, number))
        return max(self._goal.count, int(before != here))

    def _time(self, station: Station) -> tuple[float, Meter]:
        """The tempo and meter of a station's tune."""
        tune = self._subjects[station.tune].tune
        return self._goal.tempo or tune.tempo, tune.meter

    def _coming(self) -> Coming:
        here, ahead, goal = self._here, self._ahead, self._goal
        words = []
        if ahead.tune != here.tune:
            words.append(self._subjects[ahead.tune].tune.title)
        if _place(ahead) != _place(here):
            words.append(str(ahead.key))
        (tempo, meter), (tempo_now, meter_now) = self._time(ahead), self._time(here)
        words += [f"in {meter}"] * (meter != meter_now) + [f"at {tempo:g}"] * (tempo != tempo_now)
        if hidden(goal, ahead.turn) != hidden(goal, here.turn):
            words += _out_words(hidden(goal, ahead.turn))
        return Coming(f"next: {', '.join(words)}" if words else "", ahead.key, ahead.tune)

    def _bar_ticks(self, one: Pass) -> int:
        return self._subjects[one.tune].tune.meter.ticks_per_bar


def _place(station: Station) -> tuple[int, str]:
    """The tune and the key, between which a station is announced."""
    return station.tune, str(station.key)


def _out(one: Pass) -> list[str]:
    words = _out_words(one.hidden)
    if one.melody < FULL:
        words.append(f"melody at {one.melody} %" if one.melody else "melody out")
    return words


def _out_words(parts: frozenset[str]) -> list[str]:
    """The pedal point goes with the bass and is not told."""
    names = [part for part in PARTS if part in parts and part != "pedal"]
    return [f"{' and '.join(names)} out"] if names else []


def _steps(goal: Goal, subject: Subject) -> int:
    if goal.build is None:
        return 0
    return CHORD_STEPS if goal.build is Lesson.CHORDS else string_sets(subject.stage.fretboard)


def _check(goal: Goal, subjects: Sequence[Subject]) -> None:
    """What only shows with what is practised.

    Raises:
        UsageError: when the goal does not suit it.
    """
    if not subjects:
        raise UsageError("there is nothing to practise: name an intro, a tune or a set")
    if len(subjects) > 1 and goal.climb:
        raise UsageError("climb takes one intro or tune: those of a set have tempi of their own")
    if len(subjects) == 1 and goal.keys and goal.keys.of_set:
        raise UsageError("keys of the set need a set to practise; for one intro name them: keys C, F, Bb")
    if len(subjects) > 1 and goal.bars:
        raise UsageError(f"{goal.bars} of which intro? A passage takes one intro or tune, not a set")
    for subject in subjects:
        if goal.bars is not None and goal.bars.last > subject.bars:
            raise UsageError(
                f"there is no bar {goal.bars.last}: intro {subject.intro.id!r} has bars 1 to {subject.bars}"
            )
        if goal.answer:
            _check_answer(goal, subject)
    if goal.build is Lesson.STRINGS:
        for subject, way in zip(subjects, rounds_of(goal, subjects), strict=True):
            for key in next(way):
                gripped(subject.plan(key, subject.tune.tempo), subject.stage.fretboard, 1)


def _check_answer(goal: Goal, subject: Subject) -> None:
    whole = BARS if goal.build else subject.bars
    bars = (goal.bars.last - goal.bars.first + 1 if goal.bars else whole) * goal.rounds
    if bars <= goal.answer:
        there = "1 bar" if bars == 1 else f"{bars} bars"
        raise UsageError(
            f"a pass has {there}, so nothing would be left to you after {goal.answer} of the tool; "
            "take fewer bars to answer, or more rounds"
        )
