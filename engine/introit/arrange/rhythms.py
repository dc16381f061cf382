"""Which comping rhythms and bass manners each passage is played in.

Where passage or intro name one, it is that. Else the feel's list decides: its first is home, and what it
names beside it another playing may have instead, as a player takes another pattern the next time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from introit.arrange.comping.table import PHRASE
from introit.arrange.scene import Passage, Scene
from introit.arrange.shelf import first_fitting
from introit.arrange.textures import TEXTURES
from introit.library.model import BassManner, CompingRhythm, Feel, Library

Rhythms = list[list[CompingRhythm]]
_SIDES = 2


def rhythms_of(scene: Scene, feel: Feel, library: Library) -> Rhythms:
    """The rhythms of each passage: its home, then those that may stand in from its second phrase on.

    None where the texture has a rhythm of its own; none but its home where passage or intro name one. A feel
    that lives on a pattern has one for the whole intro, whichever of its own the dice take. A passage that is
    over before a second phrase has its home from the dice, too: else it would be comped alike each time.

    Raises:
        ArrangeError: when none is in the library for the meter.
    """
    return [_of_passage(scene, passage, feel, library) for passage in scene.passages]


def with_rhythms(scene: Scene, rhythms: Rhythms) -> Scene:
    """The scene, each of its passages knowing the rhythm that it is comped in, and all of them their side."""
    passages = tuple(
        passage._replace(comping=own[0].id, steady=own[0].steady) if own else passage
        for passage, own in zip(scene.passages, rhythms, strict=True)
    )
    named = scene.plan.intro.comping or any(passage.comping for passage in scene.passages)
    side = 0 if named else scene.dice("side").randrange(_SIDES)
    return replace(scene, passages=passages, side=side)


def manners_of(scene: Scene, feel: Feel, library: Library) -> list[BassManner | None]:
    """The bass manner of each passage; None where its texture brings its own bass.

    Raises:
        ArrangeError: when none is in the library for the meter.
    """
    own = scene.plan.intro.bass
    return [
        None
        if TEXTURES[passage.texture].brings_bass
        else first_fitting(scene.plan, (passage.bass, own, *feel.bass), library.bass, what="bass manner")
        for passage in scene.passages
    ]


def _of_passage(scene: Scene, passage: Passage, feel: Feel, library: Library) -> list[CompingRhythm]:
    plan = scene.plan
    named = (passage.comping, plan.intro.comping)
    home = first_fitting(plan, (*named, *feel.comping), library.comping, what="comping rhythm")
    if not TEXTURES[passage.texture].stroked:
        return []
    if home.id in named:
        return [home]
    fitting = _fitting(scene, feel, library)
    bars = (passage.end - passage.start) // plan.bar_ticks
    if home.steady:
        home = scene.dice("comping", "pattern").choice(fitting)
    elif bars < PHRASE:
        home = scene.dice("comping", "home").choice([one for one in fitting if not one.steady])
    return [home, *(one for one in fitting if one != home)]


def _fitting(scene: Scene, feel: Feel, library: Library) -> Sequence[CompingRhythm]:
    known = [library.comping[name] for name in feel.comping if name in library.comping]
    return [one for one in known if scene.plan.meter in one.meters]
