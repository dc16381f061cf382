"""The live loop: hears everything, lets the session decide, hands over what is due, leaves no note behind.

It is driven by a `Clock`, an `Inbox`, `Port`s and a `Link`, so the very same loop runs on a real clock in the
player process and on a fake one in tests.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from introit.live.ceiling import Ceiling
from introit.live.clock import Clock
from introit.live.decides import Decides
from introit.live.events import (
    Back,
    Effect,
    Event,
    Flooded,
    Gone,
    Hand,
    Heard,
    Lost,
    Played,
    Plugged,
    Sent,
    Shown,
    Silence,
    Unplugged,
    Wanted,
)
from introit.live.inbox import Inbox
from introit.live.ledger import LEFT, RUNNING, Ledger
from introit.live.messages import CLOCK
from introit.live.mix import Mix
from introit.live.port import Port
from introit.live.ports.offset import OffsetPort
from introit.live.release import Releaser
from introit.live.states import State
from introit.live.suspend import Suspend
from introit.units import NS_PER_MS

HEARTBEAT_NS = 240 * NS_PER_MS
"""How often the player's heartbeat is written, a small part of the time after which it counts as stopped."""
SENSING_NS = HEARTBEAT_NS
"""How often Active Sensing goes out, in the same turn: MIDI 1.0 lets a receiver go silent after 300 ms."""
RESTING_BEATS = 4
"""Where nothing is owed and every port wakes the loop, only one heartbeat in so many is a whole turn."""
LEAVING_NS = 250 * NS_PER_MS
"""How long, on the way out, the last offs are waited for on ports that place events ahead."""
SILENT_STATES = (State.READY, State.RESTING, State.IN_THE_TUNE)
"""From here on nothing sounds but what rings: the offs of the last seconds are repeated once."""
WARM_NS = NS_PER_MS // 2
"""So long before an exact deadline the loop takes an idle turn: after a sleep the first one is slow."""
LEAVING_STEP_NS = 5 * NS_PER_MS
QUIET_CYCLES = 5
"""How many cycles must pass, on the way out, after the last off: two later it is told that one was lost."""


class Link(Protocol):
    """The way to the front and back. Neither call blocks or raises."""

    def send(self, message: Wanted | Shown | Sent | Heard | Mix) -> None:
        """Tells the front something; a `Mix` is kept for whoever takes over.

        `Sent` and `Heard` come only when the setup asks for a log.
        """

    def receive(self) -> Sequence[Event | Played]:
        """What the front said since the last call."""


def run(
    session: Decides,
    clock: Clock,
    *,
    inbox: Inbox,
    ports: Sequence[Port],
    ledger: Ledger,
    link: Link,
    on_state: Callable[[str], None] | None = None,
) -> str:
    """Plays until the session has finished; whatever happens, all is silenced and the ports closed first.

    Args:
        session: what decides.
        clock: the clock that the ports use too.
        inbox: what other threads heard.
        ports: as many as the session's setup has, in its order.
        ledger: laid out for as many ports.
        link: the way to the front.
        on_state: told each state's name as it begins (for the garbage collector, say).

    Returns:
        Why it left.

    Raises:
        BaseException: whatever a port, the session or a signal handler raised, after everything was silenced.
    """
    loop = Loop(session, clock, inbox=inbox, ports=ports, ledger=ledger, link=link, on_state=on_state)
    try:
        while loop.work():
            loop.wait()
    except BaseException as error:
        for another in loop.leave():
            error.add_note(f"and on the way out: {another!r}")
        raise
    for failure in loop.leave():
        raise failure
    return session.reason


def _at(event: Event | Played, now: int) -> Event:
    """What the front plays in place of a device is heard now."""
    return Heard(event.port, now, event.data) if isinstance(event, Played) else event


class Loop:
    """One run of the loop, step by step; `run` is the way to use it."""

    def __init__(
        self,
        session: Decides,
        clock: Clock,
        *,
        inbox: Inbox,
        ports: Sequence[Port],
        ledger: Ledger,
        link: Link,
        on_state: Callable[[str], None] | None,
    ) -> None:
        self._session = session
        self._clock = clock
        self._inbox = inbox
        self._ports = ports
        self._ledger = ledger
        self._link = link
        self._on_state = on_state
        self._state = ""
        self._releaser = Releaser(ports, ledger, Ceiling(session.setup.routes))
        self._holding = [port for port in ports if isinstance(port, OffsetPort) and port.holds]
        self._exact = bool(self._holding) or any(port.lookahead == 0 for port in ports)
        self._wakes = all(getattr(port, "wakes", False) for port in ports)
        self._next_heartbeat = 0
        self._next_sensing = 0
        self._repeat_at: int | None = None
        self._suspend = Suspend()
        ledger.state = RUNNING

    def work(self) -> bool:
        """Hears what there is and does what is due; False once the session has finished."""
        now = self._clock.now()
        slept = self._suspend.look(self._clock.asleep(), now)
        if slept is not None:  # before anything that came with the waking up
            self._session.hear(slept, now)
        for event in self._events(now):
            self._attend(event, now)
            if isinstance(event, Flooded):
                self._tell_flood(event, now)
            else:
                self._session.hear(event, now)
        self._do(self._session.take(now), now)
        self._collect()
        self._keep_alive(now)
        self._tell_state(now)
        self._repeat_offs(now)
        return not self._session.finished

    def _events(self, now: int) -> list[Event | Flooded]:
        heard: list[Event | Flooded] = []
        heard += self._inbox.drain()  # first: it ends the wake-up of what a port has heard since
        heard += (event for port in self._ports for event in port.heard())
        heard += (_at(event, now) for event in self._link.receive())
        return sorted(heard, key=lambda event: min(event.ns, now) if isinstance(event, Heard) else now)

    def _attend(self, event: Event | Flooded, now: int) -> None:
        if isinstance(event, Heard):
            if self._session.setup.log and event.data != CLOCK:
                self._link.send(event)
        elif isinstance(event, Lost):
            self._releaser.repeat_lost(event, now)
        elif isinstance(event, Gone):
            self._releaser.gone(event.port)
        elif isinstance(event, Back):
            self._releaser.back(event.port, now)
        elif isinstance(event, Unplugged) and event.sends and event.alone:
            self._releaser.unplugged(event.port)
        elif isinstance(event, Plugged) and event.sends and event.alone:
            self._releaser.plugged(event.port, now)

    def _tell_flood(self, event: Flooded, now: int) -> None:
        name = self._session.setup.ports[event.port].name
        text = f"{name}: more came in at once than can be taken; {event.left_out} messages were left out"
        self._link.send(Shown(now, self._session.state, "port", text=text))

    def _do(self, effects: Sequence[Effect], now: int) -> None:
        for effect in effects:
            self._play(effect, now)
        for effect in effects:  # the music first: telling the front takes time
            if not isinstance(effect, Hand | Silence):
                self._link.send(effect)

    def _play(self, effect: Effect, now: int) -> None:
        if isinstance(effect, Hand):
            self._releaser.hand(effect.port, effect.cues)
        elif isinstance(effect, Silence):
            self._collect()
            self._releaser.silence(now)

    def _collect(self) -> None:
        self._log(self._paid())

    def _paid(self) -> list[Sent]:
        """What has gone out since the last call, written into the ledger."""
        sent = [one for port in self._ports for one in port.sent()]
        for one in sent:
            self._releaser.went_out(one)
        return sent

    def _log(self, sent: Sequence[Sent]) -> None:
        if self._session.setup.log:
            for one in sent:
                if one.data != CLOCK:  # two dozen a beat would bury all else
                    self._link.send(one)

    def _keep_alive(self, now: int) -> None:
        if now >= self._next_heartbeat:
            self._ledger.beat("player", now)
            self._next_heartbeat = now + HEARTBEAT_NS
        if self._session.setup.active_sensing and now >= self._next_sensing:
            self._releaser.sense(self._outputs(), now)
            self._next_sensing = now + SENSING_NS

    def _outputs(self) -> list[int]:
        return [index for index, port in enumerate(self._session.setup.ports) if port.to is not None]

    def _tell_state(self, now: int) -> None:
        if self._session.state == self._state:
            return
        self._state = self._session.state
        if self._state in SILENT_STATES:
            self._repeat_at = now + max((port.lookahead for port in self._ports), default=0)
        if self._on_state is not None:
            self._on_state(self._state)

    def _repeat_offs(self, now: int) -> None:
        """Not every system tells of every cycle that it lost, and a note whose off was in it sounds for ever.

        So one lookahead after the landing, and after each time the session becomes ready, the offs of the
        last seconds go out once more: all that was handed has been played by then.
        """
        if self._repeat_at is not None and self._repeat_at <= now:
            self._repeat_at = None
            self._releaser.repeat_unasked(now)
        since = self._suspend.repeats(now)
        if since is not None:
            for port in range(len(self._ports)):
                self._releaser.repeat_lost(Lost(port, since, now), now)

    def wait(self) -> None:
        """Waits for the next thing that is due, or until something is heard."""
        due = self._session.next_due()
        for other in (self._repeat_at, self._suspend.next_due, *(port.next_due() for port in self._holding)):
            if other is not None:
                due = other if due is None else min(due, other)
        if due is None or due > self._next_heartbeat:
            self._rest(due)
        else:
            self._wait_for(due)

    def _rest(self, due: int | None) -> None:
        """Waits for the next heartbeat; while nothing is owed, heard or due, the heart beats on and no more.

        A whole turn after a sleep costs a third of a millisecond, since nothing of it is in a core's cache.
        """
        beats = 0 if not self._wakes or self._releaser.owing() else RESTING_BEATS - 1
        while not self._clock.wait(self._next_heartbeat, self._inbox, exact=False) and beats:
            beats -= 1
            if self._suspend.has_been(self._clock.asleep()):
                return
            self._keep_alive(self._clock.now())
            if due is not None and due <= self._next_heartbeat:
                return

    def _wait_for(self, due: int) -> None:
        early = due - WARM_NS
        if self._exact and self._clock.now() < early:
            self._clock.wait(early, self._inbox, exact=False)  # one idle turn, then the exact wait
            return
        self._clock.wait(due, self._inbox, exact=self._exact)
        if self._suspend.has_been(self._clock.asleep()):
            return  # what was due is not: it was due before the machine fell asleep
        if self._exact:  # what is due goes out before anything else is looked at: hearing takes system calls
            now = self._clock.now()
            self._do(self._session.take(now), now)
            for port in self._holding:
                port.send_due()

    def leave(self) -> list[Exception]:
        """Silences all, puts the lamps out, waits shortly until that is confirmed, and closes the ports.

        Nothing stops it.

        Returns:
            What was raised on the way.
        """
        errors: list[Exception] = []
        last: list[Sent] = []
        self._guard(lambda: last.extend(self._paid()), errors)
        self._guard(lambda: self._releaser.silence(self._clock.now()), errors)
        self._guard(lambda: self._releaser.put_out(self._session.setup.lamps, self._clock.now()), errors)
        self._guard(self._say_farewell, errors)
        self._guard(lambda: self._settle(last), errors)
        for port in self._ports:
            self._guard(lambda: self._ledger.beat("player", self._clock.now()), errors)
            self._guard(port.close, errors)
        self._ledger.state = LEFT
        self._guard(lambda: self._log(last), errors)
        return errors

    def _say_farewell(self) -> None:
        for hand in self._session.farewell(self._clock.now()):
            self._releaser.hand(hand.port, hand.cues)

    def _settle(self, last: list[Sent]) -> None:
        last += self._paid()
        quiet = QUIET_CYCLES * max((port.latency for port in self._ports if port.lookahead), default=0)
        began = self._clock.now()
        self._quieten(last, quiet)
        if quiet:  # not every system tells of every cycle that it lost: once more, heard or not
            now = self._clock.now()
            for port in range(len(self._ports)):
                self._releaser.repeat_lost(Lost(port, began, now), now)
            self._quieten(last, quiet)

    def _quieten(self, last: list[Sent], quiet: int) -> None:
        """Waits until nothing is owed and so many nanoseconds have passed without a lost cycle."""
        now = self._clock.now()
        limit, quiet_at = now + LEAVING_NS, now + quiet
        while now < limit and (self._releaser.owing() or now < quiet_at):
            self._inbox.drain()
            self._link.receive()  # unread, it would end every wait, and the callback would wait for us
            self._ledger.beat("player", now)
            step = min(now + LEAVING_STEP_NS, limit)
            self._clock.wait(
                step if self._releaser.owing() else min(step, quiet_at), self._inbox, exact=False
            )
            now = self._clock.now()
            if self._repeat(now) or self._releaser.owing():
                quiet_at = now + quiet
            last += self._paid()

    def _repeat(self, now: int) -> bool:
        """Hears, on the way out, only what concerns the last offs; whether some had to be repeated."""
        again = False
        for event in [event for port in self._ports for event in port.heard()]:
            if isinstance(event, Lost):
                again |= self._releaser.repeat_lost(event, now)
            elif isinstance(event, Gone):
                self._releaser.gone(event.port)
        return again

    @staticmethod
    def _guard(action: Callable[[], None], errors: list[Exception]) -> None:
        try:
            action()
        except Exception as error:
            errors.append(error)
