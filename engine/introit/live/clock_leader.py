"""MIDI clock as leader: from a timeline to Start, clocks and Stop; Song Position and Continue where need be.

Source: MIDI 1.0 Detailed Specification, System Real Time and Song Position Pointer. 24 clocks a quarter note;
the sequence begins with the first clock after Start, and goes on with the first after Continue; clocks may be
sent while nothing runs, so that a listener locks before it starts; at least 1 ms lies between Start or
Continue and that clock (from memory); Song Position counts sixteenths from the song's beginning, in 14 bits,
and is sent to a listener that stands still.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Final, NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.messages import CLOCK, CONTINUE, SONG_POSITION_MAX, START, STOP, song_position
from introit.live.timeline import HELD, Segment, Timeline
from introit.units import NS_PER_MINUTE, NS_PER_MS, TEMPO_MIN, TICKS_PER_QUARTER

CLOCKS_PER_QUARTER: Final = 24
TICKS_PER_CLOCK: Final = TICKS_PER_QUARTER // CLOCKS_PER_QUARTER
CLOCKS_PER_SIXTEENTH: Final = 6

AFTER_START_NS: Final = NS_PER_MS
"""The least time from Start or Continue to the clock that it is for (the specification's)."""
LEAD_MAX_NS: Final = NS_PER_MINUTE // TEMPO_MIN // CLOCKS_PER_QUARTER // 2
"""Half a clock at the slowest tempo."""
_OPEN: Final = TICKS_PER_CLOCK << 40
"""The origin while it is open: later than any song."""


class _Command(NamedTuple):
    """Start or Continue, and the number of the clock that it is for."""

    data: bytes
    number: int


class _Hold(NamedTuple):
    """Where time is held, and where it goes on; None while that is open."""

    held: Segment
    released: Segment | None


class ClockLeader:
    """The clock for one port, handed out as cues in order, each once. Pure, and without an end until stopped.

    Clocks fall on every fortieth tick, counted from `origin`: clock 0. Start stands half-way between the
    clock before and clock 0, so that neither can change places with it however both jitter. With no time left
    for that (no count-off) it goes out at once, and clock 0 at least 1 ms later.

    While time is held no clock is sent: Stop when the playing arrives there, Continue before the next clock.
    Where time will go on at a later tick, Song Position follows Stop, so that the listener has moved by then.

    What comes late is never sent in a heap, and the listener's count is right again afterwards:

    - before Start nobody counts: of several late clocks only the last is sent;
    - late by less than a sixteenth: all are sent, no closer than half a clock apart, so that the listener
      catches up at double speed;
    - late by a sixteenth or more: Stop, Song Position of a sixteenth ahead, and Continue before its clock.
      Past the last position that there is (16,383 sixteenths) the listener catches up, however late.

    Args:
        timeline: sets ticks on the clock; its last pace goes on.
        first: tick from which clocks are sent, such as the count-off's beginning.
        origin: tick of the song's beginning: the intro's first downbeat, or the head's; None while open.
        lookahead: nanoseconds ahead that the port wants its cues.
        sequence: gives the next cue's number.

    Attributes:
        resumes: tick at which time will go on from where it is held; None for the held one.
    """

    def __init__(
        self,
        timeline: Timeline,
        *,
        first: int,
        origin: int | None,
        lookahead: int,
        sequence: Callable[[], int],
    ) -> None:
        self.resumes: int | None = None
        self._timeline = timeline
        self._origin = _OPEN if origin is None else origin
        self._lookahead = lookahead
        self._sequence = sequence
        self._number = min(0, -((self._origin - first) // TICKS_PER_CLOCK))
        self._command: _Command | None = _Command(START, 0)
        self._queue: deque[bytes] = deque()
        self._queued_at = 0
        self._last: int | None = None
        self._earliest: int | None = None
        self._told = self._ended = False

    @property
    def timeline(self) -> Timeline:
        """Sets ticks on the clock. Another may take its place that differs beyond the horizon only."""
        return self._timeline

    @timeline.setter
    def timeline(self, timeline: Timeline) -> None:
        self._timeline = timeline
        self._pass_over_hold()

    @property
    def origin(self) -> int | None:
        """Tick of the song's beginning. It may change until Start has been handed over, not later."""
        return None if self._origin == _OPEN else self._origin

    @origin.setter
    def origin(self, origin: int | None) -> None:
        if self._told:
            return
        before, self._origin = self._origin, _OPEN if origin is None else origin
        self._number = min(0, self._number - (self._origin - before) // TICKS_PER_CLOCK)

    @property
    def last(self) -> int | None:
        """When the last message handed over falls; None before the first."""
        return self._last

    @property
    def next_due(self) -> int | None:
        """When the next cue is to be handed over; None while time is held, and once stopped."""
        following = self._next()
        return None if following is None else following[0] - self._lookahead

    def take(self, now: int) -> tuple[Cue, ...]:
        """All cues to be handed over by `now`."""
        self._mind_what_is_late(now)
        cues = []
        while (following := self._next()) is not None and following[0] <= now + self._lookahead:
            cues.append(self._hand(*following, now))
        return tuple(cues)

    def stop(self, now: int) -> tuple[Cue, ...]:
        """Ends the clock for good: Stop, after everything handed so far; nothing when Start never was."""
        if self._ended or not self._told:
            self._ended = True
            return ()
        self._ended = True
        return (self._cue(now if self._last is None else max(now, self._last), STOP),)

    def locate(self, now: int) -> None:
        """Tells the listener anew where it is, as it takes effect on the next sixteenth.

        For one that has just been plugged in, or from which clocks were withdrawn. Nothing before the song.
        """
        if self._ended:
            return
        horizon = now + self._lookahead
        if self._timeline.tick(horizon) < self._origin:
            return
        hold = self._hold_at(self._timeline.tick(horizon) + 1)
        if hold is not None:
            number = self._beyond(hold)
        else:  # Continue comes a clock and more after the position
            number = (self._timeline.tick(horizon) - self._origin) // TICKS_PER_CLOCK + 2
        if -(-number // CLOCKS_PER_SIXTEENTH) > SONG_POSITION_MAX:
            return
        stop = (STOP,) if self._command is None or STOP in self._queue else ()
        self._queue = deque(stop)
        self._aim(number)
        self._queued_at = now if self._last is None else max(now, self._last)
        self._earliest = None
        if hold is None:
            self._number = number - 1

    def _next(self) -> tuple[int, bytes] | None:
        """When the next message is to go out, as far as is known now, and which."""
        if self._ended:
            return None
        if self._queue:
            return self._queued_at, self._queue[0]
        if self._command is None and (hold := self._hold_at(self._tick(self._number))) is not None:
            return self._not_before(hold.held.ns), STOP
        ns = self._ns(self._number)
        if ns is None:
            return None
        if self._command is not None and self._command.number <= self._number:
            return self._not_before(ns - self._lead(ns)), self._command.data
        return self._not_before(ns), CLOCK

    def _hand(self, ns: int, data: bytes, now: int) -> Cue:
        if self._queue:
            self._queue.popleft()
        elif data == CLOCK:
            self._earliest = max(ns, now) + self._half(self._number)
            self._number += 1
            self._pass_over_hold()
        elif data == STOP:
            self._stand(ns)
        else:
            ns = max(ns, now)
            self._earliest = ns + AFTER_START_NS
            self._command, self._told = None, True
        return self._cue(ns, data)

    def _pass_over_hold(self) -> None:
        """Before Start nobody counts: what is passed over where time goes on would all fall in one heap."""
        command = self._command
        if command is None or command.number <= self._number:
            return
        hold = self._hold_at(self._tick(self._number))
        if hold is not None and hold.released is not None:
            self._number = min(max(self._number, self._beyond(hold)), command.number)

    def _stand(self, ns: int) -> None:
        """Time is held: what is to be said before it goes on."""
        self._earliest = ns
        hold = self._hold_at(self._tick(self._number))
        number = self._number if hold is None else self._beyond(hold)
        if number == self._number or -(-number // CLOCKS_PER_SIXTEENTH) > SONG_POSITION_MAX:
            self._number = number
            self._command = _Command(CONTINUE, number)
        else:
            self._aim(number)
            self._queued_at = ns

    def _aim(self, number: int) -> None:
        """Sends the listener to the first sixteenth from a clock on, which it goes on with."""
        sixteenth = -(-number // CLOCKS_PER_SIXTEENTH)
        self._queue.append(song_position(sixteenth))
        self._number = number
        self._command = _Command(CONTINUE, sixteenth * CLOCKS_PER_SIXTEENTH)
        self._told = True

    def _cue(self, ns: int, data: bytes) -> Cue:
        self._last = ns if self._last is None else max(ns, self._last)
        return Cue(ns, Rank.REAL_TIME, self._sequence(), data)

    def _mind_what_is_late(self, now: int) -> None:
        if self._ended:
            return
        if self._queue:
            if self._queued_at < now:
                self.locate(now)  # as it was to be said, it has passed
            return
        if self._command is not None and self._number < self._command.number:
            passed = (self._timeline.tick(now) - self._origin) // TICKS_PER_CLOCK
            self._number = max(self._number, min(passed, self._command.number))
        if self._command is None or self._command.number <= self._number:
            hold = self._hold_at(self._tick(self._number))
            number = self._number if hold is None else self._beyond(hold)
            limit = self._ns(number + CLOCKS_PER_SIXTEENTH)
            if limit is not None and limit <= now:
                self.locate(now)

    def _ns(self, number: int) -> int | None:
        return self._timeline.ns(self._tick(number))

    def _tick(self, number: int) -> int:
        return self._origin + number * TICKS_PER_CLOCK

    def _not_before(self, ns: int) -> int:
        return ns if self._earliest is None else max(ns, self._earliest)

    def _hold_at(self, tick: int) -> _Hold | None:
        """The hold into which a tick falls, released or not."""
        segments = self._timeline.segments
        for number in range(len(segments) - 1, -1, -1):
            if segments[number].tick <= tick:
                break
        held = segments[number]
        if held.pace is not HELD:
            return None
        return _Hold(held, segments[number + 1] if number + 1 < len(segments) else None)

    def _beyond(self, hold: _Hold) -> int:
        """The first clock that falls once time goes on."""
        tick = hold.held.tick if self.resumes is None else self.resumes
        tick = tick if hold.released is None else hold.released.tick
        return -((self._origin - tick) // TICKS_PER_CLOCK)

    def _lead(self, ns: int) -> int:
        before = self._ns(self._number - 1)
        return LEAD_MAX_NS if before is None else min((ns - before) // 2, LEAD_MAX_NS)

    def _half(self, number: int) -> int:
        """Half the time to the following clock, not counting a hold between."""
        this, following = self._ns(number), self._ns(number + 1)
        return 0 if this is None or following is None else min((following - this) // 2, LEAD_MAX_NS)
