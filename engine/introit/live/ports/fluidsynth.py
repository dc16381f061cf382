"""FluidSynth in the player's own process: a synth inside, for a rig without hardware.

Its sequencer places each event on the block in which it sounds (see `blocks`), whatever the loop is doing;
its threads run no Python. It hears nothing. With the process its sound ends, so nobody has to release it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final, Protocol

from introit.errors import PortError
from introit.fluid.library import audio_drivers, load, version
from introit.fluid.soundfonts import find_soundfont
from introit.live.cue import Cue
from introit.live.events import Back, Gone, PortEvent, Sent
from introit.live.inbox import Inbox
from introit.live.ports.blocks import Blocks
from introit.live.ports.bridge import Bridge
from introit.live.ports.finder import Listing
from introit.live.ports.frames import Unwrapper
from introit.live.ports.inside import AUTOMATIC, RATE, Synth
from introit.live.ports.schedule import Schedule
from introit.live.setup import PortSetup
from introit.units import NS_PER_MS, NS_PER_SECOND

LOOKAHEAD_NS: Final = 30 * NS_PER_MS
"""Least lookahead, beyond what may be rendered at any moment."""
GUARD_NS: Final = 3 * NS_PER_MS
"""Beyond two steps of the audio driver's, what is due so soon is left alone."""
STALL_NS: Final = NS_PER_SECOND
"""Sound that has not been asked for so long has stopped: the server has gone, or the card."""
RETRY_SECONDS: Final = 2.0
FIRST_SECONDS: Final = 2.0
"""How long an audio driver may take to ask for sound at first."""
WATCH_SECONDS: Final = 0.1
"""How long the driver's steps are measured."""
POLL_SECONDS: Final = 0.0003
RENEW_BLOCKS: Final = RATE // 64 * 3600 * 12
"""A tick has 32 bits, which are full after a day: after half of it, the sequencer begins anew in a pause."""
_RATES: Final = (44_100, 48_000)


class Sounding(Protocol):
    """What a port asks of the library: see `inside.Synth`."""

    rate: int
    block: int
    driver: str
    buffered: int

    def tick(self) -> int:
        """See `inside.Synth.tick`."""

    def send(self, number: int, tick: int, data: bytes) -> bool:
        """See `inside.Synth.send`."""

    def remove(self, number: int) -> None:
        """See `inside.Synth.remove`."""

    def silence(self) -> None:
        """See `inside.Synth.silence`."""

    def renew(self) -> None:
        """See `inside.Synth.renew`."""

    def reopen_audio(self) -> bool:
        """See `inside.Synth.reopen_audio`."""

    def close(self) -> None:
        """See `inside.Synth.close`."""


class FluidSynthPort:
    """One rig port on a synth of its own: keeps the promise of `live.port.Port`.

    Attributes:
        detail: the soundfont and the audio driver, for the user.
    """

    def __init__(
        self,
        index: int,
        name: str,
        synth: Sounding,
        *,
        step: int,
        now: Callable[[], int],
        inbox: Inbox,
        detail: str = "",
        readings: Sequence[tuple[int, int]] = (),
    ) -> None:
        """Takes over a synth that plays.

        Args:
            index: the port's index in the setup.
            name: as the rig calls it.
            synth: what plays; it is closed with the port.
            step: blocks that the audio driver takes at a time, as measured.
            now: the session clock, asked in the loop's thread only.
            inbox: what is woken when the sound is back.
            detail: see there.
            readings: what the sequencer showed lately, as (nanosecond of the session clock, tick).
        """
        self.index = index
        self.name = name
        self.detail = detail
        self._synth = synth
        self._blocks = Blocks(synth.rate, synth.block)
        taken = self._blocks.ns(step)
        self.latency = taken + (synth.buffered * NS_PER_SECOND // synth.rate or taken)
        self._fixed = -(-(2 * taken + GUARD_NS) // self._blocks.ns(1))
        self.lookahead = LOOKAHEAD_NS + 2 * taken + GUARD_NS
        self._now = now
        self._inbox = inbox
        self._bridge = Bridge()
        self._schedule = Schedule(synth)
        self._sent: list[Sent] = []
        self._news: list[PortEvent] = []
        self._there = True
        self._closed = False
        self._ending = threading.Event()
        self._begin_counting()
        for here, tick in readings:
            self._bridge.see(here, self._blocks.ns(self._blocks.next(tick)))
        self._read()

    def _begin_counting(self) -> None:
        first = self._synth.tick()
        self._unwrap = Unwrapper(first)
        self._tick, self._moved = first, self._now()
        self._bridge.forget()
        self._read()

    # --- the promise --------------------------------------------------------------------------------

    def hand(self, cues: Sequence[Cue]) -> None:
        """See `Port.hand`."""
        if self._closed or not self._there:
            return
        first = self._read()
        self._collect(first)
        for cue in cues:
            block = max(first, self._blocks.nearest(self._bridge.there(cue.ns)))
            self._schedule.hand(cue, self._blocks.first_tick(block), fixed=self._fixed_tick(first))

    def withdraw(self, after: int) -> list[Cue]:
        """See `Port.withdraw`; what the next two steps of the driver's may take counts as sounded."""
        if self._closed or not self._there:
            return []
        first = self._read()
        self._collect(first)
        return self._schedule.withdraw(
            after,
            fixed=self._fixed_tick(first),
            reached=lambda: self._blocks.first_tick(self._read()),
        )

    def sent(self) -> list[Sent]:
        """See `Port.sent`; `actual` is the start of the block on which the event was placed."""
        if not self._closed and self._there:
            self._collect(self._read())
            self._watch()
        sent, self._sent = self._sent, []
        return sent

    def heard(self) -> list[PortEvent]:
        """See `Port.heard`: nothing but its own end, and its coming back."""
        if not self._there and not self._closed and self._synth.tick() != self._tick:
            self._there = True
            self._begin_counting()
            self._news.append(Back(self.index))
        news, self._news = self._news, []
        return news

    def close(self) -> None:
        """Ends every sound, and frees the synth. Safe to call twice."""
        if not self._closed:
            self._closed = True
            self._ending.set()
            self._schedule.clear()
            if not self._there:
                self._reviver.join(RETRY_SECONDS)
                if self._reviver.is_alive():  # it is in the library: what is open ends with the process
                    return
            self._synth.silence()
            self._synth.close()

    # --- time ---------------------------------------------------------------------------------------

    def _read(self) -> int:
        """Looks where the sequencer stands: the first block that has not been begun."""
        shown = self._unwrap(self._synth.tick())
        now = self._now()
        if shown != self._tick:
            self._tick, self._moved = shown, now
        block = self._blocks.next(shown)
        self._bridge.see(now, self._blocks.ns(block))
        return block

    def _fixed_tick(self, first: int) -> int:
        return self._blocks.first_tick(first + self._fixed)

    def _collect(self, first: int) -> None:
        for entry in self._schedule.played(self._blocks.first_tick(first)):
            ns = self._blocks.ns(self._blocks.of_tick(entry.tick))
            self._sent.append(Sent(self.index, entry.cue.ns, self._bridge.here(ns), entry.cue.data))

    # --- what befalls it ----------------------------------------------------------------------------

    def _watch(self) -> None:
        if self._now() - self._moved > STALL_NS:
            self._there = False
            self._schedule.clear()
            self._synth.silence()
            self._sent.clear()
            self._news.append(Gone(self.index, f"the sound has stopped ({self._synth.driver})"))
            self._reviver = threading.Thread(target=self._revive, name=f"sound {self.name}", daemon=True)
            self._reviver.start()
        elif not len(self._schedule) and self._blocks.next(self._tick) > RENEW_BLOCKS:
            self._synth.renew()
            self._begin_counting()

    def _revive(self) -> None:
        while not self._ending.wait(RETRY_SECONDS):
            if self._synth.reopen_audio():
                self._inbox.wake()
                return


def open_port(
    index: int, setup: PortSetup, *, now: Callable[[], int], inbox: Inbox, dry: Sequence[int] = ()
) -> FluidSynthPort:
    """Finds a soundfont, opens a synth with it and measures how its audio driver takes the sound.

    Args:
        index: the port's index in the setup.
        setup: what is asked of it.
        now: the session clock.
        inbox: what is woken when the sound is back.
        dry: channels without reverb, 0 to 15.

    Raises:
        PortError: if there is no soundfont, no library, or no way to a sound card.
    """
    load()  # its absence is told before anything else
    soundfont = find_soundfont(setup.soundfont)
    drivers, rate = _way_out(setup.audio)
    called = f"introit {setup.name}"
    synth = Synth(soundfont, gain=setup.gain, drivers=drivers, name=called, rate=rate)
    synth.dry(dry)
    try:
        return port_on(index, setup.name, synth, soundfont=soundfont, now=now, inbox=inbox)
    except BaseException:
        synth.close()
        raise


def port_on(
    index: int, name: str, synth: Synth, *, soundfont: Path, now: Callable[[], int], inbox: Inbox
) -> FluidSynthPort:
    """A port on an open synth.

    Raises:
        PortError: if nobody asks for its sound.
    """
    step, readings = measured(synth, Blocks(synth.rate, synth.block), now)
    detail = f"FluidSynth with {soundfont.name}, through {synth.driver}"
    return FluidSynthPort(
        index, name, synth, step=step, now=now, inbox=inbox, detail=detail, readings=readings
    )


def measured(
    synth: Sounding, blocks: Blocks, now: Callable[[], int]
) -> tuple[int, Sequence[tuple[int, int]]]:
    """How the audio driver takes the sound, watched for a tenth of a second.

    Returns:
        How many blocks it takes at a time, at most; and readings, each soon after such a step.

    Raises:
        PortError: if it takes none.
    """
    limit = time.monotonic() + FIRST_SECONDS
    last, widest = synth.tick(), 0
    readings: list[tuple[int, int]] = []
    while time.monotonic() < limit:
        time.sleep(POLL_SECONDS)
        tick = synth.tick()
        if tick == last:
            continue
        if readings:  # what was before the first step is not known
            widest = max(widest, blocks.next(tick) - blocks.next(last))
        else:
            limit = time.monotonic() + WATCH_SECONDS
        readings.append((now(), tick))
        last = tick
    if not widest:
        raise PortError(f"FluidSynth's audio driver {synth.driver!r} was opened, but takes no sound.")
    return widest, readings


def _way_out(wanted: str) -> tuple[Sequence[str], int]:
    """The audio drivers to try, and the rate at which to play.

    JACK is tried only where a server answers: FluidSynth would start one.

    Raises:
        PortError: if JACK is wanted and does not answer, or runs at a rate at which this cannot play.
    """
    from introit.live.ports.libjack import open_client

    if wanted not in ("", "jack"):
        return (wanted,), RATE
    try:
        client = open_client("introit-look")
    except PortError:
        if wanted:
            raise
        return [name for name in AUTOMATIC if name != "jack"], RATE
    try:
        rate = int(client.samplerate)
    finally:
        client.close()
    if rate not in _RATES:
        raise PortError(
            f"the JACK server runs at {rate} frames a second; FluidSynth inside plays at"
            f" {' or '.join(map(str, _RATES))}. Start the server with one of them, or name another `audio:`."
        )
    return [wanted] if wanted else AUTOMATIC, rate


def why_silent() -> str:
    """Why a synth inside would not be heard here; empty where it would. Opens a way out, and closes it.

    Says first what has to be installed.
    """
    try:
        load()
        find_soundfont()
        drivers, rate = _way_out("")
        Synth(None, gain=0.0, drivers=drivers, name="introit-look", rate=rate).close()
    except PortError as error:
        return str(error).rstrip(".")
    return ""


def listing() -> Listing:
    """The synth as a destination, or why it cannot play."""
    try:
        library = load()
        soundfont = find_soundfont()
    except PortError as error:
        return Listing("fluidsynth", reason=str(error).rstrip("."))
    drivers = ", ".join(audio_drivers(library))
    detail = f"version {version(library)}, for the audio drivers {drivers}"
    return Listing("fluidsynth", destinations=(str(soundfont),), detail=detail)
