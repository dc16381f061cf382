"""Seeds of playings: the option that takes one, and one that nobody chose."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import click

MOST_SEED = 2**31 - 1
SHORT_SEEDS = 10_000
"""Enough different playings, and a number that can be read out and typed again."""


class _Seed(click.ParamType[int]):
    """A number that brings a playing back."""

    name = "seed"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        text = str(value)[:20]
        if not (text.isascii() and text.isdigit() and int(text) <= MOST_SEED):
            self.fail(f"{value!r} is no seed; allowed is a whole number from 0 to {MOST_SEED}", param, ctx)
        return int(text)


def seed_option(text: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """The option that brings a playing back."""
    return click.option("--seed", type=_Seed(), help=text)


def any_seed() -> int:
    """A seed that nobody chose."""
    return random.SystemRandom().randrange(SHORT_SEEDS)
