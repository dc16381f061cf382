"""Reading `goals:` in a set: of the whole set, and of each of its tunes.

What a tune's goals leave out is what the set's say; where those leave it out too, the keys are the tune's own
key, the tempo is the tune's, and one clean pass will do.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from introit.errors import did_you_mean
from introit.library.fields import Fields, listing, scalar, whole
from introit.library.goals import Goal
from introit.library.model import Tune
from introit.library.musical import key, tempo
from introit.library.nodes import Node, Scalar, Sequence
from introit.library.reading import WHOLE_FILE, Place, Reading, shown
from introit.theory.key import Key, Mode, keys

ALL = "all"
NONE = "none"
MOST_CLEAN = 99
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)


@dataclass(frozen=True, slots=True)
class Said:
    """What one `goals:` says; None for what it leaves out.

    Attributes:
        keys: empty for all twelve.
        keys_at: where they stand.
        nothing: it says `none`: nothing is asked for.
    """

    keys: tuple[Key, ...] | None = None
    keys_at: Place = WHOLE_FILE
    tempo: float | None = None
    clean: int | None = None
    by: str | None = None
    since: str | None = None
    nothing: bool = False


def goals(node: Node, reading: Reading) -> Said | None:
    """What a block of goals says, or None with its mistakes in `reading`."""
    if isinstance(node, Scalar) and node.text.strip() == NONE:
        return Said(nothing=True)
    before = len(reading.problems)
    fields = Fields(node, reading, what="goals")
    keys_at = fields.raw("keys")
    said = Said(
        keys=fields.optional("keys", _keys, None),
        keys_at=fields.place if keys_at is None else keys_at.place,
        tempo=fields.optional("tempo", tempo, None),
        clean=fields.optional("clean", whole(1, MOST_CLEAN, unit="passes"), None),
        since=fields.optional("since", day, None),
        by=fields.optional("by", day, None),
    )
    fields.finish()
    if said.since and said.by and said.by < said.since:
        message = f"the last day, {said.by}, comes before the first, {said.since}"
        reading.report(fields.place_of("by"), "out-of-range", message)
    return said if len(reading.problems) == before else None


def goal_for(tune: Tune, own: Said | None, of_set: Said | None, reading: Reading) -> Goal | None:
    """What is asked for of a tune; None where nothing is, or with the mistake in `reading`.

    Args:
        tune: the tune.
        own: what its own goals say; None where it has none.
        of_set: what the set's say; likewise.
        reading: of the file.
    """
    if (own or of_set or Said(nothing=True)).nothing:
        return None
    first, then = own or Said(), of_set or Said()
    asked = first if first.keys is not None else then
    return Goal(
        keys=_of_mode(tune, asked, reading, strict=asked is first) if asked.keys is not None else (tune.key,),
        tempo=first.tempo or then.tempo,
        clean=first.clean or then.clean or 1,
        by=first.by or then.by,
        since=first.since or then.since,
    )


def _of_mode(tune: Tune, said: Said, reading: Reading, *, strict: bool) -> tuple[Key, ...]:
    """The keys in the tune's mode. Of the set's keys those count; a tune's own must all be."""
    mode = tune.key.mode
    if not said.keys:
        by_pitch = keys(mode)
        return tuple(by_pitch[5 * step % 12] for step in range(12))
    fitting = tuple(one for one in said.keys if one.mode is mode)
    others = [one for one in said.keys if one.mode is not mode]
    if strict and others:
        meant = Key.from_pitch_class(others[0].tonic.pitch_class, mode)
        message = f"{tune.title!r} is in {tune.key}, and {others[0]} is {others[0].mode}"
        reading.report(said.keys_at, "does-not-fit", message, f"Did you mean {str(meant)!r}?")
    elif not fitting:
        message = f"none of these keys is {mode}, and {tune.title!r} is in {tune.key}"
        hint = "Write `all`, or give that tune goals of its own."
        reading.report(said.keys_at, "does-not-fit", message, hint)
    return fitting


def _keys(node: Node, reading: Reading) -> tuple[Key, ...] | None:
    """Keys, each once; () for `all`."""
    if isinstance(node, Scalar) and not node.is_null:
        text = node.text.strip()
        if text == ALL:
            return ()
        if hint := did_you_mean(text, [ALL]):
            reading.report(
                node.place, "bad-key", f"{shown(text)}: keys, or `all` for the twelve, are needed", hint
            )
            return None
    found = listing(key)(node, reading)
    if found is None:
        return None
    places = [item.place for item in node.items] if isinstance(node, Sequence) else [node.place]
    before: dict[tuple[int, Mode], Key] = {}
    for one, place in zip(found, places, strict=True):
        same = before.setdefault((one.tonic.pitch_class, one.mode), one)
        if same is not one:
            reading.report(place, "not-allowed", f"the key {one} is named twice; the first is {same}")
    return found if len(before) == len(found) else None


def day(node: Node, reading: Reading) -> str | None:
    """A day written as `2026-12-10`."""
    value = scalar(node, reading, needed="a day, such as 2026-12-10")
    if value is None:
        return None
    text = value.text.strip()
    try:
        if _DATE.fullmatch(text):
            return date.fromisoformat(text).isoformat()
    except ValueError:
        reading.report(value.place, "bad-date", f"there is no day {shown(text)} in the calendar")
        return None
    message = f"a day is needed, its year first, such as 2026-12-10; {shown(text)} is given"
    reading.report(value.place, "bad-date", message)
    return None
