"""How fast sound is written, as a multiple of real time, beside FluidSynth alone and its own command.

    python tests/bench/sound.py [--short] [--json FILE]

The sounds last from the first downbeat until the last note has died away. The soundfont is the small one that
the tests' environment brings, so that figures can be compared.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from _figures import Table, options

from introit.arrange.arranger import handed_over, written
from introit.cli.options import tune_for
from introit.cli.staging import stage_for
from introit.errors import PortError
from introit.export.midi_file import midi_bytes
from introit.export.routes import GENERAL_MIDI_ROUTES
from introit.export.wav import RATES, write_wav
from introit.export.wav_take import render, take_of
from introit.fluid.library import load
from introit.fluid.soundfonts import find_soundfont
from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.performance import Performance

RATE = 48_000
COMMAND = "fluidsynth"


def performances(*, every: int) -> list[Performance]:
    """Each intro of the library, or one of so many, in its own key and at its own tempo."""
    library, _ = load_library(content_roots()[:1])
    found = []
    for intro in list(library.intros.values())[::every]:
        tune = tune_for(
            intro, library, key=None, tempo=None, meter=None, feel=None, first_chord=None, count_off=0
        )
        found.append(
            handed_over(written(tune, tune.key, library, intro=intro, stage=stage_for(tune)), library)
        )
    return found


def measured(music: Sequence[Performance], write: Callable[[Performance], float]) -> dict[str, object]:
    """What `write` takes, which returns the seconds of the sound that it has made."""
    taken, lasted = [], 0.0
    for performance in music:
        began = time.perf_counter()
        lasted += write(performance)
        taken.append(time.perf_counter() - began)
    return {
        "x real time": round(lasted / sum(taken), 1),
        "s (middle)": round(statistics.median(taken), 3),
        "s (worst)": round(max(taken), 3),
        "s of sound": round(lasted / len(music), 1),
    }


def by_command(folder: Path, soundfont: Path) -> Callable[[Performance], float]:
    """FluidSynth's own command, which renders a MIDI file without measuring or scaling it."""

    def write(performance: Performance) -> float:
        source, target = folder / "a.mid", folder / "a.wav"
        source.write_bytes(midi_bytes(performance))
        command = [COMMAND, "-q", "-n", "-i", "-r", str(RATE), "-F", str(target), str(soundfont), str(source)]
        subprocess.run(command, check=True, capture_output=True)
        return (target.stat().st_size - 44) / (RATE * 4)

    return write


def main() -> int:
    chosen = options(__doc__ or "", short="every eighth intro of the library")
    table = Table("sound")
    try:
        load()
        soundfont = find_soundfont(folders=[])
    except PortError as error:
        table.missing("sound", error)
        table.write(chosen.json)
        return 0
    music = performances(every=8 if chosen.short else 1)
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "a.wav"

        def write(performance: Performance, **how: object) -> float:
            return write_wav(performance, target, soundfont=str(soundfont), **how).seconds  # type: ignore[arg-type]

        write(music[0])
        for rate in RATES:
            facts = measured(music, lambda one, rate=rate: write(one, rate=rate))  # type: ignore[misc]
            table.add(f"one WAV, {rate}, 16 bits", **facts)
        facts = measured(music, lambda one: write(one, stems=True, bits=24))
        table.add(f"one WAV and its stems, {RATE}, 24 bits", **facts)

        def alone(performance: Performance) -> float:
            take = take_of(performance, GENERAL_MIDI_ROUTES, count_off=False)
            return len(render(take, soundfont, rate=RATE)) / RATE

        table.add("reference: FluidSynth alone, all parts at once", **measured(music, alone))
        if shutil.which(COMMAND):
            table.add(
                "reference: its own command, a process each",
                **measured(music, by_command(Path(folder), soundfont)),
            )
        else:
            table.missing("reference: its own command, a process each", f"no {COMMAND} on this machine")
    table.write(chosen.json)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
