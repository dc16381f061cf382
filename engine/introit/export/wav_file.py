"""Sound as the bytes of a WAV file: whole numbers, little end first, and named points of time.

RIFF/WAVE as in "Multimedia Programming Interface and Data Specifications 1.0" (Microsoft and IBM, 1991):
chunks `fmt `, `data`, `cue ` and `LIST adtl`. Sequencers show the points as markers.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from introit.export.wav_take import Sound

BITS: Final = (16, 24)
"""Of a sample."""
_PCM: Final = 1


class Point(NamedTuple):
    """A named point of time.

    Attributes:
        frame: from the start, 0 or more.
        name: in ASCII.
    """

    frame: int
    name: str


def wav_bytes(sound: Sound, *, rate: int, bits: int, points: Sequence[Point] = ()) -> bytes:
    """The whole file.

    Args:
        sound: frames by channels, full scale being 1.0; what is beyond is cut.
        rate: frames a second.
        bits: one of `BITS`.
        points: in order of time.
    """
    channels = sound.shape[1]
    frame = channels * bits // 8
    body = _chunk(b"fmt ", struct.pack("<HHIIHH", _PCM, channels, rate, rate * frame, frame, bits))
    body += _chunk(b"data", _samples(sound, bits))
    if points:
        body += _cue(points) + _labels(points)
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WAVE" + body


def _samples(sound: Sound, bits: int) -> bytes:
    full = 1 << (bits - 1)
    whole = np.clip(np.rint(sound.astype(np.float64) * full), -full, full - 1).astype("<i4")
    if bits == 16:
        return whole.astype("<i2").tobytes()
    return whole.reshape(-1, 1).view(np.uint8)[:, :3].tobytes()


def _cue(points: Sequence[Point]) -> bytes:
    rows = [
        struct.pack("<II4sIII", number, point.frame, b"data", 0, 0, point.frame)
        for number, point in enumerate(points, 1)
    ]
    return _chunk(b"cue ", struct.pack("<I", len(rows)) + b"".join(rows))


def _labels(points: Sequence[Point]) -> bytes:
    rows = [
        _chunk(b"labl", struct.pack("<I", number) + point.name.encode("ascii", "replace") + b"\0")
        for number, point in enumerate(points, 1)
    ]
    return _chunk(b"LIST", b"adtl" + b"".join(rows))


def _chunk(name: bytes, data: bytes) -> bytes:
    """A chunk begins at an even place; its length does not count the byte that sees to that."""
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)
