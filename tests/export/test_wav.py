"""WAV files, read by Python's own reader and another library's, and listened to.

Onsets are found in the sound by where its second difference jumps: that hears the pluck, not the swell. A
wood block, struck for all parts, has an attack that can be measured to a millisecond; the usual sounds are
held to 10 ms.
"""

from __future__ import annotations

import math
import os
import wave
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from scipy.io import wavfile
from scipy.signal import lfilter

from introit.arrange.arranger import handed_over
from introit.errors import IntroitError, PortError, UsageError
from introit.export import atomic
from introit.export.routes import GENERAL_MIDI_ROUTES
from introit.export.wav import RATES, WrittenSound, write_wav
from introit.export.wav_level import TARGET_LUFS
from introit.export.wav_take import render, take_of
from introit.fluid import soundfonts
from introit.fluid.library import load
from introit.fluid.soundfonts import find_soundfont
from introit.library.model import Library
from introit.performance import PARTS, Performance, Sound
from introit.theory.key import Mode

WOOD_BLOCK, ORGAN = 115, 19
"""General MIDI's, counted from 0."""
STRUCK = {
    part: route if part in ("ride", "click") else route._replace(program=WOOD_BLOCK)
    for part, route in GENERAL_MIDI_ROUTES.items()
}
APART = 0.08
"""Seconds: an onset that follows another more closely is not told apart from it."""
GRIP = 0.02
"""Seconds within which the notes of a grip are plucked, one string after the other."""
HALF_BLOCK = 32
ROUNDED = 0.6 / 32768
"""How far a frame of 16 bits may lie from what it stands for."""


class Heard(NamedTuple):
    """A file as Python's `wave` reads it: frames by channels, full scale 1.0."""

    frames: np.ndarray
    rate: int


def read(path: Path) -> Heard:
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth()) == (2, 2)
        frames = np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2)
        return Heard(frames / 32768, file.getframerate())


@pytest.fixture(scope="session")
def soundfont() -> str:
    """The small one that the tests' environment brings: the same everywhere."""
    try:
        load()
    except PortError as error:
        pytest.skip(str(error))
    return str(find_soundfont(folders=[]))


@pytest.fixture(scope="session")
def performed(library: Library, arranged: Any) -> Callable[..., Performance]:
    """An intro's performance, with two bars counted off where it is asked for."""

    def make(intro: str, key: str, line_up: str, *, count_off: int = 0) -> Performance:
        score = arranged(intro, key, line_up)
        tune = replace(score.plan.tune, count_off=count_off)
        plan = replace(score.plan, tune=tune)
        return handed_over(replace(score, scene=replace(score.scene, plan=plan)), library)

    return make


class Rendered(NamedTuple):
    """A performance with its files: the mix, and each part's."""

    performance: Performance
    written: WrittenSound
    mix: Heard
    stems: dict[str, Heard]

    def onsets(self, part: str) -> list[float]:
        """Seconds from the file's start."""
        second = 60 / self.performance.tempo / 960
        start = self.performance.start_tick
        return sorted(
            {(note.onset - start) * second for note in self.performance.notes if PARTS[note.part] == part}
        )


CASES = [
    ("three-six-two-five", "Eb", "trio"),
    ("waltz-riff", "C minor", "with keys"),
    ("one-voice-walks-down", "E minor", "solo guitar"),
]


@pytest.fixture(scope="session", params=CASES, ids=" ".join)
def rendered(
    request: pytest.FixtureRequest,
    performed: Callable[..., Performance],
    soundfont: str,
    tmp_path_factory: pytest.TempPathFactory,
) -> Rendered:
    return _rendered(performed(*request.param, count_off=1), soundfont, tmp_path_factory.mktemp("wav"))


def _rendered(performance: Performance, soundfont: str, folder: Path, **choices: Any) -> Rendered:
    written = write_wav(
        performance, folder / "intro.wav", soundfont=soundfont, stems=True, count_off=True, **choices
    )
    mix, *stems = written.files
    by_part = {path.stem.removeprefix("intro-"): read(path) for path in stems}
    return Rendered(performance, written, read(mix), by_part)


# --- the files ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("bits", [16, 24])
def test_two_readers_find_the_format_that_was_asked_for(
    performed: Callable[..., Performance], soundfont: str, tmp_path: Path, rate: int, bits: int
) -> None:
    performance = performed("waltz-riff", "C minor", "with bass")
    written = write_wav(performance, tmp_path / "a.WAV", rate=rate, bits=bits, soundfont=soundfont)
    with wave.open(str(tmp_path / "a.WAV")) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (rate, 2, bits // 8)
        raw, frames = file.readframes(file.getnframes()), file.getnframes()
    assert frames / rate == pytest.approx(written.seconds)
    assert written.head == pytest.approx(performance.head_tick / 960 * 60 / performance.tempo)
    with pytest.warns(wavfile.WavFileWarning, match="Chunk"):  # it knows no points of time
        found_rate, found = wavfile.read(tmp_path / "a.WAV")
    assert (found_rate, found.shape) == (rate, (frames, 2))
    if bits == 16:
        assert found.tobytes() == raw
        full = 32768
    else:  # it puts 24 bits in the upper part of 32
        assert found.view(np.uint8).reshape(-1, 4)[:, 1:].tobytes() == raw
        full = 1 << 31
    assert 20 * math.log10(np.abs(found.astype(float)).max() / full) == pytest.approx(written.peak, abs=0.01)


def test_chords_and_head_are_points_of_time_in_the_file(rendered: Rendered) -> None:
    """Read by hand, by "Multimedia Programming Interface and Data Specifications 1.0" (from memory)."""
    data = rendered.written.files[0].read_bytes()
    assert (data[:4], int.from_bytes(data[4:8], "little"), data[8:12]) == (b"RIFF", len(data) - 8, b"WAVE")
    chunks, place = {}, 12
    while place < len(data):
        name, length = data[place : place + 4], int.from_bytes(data[place + 4 : place + 8], "little")
        chunks[name] = data[place + 8 : place + 8 + length]
        place += 8 + length + length % 2
    assert list(chunks) == [b"fmt ", b"data", b"cue ", b"LIST"]
    cue = np.frombuffer(chunks[b"cue "][4:], "<u4").reshape(-1, 6)
    performance, rate = rendered.performance, rendered.mix.rate
    ticks = [*(mark.tick for mark in performance.chords), performance.head_tick]
    expected = [
        round((tick - performance.start_tick) / 960 * 60 / performance.tempo * rate) for tick in ticks
    ]
    assert list(cue[:, 5]) == pytest.approx(expected, abs=1)
    names = chunks[b"LIST"].split(b"labl")[1:]
    assert len(names) == len(cue)
    assert names[-1][8:].rstrip(b"\0") == b"head"


def test_stems_are_named_for_their_parts_and_add_up_to_the_mix(rendered: Rendered) -> None:
    sounding = [
        part for number, part in enumerate(PARTS) if any(n.part == number for n in rendered.performance.notes)
    ]
    assert [path.name for path in rendered.written.files] == [
        "intro.wav",
        *(f"intro-{part}.wav" for part in sounding),
    ]
    added = sum(stem.frames for stem in rendered.stems.values())
    assert float(np.abs(added - rendered.mix.frames).max()) <= ROUNDED * (len(sounding) + 1)


def test_the_mix_is_the_same_with_and_without_stems(
    rendered: Rendered, soundfont: str, tmp_path: Path
) -> None:
    write_wav(rendered.performance, tmp_path / "a.wav", soundfont=soundfont, count_off=True)
    assert (tmp_path / "a.wav").read_bytes() == rendered.written.files[0].read_bytes()


def test_the_mix_is_what_one_synth_makes_of_all_parts(rendered: Rendered, soundfont: str) -> None:
    take = take_of(rendered.performance, GENERAL_MIDI_ROUTES, count_off=True)
    at_once = render(take, Path(soundfont), rate=48_000)
    length = min(len(at_once), len(rendered.mix.frames))
    at_once, mix = at_once[:length].astype(float), rendered.mix.frames[:length]
    gain = float((at_once * mix).sum() / (at_once**2).sum())
    # As well as a listener could tell: FluidSynth's voices keep a trace of what they played before.
    assert float(np.abs(at_once * gain - mix).max()) < float(np.abs(mix).max()) * 0.05


def test_the_same_performance_is_the_same_file(
    performed: Callable[..., Performance], soundfont: str, tmp_path: Path
) -> None:
    performance = performed("waltz-riff", "C minor", "with keys")
    for name in ("a.wav", "b.wav"):
        write_wav(performance, tmp_path / name, soundfont=soundfont)
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()


def test_the_count_off_is_heard_if_asked_for_and_changes_no_level(
    performed: Callable[..., Performance], soundfont: str, tmp_path: Path
) -> None:
    performance = performed("waltz-riff", "C minor", "with keys", count_off=2)
    counted = write_wav(performance, tmp_path / "counted.wav", soundfont=soundfont, count_off=True)
    plain = write_wav(performance, tmp_path / "plain.wav", soundfont=soundfont)
    two_bars = 2 * performance.bar_ticks / 960 * 60 / performance.tempo
    assert counted.head - plain.head == pytest.approx(two_bars)
    assert counted.loudness == pytest.approx(plain.loudness, abs=0.2)
    clicks = read(tmp_path / "counted.wav").frames[: int(two_bars * 48_000)]
    assert float(np.abs(clicks).max()) > 0.01
    first = np.argmax(np.abs(read(tmp_path / "plain.wav").frames).max(axis=1) > 1e-3) / 48_000
    assert first < 0.05, "without it the intro begins at once"


# --- the sound ---------------------------------------------------------------------------------------


def attacks(
    heard: Heard, onsets: Sequence[float], *, before: float, after: float, jump: float
) -> Iterator[float]:
    """For each onset that stands alone, by how many milliseconds the sound is late; NaN where none is heard.

    Args:
        heard: a part alone.
        onsets: seconds.
        before, after: milliseconds around the onset in which it is looked for.
        jump: how many times as loud as just before it the attack must be.
    """
    sharp = np.abs(np.diff(heard.frames.mean(axis=1), n=2, prepend=[0.0, 0.0]))
    for earlier, onset in zip([-1.0, *onsets], onsets, strict=False):
        if onset - earlier < APART:
            continue
        first, last = (max(0, round((onset + way / 1000) * heard.rate)) for way in (-before, after))
        usual = sharp[max(0, first - heard.rate // 50) : first].max(initial=0.0)
        struck = np.flatnonzero(sharp[first:last] > max(jump * usual, 1e-4))
        if not len(struck):
            yield math.nan
            continue
        # Of a grip, the string that is heard first need not be the first one plucked.
        grip = [other for other in onsets if onset <= other < onset + GRIP]
        yield min(((first + struck[0]) / heard.rate - other for other in grip), key=abs) * 1000


def test_a_wood_block_is_struck_where_each_note_is_due(
    rendered: Rendered, soundfont: str, tmp_path: Path
) -> None:
    struck = _rendered(rendered.performance, soundfont, tmp_path, routes=STRUCK)
    for part, stem in struck.stems.items():
        late = list(attacks(stem, struck.onsets(part), before=5, after=10, jump=2))
        # Half a block of 64 frames, and a millisecond until it is loud enough to be told from what rings on.
        half_block = 1000 * HALF_BLOCK / stem.rate
        assert len(late) >= 3, part
        assert min(late) > -half_block - 0.1, (part, min(late))
        assert max(late) < half_block + 1.2, (part, max(late))


def test_notes_are_heard_within_10_ms_of_the_performance(rendered: Rendered) -> None:
    for part, stem in rendered.stems.items():
        late = np.array(list(attacks(stem, rendered.onsets(part), before=10, after=15, jump=1.5)))
        heard = late[np.isfinite(late)]
        figures = f"{part}: {len(heard)} of {len(late)}, {heard.min():.1f} to {heard.max():.1f} ms"
        print(figures)
        assert len(heard) >= 0.8 * len(late), figures
        assert float(np.abs(heard).max()) < 10, figures


def fundamental(sound: np.ndarray, rate: int, *, low: float, high: float) -> float:
    """The pitch whose first five partials have most of the spectrum, in hertz, to a tenth of a half step."""
    length = 1 << 17
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), length))
    candidates = low * 2 ** (np.arange(0, 12 * math.log2(high / low), 0.1) / 12)
    partials = np.arange(1, 6)
    strength = [
        sum(
            math.sqrt(spectrum[min(len(spectrum) - 1, round(hertz * n * length / rate))]) / n
            for n in partials
        )
        for hertz in candidates
    ]
    return float(candidates[int(np.argmax(strength))])


def test_bass_notes_have_their_pitch_in_the_spectrum(
    performed: Callable[..., Performance], soundfont: str, tmp_path: Path
) -> None:
    """Equal temperament at A = 440 Hz (ISO 16), within a third of a half step."""
    for case in (("three-six-two-five", "Eb", "with bass"), ("waltz-riff", "C minor", "with keys")):
        made = _rendered(performed(*case), soundfont, tmp_path)
        second = 60 / made.performance.tempo / 960
        judged = 0
        for note in made.performance.notes:
            length = (note.end - note.onset) * second
            if PARTS[note.part] != "bass" or length < 0.2:
                continue
            heard = made.stems["bass"]
            begin, end = (round(heard.rate * (note.onset * second + way)) for way in (0.04, min(length, 0.6)))
            found = fundamental(heard.frames[begin:end].mean(axis=1), heard.rate, low=36, high=270)
            assert 12 * math.log2(found / 440) + 69 == pytest.approx(note.pitch, abs=0.34), note
            judged += 1
        assert judged >= 5


@pytest.mark.parametrize("program", [None, ORGAN])
def test_all_is_silent_once_the_head_has_begun(
    performed: Callable[..., Performance], soundfont: str, tmp_path: Path, program: int | None
) -> None:
    """A cymbal rings out by itself, as it does under any player's hands; all else is damped."""
    routes = {
        part: route if program is None or route.channel == 9 else route._replace(program=program)
        for part, route in GENERAL_MIDI_ROUTES.items()
    }
    for case in CASES:
        made = _rendered(performed(*case), soundfont, tmp_path, routes=routes)
        loud = float(np.abs(made.mix.frames).max())
        for part, heard in made.stems.items():
            level = np.abs(heard.frames).max(axis=1)
            head = round(made.written.head * heard.rate)
            late = level[head + round(heard.rate * (3.0 if part == "ride" else 0.75)) :]
            assert level[: head + 100].max() > loud / 100, (case, part)
            assert float(late.max(initial=0.0)) < loud / 1000, (case, part)  # by 60 dB, no source
        assert float(np.abs(made.mix.frames[-480:]).max()) < 1e-3, "the file ends softly"
        ending = made.written.seconds - made.written.head
        assert 0.1 < ending < (6.0 if "ride" in made.stems else 1.5), ending


def test_bass_and_pedal_point_have_no_reverb_and_the_others_have(
    rendered: Rendered, monkeypatch: pytest.MonkeyPatch, soundfont: str, tmp_path: Path
) -> None:
    monkeypatch.setattr("introit.export.wav_take.dry_channels", lambda _: ())
    wet = _rendered(rendered.performance, soundfont, tmp_path)
    gain = 10 ** ((rendered.written.peak - wet.written.peak) / 20)
    for part, stem in rendered.stems.items():
        other = wet.stems[part].frames
        length = min(len(other), len(stem.frames))
        apart = float(np.abs(stem.frames[:length] - other[:length] * gain).max()) / float(np.abs(other).max())
        assert (apart > 0.02) == (part in ("bass", "pedal", "click")), (part, apart)


def lufs(frames: np.ndarray) -> float:
    """Loudness by BS.1770-4's own coefficients for 48,000 a second and another library's filters."""
    shelf = (
        [1.53512485958697, -2.69169618940638, 1.19839281085285],
        [1, -1.69065929318241, 0.73248077421585],
    )
    high_pass = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])
    power = (lfilter(*high_pass, lfilter(*shelf, frames, axis=0), axis=0) ** 2).sum(axis=1)
    blocks = np.array([power[at : at + 19_200].mean() for at in range(0, len(power) - 19_199, 4_800)])
    blocks = blocks[-0.691 + 10 * np.log10(blocks + 1e-20) > -70]
    return float(-0.691 + 10 * np.log10(blocks[blocks > blocks.mean() / 10].mean()))


def test_nothing_is_cut_and_all_intros_are_equally_loud(rendered: Rendered) -> None:
    assert rendered.written.peak < 0
    for heard in (rendered.mix, *rendered.stems.values()):
        assert float(np.abs(heard.frames).max()) < 0.95, "no frame comes near full scale"
    start = round(-rendered.performance.start_tick / 960 * 60 / rendered.performance.tempo * 48_000)
    assert lufs(rendered.mix.frames[start:]) == pytest.approx(TARGET_LUFS, abs=0.1)


@pytest.mark.long
@pytest.mark.parametrize("line_up", ["solo guitar", "with bass", "with keys", "trio"])
def test_the_whole_library_is_heard_as_it_is_performed(
    library: Library, performed: Callable[..., Performance], soundfont: str, tmp_path: Path, line_up: str
) -> None:
    """Onsets within 10 ms (one guitar's on a wood block), levels within 3 dB, nothing cut, a silent end."""
    levels, late, missed, asked = [], [], 0, 0
    for intro in library.intros.values():
        if line_up not in intro.line_ups:
            continue
        key = "Ab" if any(form.mode is Mode.MAJOR for form in intro.forms) else "F# minor"
        made = _rendered(performed(intro.id, key, line_up), soundfont, tmp_path)
        levels.append(lufs(made.mix.frames))
        assert made.written.peak < 0, intro.id
        head = round((made.written.head + 0.75) * 48_000)
        loud = float(np.abs(made.mix.frames).max())
        for part, stem in made.stems.items():
            assert float(np.abs(stem.frames).max()) < 0.95, intro.id
            if part != "ride":
                assert float(np.abs(stem.frames[head:]).max(initial=0.0)) < loud / 1000, (intro.id, part)
        if line_up == "solo guitar":  # its strings ring into each other: a soft pluck is not told apart
            made = _rendered(made.performance, soundfont, tmp_path, routes=STRUCK)
        for part, stem in made.stems.items():
            found = np.array(list(attacks(stem, made.onsets(part), before=10, after=15, jump=1.5)))
            asked += len(found)
            missed += int(np.isnan(found).sum())
            late += [(ms, intro.id, part) for ms in found[np.isfinite(found)]]
    off = [abs(ms) for ms, *_ in late]
    figures = (
        f"{line_up}: {len(levels)} intros, {min(levels):.2f} to {max(levels):.2f} LUFS; {len(late)} onsets of"
        f" {asked}, off by {np.percentile(off, 95):.1f} ms (95 %), {max(off):.1f} at most, {max(late)}"
    )
    print(figures)
    assert max(levels) - min(levels) < 3, figures
    assert missed < 0.1 * asked, figures
    assert max(off) < 10, figures


def test_a_tunes_own_sounds_are_heard(
    performed: Callable[..., Performance], soundfont: str, tmp_path: Path
) -> None:
    performance = performed("waltz-riff", "C minor", "with keys")
    other = replace(performance, sounds=(Sound(PARTS.index("comp"), ORGAN, 40),))
    as_routed = {**GENERAL_MIDI_ROUTES, "comp": GENERAL_MIDI_ROUTES["comp"]._replace(program=ORGAN, level=40)}
    write_wav(other, tmp_path / "a.wav", soundfont=soundfont)
    write_wav(performance, tmp_path / "b.wav", soundfont=soundfont, routes=as_routed)
    write_wav(performance, tmp_path / "c.wav", soundfont=soundfont)
    a, b, c = ((tmp_path / f"{name}.wav").read_bytes() for name in "abc")
    assert a == b != c


def test_a_parts_level_is_channel_volume(performed: Callable[..., Performance], soundfont: str) -> None:
    """40 log(volume / 127) dB, as General MIDI's guidelines and SoundFont 2 have it (from memory)."""
    loud = []
    for level in (127, 64):
        comp = GENERAL_MIDI_ROUTES["comp"]._replace(level=level)
        take = take_of(performed("waltz-riff", "C minor", "with keys"), {"comp": comp}, count_off=False)
        loud.append(float(np.abs(render(take.only({"comp"}), Path(soundfont), rate=48_000)).max()))
    assert 20 * math.log10(loud[1] / loud[0]) == pytest.approx(40 * math.log10(64 / 127), abs=0.5)


# --- mistakes ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "choices", "message"),
    [
        (
            "a.wave",
            {},
            r"a\.wave: the file ends in '\.wave'; sound is written to \.wav\. Did you mean '\.wav'",
        ),
        ("a", {}, r"a: the file has no ending"),
        ("a.wav", {"rate": 22_050}, r"22050 frames a second cannot be written; allowed are 44100 and 48000"),
        ("a.wav", {"bits": 8}, r"8 bits a sample cannot be written; allowed are 16 and 24"),
    ],
)
def test_what_cannot_be_written_is_refused_by_name(
    performed: Callable[..., Performance], tmp_path: Path, name: str, choices: Any, message: str
) -> None:
    with pytest.raises(UsageError, match=message):
        write_wav(performed("waltz-riff", "C minor", "with keys"), tmp_path / name, **choices)
    assert list(tmp_path.iterdir()) == []


def test_a_soundfont_that_is_missing_or_none_is_told_in_one_line(
    performed: Callable[..., Performance], soundfont: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    performance = performed("waltz-riff", "C minor", "with keys")
    nothing = tmp_path / "nothing.sf2"
    nothing.write_bytes(b"RIFF\0\0\0\0sfbk")
    for given, message in (
        (str(tmp_path / "gone.sf2"), r"there is no soundfont '.*gone\.sf2'; it is named with `--soundfont`"),
        (str(nothing), r"nothing\.sf2' is no soundfont that FluidSynth can read"),
        (str(tmp_path), r"there is no soundfont"),
    ):
        with pytest.raises(PortError, match=message) as told:
            write_wav(performance, tmp_path / "a.wav", soundfont=given)
        assert "\n" not in str(told.value)
    monkeypatch.setattr(soundfonts, "CARRIED", ("no_such_package", "x.sf2"))
    monkeypatch.setattr(
        "introit.export.wav.find_soundfont",
        lambda _, named_with: find_soundfont(folders=[], named_with=named_with),
    )
    with pytest.raises(PortError, match=r"no soundfont: looked for .* Name one with `--soundfont`"):
        write_wav(performance, tmp_path / "a.wav")
    assert [path.name for path in tmp_path.iterdir()] == ["nothing.sf2"]


@pytest.mark.parametrize("full_at", [1, 3])
def test_a_full_disk_leaves_no_file_at_all(
    performed: Callable[..., Performance],
    soundfont: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    full_at: int,
) -> None:
    (tmp_path / "a.wav").write_bytes(b"old")
    calls = iter(range(1, 100))

    def sync(_descriptor: int) -> None:
        if next(calls) == full_at:
            raise OSError(28, os.strerror(28))

    monkeypatch.setattr(atomic.os, "fsync", sync)
    with pytest.raises(IntroitError, match=r"cannot be written: No space left on device") as told:
        write_wav(
            performed("waltz-riff", "C minor", "with keys"),
            tmp_path / "a.wav",
            soundfont=soundfont,
            stems=True,
        )
    assert ("a.wav" if full_at == 1 else "a-comp.wav") in str(told.value)
    assert [path.name for path in tmp_path.iterdir()] == ["a.wav"]
    assert (tmp_path / "a.wav").read_bytes() == b"old"


def test_a_place_that_cannot_be_written_is_told(
    performed: Callable[..., Performance], soundfont: str, tmp_path: Path
) -> None:
    performance = performed("waltz-riff", "C minor", "with keys")
    (tmp_path / "file").touch()
    (tmp_path / "folder.wav").mkdir()
    for place in ("nowhere/a.wav", "file/a.wav", "folder.wav"):
        with pytest.raises(IntroitError, match="cannot be written: "):
            write_wav(performance, tmp_path / place, soundfont=soundfont)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "folder.wav"]


def test_silence_can_be_written(
    performed: Callable[..., Performance], soundfont: str, tmp_path: Path
) -> None:
    performance = replace(performed("waltz-riff", "C minor", "with keys"), notes=())
    written = write_wav(performance, tmp_path / "a.wav", soundfont=soundfont, stems=True)
    assert written.seconds == pytest.approx(written.head, abs=0.01)
    assert not read(tmp_path / "a.wav").frames.any()
