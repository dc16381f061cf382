"""`introit demo`: an evening in half a minute, with no hardware."""

from __future__ import annotations

from pathlib import Path

import click

from introit.cli.content import find_rig, find_set, open_library
from introit.cli.front import Front
from introit.cli.heard import heard_rig
from introit.cli.screen import Screen
from introit.cli.scripted import Script, hands_off
from introit.cli.session import Evening, play_evening
from introit.cli.wiring import system_there_is
from introit.live.events import Shown
from introit.live.ports.fluidsynth import why_silent
from introit.live.states import State

_FIRST_PRESS = 1.0
_INTO_THE_TUNE = 1.6
"""Seconds after the landing until the foot asks for the next tune: over a beat at any tempo above 40."""
_HOLD = 0.7
_KEY_NOTES = (29, 32)
"""F1 and the A flat above it: F minor."""
_ROUND = 6.0
_BREATH = 1.0
_TAPS_LEFT = 3
"""Of a tapped bar, after the press that starts it; in 5/4 and slower feels that is a count as well."""


class _Story:
    """What the scripted foot and finger do as the session goes from state to state.

    A set of the user's own may take the demo's place, with intros that wait for a foot: it goes on by itself.
    """

    def __init__(self, script: Script) -> None:
        self._script = script
        self._landings = 0
        self._named_key = False

    def follow(self, shown: Shown, front: Front) -> None:
        """Plans what comes next when a tune is ready, when the key was named and after a landing."""
        if shown.what == "key":
            self._when_ready(shown)
        elif shown.what != "state":
            return
        elif shown.state == State.TAPPING:
            for tap in range(_TAPS_LEFT):
                self._script.press(after=(tap + 1) * 60 / shown.tempo)
        elif shown.state == State.VAMPING:
            self._script.press(after=_ROUND)
        elif shown.state == State.WAITING:
            self._script.press(after=_BREATH)
        elif shown.state == State.OUT_OF_TIME:
            self._script.press(after=_BREATH, down_for=_HOLD)
        elif shown.state == State.IN_THE_TUNE:
            self._landings += 1
            if self._landings == 2:
                front.stop("the demo is over")
            else:
                self._script.press(after=_INTO_THE_TUNE, down_for=_HOLD)

    def _when_ready(self, shown: Shown) -> None:
        if self._landings == 0 or shown.key == "F minor":
            self._script.press(after=_FIRST_PRESS)
        elif not self._named_key:
            self._named_key = True
            self._script.key(*_KEY_NOTES, after=_FIRST_PRESS)


@click.command()
@click.option(
    "--log", type=click.Path(path_type=Path, dir_okay=False), help="One JSON line a message, to FILE."
)
def demo(log: Path | None) -> None:
    """Plays two intros of the demo set with a scripted foot-switch and key note, and reports the timing.

    Needs no hardware: it plays the synth that is connected, else the one inside (FluidSynth), else into
    memory. Turn the level down first.
    """
    library = open_library()
    chosen = find_set(library, "demo")
    choose = system_there_is(or_memory=True)
    rig, remark = heard_rig(hands_off(find_rig(library, "demo")), choose, why_silent, or_unheard=True)
    if remark:
        click.echo(remark)
    evening = Evening(chosen.tunes, library, rig, log=log, timing=True, title="the demo")
    script = Script()
    story = _Story(script)
    setup = evening.setup(choose)
    systems = sorted({port.system for port in setup.ports})
    click.echo(
        f"{chosen.title}: a scripted foot presses, holds and names a key (playing into: {', '.join(systems)})"
    )

    def report(front: Front, screen: Screen) -> None:
        if front.timing:
            screen.say(front.timing.summary())

    play_evening(evening, choose, on_shown=story.follow, ticks=script.tick, says=report)
