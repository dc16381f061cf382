"""Subjects to practise: the shipped intros, each before a tune of its own."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import pytest

from introit.arrange.line_up import Stage
from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.library.model import Library, Tune
from introit.practice.subject import Subject
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral


@cache
def library() -> Library:
    """Not only a fixture: hypothesis prints a test's arguments, and a library is long."""
    loaded, problems = load_library(content_roots()[:1])
    assert problems == []
    return loaded


def tune_of(intro: str, key: str = "", **fields: Any) -> Tune:
    """A tune on its tonic before which an intro is practised, in the intro's first meter and feel."""
    found = library().intros[intro]
    called = Key.from_text(key or ("C" if found.forms[0].mode.value == "major" else "C minor"))
    plain: dict[str, Any] = {
        "id": "tune",
        "title": "A tune",
        "key": called,
        "meter": found.meters[0],
        "tempo": 120.0,
        "feel": found.feels[0],
        "first_chord": Numeral.from_text("i" if called.is_minor else "I"),
        "intro": intro,
    }
    return Tune(**(plain | fields))


def subject_of(
    intro: str = "back-door", key: str = "", *, stage: Stage | None = None, **fields: Any
) -> Subject:
    return Subject.of(tune_of(intro, key, **fields), library(), stage=stage)


@pytest.fixture(scope="session")
def subject() -> Callable[..., Subject]:
    """A maker of subjects: an intro of four bars in C at 120 where nothing is said."""
    return subject_of


@pytest.fixture(scope="session")
def tune() -> Callable[..., Tune]:
    return tune_of


@pytest.fixture(scope="session")
def shipped() -> Library:
    return library()


@pytest.fixture(scope="session")
def three() -> Meter:
    return Meter(3)
