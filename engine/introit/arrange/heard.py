"""What of the comp is heard: how often each unit is struck, which ring, and which are never sounded.

None of it depends on the voicings, so that they can be found with it in mind: a chord that nobody sounds is
no step between two that are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence

from introit.arrange.comping import Stroke
from introit.arrange.scene import Passage, Scene
from introit.arrange.score import ScoreNote
from introit.arrange.textures import TEXTURES, Work
from introit.arrange.textures.answers import units_struck
from introit.arrange.textures.cells import cells_of
from introit.arrange.voicing import Hits


def hits_of(scene: Scene, strokes: Sequence[Stroke], melody: Sequence[ScoreNote]) -> Hits:
    """How often each unit is struck, and when first; 0 for one that rings in a rhythm of its texture's own.

    Units that the comp never sounds are not in them.
    """
    bar_ticks = scene.plan.bar_ticks
    hits = Counter(stroke.unit for stroke in strokes)
    bars = {stroke.onset // bar_ticks for stroke in strokes}
    sung = {note.harmony_tick for note in melody}
    first = {stroke.unit: stroke.onset for stroke in reversed(strokes)}
    called: set[int] = set()
    for passage in scene.passages:
        work = Work(scene, passage, (), (), tuple(melody))
        if passage.texture == "call and response":
            cells = list(cells_of(work))
            calls = [onset for cell in cells for onset in cell.call[:-1]]
            struck = units_struck(work, cells)
            called |= {scene.chord_of(scene.unit_at(onset)).onset for onset in calls}
            bars |= {onset // bar_ticks for onset in [*calls, *(onset for onset, _ in struck)]}
            hits.update(unit for _, unit in struck)
            first |= {unit: onset for onset, unit in reversed(struck)}
        elif not TEXTURES[passage.texture].stroked:
            hits.update(dict.fromkeys(work.units, 0))
            bars |= {scene.units[unit].start // bar_ticks for unit in work.units}
        gripped = called | {scene.chord_of(unit).onset for unit in hits}
        added = list(passed_over(scene, passage, gripped=gripped, sung=sung, bars=bars))
        bars |= {scene.units[unit].start // bar_ticks for unit in added}
        hits.update(added)
    return Hits(hits, first)


def passed_over(
    scene: Scene, passage: Passage, *, gripped: Collection[int], sung: Collection[int], bars: Collection[int]
) -> Iterator[int]:
    """The units of a passage that begin a chord which nothing sounds there: it gets a short grip.

    A guitar alone grips a chord under its melody, too, where it strikes none else in the bar: bass note and
    melody alone are thin.

    Args:
        scene: where.
        passage: the stretch that is asked for.
        gripped: onsets of the chords that the texture sounds.
        sung: onsets of those that the melody sounds.
        bars: those in which the texture sounds anything.
    """
    filled = set(bars)
    for index, unit in enumerate(scene.units):
        chord = scene.chord_of(index)
        bar = unit.start // scene.plan.bar_ticks
        bare = chord.onset not in sung or (scene.seats.one_pair_of_hands and bar not in filled)
        begins = passage.start <= unit.start < passage.end and chord.onset == unit.start
        if begins and scene.plan.strikes(chord) and chord.onset not in gripped and bare:
            filled.add(bar)
            yield index
