"""What `introit write` is to write: intros with their tunes and keys, and the names of their files."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from introit.arrange.arranger import written
from introit.arrange.plan import suits
from introit.arrange.suggest import rank
from introit.cli.content import find_intro
from introit.cli.options import tune_for
from introit.cli.shown import line_up_to_show
from introit.cli.staging import stage_for
from introit.errors import UsageError
from introit.export.piece import Piece
from introit.library.model import Intro, Library, SetList, Tune
from introit.library.stage import Rig
from introit.theory.key import Key, keys

_MOST_BYTES = 120
"""Of a title in a file's name; file systems take 255 for all of it."""
_SEPARATORS = re.compile(r"[^\w#]+")


class Wanted(NamedTuple):
    """An intro that is to be written.

    Attributes:
        intro: which.
        tune: for what.
        key: in which key.
        title: the tune's title; empty where the intro stands for itself.
        is_numbered: whether its file has a number, as a tune in a set.
    """

    intro: Intro
    tune: Tune
    key: Key
    title: str = ""
    is_numbered: bool = False


def wanted_intro(library: Library, name: str, options: dict[str, Any], *, all_keys: bool) -> list[Wanted]:
    """One intro, in one key or in twelve.

    Raises:
        UsageError: when there is none of that name.
    """
    intro = find_intro(library, name)
    tune = tune_for(intro, library, **options)
    return [Wanted(intro, tune, key) for key in _keys(tune, all_keys=all_keys)]


def wanted_library(library: Library, options: dict[str, Any], *, all_keys: bool) -> list[Wanted]:
    """Every intro that has what is asked for, in its own key or the one that is asked for, or in twelve.

    Raises:
        UsageError: when there is none.
    """
    found = []
    for intro in library.intros.values():
        tune = tune_for(intro, library, **options)
        if _has_all(intro, tune, library):
            found += [Wanted(intro, tune, key) for key in _keys(tune, all_keys=all_keys)]
    if not found:
        raise UsageError("no intro of the library has all of that")
    return found


def _has_all(intro: Intro, tune: Tune, library: Library) -> bool:
    low, high = intro.tempo
    return (
        suits(intro, tune, tune.key) is None
        and low <= tune.tempo <= high
        and tune.meter in library.feels[tune.feel].meters
        and (tune.line_up is None or tune.line_up in intro.line_ups)
    )


def wanted_set(chosen: SetList, library: Library, *, key: Key | None, all_keys: bool) -> list[Wanted]:
    """The intros of a set's tunes: of each the first that it names, or the one that suits it best.

    Raises:
        UsageError: when a key is asked for that a tune's intro does not have.
    """
    found = []
    several = len(chosen.tunes) > 1
    for tune in chosen.tunes:
        tonight = tune if key is None else replace(tune, key=key)
        intro = _intro_for(tonight, library)
        found += [
            Wanted(intro, tonight, each, tune.title, several) for each in _keys(tonight, all_keys=all_keys)
        ]
    return found


def _intro_for(tune: Tune, library: Library) -> Intro:
    if tune.intros:
        named = [find_intro(library, name) for name in tune.intros]
        reasons = [suits(intro, tune, tune.key) for intro in named]
        fitting = next((intro for intro, reason in zip(named, reasons, strict=True) if reason is None), None)
        if fitting is None:
            raise UsageError(f"{tune.title}: {reasons[0]}")
        return fitting
    best = rank(library.intros.values(), tune, tune.key, line_up=tune.line_up)
    if not best:
        raise UsageError(f"{tune.title}: no intro suits it in {tune.key}")
    return best[0].intro


def _keys(tune: Tune, *, all_keys: bool) -> Sequence[Key]:
    return keys(tune.key.mode) if all_keys else (tune.key,)


def piece_of(
    wanted: Wanted, library: Library, seed: int, rig: Rig | None = None, *, to_read: bool = False
) -> Piece:
    """The intro arranged, for a rig's guitar and line-up where one is given.

    Args:
        wanted: which, for what, in which key.
        library: holds its content.
        seed: which playing of it.
        rig: whose guitar and line-up; None for the usual ones.
        to_read: whether a guitarist is to read it: where neither tune nor rig says who plays, the guitar
            plays it alone, or has the comping.

    Raises:
        ArrangeError: when it does not suit the tune in that key.
    """
    tune = wanted.tune
    if to_read:
        whose = line_up_to_show(wanted.intro, tune.line_up, rig.line_up if rig else None)
        tune = replace(tune, line_up=whose)
    score = written(tune, wanted.key, library, intro=wanted.intro, stage=stage_for(tune, rig), seed=seed)
    return Piece(score, library, wanted.title)


def file_name(wanted: Wanted, ending: str, *, number: str = "") -> str:
    """A name that every file system takes, such as `03-last-train-Bb.pdf`; never a path."""
    plain = unicodedata.normalize("NFKC", wanted.title or wanted.intro.id)
    words = _cut(_SEPARATORS.sub("-", plain)).strip("-") or "intro"
    key = str(wanted.key).replace(" ", "-")
    return (
        "-".join(part for part in (number, words if not wanted.title else words.lower(), key) if part)
        + ending
    )


def _cut(words: str) -> str:
    return words.encode()[:_MOST_BYTES].decode(errors="ignore")
