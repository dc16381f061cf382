"""Asides: a few notes that sound beside whatever plays, at once and in time of their own, for one ear."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from typing import NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.messages import note_off, note_on
from introit.live.setup import Route
from introit.live.timeline import Timeline
from introit.live.tracks import Step, Track
from introit.performance import PlayedNote


def aside_steps(notes: Iterable[PlayedNote], routes: Iterable[Route], ports: int) -> list[list[Step]]:
    """The steps of some notes for each port, in order, without muted routes.

    Args:
        notes: in ticks from 0; legal on their channels.
        routes: where each part goes; a part may go to several places.
        ports: how many ports there are.
    """
    ways = [route for route in routes if not route.muted]
    steps: list[list[Step]] = [[] for _ in range(ports)]
    for number, note in enumerate(notes):
        for route in ways:
            if route.part == note.part:
                on = note_on(route.channel, note.pitch, note.velocity)
                off = note_off(route.channel, note.pitch)
                steps[route.port].append(Step(note.onset, Rank.ON, number, on, note.end, note.onset))
                steps[route.port].append(Step(note.end, Rank.OFF, number, off, note.end, note.onset))
    return [sorted(here) for here in steps]


class _Aside(NamedTuple):
    timeline: Timeline
    tracks: tuple[Track, ...]


class Asides:
    """What sounds beside the playing; the channels it sounds on are nobody else's. Pure.

    Args:
        routes: where each part goes.
        lookaheads: each port's, in nanoseconds.
        sequence: gives the next cue's number.
    """

    def __init__(
        self, routes: Sequence[Route], lookaheads: Sequence[int], sequence: Callable[[], int]
    ) -> None:
        self._routes = routes
        self._lookaheads = tuple(lookaheads)
        self._sequence = sequence
        self._asides: list[_Aside] = []
        self._clear_at = 0  # what has been handed over has ended by then, withdrawn or not

    def sound(self, notes: Iterable[PlayedNote], pace: Fraction, now: int) -> bool:
        """Sounds notes from now on, in place of those that sound still; they end where these begin.

        Args:
            notes: in ticks from 0.
            pace: nanoseconds a tick.
            now: the present.

        Returns:
            Whether anything is to be heard: False where the rig sends none of it.
        """
        steps = aside_steps(notes, self._routes, len(self._lookaheads))
        if not any(steps):
            return False
        begin = max(now, self._clear_at)
        if self.next_due is not None:  # what has been handed over may begin until then
            begin = max(begin, now + max(self._lookaheads))
        self.end(begin)
        timeline = Timeline.starting(0, begin, pace)
        tracks = (
            Track(here, timeline, lookahead=lookahead, sequence=self._sequence)
            for here, lookahead in zip(steps, self._lookaheads, strict=True)
        )
        self._asides.append(_Aside(timeline, tuple(tracks)))
        return True

    def end(self, ns: int) -> None:
        """By `ns` all is over; what has not begun never does."""
        for aside in self._asides:
            tick = aside.timeline.tick(ns)
            for track in aside.tracks:
                track.cut(tick)

    def stop(self) -> None:
        """Forgets what was not taken; a silence releases the rest."""
        self._asides = []

    def take(self, port: int, now: int) -> tuple[Cue, ...]:
        """What is to be handed over to a port by `now`."""
        cues = tuple(cue for aside in self._asides for cue in aside.tracks[port].take(now))
        self._clear_at = max([self._clear_at, *(cue.ns for cue in cues)])
        self._asides = [aside for aside in self._asides if _due(aside) is not None]
        return cues

    @property
    def next_due(self) -> int | None:
        """When `take` next has something."""
        dues = (due for aside in self._asides if (due := _due(aside)) is not None)
        return min(dues, default=None)


def _due(aside: _Aside) -> int | None:
    dues = (track.next_due for track in aside.tracks)
    return min((due for due in dues if due is not None), default=None)
