"""Computer keys in a rig file: which of them stand for the foot, and what the others do."""

from __future__ import annotations

from introit.errors import did_you_mean
from introit.library.fields import Fields, listing, scalar
from introit.library.nodes import Node
from introit.library.reading import Reading, shown
from introit.library.stage import RigKeys

NAMED_KEYS = (
    "space", "enter", "tab", "backspace", "escape", "insert", "delete",
    "page up", "page down", "home", "end", "up", "down", "left", "right",
    "f1", "f2", "f3", "f4", "f5", "f6", "f7", "f8", "f9", "f10", "f11", "f12",
)  # fmt: skip
"""Keys that have a name; every other one is called by the character that it types."""

_NEEDED = f"a key: one character that it types, or one of {', '.join(NAMED_KEYS)}"


def read_keys(node: Node, reading: Reading) -> RigKeys | None:
    """Keys by what they do; what is left out keeps its usual keys."""
    before = len(reading.problems)
    fields = Fields(node, reading, what="keys")
    usual = RigKeys()
    keys = RigKeys(
        press=fields.optional("press", listing(_key), usual.press),
        hold=fields.optional("hold", listing(_key), usual.hold),
        next=fields.optional("next", listing(_key), usual.next),
        help=fields.optional("help", listing(_key), usual.help),
        leave=fields.optional("leave", listing(_key), usual.leave),
    )
    fields.finish()
    if len(reading.problems) > before:
        return None
    return keys if _are_apart(keys, fields, reading) else None


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


def _are_apart(keys: RigKeys, fields: Fields, reading: Reading) -> bool:
    """One key cannot do two things."""
    seen: dict[str, str] = {}
    for what, names in keys.by_use().items():
        for name in names:
            if seen.setdefault(name, what) != what:
                place = fields.place_of(what if fields.has(what) else seen[name])
                message = f"the key {name!r} stands for both {seen[name]} and {what}"
                reading.report(place, "does-not-fit", message)
                return False
    return True
