"""Set files: tunes in playing order. An entry with a mistake is left out; the rest of the set stays."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace

from introit.errors import NotationError
from introit.library.calls import called_tune
from introit.library.fields import Fields, Reader, scalar, word
from introit.library.goals import Goal
from introit.library.model import SetList, Tune
from introit.library.musical import C_MAJOR, FOUR_FOUR, TONIC, key
from introit.library.naming import named
from introit.library.nodes import Mapping, Node
from introit.library.nodes import Sequence as NodeSequence
from introit.library.reading import Reading, clean_title
from introit.library.set_goals import Said, goal_for, goals
from introit.library.shelf import Shelf
from introit.library.traps import report_cut
from introit.library.tunes import tune_from, with_changes
from introit.theory.key import Mode
from introit.theory.numeral import Numeral

_HOW = "an entry is `- tune: NAME`, `- call: FEEL, KEY, starts on two`, or a tune written out, with `title:`"
_STAND_IN = Tune("", "", C_MAJOR, FOUR_FOUR, 120.0, "", TONIC)


def read_set(name: str, node: Node | None, reading: Reading, shelf: Shelf) -> SetList | None:
    """The set that a file describes, without the entries that have mistakes; all mistakes are in `reading`.

    None when the set itself has mistakes, or when no entry is left.
    """
    fields = Fields(node, reading, what="a set")
    fields.optional("kind", word, "")
    title = clean_title(fields.required("title", word, ""))
    rig = fields.optional("rig", named("rig", shelf), None)
    entries: Sequence[Node] = fields.required("tunes", _entries, ())
    of_set = fields.optional("goals", goals, None)
    fields.finish()
    whole = reading.clean
    found = [_entry(entry, reading, shelf, of_set) for entry in entries]
    kept = tuple(one for one in found if one is not None)
    asked = tuple(goal for _, goal in kept)
    if not whole or not kept:
        return None
    return SetList(name, title, tuple(tune for tune, _ in kept), rig, asked if any(asked) else ())


def _entries(node: Node, reading: Reading) -> Sequence[Node] | None:
    if isinstance(node, NodeSequence) and node.items:
        return node.items
    reading.report(node.place, "wrong-type", f"a list of tunes is needed; {_HOW}")
    return None


def _entry(
    node: Node, reading: Reading, shelf: Shelf, of_set: Said | None
) -> tuple[Tune, Goal | None] | None:
    """One entry's tune, with what is asked for of it.

    Its mistakes are gathered apart, so that they take nothing else down.
    """
    part = reading.part()
    if not isinstance(node, Mapping):
        part.report(node.place, "wrong-type", f"this is no entry of a set; {_HOW}")
        reading.take_in(part)
        return None
    fields = Fields(node, part, what="an entry of a set")
    own = fields.optional("goals", goals, None)
    tune = _read_entry(fields, part, shelf)
    goal = goal_for(tune, own, of_set, part) if tune is not None and part.clean else None
    reading.take_in(part)
    return (tune, goal) if tune is not None and part.clean else None


def _read_entry(fields: Fields, reading: Reading, shelf: Shelf) -> Tune | None:
    if fields.has("tune"):
        name = fields.required("tune", named("tune", shelf), "")
        return _changed(fields, shelf.library.tunes.get(name, _STAND_IN), reading, shelf)
    if fields.has("call"):
        return _changed(fields, fields.required("call", _call_on(shelf), _STAND_IN), reading, shelf)
    tune = tune_from(fields, "", reading, shelf)
    return None if tune is None else replace(tune, id=_id_from(tune.title))


def _changed(fields: Fields, tune: Tune, reading: Reading, shelf: Shelf) -> Tune | None:
    """A tune with what its entry says otherwise, title, key and feel included."""
    changed = replace(
        tune,
        title=clean_title(fields.optional("title", word, tune.title)),
        key=fields.optional("key", key, tune.key),
        feel=fields.optional("feel", named("feel", shelf), tune.feel),
    )
    if changed.key.mode != tune.key.mode and str(tune.first_chord) in {"I", "i"}:
        tonic = "i" if changed.key.mode is Mode.MINOR else "I"
        changed = replace(changed, first_chord=Numeral.from_text(tonic))
    return with_changes(fields, changed, reading, shelf)


def _call_on(shelf: Shelf) -> Reader[Tune]:
    def read(node: Node, reading: Reading) -> Tune | None:
        value = scalar(node, reading, needed="a call, such as `medium swing, Ab, starts on two`")
        if value is None or report_cut(reading, value, music=False):
            return None
        try:
            return called_tune(value.text, shelf.library)
        except NotationError as error:
            offset = value.start + (value.style == "quoted") + error.position
            reading.report(reading.place(min(offset, value.end)), "bad-call", error.reason)
            return None

    return read


def _id_from(title: str) -> str:
    """An id made from a title: small ASCII letters and digits, joined by hyphens."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "tune"
