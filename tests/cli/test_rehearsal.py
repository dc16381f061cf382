"""The main job on the fake clock: both halves in one process, every intro, twelve keys, three tempi.

What must hold is arithmetic and the plan itself: the head's downbeat falls exactly bars x beats after the
first downbeat (no source: it is what an introduction is), every note of the arrangement is heard and no
other, nothing sounds past the head.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from introit.arrange.arranger import ready
from introit.arrange.plan import Plan, plan_intro, suits
from introit.cli.desk import Desk
from introit.cli.options import tune_for
from introit.cli.scripted import hands_off
from introit.cli.wiring import channel_of, setup_for
from introit.library.content import content_roots
from introit.library.model import Intro, Library, Tune
from introit.live.events import Ready, Refused, Wanted
from introit.live.messages import control
from introit.testing.rehearsal import Rehearsal, rehearse
from introit.theory.key import Key, Mode, keys

SHIPPED: Path = content_roots()[0]
TEMPI = (60, 132, 280)
SECOND = 1_000_000_000
PRESS = [(SECOND, control(0, 64, 127)), (SECOND + SECOND // 10, control(0, 64, 0))]


def intro_ids() -> list[str]:
    return sorted(path.stem for path in (SHIPPED / "patterns" / "intros").glob("*.yaml"))


def modes(intro: Intro) -> list[Mode]:
    return sorted({form.mode for form in intro.forms})


def tune_before(intro: Intro, library: Library, key: Key, tempo: float) -> Tune:
    return tune_for(
        intro, library, key=key, tempo=tempo, meter=None, feel=None, first_chord=None, count_off=0
    )


def play(tune: Tune, library: Library, *, lookahead: int = 0) -> Rehearsal:
    """A press one second in, through the real loop, on the default rig's routes and a port in memory."""
    rig = hands_off(library.rigs["default"])
    setup = setup_for(rig, tunes=1, log=True, choose_system=lambda _: "memory")
    setup = replace(setup, active_sensing=False)
    desk = Desk((tune,), library, channel_of(setup))

    def answer(wanted: Wanted) -> list[Ready | Refused]:
        return [next(desk.answer(wanted.request))]

    return rehearse(setup, answer, PRESS, lookaheads=(lookahead,) * len(setup.ports), until=120 * SECOND)


def notes(rehearsal: Rehearsal) -> Iterator[tuple[int, bool, int, int]]:
    """(actual ns, whether on, channel, pitch) of every note message, in the order sent."""
    for sent in rehearsal.sent:
        kind = sent.data[0] & 0xF0
        if kind in (0x80, 0x90):
            yield sent.actual, kind == 0x90 and sent.data[2] > 0, sent.data[0] & 0x0F, sent.data[1]


@pytest.mark.parametrize("tempo", TEMPI)
@pytest.mark.parametrize("intro_id", intro_ids())
def test_every_intro_in_twelve_keys(intro_id: str, tempo: int, library: Library) -> None:
    intro = library.intros[intro_id]
    heard = 0
    for mode in modes(intro):
        for key in keys(mode):
            tune = tune_before(intro, library, key, tempo)
            assert suits(intro, tune, key) is None
            heard += check_playing(plan_intro(intro, tune, key), play(tune, library), library)
    assert heard > 12 * 8  # a rehearsal in which nothing sounds would pass every check below


def check_playing(plan: Plan, rehearsal: Rehearsal, library: Library) -> int:
    states = {state: ns for ns, state in rehearsal.states()}
    downbeat, head = states["playing"], states["in the tune"]
    exact = Fraction(plan.bars * plan.meter.beats * 60 * SECOND) / Fraction(plan.tempo)
    assert head - downbeat == round(exact)
    assert downbeat == SECOND  # an immediate port: the first downbeat is the press
    sounding: dict[tuple[int, int], int] = defaultdict(int)
    for ns, is_on, channel, pitch in notes(rehearsal):
        assert ns < head if is_on else ns <= head, (plan.intro.id, str(plan.key))
        sounding[channel, pitch] += 1 if is_on else -1
        assert sounding[channel, pitch] in (0, 1), "a pitch was struck again before it was released"
    assert not any(sounding.values())
    return check_notes(plan, rehearsal, library)


def check_notes(plan: Plan, rehearsal: Rehearsal, library: Library) -> int:
    """Every note of the arrangement is heard on its part's channel, as often as it is written; no other."""
    routes = {route.part: route.channel for route in rehearsal.setup.routes if not route.muted}
    arranged = ready(plan.tune, plan.key, library, channel_of=channel_of(rehearsal.setup))
    written = Counter((routes[note.part], note.pitch) for note in arranged.notes if note.part in routes)
    heard = Counter((channel, pitch) for _, is_on, channel, pitch in notes(rehearsal) if is_on)
    assert heard == written, (plan.intro.id, str(plan.key))
    return heard.total()


@pytest.mark.parametrize("lookahead", [0, 30_000_000])
def test_the_same_times_with_and_without_lookahead(lookahead: int, library: Library) -> None:
    intro = library.intros["three-six-two-five"]
    tune = tune_before(intro, library, Key.from_text("Eb"), 132)
    played = list(notes(play(tune, library, lookahead=lookahead)))
    assert played == list(notes(play(tune, library)))


def test_a_count_off_moves_the_downbeat_by_its_bars(library: Library) -> None:
    intro = library.intros["three-six-two-five"]
    tune = replace(tune_before(intro, library, Key.from_text("F"), 120), count_off=2)
    states = {state: ns for ns, state in play(tune, library).states()}
    assert states["counting off"] == SECOND
    assert states["playing"] == SECOND + 8 * SECOND // 2
