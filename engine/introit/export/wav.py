"""A performance as WAV files: rendered by FluidSynth faster than it sounds, all of them at one level.

File time 0 is the intro's first downbeat or, with the count-off, its start; the file ends when the last note
has died away. Melody, comp and ride have reverb, bass and pedal point none (see `fluid.reverb`).
"""

from __future__ import annotations

from pathlib import Path
from typing import Final, NamedTuple

import numpy as np

from introit.errors import UsageError, did_you_mean
from introit.export.atomic import write_all_atomically
from introit.export.midi_file import HEAD_MARKER, ascii_symbol
from introit.export.routes import GENERAL_MIDI_ROUTES, Routes
from introit.export.wav_file import BITS, Point, wav_bytes
from introit.export.wav_level import gain_for, loudness, peak_db
from introit.export.wav_take import SILENCE, Sound, Take, render, take_of
from introit.fluid.offline import CHANNELS
from introit.fluid.soundfonts import find_soundfont
from introit.performance import Performance

ENDINGS: Final = (".wav",)
RATES: Final = (44_100, 48_000)


class WrittenSound(NamedTuple):
    """What was written.

    Attributes:
        files: the mix, then the stems by the order of their parts.
        seconds: how long each of them is.
        head: second at which the head's downbeat lies.
        loudness: of the mix from the intro's first downbeat on, in LUFS (ITU-R BS.1770-4).
        peak: highest frame of all of them, in dBFS; under 0.
        soundfont: what it was rendered with.
    """

    files: tuple[Path, ...]
    seconds: float
    head: float
    loudness: float
    peak: float
    soundfont: Path


def write_wav(
    performance: Performance,
    path: Path,
    *,
    rate: int = 48_000,
    bits: int = 16,
    routes: Routes = GENERAL_MIDI_ROUTES,
    soundfont: str = "",
    count_off: bool = False,
    stems: bool = False,
) -> WrittenSound:
    """Renders a performance and writes it, whole or not at all.

    Every file is brought to one loudness, the stems with their mix, so that they add up to it.

    Args:
        performance: what to write.
        path: ends in `.wav`; an existing file is replaced, a symbolic link is followed.
        rate: one of `RATES`, frames a second.
        bits: 16 or 24, a sample.
        routes: channel, program and level by part; parts that are missing keep the General MIDI default.
        soundfont: a path; the first there is when left out.
        count_off: whether the count-off, if there is one, is heard.
        stems: whether each part is written alone as well, to `NAME-PART.wav` beside it.

    Raises:
        UsageError: for another ending, rate or number of bits.
        PortError: when there is no FluidSynth or no soundfont, or it cannot be read.
        IntroitError: when the place cannot be written; no file is left that was not there.
    """
    check_wav(path, rate=rate, bits=bits)
    found = find_soundfont(soundfont, named_with="`--soundfont` or `soundfont:` in a rig")
    take = take_of(performance, routes, count_off=count_off)
    # Part by part even where no stem is wanted: what a voice of FluidSynth's played before leaves a trace in
    # its next attack, and so the sum of the stems is not quite what all parts make at once.
    parts = take.parts
    least = _frame(take, take.end, rate)
    silence = np.zeros((least, CHANNELS), np.float32)
    silence, *by_part = _even([silence, *(render(take.only({part}), found, rate=rate) for part in parts)])
    sounds = [sum(by_part, start=silence), *by_part]
    gain, loud, peak = _levelled(take, sounds, rate)
    sounds = _trimmed([sound * np.float32(gain) for sound in sounds], least=least)
    points = _points(take, performance, rate)
    files = (path, *(stem_path(path, part) for part in parts)) if stems else (path,)
    written = (wav_bytes(sound, rate=rate, bits=bits, points=points) for sound in sounds)
    write_all_atomically(dict(zip(files, written, strict=False)))
    return WrittenSound(
        files,
        seconds=len(sounds[0]) / rate,
        head=float(take.frame(performance.head_tick, rate) / rate),
        loudness=loud,
        peak=peak,
        soundfont=found,
    )


def check_wav(path: Path, *, rate: int, bits: int) -> None:
    """Raises UsageError where `write_wav` would, before anything is arranged."""
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        given = f"ends in {path.suffix!r}" if path.suffix else "has no ending"
        hint = did_you_mean(ending, ENDINGS)
        raise UsageError(f"{path}: the file {given}; sound is written to {ENDINGS[0]}. {hint}".strip())
    if rate not in RATES:
        allowed = " and ".join(map(str, RATES))
        raise UsageError(f"{rate} frames a second cannot be written; allowed are {allowed}")
    if bits not in BITS:
        raise UsageError(f"{bits} bits a sample cannot be written; allowed are {BITS[0]} and {BITS[1]}")


def stem_path(path: Path, part: str) -> Path:
    """Where a part's stem goes: `waltz.wav` has `waltz-comp.wav`."""
    return path.with_name(f"{path.stem}-{part}{path.suffix}")


def _even(sounds: list[Sound]) -> list[Sound]:
    """All of them as long as the longest."""
    longest = max(map(len, sounds))
    return [np.pad(sound, ((0, longest - len(sound)), (0, 0))) for sound in sounds]


def _levelled(take: Take, sounds: list[Sound], rate: int) -> tuple[float, float, float]:
    """The gain, and the first one's loudness in LUFS and the highest peak in dBFS with it.

    The count-off has no say in the loudness.
    """
    heard = loudness(sounds[0][_frame(take, 0, rate) :], rate)
    peak = max(float(np.abs(sound).max(initial=0.0)) for sound in sounds)
    gain = gain_for(heard, peak)
    return gain, heard + peak_db(gain), peak_db(peak * gain)


def _trimmed(sounds: list[Sound], *, least: int) -> list[Sound]:
    """All of them up to the last frame of any that is heard, and as long as the music is."""
    last = least
    for sound in sounds:
        heard = np.flatnonzero(np.abs(sound[last:]) > SILENCE)
        last += int(heard[-1]) // CHANNELS + 1 if len(heard) else 0
    return [sound[:last] for sound in sounds]


def _frame(take: Take, tick: int, rate: int) -> int:
    return round(take.frame(tick, rate))


def _points(take: Take, performance: Performance, rate: int) -> list[Point]:
    """The chords and the head, as a MIDI file has them."""
    points = [Point(_frame(take, mark.tick, rate), ascii_symbol(mark.symbol)) for mark in performance.chords]
    return [*points, Point(_frame(take, performance.head_tick, rate), HEAD_MARKER)]
