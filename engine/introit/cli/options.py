"""Option types shared by commands, and the tune that stands for an intro played on its own."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import click

from introit.cli.seeds import seed_option
from introit.errors import IntroitError, NotationError, UsageError, did_you_mean
from introit.library.intros import LINE_UPS
from introit.library.model import Intro, Library, Tune
from introit.library.musical import key_degree_from
from introit.library.tunes import LANDING_WORDS, Landing, landing_from
from introit.theory.key import Key, Mode
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.units import TEMPO_MAX, TEMPO_MIN, exact_tempo


class _Notation(click.ParamType[Any]):
    """A musical text read by a `from_text`; what cannot be read is a wrong use, with the character named."""

    def __init__(self, name: str, read: Callable[[str], object]) -> None:
        self.name = name
        self._read = read

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not isinstance(value, str):
            return value
        try:
            return self._read(value)
        except NotationError as error:
            self.fail(str(error), param, ctx)


KEY = _Notation("key", Key.from_text)
METER = _Notation("meter", Meter.from_text)
NUMERAL = _Notation("numeral", Numeral.from_text)


class _Tempo(click.ParamType[float]):
    """A tempo in quarter notes a minute."""

    name = "tempo"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        try:
            tempo = float(value)
            exact_tempo(tempo)
        except ValueError:
            allowed = f"{TEMPO_MIN} to {TEMPO_MAX} quarter notes a minute"
            self.fail(f"{value!r} is no tempo; allowed is {allowed}", param, ctx)
        return tempo


class _Landing(click.ParamType[Landing]):
    """How the intro ends: `cut`, `chord` or `ring 4`."""

    name = "landing"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Landing:
        found = landing_from(value)
        if found is None:
            self.fail(f"{value!r} is no landing; allowed are {LANDING_WORDS}", param, ctx)
        return found


class _Pickup(click.ParamType[Fraction]):
    """Beats before the head's bar one, to the half beat."""

    name = "pickup"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Fraction:
        try:
            beats = Fraction(str(value))
        except (ValueError, ZeroDivisionError):
            beats = Fraction(-1)
        if not 0 <= beats <= MOST_PICKUP_BEATS:
            allowed = f"0 to {MOST_PICKUP_BEATS} beats, such as 1.5"
            self.fail(f"{value!r} is no pickup; allowed is {allowed}", param, ctx)
        return beats


TEMPO = _Tempo()
LANDING = _Landing()
PICKUP = _Pickup()
DEGREE = _Notation("degree", key_degree_from)
MOST_PICKUP_BEATS = 8


def intro_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options that turn an intro into something to play: key, tempo, meter, feel and so on."""
    for option in (
        seed_option("Another number, another playing of it; the same number, the same playing."),
        click.option("--landing", type=LANDING, help="cut (as it is), chord, or 'ring N' for N beats."),
        click.option("--pickup", type=PICKUP, default=0, help="Beats of melody before the head's bar one."),
        click.option("--first-note", type=DEGREE, help="The head's first note, a degree of the key: 5, b3."),
        click.option("--line-up", type=click.Choice(LINE_UPS), help="Who plays."),
        click.option("--count-off", type=click.IntRange(0, 4), default=0, help="Bars counted before it."),
        click.option(
            "--first-chord", type=NUMERAL, help="The head's first chord, as a numeral: I, ii, IV, vi, i."
        ),
        click.option("--feel", help="A feel; 'introit feels' lists them."),
        click.option("--meter", type=METER, help="4/4, 3/4 or 5/4."),
        click.option("--tempo", type=TEMPO, help="Quarter notes a minute."),
        click.option("--key", "key", type=KEY, help="Such as Bb, F#, 'C minor' or Cm."),
    ):
        command = option(command)
    return command


def outside_its_tempi(intro: Intro, tempo: float) -> str:
    """A remark where the tempo is none that the intro suits; empty where it is."""
    low, high = intro.tempo
    if low <= tempo <= high:
        return ""
    return f"note: this intro suits {low:g} to {high:g}, not {tempo:g}"


def tune_for(
    intro: Intro,
    library: Library,
    *,
    key: Key | None,
    tempo: float | None,
    meter: Meter | None,
    feel: str | None,
    first_chord: Numeral | None,
    count_off: int,
    line_up: str | None = None,
    first_note: str | None = None,
    pickup: Fraction = Fraction(0),
    landing: Landing | None = None,
) -> Tune:
    """A tune whose only purpose is to have this intro before it; what is not given is the intro's own.

    Raises:
        UsageError: when the meter or the feel is not one that is there.
    """
    key = key or _own_key(intro)
    meter = meter or intro.meters[0]
    feel = feel or _own_feel(intro, library, meter, tempo)
    if feel not in library.feels:
        hint = did_you_mean(feel, library.feels) or f"Feels: {', '.join(library.feels)}."
        raise UsageError(f"no feel {feel!r}. {hint}")
    low, high = intro.tempo
    return Tune(
        id=intro.id,
        title=intro.name,
        key=key,
        meter=meter,
        tempo=tempo or min(max(library.feels[feel].typical_tempo, low), high),
        feel=feel,
        first_chord=first_chord or Numeral.from_text("i" if key.mode is Mode.MINOR else "I"),
        intro=intro.id,
        count_off=count_off,
        line_up=line_up,
        first_note=first_note,
        pickup=pickup,
        landing=landing.word if landing else "cut",
        ring=landing.beats if landing else Fraction(0),
    )


def _own_key(intro: Intro) -> Key:
    major = any(form.mode is Mode.MAJOR for form in intro.forms)
    return Key.from_text("C" if major else "C minor")


def _own_feel(intro: Intro, library: Library, meter: Meter, tempo: float | None) -> str:
    """The first of the intro's feels in the meter whose usual tempi hold the tempo, else the nearest."""
    in_meter = [feel for feel in library.feels.values() if meter in feel.meters]
    own = [library.feels[name] for name in intro.feels if library.feels.get(name) in in_meter]
    fitting = own or in_meter
    if not fitting:
        raise IntroitError(f"no feel in the library is in {meter}")
    if tempo is None:
        return fitting[0].id
    return min(fitting, key=lambda feel: _distance(tempo, feel.tempo)).id


def _distance(tempo: float, span: tuple[float, float]) -> float:
    low, high = span
    return max(low - tempo, tempo - high, 0.0)
