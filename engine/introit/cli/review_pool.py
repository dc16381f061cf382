"""Reviewing many scores over the processor's cores, and telling what was found."""

from __future__ import annotations

import os
import signal
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import active_children, get_context
from typing import NamedTuple

from introit.arrange.review import Breach, Movement
from introit.arrange.review.sweep import Setting, reviewed, settings
from introit.errors import IntroitError
from introit.library.measures import Measures
from introit.library.model import Library

Progress = Callable[[int, int], None]
"""Is told how many jobs are done, and how many there are."""

ALL_KEYS = 12


class Job(NamedTuple):
    """What one process does in one go: an intro in one of its feels, or before one tune.

    Attributes:
        intro: id.
        feel: id of one of the intro's feels.
        own: the settings to review in place of all in that feel.
    """

    intro: str
    feel: str
    own: tuple[Setting, ...] = ()


class Bench(NamedTuple):
    """What every job needs.

    Attributes:
        library: all content.
        measures: the bounds.
        keys_each: how many keys of each mode.
        seed: of every playing; None for another one from score to score.
    """

    library: Library
    measures: Measures
    keys_each: int = ALL_KEYS
    seed: int | None = None


class Found(NamedTuple):
    """What one job found.

    Attributes:
        intro: id.
        scores, bad_scores: how many were reviewed, and how many have a breach.
        rules: breaches by rule.
        lines: to be printed, one for the same breach in any number of keys.
        movement: of voices and hand, added up.
    """

    intro: str
    scores: int
    bad_scores: int
    rules: Counter[str]
    lines: tuple[str, ...]
    movement: Movement


class _Place(NamedTuple):
    """Where and how a breach occurs, whatever the key."""

    mode: str
    playing: str
    rule: str
    bar: int
    beat: float


def jobs_for(library: Library, intros: Sequence[str]) -> list[Job]:
    """One job for each feel of each intro."""
    return [Job(name, feel) for name in intros for feel in library.intros[name].feels]


def search(bench: Bench, jobs: Sequence[Job], *, processes: int, progress: Progress) -> Iterator[Found]:
    """Does all jobs and yields what they found, in their order.

    Args:
        bench: what they need.
        jobs: what to do.
        processes: how many at once; with 1 everything is done here.
        progress: told after each job.

    Raises:
        IntroitError: when a process is lost.
    """
    if processes == 1 or len(jobs) < 2:
        for done, job in enumerate(jobs, start=1):
            yield do(job, bench)
            progress(done, len(jobs))
        return
    context = get_context("spawn")  # on every system alike: nothing is inherited by chance
    pool = ProcessPoolExecutor(min(processes, len(jobs)), context, initializer=_begin, initargs=(bench,))
    others = set(active_children())
    done = 0
    try:
        futures: list[Future[Found]] = [pool.submit(_do, job) for job in jobs]
        for done, future in enumerate(futures, start=1):
            yield future.result()
            progress(done, len(jobs))
    except BrokenProcessPool as error:
        raise IntroitError("a process that was reviewing scores is gone; --jobs 1 does without") from error
    finally:
        if done < len(jobs):  # Ctrl-C: nobody waits for what is begun
            for process in set(active_children()) - others:
                process.terminate()
        pool.shutdown(wait=True, cancel_futures=True)


def usable_cores() -> int:
    """How many cores this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1


_bench: Bench | None = None
"""In a process of the pool: what its jobs need."""


def _begin(bench: Bench) -> None:
    global _bench
    _bench = bench
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the parent answers it


def _do(job: Job) -> Found:
    assert _bench is not None
    return do(job, _bench)


def do(job: Job, bench: Bench) -> Found:
    """Reviews all settings of a job."""
    intro = bench.library.intros[job.intro]
    rules: Counter[str] = Counter()
    told: dict[_Place, tuple[str, list[str]]] = {}
    movement, scores, bad = Movement(), 0, 0
    for setting in job.own or _settings(job, bench):
        result = reviewed(intro, setting, bench.library, bench.measures)
        scores += 1
        bad += bool(result.breaches)
        movement = movement.plus(result.movement)
        rules.update(breach.rule for breach in result.breaches)
        for breach in result.breaches:
            _, keys = told.setdefault(_place(setting, breach), (str(breach), []))
            keys.append(str(setting.tune.key))
    lines = tuple(
        f"{job.intro} {_keys(keys, bench)} {place.playing}: {text}" for place, (text, keys) in told.items()
    )
    return Found(job.intro, scores, bad, rules, lines, movement)


def _settings(job: Job, bench: Bench) -> Iterator[Setting]:
    intro = bench.library.intros[job.intro]
    return settings(intro, bench.library, keys_each=bench.keys_each, feel=job.feel, seed=bench.seed)


def _place(setting: Setting, breach: Breach) -> _Place:
    return _Place(setting.tune.key.mode.value, str(setting), breach.rule, breach.bar, breach.beat)


def _keys(keys: list[str], bench: Bench) -> str:
    """The keys of one place; the text that follows is the first one's, for pitches differ from key to key."""
    different = list(dict.fromkeys(keys))
    times = f" ({len(keys)} times)" if len(keys) > len(different) else ""
    if len(different) == 1:
        return different[0] + times
    return f"{', '.join(different)} ({len(different)} keys)"
