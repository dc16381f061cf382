"""Checked, frozen objects as JSON and back, by the types that their classes declare; each distinct one once.

A record (a frozen dataclass or a named tuple) becomes a row: the number of its class, then its fields. Rows
lie in one list, the pool, each after those it holds, and a record is written as its row's place there. So
what many tunes have in common is read, and held, once. Nothing is ever run that the text says: a row names
one of the classes that the pool was made for, and its constructor takes the fields.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from functools import cache
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

Writer = Callable[[Any], Any]
Reader = Callable[[Any], Any]
_PLAIN = (str, int, float, bool, NoneType)


class Pool:
    """Records being written, or those that were read.

    Args:
        roots: the classes that are asked for; whatever their fields hold is found by itself.

    Raises:
        TypeError: when a field declares a type that is not known here (a mistake of ours).
    """

    def __init__(self, roots: Sequence[type]) -> None:
        self._classes = _records_in(roots)
        self._numbers = {kind: number for number, kind in enumerate(self._classes)}
        self._places: dict[str, int] = {}
        self._records: list[Any] = []
        self._writers: dict[type, list[tuple[str, Writer | None]]] = {}

    @property
    def shape(self) -> list[str]:
        """What the rows look like: each class with its fields and their types."""
        return [
            f"{kind.__name__}({', '.join(f'{name}: {hint}' for name, hint in _fields(kind).items())})"
            for kind in self._classes
        ]

    # --- writing ------------------------------------------------------------------------------------

    def put(self, record: Any) -> int:
        """The place of a record, which is added where no other is the same."""
        kind: Any = type(record)
        if kind not in self._writers:
            self._writers[kind] = [(name, self._writer(hint)) for name, hint in _fields(kind).items()]
        row = [self._numbers[kind]]
        for name, write in self._writers[kind]:
            value = getattr(record, name)
            row.append(value if write is None else write(value))
        text = json.dumps(row)  # not the row itself: 1, 1.0 and True are the same key
        return self._places.setdefault(text, len(self._places))

    @property
    def text(self) -> str:
        """All that was put, as JSON."""
        return f"[{','.join(self._places)}]"

    def _writer(self, hint: Any) -> Writer | None:
        """What turns a value of a type into what JSON has; None where it is that already."""
        match _kind_of(hint):
            case "plain":
                return None
            case "fraction":
                return str
            case "enum":
                return lambda value: value.value
            case "record":
                return lambda value: None if value is None else self.put(value)
            case "tuple":
                part = self._writer(get_args(hint)[0])
                return list if part is None else lambda values: [part(value) for value in values]
            case "pair":
                parts = [self._writer(one) or _same for one in get_args(hint)]
                return lambda values: [write(one) for write, one in zip(parts, values, strict=True)]
            case _:
                key, item = (self._writer(one) or _same for one in get_args(hint))
                return lambda values: [[key(name), item(value)] for name, value in values.items()]

    # --- reading ------------------------------------------------------------------------------------

    def read(self, rows: Any) -> None:
        """Makes every record of a pool that was written.

        Raises:
            Exception: whatever a constructor makes of rows that are not as they were written.
        """
        readers = [[self._reader(hint) for hint in _fields(kind).values()] for kind in self._classes]
        changed = [
            [(at, read) for at, read in enumerate(row, start=1) if read is not None] for row in readers
        ]
        for row in rows:
            number = row[0]
            for at, read in changed[number]:
                row[at] = read(row[at])
            self._records.append(self._classes[number](*row[1:]))

    def get(self, place: int) -> Any:
        """The record at a place.

        Raises:
            IndexError: when there is none.
        """
        if place < 0:
            raise IndexError(place)
        return self._records[place]

    def _reader(self, hint: Any) -> Reader | None:
        match _kind_of(hint):
            case "plain":
                return None
            case "fraction":
                return cache(Fraction)
            case "enum":
                by_value = {one.value: one for one in hint}
                return by_value.__getitem__
            case "record":
                return lambda place: None if place is None else self.get(place)
            case "tuple":
                part = self._reader(get_args(hint)[0])
                return tuple if part is None else lambda values: tuple([part(value) for value in values])
            case "pair":
                parts = [self._reader(one) or _same for one in get_args(hint)]
                return lambda values: tuple([read(one) for read, one in zip(parts, values, strict=True)])
            case _:
                key, item = (self._reader(one) or _same for one in get_args(hint))
                return lambda pairs: {key(name): item(value) for name, value in pairs}


def _same(value: Any) -> Any:
    return value


def _is_record(hint: Any) -> bool:
    return isinstance(hint, type) and (is_dataclass(hint) or hasattr(hint, "_fields"))


def _kind_of(hint: Any) -> str:
    """How a type is written: `plain`, `fraction`, `enum`, `record`, `tuple`, `pair` (two or so) or `dict`.

    Raises:
        TypeError: for any other.
    """
    if hint in _PLAIN:
        return "plain"
    if hint is Fraction:
        return "fraction"
    if _is_record(hint):
        return "record"
    if isinstance(hint, type) and issubclass(hint, Enum):
        return "enum"
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        kinds = {_kind_of(one) for one in inner if one is not NoneType}
        if kinds in ({"plain"}, {"record"}):
            return kinds.pop()
    if origin is tuple:
        return "tuple" if inner[-1] is Ellipsis else "pair"
    if origin is dict:
        return "dict"
    raise TypeError(f"no way to write {hint} is known")


@cache
def _fields(kind: type) -> dict[str, Any]:
    """The fields of a record and their types, in the order of its constructor."""
    hints = get_type_hints(kind)
    names = [one.name for one in fields(kind)] if is_dataclass(kind) else list(hints)
    return {name: hints[name] for name in names}


def _records_in(roots: Sequence[type]) -> list[type]:
    """The classes and all that their fields can hold, in the order of finding them."""
    found: dict[type, None] = {}
    waiting: list[Any] = list(roots)[::-1]
    while waiting:
        hint = waiting.pop()
        if _is_record(hint):
            if hint not in found:
                found[hint] = None
                waiting += list(_fields(hint).values())[::-1]
        else:
            waiting += [one for one in get_args(hint)[::-1] if one not in (Ellipsis, NoneType)]
    return list(found)
