"""Computer keys in a rig file: which stand for the foot, which give orders, and what the others do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

from introit.errors import did_you_mean
from introit.library.fields import Fields, Reader, listing, scalar
from introit.library.nodes import Node, Sequence
from introit.library.reading import Reading, shown
from introit.library.stage import NO_KEY, Rig, RigKeys
from introit.performance import PARTS

NAMED_KEYS = (
    "space", "enter", "tab", "backspace", "escape", "insert", "delete",
    "page up", "page down", "home", "end", "up", "down", "left", "right",
    "f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "f9", "f10", "f11", "f12",
)  # fmt: skip
"""Keys that have a name; every other one is called by the character that it types."""
KEY_ORDERS = (
    "next", "back", "another intro", "faster", "slower", "tap tempo", "first note", "sound check", "silence",
)  # fmt: skip
"""Orders that need no more than their word; `tune` has a key a tune, `mute` one a part, and `level` none."""

_FOOT_AND_PROGRAM = ("press", "hold", "help", "leave")
"""What a terminal is of no use without."""
_NEEDED = f"a key: one character that it types, or one of {', '.join(NAMED_KEYS)}"


class KeyUse(NamedTuple):
    """What some keys do.

    Attributes:
        does: `press`, `hold`, `help`, `leave` or a word in `KEY_ORDERS`; `tune` or `mute`, of `which`.
        which: the tune's number from 1, or the part; empty for all others.
        keys: by name.
    """

    does: str
    which: str
    keys: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.does} {self.which}".rstrip()


def key_uses(keys: RigKeys) -> list[KeyUse]:
    """All that keys do, in the order in which it is told; what has no key is left out."""
    uses = [
        KeyUse("press", "", keys.press),
        KeyUse("hold", "", keys.hold),
        *(KeyUse(order, "", _of_order(keys, order)) for order in ("next", "back")),
        *(KeyUse("tune", str(number), (key,)) for number, key in enumerate(keys.tune, 1) if key != NO_KEY),
        *(KeyUse(order, "", _of_order(keys, order)) for order in KEY_ORDERS[2:]),
        *(KeyUse("mute", part, names) for part, names in keys.mute),
        KeyUse("help", "", keys.help),
        KeyUse("leave", "", keys.leave),
    ]
    return [use for use in uses if use.keys]


def _of_order(keys: RigKeys, order: str) -> tuple[str, ...]:
    found: tuple[str, ...] = getattr(keys, _attribute(order))
    return found


def _attribute(does: str) -> str:
    return does.replace(" ", "_")


def keys_for(rig: Rig) -> RigKeys:
    """The rig's keys, less those that would mute a part that it has not."""
    there = {part.part for part in rig.parts}
    return replace(rig.keys, mute=tuple((part, keys) for part, keys in rig.keys.mute if part in there))


def read_keys(node: Node, reading: Reading) -> RigKeys | None:
    """Keys by what they do; what is left out keeps those of its usual keys that are not given away."""
    before = len(reading.problems)
    fields = Fields(node, reading, what="keys")
    usual = RigKeys()
    needed = {does: fields.optional(does, listing(_key), getattr(usual, does)) for does in _FOOT_AND_PROGRAM}
    orders = {
        _attribute(order): fields.optional(order, _or_none(_key), _of_order(usual, order))
        for order in KEY_ORDERS
    }
    tune = fields.optional("tune", _or_none(_key), usual.tune)
    mute, muted = _mute(fields, usual, reading)
    fields.finish()
    if len(reading.problems) > before:
        return None
    keys = replace(usual, **needed, **orders, tune=tune, mute=mute)
    written = {str(use): use for use in key_uses(keys) if _is_written(use, fields, muted)}
    return _apart(keys, written, fields, reading)


def _mute(
    fields: Fields, usual: RigKeys, reading: Reading
) -> tuple[tuple[tuple[str, tuple[str, ...]], ...], list[str]]:
    """Keys by part, and the parts that are written."""
    node = fields.node("mute")
    if node is None:
        return usual.mute, []
    block = Fields(node, reading, what="the keys that mute")
    names = {part: block.optional(part, _or_none(_key), keys) for part, keys in usual.mute}
    block.finish()
    return tuple(names.items()), [part for part in PARTS if block.has(part)]


def _is_written(use: KeyUse, fields: Fields, muted: list[str]) -> bool:
    return use.which in muted if use.does == "mute" else fields.has(use.does)


def _or_none(reader: Reader[str]) -> Reader[tuple[str, ...]]:
    """A reader of a list that may be empty."""
    some = listing(reader)

    def read(node: Node, reading: Reading) -> tuple[str, ...] | None:
        return () if isinstance(node, Sequence) and not node.items else some(node, reading)

    return read


def _key(node: Node, reading: Reading) -> str | None:
    value = scalar(node, reading, needed=_NEEDED)
    if value is None:
        return None
    name = value.text if len(value.text) == 1 else " ".join(value.text.lower().replace("-", " ").split())
    if name in NAMED_KEYS or (len(name) == 1 and name.isprintable() and name != " "):
        return name
    hint = did_you_mean(name, NAMED_KEYS)
    reading.report(value.place, "not-allowed", f"{shown(value.text)} is no key; needed is {_NEEDED}", hint)
    return None


def _apart(keys: RigKeys, written: Mapping[str, KeyUse], fields: Fields, reading: Reading) -> RigKeys | None:
    """One key cannot do two things: what is written takes it from what is not."""
    taken: dict[str, KeyUse] = {}
    for use in written.values():
        for name in use.keys:
            if (first := taken.setdefault(name, use)) is not use:
                message = f"the key {name!r} stands for both {first} and {use}"
                reading.report(fields.place_of(use.does), "does-not-fit", message)
                return None

    def left(use: str, names: tuple[str, ...]) -> tuple[str, ...]:
        return names if use in written else tuple(name for name in names if name not in taken)

    kept = replace(
        keys,
        **{_attribute(does): left(does, _of_order(keys, does)) for does in (*_FOOT_AND_PROGRAM, *KEY_ORDERS)},
        tune=tuple(
            key if key not in taken or f"tune {number}" in written else NO_KEY
            for number, key in enumerate(keys.tune, 1)
        ),
        mute=tuple((part, left(f"mute {part}", names)) for part, names in keys.mute),
    )
    for does in _FOOT_AND_PROGRAM:
        if not _of_order(kept, does):
            thief = taken[_of_order(keys, does)[0]]
            message = f"{thief} takes the only key of {does}; give that another, with `{does}:`"
            reading.report(fields.place_of(thief.does), "does-not-fit", message)
            return None
    return kept


def check_keys(fields: Fields, rig: Rig, reading: Reading) -> None:
    """A key that mutes, where the rig writes one, mutes a part that the rig has."""
    node = fields.raw("keys")
    block = Fields(node, reading, what="keys") if node is not None else None
    muting = None if block is None else block.raw("mute")
    if muting is None:
        return
    there = [part.part for part in rig.parts]
    written = Fields(muting, reading, what="the keys that mute")
    for part in PARTS:
        if written.has(part) and part not in there:
            message = f"the rig has no part {part!r} to mute; its parts are {', '.join(there)}"
            reading.report(written.place_of(part), "not-there", message)
