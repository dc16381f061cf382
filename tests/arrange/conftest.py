"""Small content made in memory, beside the shipped library, for the arranger's tests."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.library.model import (
    Bar,
    BassManner,
    BassStep,
    CompingRhythm,
    Feel,
    Form,
    HeadDominant,
    Hit,
    Intro,
    Library,
    Melody,
    Passage,
    Slot,
    Tune,
)
from introit.theory.key import Key, Mode
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral

METERS = tuple(Meter.from_text(text) for text in ("4/4", "3/4", "5/4"))


def harmony(text: str) -> tuple[Bar, ...]:
    """Bars from text such as `ii9 V13 | Imaj9 H`; a dot goes on with the chord before it."""
    bars = []
    for written in text.split("|"):
        slots: list[Slot] = []
        for word in written.split():
            if word == ".":
                slots[-1] = Slot(slots[-1].chord, slots[-1].share + 1)
            else:
                slots.append(Slot(HeadDominant(word) if word in {"H", "Hsus"} else Numeral.from_text(word)))
        bars.append(Bar(tuple(slots)))
    return tuple(bars)


def form(text: str, mode: Mode = Mode.MAJOR, **fields: Any) -> Form:
    return Form(mode, harmony(text), **fields)


def intro(*forms: Form, **fields: Any) -> Intro:
    plain: dict[str, Any] = {
        "id": "made-up",
        "name": "Made up",
        "forms": forms,
        "meters": METERS,
        "tempo": (40, 300),
        "feels": ("plain",),
        "passages": (Passage(1, "block"),),
        "line_ups": ("solo guitar", "with bass", "with keys", "trio"),
        "difficulty": 2,
        "comping": None,
        "bass": None,
        "pedal": None,
        "melody": Melody("line"),
        "stretch_above": None,
        "halve_below": None,
        "why": "",
    }
    return Intro(**(plain | fields))


def tune(key: str = "C", first_chord: str | None = None, **fields: Any) -> Tune:
    called = Key.from_text(key)
    plain: dict[str, Any] = {
        "id": "tune",
        "title": "A tune",
        "key": called,
        "meter": METERS[0],
        "tempo": 132.0,
        "feel": "plain",
        "first_chord": Numeral.from_text(first_chord or ("i6/9" if called.is_minor else "Imaj7")),
    }
    return Tune(**(plain | fields))


def hit(position: str, length: str, *, push: bool = False) -> Hit:
    return Hit(Fraction(position), Fraction(length), push=push)


def rhythm(*bars: tuple[Hit, ...], meter: Meter = METERS[0]) -> CompingRhythm:
    return CompingRhythm("rhythm", "Rhythm", (meter,), bars)


def manner(steps: str, meter: Meter = METERS[0]) -> BassManner:
    """`0 root 2, 2 fifth 2`: positions from 0, tones, lengths in beats."""
    words = [step.split() for step in steps.split(",")]
    made = tuple(BassStep(Fraction(position), tone, Fraction(length)) for position, tone, length in words)
    return BassManner("manner", "Manner", (meter,), made)


PLAIN_FEEL = Feel(
    id="plain",
    name="Plain",
    meters=METERS,
    tempo=(40, 300),
    typical_tempo=132,
    swing={
        "ride": ((120, 2.4), (300, 1.0)),
        "comp": ((100, 2.0), (200, 1.5), (300, 1.0)),
        "line": ((100, 1.5), (300, 1.0)),
    },
    comping=("rhythm",),
    bass=("manner",),
    velocity={"melody": 84, "comp": 68, "bass": 80, "pedal": 76, "click": 90},
    strum_ms=10,
    late_line_ms=30,
)


def library(comping: CompingRhythm, bass: BassManner, feel: Feel = PLAIN_FEEL) -> Library:
    return Library(
        intros={},
        comping={comping.id: comping},
        bass={bass.id: bass},
        feels={feel.id: feel},
        tunes={},
        sets={},
        rigs={},
    )


class Make:
    """The makers above, for tests."""

    form = staticmethod(form)
    harmony = staticmethod(harmony)
    hit = staticmethod(hit)
    intro = staticmethod(intro)
    library = staticmethod(library)
    manner = staticmethod(manner)
    rhythm = staticmethod(rhythm)
    tune = staticmethod(tune)
    feel = PLAIN_FEEL
    meters = METERS


@pytest.fixture(scope="session")
def make() -> type[Make]:
    return Make


@pytest.fixture(scope="session")
def shipped() -> Library:
    loaded, problems = load_library(content_roots()[:1])
    assert problems == []
    return loaded


@pytest.fixture(scope="session")
def plain_library(make: type[Make]) -> Library:
    swing = make.rhythm(
        (make.hit("0", "3/2"), make.hit("3/2", "3/2", push=True)),
        (make.hit("1/2", "1"), make.hit("2", "1/2"), make.hit("7/2", "1/2", push=True)),
    )
    return make.library(swing, make.manner("0 root 1, 1 chord 1, 2 fifth 1, 3 approach 1"))


@pytest.fixture(scope="session")
def plain_shelf(make: type[Make]) -> Library:
    """One plain rhythm and manner that every meter has."""
    everywhere = replace(
        make.rhythm((make.hit("1/2", "1"), make.hit("5/2", "1/2", push=True))), meters=make.meters
    )
    walking = replace(make.manner("0 root 1, 1 chord 1, 2 approach 1"), meters=make.meters)
    return make.library(everywhere, walking)
