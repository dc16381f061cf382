"""A practice that can begin: its goal and its tunes, the room at work, and what the log keeps of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from introit.arrange.legal import ChannelOf
from introit.arrange.suggest import rank
from introit.cli.practising import Ended, Practising
from introit.cli.staging import stage_for
from introit.errors import UsageError
from introit.library.model import Library, Tune
from introit.library.stage import Rig
from introit.practice.goal import Goal
from introit.practice.log import Played, PracticeLog
from introit.practice.making import made
from introit.practice.room import Room
from introit.practice.sentence import goal_from
from introit.practice.subject import Subject


@dataclass(frozen=True, slots=True)
class PracticePlan:
    """A practice that can begin.

    Attributes:
        goal: how it goes.
        subjects: what is practised, in order.
        room: in which it begins.
    """

    goal: Goal
    subjects: tuple[Subject, ...]
    room: Room

    @classmethod
    def of(cls, goal: Goal, subjects: Sequence[Subject], *, seed: int) -> PracticePlan:
        """Puts goal and subjects together.

        Raises:
            UsageError: when the goal does not suit what is practised; it says why.
        """
        return cls(goal, tuple(subjects), Room(goal, subjects, seed=seed))

    def begin(
        self,
        channel_of: ChannelOf,
        say: Callable[[str], None],
        ahead: Callable[[], int],
        keep: Callable[[Played], None],
    ) -> Practising:
        """The room at work.

        Args:
            channel_of: the parts' channels.
            say: writes a line.
            ahead: nanoseconds that the ports look ahead.
            keep: takes what was played, for the log.
        """
        return Practising(
            self.room,
            lambda one: made(one, self.subjects, channel_of=channel_of),
            say=say,
            keep=lambda ended: keep(self._played(ended)),
            ahead=ahead,
            press=self._press,
            tunes=[subject.tune for subject in self.subjects],
        )

    @property
    def _press(self) -> str:
        """What a press means."""
        if self.goal.build is not None:
            return "the next step"
        return "there it was" if self.goal.ear is not None else "clean"

    @property
    def _mode(self) -> str:
        """How it is practised, as the log has it."""
        goal = self.goal
        words = {
            "keys": goal.keys,
            "climb": goal.climb,
            "hide": goal.hide,
            "fade": goal.fade,
            "answer": goal.answer,
            "build": goal.build,
            "listen": goal.ear,
        }
        return " ".join(word for word, is_so in words.items() if is_so) or "loop"

    def _played(self, ended: Ended) -> Played:
        one, tune = ended.one, self.subjects[ended.one.tune].tune
        hidden = {*one.hidden, *(["melody"] if one.melody == 0 else [])}
        return Played(
            ended.began,
            ended.seconds,
            intro=one.intro,
            key=one.key,
            tempo=one.tempo,
            tune="" if tune.id == one.intro else tune.id,
            hidden=tuple(sorted(hidden)),
            clean=ended.clean,
            mode=self._mode,
            goal=None if self.goal.climb is None else self.goal.climb.high,
            bars="" if one.bars is None else f"{one.bars.first}-{one.bars.last}",
        )


def subject_of(tune: Tune, library: Library, rig: Rig) -> Subject:
    """A tune with the intro that it names, or the one that suits it best.

    Raises:
        UsageError: if none does.
    """
    stage = stage_for(tune, rig)
    if tune.intro is not None:
        return Subject.of(tune, library, stage=stage)
    best = rank(library.intros.values(), tune, tune.key, line_up=stage.line_up)
    if not best:
        raise UsageError(f"no intro in the library suits {tune.title!r}")
    return Subject.of(tune, library, intro=best[0].intro.id, stage=stage)


def beginning(
    rig: Rig,
    library: Callable[[], Library],
    *,
    channel_of: ChannelOf,
    ahead: Callable[[], int],
    say: Callable[[str], None],
    seed: int,
) -> Callable[[Sequence[Tune], str], tuple[Practising, Callable[[], None]]]:
    """What begins a practice of some tunes, as a sentence says; it gives the room, and what closes its log.

    Args:
        rig: that it is played on.
        library: where intros come from, as it is by then.
        channel_of: the parts' channels.
        ahead: nanoseconds that the ports look ahead.
        say: writes a line.
        seed: of all that is thrown.
    """

    def begin(tunes: Sequence[Tune], how: str) -> tuple[Practising, Callable[[], None]]:
        goal = goal_from(how)
        subjects = [subject_of(tune, library(), rig) for tune in tunes]
        plan = PracticePlan.of(goal, subjects, seed=seed)
        log = PracticeLog.open(say)
        return plan.begin(channel_of, say, ahead, log.add), log.close

    return begin
