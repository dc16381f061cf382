"""Every shipped intro for every line-up it suits, by the rules of `introit check --music`.

A sample: two keys, one feel and tempo each. The command goes over all keys, feels and tempi, in minutes.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from introit.arrange.arranger import arrange, perform
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro, suits
from introit.arrange.review import review
from introit.arrange.score import Score
from introit.library.content import program_root
from introit.library.measures import Measures, load_measures
from introit.library.model import Library, Tune
from introit.theory.key import Mode, keys
from introit.theory.numeral import Numeral


@pytest.fixture(scope="module")
def measures() -> Measures:
    return load_measures([program_root()])


def scores(library: Library) -> Iterator[tuple[str, Score]]:
    """Every intro in its first meter, its modes, two keys (others each time), its line-ups and a feel."""
    for number, intro in enumerate(library.intros.values()):
        for mode in sorted({form.mode for form in intro.forms}):
            for key in keys(mode)[number % 6 :: 6]:
                for place, line_up in enumerate(intro.line_ups):
                    feels = [name for name in intro.feels if intro.meters[0] in library.feels[name].meters]
                    feel = library.feels[feels[(number + place) % len(feels)]]
                    tempo = min(max(feel.typical_tempo, intro.tempo[0]), intro.tempo[1])
                    first = Numeral.from_text("i6/9" if key.mode is Mode.MINOR else "Imaj7")
                    tune = Tune("t", "T", key, intro.meters[0], tempo, feel.id, first)
                    if suits(intro, tune, key) is None:
                        score = arrange(plan_intro(intro, tune, key), library, stage=Stage(LineUp(line_up)))
                        yield f"{intro.id} {key} {feel.id} {line_up}", score


def test_what_is_written_can_be_played_and_sounds_right(shipped: Library, measures: Measures) -> None:
    broken: list[str] = []
    count = 0
    for name, score in scores(shipped):
        found = review(score, perform(score, shipped), measures)
        broken += [f"{name}: bar {b.bar} beat {b.beat:g}: {b.rule}: {b.text}" for b in found]
        count += 1
    assert count > 300
    assert broken == []
