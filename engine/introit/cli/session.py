"""Wires one evening together: content, rig, player, screen, log. `run`, `play` and `demo` share it."""

from __future__ import annotations

import contextlib
import os
import sys
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from introit.cli.claims import claims_of
from introit.cli.front import Front
from introit.cli.hints import FootLanguage
from introit.cli.keyboard import Keyboard
from introit.cli.lock import held, lock_folder
from introit.cli.orders import OrderLanguage
from introit.cli.record import kept_log
from introit.cli.repertoire import Repertoire, Rereader
from introit.cli.screen import Screen
from introit.cli.service import Service
from introit.cli.stand_in import foot_of
from introit.cli.stand_page import lessons_of, page_of, set_of, told_too
from introit.cli.terminal import keys_of
from introit.cli.wiring import ChooseSystem, Systems, channel_of, setup_for
from introit.errors import Problem
from introit.library.content import content_roots
from introit.library.keys import keys_for
from introit.library.leading import Leading
from introit.library.model import Library, Tune
from introit.library.stage import Rig
from introit.live.events import Request, Shown
from introit.live.keeper import Keeper
from introit.live.life import Life
from introit.live.setup import Setup
from introit.performance import Performance
from introit.theory.key import Key

if TYPE_CHECKING:
    from introit.arrange.legal import ChannelOf
    from introit.arrange.line_up import Stage
    from introit.cli.desk import Behind
    from introit.cli.interlude import Interlude
    from introit.cli.practising import Practising
    from introit.cli.stand_front import StandFront, StandPlan

T = TypeVar("T")
_WIDTH = 79
BeginPractice = Callable[["ChannelOf", Callable[[str], None], Callable[[], int]], "Practising"]
"""Parts' channels, whoever writes a line, the ports' lookahead -> the practice room at work."""
Tick = Callable[[Front], float | None]
"""What is done at each turn of the front; returns in how many seconds it wants to be called again."""


@dataclass(frozen=True, slots=True)
class Evening:
    """Tunes to play on a rig, with the log asked for.

    Attributes:
        tunes: in playing order, at least one.
        library: where intros and feels come from.
        rig: ports, parts and controls.
        log: file for the log, or None.
        timing: True to ask the player for a record of each message even without a log.
        seed: of the evening's playings; the same one brings them back.
        practice: True to have the same tune ready again by itself, a bar after each landing.
        with_tune: True to have the tune follow its intro, chorus after chorus until the nod.
        title: what is played, in a few words, for whoever wants the same ports meanwhile.
        opening: the first line that is said, once nobody else has the ports.
        named: the name that `tunes` were found by, to read them again when a file is saved; None never to.
        mistakes: in the files, told when they were read.
    """

    tunes: tuple[Tune, ...]
    library: Library
    rig: Rig
    log: Path | None = None
    timing: bool = False
    seed: int = 0
    named: str | None = None
    mistakes: tuple[Problem, ...] = ()
    practice: bool = False
    with_tune: bool = False
    title: str = ""
    opening: str = ""

    def setup(self, choose_system: ChooseSystem) -> Setup:
        """What the player is told; raises PortError where no MIDI system can be had."""
        setup = setup_for(
            self.rig,
            tunes=len(self.tunes),
            log=self.timing or self.log is not None,
            choose_system=choose_system,
        )
        return replace(setup, practice=self.practice)


def play_evening(
    evening: Evening,
    choose_system: Systems,
    *,
    on_shown: Callable[[Shown, Front], None] | None = None,
    ticks: Tick | None = None,
    says: Callable[[Front, Screen], None] | None = None,
    by_keys: bool = False,
    service: Service | None = None,
    stand: StandPlan | None = None,
    practice: BeginPractice | None = None,
) -> str:
    """Plays until it is over; returns why it ended.

    Args:
        evening: what to play.
        choose_system: how `auto` ports are resolved.
        on_shown: see `Front`.
        ticks: see `Front.run`.
        says: called once at the end with the front and the screen, for a closing report.
        by_keys: True to take the keys of the terminal behind standard input, if there is one, for a foot and
            for orders, and to tell what they do.
        service: see `Front`; with one, a hang-up reads the set again.
        stand: how the page for the music stand is served; None for none.
        practice: begins what decides in the desk's place what is played.

    Raises:
        TakenError: when another process plays into one of the ports, or has the set.
    """
    with contextlib.ExitStack() as at_the_end:
        waiting = Life(len(evening.rig.ports))  # it gets ready while we do
        at_the_end.callback(waiting.dismiss)
        setup = evening.setup(choose_system)
        repertoire = _repertoire(evening)
        claims = claims_of(
            setup, repertoire.file if repertoire else None, destinations=choose_system.destinations
        )
        is_service = service is not None
        at_the_end.enter_context(
            held(claims, plays=evening.title, folder=lock_folder(), say=_aside, service=is_service)
        )
        if evening.opening:
            click.echo(evening.opening)
        log = at_the_end.enter_context(kept_log(evening.log))
        keys = keys_of(sys.stdin) if by_keys else None
        if keys is not None or stand is not None:
            setup = replace(setup, foot_switch=foot_of(setup))
        keeper = Keeper(setup, waiting=waiting)
        at_the_end.callback(keeper.stop, "the front failed")
        keeper.launch()
        # Its products are small: a second thread for them would only spin on the core that the player needs.
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        # The arranger is large: the player opens its ports while it is imported.
        from introit.cli.desk import Desk
        from introit.cli.staging import stages_on

        places = repertoire.places if repertoire else lambda: evening.tunes
        orders = OrderLanguage(
            setup, None if keys is None else keys_for(evening.rig), tunes=lambda: len(places())
        )
        foot = FootLanguage(setup, _led_by_foot(evening, places), orders=orders.given)
        screen = Screen(
            sys.stdout,
            live=sys.stdout.isatty(),
            hints=foot.now,
            notes=lambda shown: _notes(places(), shown.tune),
        )
        room = None
        if practice is not None:
            room = practice(channel_of(setup), screen.say, lambda: _lookahead(keeper))
            screen.leave_to(room.hint, room.untold)
            on_shown = _each(on_shown, room.show)
            at_the_end.callback(room.close)
        lessons = lessons_of(evening.library, repertoire) if stand is not None and practice is None else None
        desk = Desk(
            evening.tunes,
            evening.library,
            channel_of(setup),
            stage_of=stages_on(evening.rig),
            seed=evening.seed,
            on_score=lessons.keep if lessons else None,
            behind=_behind(channel_of(setup)) if evening.with_tune else None,
        )
        turns: list[Tick] = [] if ticks is None else [ticks]
        interlude = None
        if stand is not None and practice is None and not evening.with_tune:
            from introit.cli.interlude import Interlude
            from introit.cli.practice_plan import beginning

            interlude = Interlude(
                desk,
                foot,
                begin=beginning(
                    evening.rig,
                    lambda: repertoire.library if repertoire else evening.library,
                    channel_of=channel_of(setup),
                    ahead=lambda: _lookahead(keeper),
                    say=screen.say,
                    seed=evening.seed,
                ),
                tunes=lambda: _in_order(evening, repertoire),
                say=screen.say,
            )
            screen.leave_to(interlude.hint, interlude.untold, with_tune=False)
            on_shown = _each(on_shown, interlude.show)
            at_the_end.callback(interlude.close)
        rereader = None
        if repertoire is not None:
            rereader = Rereader(repertoire, desk, say=screen.say)
            turns.append(_but_in(interlude, rereader.tick))
        page: StandFront | None = None
        if stand is not None:
            sets = set_of(evening.rig, repertoire, rereader, screen)
            words = room or interlude or foot
            arranged = room or interlude or desk
            page = page_of(
                stand,
                setup,
                keeper,
                words,
                arranged,
                evening.library,
                repertoire,
                screen,
                lessons,
                sets,
                interlude,
            )
            at_the_end.callback(page.stop)
            turns.append(page.tick)
        board: Keyboard | None = None
        if keys is not None:
            board = Keyboard(
                keys,
                foot_of(setup),
                keys_for(evening.rig),
                language=lambda: _language(room or interlude) or [*_told(foot), *_told(orders)],
                say=screen.say,
                more=page.keys if page else None,
            )
            at_the_end.callback(board.stop)
            turns.append(board.tick)
        if by_keys and room is None:
            for line in (*_told(foot), *_wrapped(orders.controls())):
                screen.say(line)
        front = Front(
            keeper,
            room or interlude or desk,
            screen,
            ports=setup.ports,
            log=log,
            on_shown=told_too(on_shown, page, _words_of(room or interlude)),
            timing=evening.timing,
            service=service,
            on_hang_up=_but_in(interlude, rereader.again) if service and rereader else None,
            on_pause=board.rest if board else None,
        )
        if room is None:
            desk.begin(Request(setup.first_tune))
        reason = front.run(ticks=lambda front: _soonest([turn(front) for turn in turns]))
    screen.summary()
    if log and log.failure:
        screen.say(f"the log ends early: {log.failure}")
    if says:
        says(front, screen)
    return reason


def _in_order(evening: Evening, repertoire: Repertoire | None) -> list[Tune]:
    """The tunes of the set as they are played."""
    if repertoire is None:
        return list(evening.tunes)
    places = repertoire.places()
    return [tune for number in repertoire.order if (tune := places[number]) is not None]


def _but_in(interlude: Interlude | None, read: Callable[[Front], T]) -> Callable[[Front], T | None]:
    """Files that are saved while something is practised are read when it is over."""
    return lambda front: None if interlude is not None and interlude.on else read(front)


def _language(room: Practising | Interlude | None) -> list[str] | None:
    return None if room is None else room.lines()


def _words_of(room: Practising | Interlude | None) -> Callable[[Shown], Shown] | None:
    return None if room is None else room.told


def _each(*told: Callable[[Shown, Front], None] | None) -> Callable[[Shown, Front], None]:
    """All of these are told of everything shown."""

    def tell(shown: Shown, front: Front) -> None:
        for one in told:
            if one is not None:
                one(shown, front)

    return tell


def _led_by_foot(
    evening: Evening, places: Callable[[], Sequence[Tune | None]]
) -> Callable[[], Sequence[Tune | None]]:
    """The tunes as the foot meets them: with a chart behind it an intro is left by the nod alone."""
    if not evening.with_tune:
        return places
    vamp = Leading(vamp=True)
    return lambda: [
        replace(tune, leading=vamp) if tune is not None and tune.chart else tune for tune in places()
    ]


def _behind(channel_of: ChannelOf) -> Behind:
    """Puts choruses behind an intro; a key that the tune's chart is not for is refused by the desk."""
    from introit.arrange.after_intro import followed

    def behind(
        intro: Performance, tune: Tune, key: Key, library: Library, stage: Stage | None, seed: int
    ) -> Performance:
        return followed(intro, tune, key, library, channel_of=channel_of, stage=stage, seed=seed)

    return behind


def _lookahead(keeper: Keeper) -> int:
    """Nanoseconds that the ports look ahead at most; 0 before they are open."""
    return max(keeper.opened.lookaheads, default=0) if keeper.opened else 0


def _repertoire(evening: Evening) -> Repertoire | None:
    """What the tunes are read again from when a file is saved; None where nothing names them."""
    if evening.named is None:
        return None
    return Repertoire(
        evening.named,
        evening.library,
        evening.tunes,
        roots=content_roots(),
        mistakes=evening.mistakes,
    )


def _aside(text: str) -> None:
    """What is worth knowing and stops nothing."""
    click.echo(f"introit: {text}", err=True)


def _notes(tunes: Sequence[Tune | None], number: int) -> str:
    """The player's own notes to a tune of the set."""
    tune = tunes[number] if 0 <= number < len(tunes) else None
    return "" if tune is None else tune.notes


def _told(language: FootLanguage | OrderLanguage) -> list[str]:
    """A table on a terminal, else one line."""
    lines = language.lines() if sys.stdout.isatty() else [language.line()]
    return [line for line in lines if line]


def _wrapped(text: str) -> list[str]:
    """A line of the rig's own: on a terminal what is too long goes on below."""
    if not text or not sys.stdout.isatty():
        return [text] if text else []
    return textwrap.wrap(text, _WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def _soonest(waits: list[float | None]) -> float | None:
    return min((wait for wait in waits if wait is not None), default=None)
