"""A steady rhythm comes back on purpose: the review asks that of the rhythm, whatever its file is called."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.plan import plan_intro
from introit.arrange.review import review
from introit.arrange.score import Score
from introit.library.content import program_root
from introit.library.measures import load_measures
from introit.library.model import Library, Melody

PULSE = {"hits a bar", "thin bar", "same rhythm", "held hits", "short hits", "pushes"}
FORM = " | ".join(["Imaj7 | vi7 | ii7 | V7"] * 2)


@pytest.fixture(scope="module")
def played(make: Any, shipped: Library) -> Any:
    """A rhythm of four quarters under an id that nothing knows, arranged as it is or as a vocabulary."""
    pulse = replace(make.rhythm(tuple(make.hit(str(beat), "1") for beat in range(4))), id="my-own")
    intro = make.intro(make.form(FORM), melody=Melody("none"), comping="my-own")
    tune = make.tune("C", feel="medium-swing")

    def arranged(*, steady: bool) -> Score:
        shelf = replace(shipped, comping={**shipped.comping, "my-own": replace(pulse, steady=steady)})
        return arrange(plan_intro(intro, tune, tune.key), shelf)

    return arranged


def test_the_scene_knows_which_passages_are_steady(played: Any) -> None:
    assert [passage.steady for passage in played(steady=True).scene.passages] == [True]
    assert [passage.steady for passage in played(steady=False).scene.passages] == [False]


def test_a_users_own_pulse_is_left_out_of_what_is_asked_of_phrases(played: Any) -> None:
    """The same four hits a bar break the measures where the rhythm does not say that it is a pulse."""
    measures, score = load_measures([program_root()]), played(steady=True)
    assert not {breach.rule for breach in review(score, None, measures)} & PULSE
    passages = tuple(passage._replace(steady=False) for passage in score.scene.passages)
    as_phrases = replace(score, scene=replace(score.scene, passages=passages))
    assert {"hits a bar", "thin bar", "same rhythm"} <= {
        breach.rule for breach in review(as_phrases, None, measures)
    }
