"""Takes: parts of a performance played by FluidSynth, off-line, as sound in memory.

A note begins at the start of the block of 64 frames nearest to its time: it is off by 32 frames at most, that
is 0.67 ms at 48,000 a second and 0.73 ms at 44,100. Frame 0 is the take's first tick exactly.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Final, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from introit.arrange.legal import legal
from introit.export.routes import Routes, all_parts
from introit.fluid.offline import CHANNELS, OfflineSynth
from introit.fluid.reverb import dry_channels
from introit.performance import PARTS, Performance, PlayedNote
from introit.units import NS_PER_SECOND, ns_per_tick

Sound: TypeAlias = npt.NDArray[np.float32]
"""Frames by two channels; full scale is 1.0, and more than that is possible."""
SILENCE: Final = 10 ** (-90 / 20)
"""What stays so far under full scale, or a take's loudest frame, is over: 90 dB, the last of 16 bits."""
MOST_TAIL: Final = 12
"""Seconds that a sound may take to die away; what a soundfont makes ring for longer is faded out."""
FADE: Final = 1.0
"""Seconds of that fading."""
_VOLUME: Final = 7
"""Controller 7, channel volume."""
_STEP: Final = 4096
"""Frames after which it is looked whether the tail is over."""


class Take(NamedTuple):
    """What is to be played.

    Attributes:
        notes: legal for the channels that the routes give their parts, in any order.
        start: the tick at which it begins, and the sound with it.
        end: the tick by which every note has ended.
        tempo: quarter notes a minute.
        routes: channel, program and level by part; of the parts that are played.
    """

    notes: tuple[PlayedNote, ...]
    start: int
    end: int
    tempo: float
    routes: Routes

    def frame(self, tick: int, rate: int) -> Fraction:
        """Where a tick lies, exactly."""
        return (tick - self.start) * ns_per_tick(self.tempo) * rate / NS_PER_SECOND

    def only(self, parts: Collection[str]) -> Take:
        """The same with these parts alone, for as long."""
        kept = tuple(note for note in self.notes if PARTS[note.part] in parts)
        return self._replace(notes=kept, routes={part: self.routes[part] for part in parts})

    @property
    def parts(self) -> list[str]:
        """The parts that have notes, in the order of their numbers."""
        there = {note.part for note in self.notes}
        return [part for number, part in enumerate(PARTS) if number in there]


def take_of(performance: Performance, routes: Routes, *, count_off: bool) -> Take:
    """A performance as it is to be heard: with its tune's own sounds, without the cue.

    Args:
        performance: what to play.
        routes: by part; parts that are missing keep the General MIDI default.
        count_off: whether the count-off, if there is one, is part of it.
    """
    chosen = all_parts(routes, performance.sounds)
    start = performance.start_tick if count_off else 0
    notes = [note for note in performance.notes if note.onset >= start]
    heard = legal(notes, lambda part: (0, chosen[PARTS[part]].channel))
    return Take(heard, start, performance.end_tick, performance.tempo, chosen)


def render(take: Take, soundfont: Path, *, rate: int) -> Sound:
    """The sound of a take, from its first tick until it has died away.

    Args:
        take: what to play.
        soundfont: a file that is there.
        rate: frames a second.

    Raises:
        PortError: if FluidSynth or the soundfont cannot be used.
    """
    synth = OfflineSynth(soundfont, rate=rate)
    try:
        _set_up(synth, take)
        pieces: list[Sound] = []
        now = 0
        for block, events in sorted(_events(take, rate, synth.block).items()):
            if block > now:
                pieces.append(_rendered(synth, block - now))
            now = block
            for is_on, channel, pitch, velocity in sorted(events):
                if is_on:
                    synth.note_on(channel, pitch, velocity)
                else:
                    synth.note_off(channel, pitch)
        end = -(-take.frame(take.end, rate) // synth.block)
        if end > now:
            pieces.append(_rendered(synth, int(end) - now))
        pieces += _tail(synth, pieces)
    finally:
        synth.close()
    return np.concatenate(pieces) if pieces else np.zeros((0, CHANNELS), np.float32)


def _set_up(synth: OfflineSynth, take: Take) -> None:
    """Programs and levels, each channel's from the first part that has something to say; then the reverb."""
    told: set[tuple[str, int]] = set()
    for part in take.parts:
        route = take.routes[part]
        if route.program is not None and ("program", route.channel) not in told:
            told.add(("program", route.channel))
            synth.program(route.channel, route.program)
        if route.level is not None and ("level", route.channel) not in told:
            told.add(("level", route.channel))
            synth.control(route.channel, _VOLUME, route.level)
    synth.dry(dry_channels((part, take.routes[part].channel) for part in take.parts))


def _events(take: Take, rate: int, size: int) -> Mapping[int, list[tuple[bool, int, int, int]]]:
    """What happens at each block: (is on, channel, pitch, velocity), which sorts the offs first."""
    found: dict[int, list[tuple[bool, int, int, int]]] = {}
    for note in take.notes:
        channel = take.routes[PARTS[note.part]].channel
        begins, ends = (int(take.frame(tick, rate) / size + Fraction(1, 2)) for tick in note[:2])
        found.setdefault(begins, []).append((True, channel, note.pitch, note.velocity))
        found.setdefault(max(ends, begins + 1), []).append((False, channel, note.pitch, 0))
    return found


def _rendered(synth: OfflineSynth, blocks: int) -> Sound:
    return np.frombuffer(synth.render(blocks), np.float32).reshape(-1, CHANNELS)


def _tail(synth: OfflineSynth, before: Iterable[Sound]) -> list[Sound]:
    """What still sounds when every note has ended: until it is over, or faded out."""
    loudest = max((float(np.abs(piece).max()) for piece in before), default=0.0)
    pieces: list[Sound] = []
    steps = MOST_TAIL * synth.rate // _STEP
    for _ in range(steps if loudest else 0):
        piece = _rendered(synth, _STEP // synth.block)
        if float(np.abs(piece).max()) <= loudest * SILENCE:
            return pieces
        pieces.append(piece)
    if pieces:
        tail = np.concatenate(pieces)
        length = min(len(tail), round(FADE * synth.rate))
        tail[-length:] *= np.linspace(1.0, 0.0, length, dtype=np.float32)[:, None]
        return [tail]
    return pieces
