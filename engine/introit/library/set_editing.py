"""Edits of a set file's text: a tune moved, or played otherwise; all else stays as it was written.

The text is not written anew from what was read: the lines and characters that an edit is about are put in
their place, so comments, empty lines, quotes, anchors and the order of keys stay. What comes out is read
again and compared with what was meant before it is given back.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from introit.library.marked import Marked, MarkedError, Sort, marked, plain
from introit.library.set_lines import BY_HAND, EditError, Lines, layout, spans, tunes_of

__all__ = ["Change", "Edit", "EditError", "Entry", "Move", "Value", "edited_set", "entries_of", "read_edit"]

Value = str | float | None
"""None takes a key out."""
KEYS = ("key", "tempo", "intro", "landing")
"""What can be changed of a tune."""
LONGEST = 100
"""Characters of a value."""
_ORDER = (
    "tune", "call", "title", "key", "meter", "tempo", "feel", "first_chord", "pickup", "intro", "count_off",
    "landing",
)  # fmt: skip
"""A new key goes behind the last of those before it here."""
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 ._/#+-]*", re.ASCII)
_NO_TEXT = frozenset({"true", "false", "yes", "no", "on", "off", "y", "n", "null"})
"""What YAML 1.1 takes for something else than text."""


@dataclass(frozen=True, slots=True)
class Move:
    """An entry goes to another place; places are counted from 0, as the entries stand in the file."""

    index: int
    to: int


@dataclass(frozen=True, slots=True)
class Change:
    """An entry says something else.

    Attributes:
        index: of the entry, from 0.
        values: by keys of `KEYS`.
    """

    index: int
    values: Mapping[str, Value] = field(default_factory=dict)


Edit = Move | Change


@dataclass(frozen=True, slots=True)
class Entry:
    """What an entry says itself.

    Attributes:
        sort: `tune`, `call` or `title`, the key that makes it what it is; empty for none of them.
        name: what stands there.
        says: the keys of `KEYS` that are there; a list as its items, joined by commas.
        lines: its first and last line, from 1.
    """

    sort: str
    name: str
    says: Mapping[str, str]
    lines: tuple[int, int]


def read_edit(given: Any) -> Edit:
    """An edit from untrusted JSON: `{"move": 4, "to": 0}`, or `{"change": 2, "key": "F", "tempo": null}`.

    Raises:
        EditError: in a sentence.
    """
    if not isinstance(given, Mapping) or ("move" in given) == ("change" in given):
        raise EditError("an edit has either 'move' and 'to', or 'change' and what is to change")
    if "move" in given:
        if set(given) != {"move", "to"}:
            raise EditError("a move has 'move' and 'to', and nothing else")
        return Move(_whole(given["move"]), _whole(given["to"]))
    values = {key: value for key, value in given.items() if key != "change"}
    if not values or not set(values) <= set(KEYS):
        raise EditError(f"what can be changed of a tune is {', '.join(KEYS)}")
    for key, value in values.items():
        _check_value(key, value)
    return Change(_whole(given["change"]), values)


def edited_set(text: str, edit: Edit) -> str:
    """The text of a set file after an edit. Whether a tune may be played so is not checked here.

    Raises:
        EditError: if the text is no set, there is no such entry, or the text is written so that the edit
            cannot be made without touching something else.
    """
    tunes = tunes_of(text)
    count = len(tunes.parts)
    places = (edit.index, edit.to) if isinstance(edit, Move) else (edit.index,)
    if not all(0 <= place < count for place in places):
        raise EditError(f"the set has {count} tune{'' if count == 1 else 's'}; there is no such place in it")
    new = _moved(text, tunes, edit) if isinstance(edit, Move) else _changed(text, edit)
    _check(text, new, edit)
    return new


def entries_of(text: str) -> list[Entry]:
    """What each entry of a set file says itself, in order.

    Raises:
        EditError: if the text is no set.
    """
    tunes = tunes_of(text)
    return [_entry(node, lines) for node, lines in zip(tunes.parts, spans(text, tunes), strict=True)]


def _entry(node: Marked, lines: tuple[int, int]) -> Entry:
    said = {key.text: _said(value) for key, value in node.pairs} if node.sort is Sort.BLOCK else {}
    sort = next((one for one in ("tune", "call", "title") if one in said), "")
    return Entry(sort, said.get(sort, ""), {key: said[key] for key in KEYS if key in said}, lines)


def _said(value: Marked) -> str:
    return ", ".join(part.text for part in value.parts) if value.sort is Sort.LIST else value.text


# --- what is given ----------------------------------------------------------------------------------


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise EditError("a place in the set is a whole number from 0")
    return value


def _check_value(key: str, value: object) -> None:
    if value is None:
        return
    if key == "tempo":
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 10_000:
            raise EditError("the tempo is a number of beats a minute")
    elif not isinstance(value, str) or not value.strip() or len(value) > LONGEST or not value.isprintable():
        raise EditError(f"{key!r} is a text of up to {LONGEST} characters in one line")


# --- moving -----------------------------------------------------------------------------------------


def _moved(text: str, tunes: Marked, move: Move) -> str:
    order = list(range(len(tunes.parts)))
    order.insert(move.to, order.pop(move.index))
    if text.endswith("\n") or tunes.flow:
        return layout(text, tunes).text(order)
    whole = text + _line_end(text)  # the last line may become another one
    return layout(whole, tunes_of(whole)).text(order).removesuffix(_line_end(text))


# --- changing ---------------------------------------------------------------------------------------


def _changed(text: str, change: Change) -> str:
    for key, value in change.values.items():
        entry = tunes_of(text).parts[change.index]
        if entry.sort is not Sort.BLOCK:
            raise EditError(f"this entry has no keys of its own: {BY_HAND}")
        pair = entry.pair(key)
        if value is None:
            text = text if pair is None else _without(text, entry, pair)
        elif pair is None:
            text = _with(text, entry, key, value)
        else:
            text = _replaced(text, entry, pair, value)
    return text


def _replaced(text: str, entry: Marked, pair: tuple[Marked, Marked], value: str | float) -> str:
    key, old = pair
    start, end = old.start, old.end
    style = old.style if old.sort is Sort.SCALAR and old.style in ("'", '"') else ""
    new = _scalar(value, style)
    if start == end:  # nothing stood there
        return f"{text[:start]} {new}{text[end:]}"
    if "\n" not in text[key.end : end]:
        return text[:start] + new + text[end:]
    colon = text.index(":", key.end)
    comments = _comments(text, colon + 1, end, old)
    if comments and entry.flow:
        raise EditError(BY_HAND)
    lines = Lines.of(text)
    behind = lines.start(lines.at(end - 1) + 1)
    kept = _own_lines(text, _column(text, entry), comments)
    return f"{text[: colon + 1]} {new}{_ended(text, text[end:behind], kept)}{kept}{text[behind:]}"


def _with(text: str, entry: Marked, key: str, value: str | float) -> str:
    before = _ORDER[: _ORDER.index(key)]
    _, last = next((pair for pair in reversed(entry.pairs) if pair[0].text in before), entry.pairs[0])
    if entry.flow:
        return f"{text[: last.end]}, {key}: {_scalar(value)}{text[last.end :]}"
    lines = Lines.of(text)
    behind = lines.start(lines.at(max(entry.start, last.end - 1)) + 1)
    line = f"{' ' * _column(text, entry)}{key}: {_scalar(value)}"
    if not text[:behind].endswith("\n"):
        return f"{text[:behind]}{_line_end(text)}{line}{text[behind:]}"
    return f"{text[:behind]}{line}{_line_end(text)}{text[behind:]}"


def _without(text: str, entry: Marked, pair: tuple[Marked, Marked]) -> str:
    pairs = entry.pairs
    place = next(index for index, (key, _) in enumerate(pairs) if key is pair[0])
    key, value = pair
    if len(pairs) == 1:
        raise EditError("a tune cannot lose the only thing that is said of it")
    lines = Lines.of(text)
    first = lines.start(lines.at(key.start))
    if entry.flow:
        start, end = (pairs[place - 1][1].end, value.end) if place else (key.start, pairs[1][0].start)
        if _comments(text, start, end, value):
            raise EditError(BY_HAND)
        return text[:start] + text[end:]
    if text[first : key.start].strip():  # behind the dash
        end = pairs[1][0].start
        comments = _comments(text, key.end, end, value)
        if not comments:
            return text[: key.start] + text[end:]
        column = _column(text, entry)
        return text[: key.start] + _own_lines(text, column, comments)[column:] + " " * column + text[end:]
    behind = lines.start(lines.at(max(key.start, value.end - 1)) + 1)
    comments = _comments(text, key.end, behind, value)
    kept = _own_lines(text, key.start - first, comments)
    if behind == len(text) and not text.endswith("\n"):
        return (text[:first] + kept).removesuffix(_line_end(text))
    return text[:first] + kept + text[behind:]


def _comments(text: str, start: int, end: int, value: Marked) -> list[str]:
    """The comments between two places, of which those inside a value's words are none."""
    leaves = [(leaf.start, leaf.end) for leaf in value.leaves()]
    found = []
    at = start
    while (at := text.find("#", at, end)) >= 0:
        inside = next((last for first, last in leaves if first <= at < last), None)
        if inside is None and (at == 0 or text[at - 1].isspace()):
            line_end = text.find("\n", at)
            stop = min(end, len(text) if line_end < 0 else line_end)
            found.append(text[at:stop].rstrip())
            at = stop
        else:
            at = at + 1 if inside is None else inside
    return found


def _own_lines(text: str, column: int, comments: list[str]) -> str:
    return "".join(f"{' ' * column}{comment}{_line_end(text)}" for comment in comments)


def _ended(text: str, rest: str, more: str) -> str:
    """The rest of a line, with a line end where more follows."""
    return rest + _line_end(text) if more and not rest.endswith("\n") else rest


def _column(text: str, entry: Marked) -> int:
    first = entry.pairs[0][0].start
    return first - (text.rfind("\n", 0, first) + 1)


def _line_end(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _scalar(value: str | float, style: str = "") -> str:
    """A value as the file writes it."""
    if not isinstance(value, str):
        return str(int(value)) if value == int(value) else repr(float(value))
    if style == "'":
        return "'" + value.replace("'", "''") + "'"
    bare = _PLAIN.fullmatch(value) and " #" not in value and value == value.strip()
    if style or not bare or value.casefold() in _NO_TEXT:
        return json.dumps(value, ensure_ascii=False)
    return value


# --- what came out ----------------------------------------------------------------------------------


def _check(text: str, new: str, edit: Edit) -> None:
    """Holds what was made to what was meant.

    Raises:
        EditError: where it says anything else.
    """
    try:
        wanted, found = plain(marked(text)), plain(marked(new))
    except MarkedError as error:
        raise EditError(f"that is not possible in this file: {error}") from error
    tunes, told = (_tunes(said) for said in (wanted, found))
    if isinstance(edit, Move):
        tunes.insert(edit.to, tunes.pop(edit.index))
    elif len(told) > edit.index and isinstance(told[edit.index], list):
        values = {
            key: value if isinstance(value, str) else _scalar(value)
            for key, value in edit.values.items()
            if value is not None
        }
        kept = {key: value for key, value in tunes[edit.index] if key not in edit.values}
        tunes[edit.index], told[edit.index] = kept | values, dict(told[edit.index])
    if wanted != found:
        raise EditError(BY_HAND)


def _tunes(said: Any) -> list[Any]:
    found: list[Any] = next((value for key, value in said if key == "tunes"), [])
    return found
