"""How long arranging takes, beside what a general music library needs to read the same chord symbols.

    python tests/bench/arranging.py [--short] [--json FILE]

Prints a table, then the same as JSON: milliseconds by the clock, and seconds in all by the clock and of the
processor, which tells what others on the same cores take. Nothing is asserted: a figure is of its machine.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from introit.arrange.arranger import arrange, perform, ready
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.melody import write_melody
from introit.arrange.plan import plan_intro, suits
from introit.arrange.scene import Scene, set_scene
from introit.arrange.voicing import Wish, choice, forms, placing, voice
from introit.arrange.wishes import wishes
from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.library.model import Library, Tune
from introit.theory.chord import chord_of
from introit.theory.key import Key, Mode, keys
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

FIRST_CHORD = {Mode.MAJOR: "Imaj7", Mode.MINOR: "i6/9"}
FEELS = {3: "jazz-waltz", 4: "medium-swing", 5: "five-four-swing"}


def jobs(library: Library) -> list[tuple[Tune, Key]]:
    """Every intro in every key, mode and meter that it is for, at a middle tempo."""
    found = []
    for intro in library.intros.values():
        for mode in Mode:
            for key in keys(mode):
                for meter in (Meter(3), Meter(4), Meter(5)):
                    first_chord = Numeral.from_text(FIRST_CHORD[mode])
                    tune = Tune("t", "T", key, meter, 132.0, FEELS[meter.beats], first_chord, intro=intro.id)
                    if suits(intro, tune, key) is None:
                        found.append((tune, key))
    return found


class Taken(NamedTuple):
    """What a piece of work took.

    Attributes:
        clock, processor: milliseconds.
    """

    clock: float
    processor: float


def timed(work: Callable[[], object], *, parts: int = 1) -> Taken:
    """What a call takes; a part of it, where it does several things at once."""
    clock, processor = time.perf_counter(), time.process_time()
    work()
    took = time.perf_counter() - clock, time.process_time() - processor
    return Taken(*(seconds * 1000 / parts for seconds in took))


def row(what: str, taken: Sequence[Taken]) -> dict[str, object]:
    values = sorted(one.clock for one in taken)
    return {
        "what": what,
        "count": len(values),
        "median ms": round(statistics.median(values), 3),
        "p99 ms": round(values[min(len(values) - 1, int(len(values) * 0.99))], 3),
        "worst ms": round(values[-1], 3),
        "total s": round(sum(values) / 1000, 3),
        "cpu s": round(sum(one.processor for one in taken) / 1000, 3),
    }


def arranging_rows(library: Library, rounds: int) -> list[dict[str, object]]:
    work = jobs(library)
    forget_voicings()
    chord_of.cache_clear()
    cold = [timed(lambda job=job: ready(*job, library)) for job in work]
    warm = [timed(lambda job=job: ready(*job, library)) for _ in range(rounds) for job in work]
    rows = [row("one intro in one key, first time", cold), row("one intro in one key, warm", warm)]
    rows.append(row("the whole library in 12 keys, warm", library_times(library)))
    rows += [row(f"one intro, {line_up}, warm", line_up_times(library, line_up)) for line_up in LineUp]
    plans = [plan_intro(library.intros[tune.intro or ""], tune, key) for tune, key in work]
    scores = [arrange(plan, library) for plan in plans]
    arranged = [timed(lambda plan=plan: arrange(plan, library)) for plan in plans]
    performed = [timed(lambda score=score: perform(score, library)) for score in scores]
    return [*rows, row("  of which: score from plan", arranged), row("  of which: performance", performed)]


def first_of(library: Library) -> list[tuple[Tune, Key]]:
    """Every intro once in each of 12 keys: in its first mode and its first meter."""
    found = []
    for tune, key in jobs(library):
        intro = library.intros[tune.intro or ""]
        if tune.meter == intro.meters[0] and key.mode is intro.forms[0].mode:
            found.append((tune, key))
    return found


def library_times(library: Library) -> list[Taken]:
    """What each of the library's intros in each key takes, from the tune to what is played."""
    return [timed(lambda job=job: ready(*job, library)) for job in first_of(library)]


def line_up_times(library: Library, line_up: LineUp) -> list[Taken]:
    """The same for one line-up, the second time round."""
    stage = Stage(line_up)
    for job in first_of(library):
        ready(*job, library, stage=stage)
    return [timed(lambda job=job: ready(*job, library, stage=stage)) for job in first_of(library)]


def forget_voicings() -> None:
    """Empties what is kept of forms, placements and candidates; the hand keeps what it has worked out."""
    for kept in (choice._candidates, placing.placed, placing._rows, forms.forms_of):
        kept.cache_clear()


def voicing_rows(library: Library, rounds: int) -> list[dict[str, object]]:
    """The voicings alone, by line-up: all chords of an intro, and a chord that was never asked before."""
    rows = []
    for line_up in (LineUp.WITH_BASS, LineUp.SOLO_GUITAR, LineUp.WITH_KEYS):
        asked = [_asked(library, tune, key, line_up) for tune, key in jobs(library) if tune.meter.beats == 4]
        forget_voicings()
        cold = [timed(lambda one=one: voice(*one), parts=len(one[1])) for one in asked]
        warm = [timed(lambda one=one: voice(*one)) for _ in range(rounds) for one in asked]
        rows.append(row(f"  of which: voicings, {line_up}, warm", warm))
        rows.append(row(f"  of which: voicings, {line_up}, first time, a chord", cold))
    return rows


def _asked(library: Library, tune: Tune, key: Key, line_up: LineUp) -> tuple[Scene, list[Wish]]:
    scene = set_scene(plan_intro(library.intros[tune.intro or ""], tune, key), Stage(line_up))
    return scene, wishes(scene, write_melody(scene), ())


def reference_row(library: Library) -> dict[str, object]:
    """music21 reading the chord symbols of the same intros (all of one intro in one key: one figure)."""
    from music21 import harmony

    figures = []
    for tune, key in jobs(library):
        if tune.meter.beats != 4:
            continue
        plan = plan_intro(library.intros[tune.intro or ""], tune, key)
        figures.append([_as_music21_writes(planned.chord.symbol) for planned in plan.chords])
    sample = figures[:: max(1, len(figures) // 40)]
    return row(
        "reference: music21 reads the chord symbols of one intro",
        [timed(lambda names=names: [harmony.ChordSymbol(name) for name in names]) for names in sample],
    )


def _as_music21_writes(symbol: str) -> str:
    """A symbol in the reference's spelling, without tensions in brackets and slashes."""
    plain = symbol.replace("6/9", "6").partition("(")[0].partition("/")[0]
    for ours, theirs in (("°7", "dim7"), ("alt", ""), ("9sus4", "7sus"), ("7sus4", "7sus"), ("maj9", "M9")):
        plain = plain.replace(ours, theirs)
    return plain[:1] + plain[1:2].replace("b", "-") + plain[2:]


def printed(rows: list[dict[str, object]]) -> str:
    head = list(rows[0])
    lines = ["  ".join(f"{name:>10}" if name != "what" else f"{name:56}" for name in head)]
    lines += ["  ".join(f"{r[n]:>10}" if n != "what" else f"{r[n]:56}" for n in head) for r in rows]
    return "\n".join(lines)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--short", action="store_true", help="every tenth intro, one warm round, not five")
    parser.add_argument("--json", type=Path, help="also write the figures here")
    options = parser.parse_args()
    library, problems = load_library(content_roots()[:1])
    if problems:
        print("\n".join(str(problem) for problem in problems), file=sys.stderr)
        return 1
    if options.short:
        library = replace(library, intros=dict(list(library.intros.items())[::10]))
    rounds = 1 if options.short else 5
    rows = [*arranging_rows(library, rounds), *voicing_rows(library, rounds)]
    rows.append(reference_row(library))
    text = json.dumps({"python": sys.version.split()[0], "rows": rows}, indent=1)
    print(printed(rows), text, sep="\n\n")
    if options.json:
        options.json.write_text(text + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
