"""Bass lines over plans made in a line, and over the shipped intros."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import pytest

from introit.arrange.bass import bass_notes
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import Plan, plan_intro
from introit.arrange.scene import set_scene
from introit.arrange.score import ScoreNote
from introit.library.model import BassManner, Library, PedalPoint, Tune
from introit.theory.key import Key, Mode, keys
from introit.theory.numeral import Numeral

SAMPLED_KEYS = (0, 3, 8)


class Bass:
    """Makes plans and bass lines."""

    def __init__(self, make: Any, shipped: Library) -> None:
        self._make = make
        self.shipped = shipped
        self.over_shipped = cache(self._over_shipped)

    def plan(
        self, text: str, *, pedal: str | None = None, leads: tuple[str, ...] = (), **fields: Any
    ) -> Plan:
        """A plan of bars such as `ii7 V7 | Imaj7`."""
        tune = self._make.tune(**fields)
        form = self._make.form(text, tune.key.mode, leads_to=leads)
        written = self._make.intro(form, pedal=PedalPoint(pedal) if pedal else None)
        return plan_intro(written, tune, tune.key)

    def line(
        self,
        plan: Plan,
        manner: BassManner | str,
        *,
        above: Sequence[ScoreNote] = (),
        seed: int = 0,
        line_up: LineUp = LineUp.WITH_BASS,
    ) -> list[ScoreNote]:
        """One manner, given or by its id, through the whole plan."""
        used = self.shipped.bass[manner] if isinstance(manner, str) else manner
        scene = set_scene(plan, Stage(line_up), seed=seed)
        return bass_notes(scene, [used] * len(scene.passages), above=above)

    def _over_shipped(self, manner: str) -> list[tuple[Plan, list[ScoreNote]]]:
        """A manner over every shipped intro that is in its meter: each in one of three keys, by turns."""
        meter = self.shipped.bass[manner].meters[0]
        found = []
        for number, intro in enumerate(self.shipped.intros.values()):
            if meter in intro.meters and intro.pedal is None:
                mode = intro.forms[0].mode
                key = keys(mode)[SAMPLED_KEYS[number % 3]]
                feel = self.shipped.feels[intro.feels[0]]
                first = Numeral.from_text("i" if mode is Mode.MINOR else "I")
                tune = Tune("tune", "A tune", key, meter, feel.typical_tempo, feel.id, first)
                plan = plan_intro(intro, tune, key)
                found.append((plan, self.line(plan, manner, seed=number % 4)))
        assert len(found) >= 5
        return found


@pytest.fixture(scope="session")
def bass(make: Any, shipped: Library) -> Bass:
    return Bass(make, shipped)


@pytest.fixture(scope="session")
def some_keys() -> list[Key]:
    return [keys(mode)[number] for mode in Mode for number in SAMPLED_KEYS]
