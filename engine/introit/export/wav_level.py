"""How loud a sound is, and by how much it is to be made louder.

Loudness is that of ITU-R BS.1770-4, in LUFS: both channels go through a high shelf and a high pass
(K-weighting); of the mean squares of blocks of 400 ms, overlapping by three quarters, those that
pass two gates are averaged.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

TARGET_LUFS: Final = -20.0
"""What every file is brought to. Ours: soft enough that no intro's attacks come near full scale, so that all
can be brought to it."""
CEILING_DB: Final = -1.0
"""The highest that any frame may come to, in dBFS (EBU R 128 gives it for true peaks)."""
_OFFSET: Final = -0.691
"""BS.1770: a sine of 997 Hz at full scale in one channel then reads -3.01."""
_ABSOLUTE_GATE: Final = -70.0
_RELATIVE_GATE: Final = -10.0
_BLOCK: Final = 0.4
_OVERLAP: Final = 4
_EASY: Final = 1 << 14
"""Spectra of a multiple of this many frames are quickly had."""

Floats = npt.NDArray[np.float32] | npt.NDArray[np.float64]


def loudness(sound: Floats, rate: int) -> float:
    """Integrated loudness in LUFS; minus infinity where nothing passes the gates.

    Args:
        sound: frames by channels, each of which counts alike (left and right).
        rate: frames a second.
    """
    step = round(rate * _BLOCK / _OVERLAP)
    squares = (_weighted(sound, rate) ** 2).sum(axis=1)
    if len(squares) < step * _OVERLAP:
        squares = np.pad(squares, (0, step * _OVERLAP - len(squares)))
    parts = squares[: len(squares) // step * step].reshape(-1, step).sum(axis=1)
    blocks = np.convolve(parts, np.ones(_OVERLAP), "valid") / (step * _OVERLAP)
    loud = blocks[_lufs(blocks) > _ABSOLUTE_GATE]
    if not len(loud):
        return -math.inf
    loud = loud[_lufs(loud) > float(_lufs(loud.mean())) + _RELATIVE_GATE]
    return float(_lufs(loud.mean()))


def peak_db(peak: float) -> float:
    """A frame's value, full scale being 1.0, in dBFS; minus infinity for 0."""
    return 20 * math.log10(peak) if peak > 0 else -math.inf


def gain_for(loud: float, peak: float) -> float:
    """By what a sound is multiplied: to the target, but not so far that a frame passes the ceiling.

    Args:
        loud: its loudness in LUFS.
        peak: its highest frame, full scale being 1.0.
    """
    if not math.isfinite(loud) or peak <= 0:
        return 1.0
    return float(10 ** (min(TARGET_LUFS - loud, CEILING_DB - peak_db(peak)) / 20))


def _lufs(mean_square: npt.NDArray[np.float64] | float) -> npt.NDArray[np.float64]:
    with np.errstate(divide="ignore"):
        return np.asarray(_OFFSET + 10 * np.log10(mean_square))


def _weighted(sound: Floats, rate: int) -> npt.NDArray[np.float64]:
    """Through both filters, by multiplying spectra; padded, so that nothing rings on into the start."""
    length = -(-(len(sound) + rate // 4) // _EASY) * _EASY
    turn = np.exp(-2j * np.pi * np.arange(length // 2 + 1) / length)
    response = np.ones(length // 2 + 1, dtype=complex)
    for above, below in (_high_shelf(rate), _high_pass(rate)):
        response *= np.polyval(above[::-1], turn) / np.polyval(below[::-1], turn)
    weighted = np.fft.irfft(np.fft.rfft(sound, length, axis=0) * response[:, None], length, axis=0)
    return np.asarray(weighted[: len(sound)], dtype=np.float64)


# The standard gives coefficients at 48,000 frames a second alone. These are the analogue prototypes that they
# come from by the bilinear transform (corner, gain and quality as worked out from the coefficients and widely
# used since, from memory); a test compares them with the standard's own.


def _high_shelf(rate: int) -> tuple[list[float], list[float]]:
    corner, gain, quality = 1681.974450955533, 3.999843853973347, 0.7071752369554196
    k = math.tan(math.pi * corner / rate)
    top = 10 ** (gain / 20)
    band = top**0.4996667741545416
    a0 = 1 + k / quality + k * k
    above = [
        (top + band * k / quality + k * k) / a0,
        2 * (k * k - top) / a0,
        (top - band * k / quality + k * k) / a0,
    ]
    return above, [1.0, 2 * (k * k - 1) / a0, (1 - k / quality + k * k) / a0]


def _high_pass(rate: int) -> tuple[list[float], list[float]]:
    corner, quality = 38.13547087602444, 0.5003270373238773
    k = math.tan(math.pi * corner / rate)
    a0 = 1 + k / quality + k * k
    return [1.0, -2.0, 1.0], [1.0, 2 * (k * k - 1) / a0, (1 - k / quality + k * k) / a0]
