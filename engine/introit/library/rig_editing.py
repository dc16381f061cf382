"""Changes a rig file's text and keeps everything else that its writer put there: comments, order, quotes."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

from introit.errors import IntroitError

Value = str | int | bool
_WIDTH = 4096
"""Columns; no line of a user's is broken."""


def edited_rig(
    text: str, foot_switch: Mapping[str, Value], *, ports: Mapping[str, Mapping[str, Value]] | None = None
) -> str:
    """The text of a rig with these keys under `foot_switch`, and these ports added.

    Keys of the foot-switch that are not given stay as they are. The result is not checked.

    Args:
        text: of a rig file.
        foot_switch: keys and values as the file writes them.
        ports: new ports by name.

    Raises:
        IntroitError: if the text is no YAML with a block of keys.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    yaml = YAML()
    yaml.preserve_quotes = True
    yaml.width = _WIDTH
    yaml.indent(mapping=2, sequence=4, offset=2)
    try:
        rig = yaml.load(text.replace("\r\n", "\n"))
    except YAMLError as error:
        raise IntroitError(f"the rig cannot be read as YAML: {' '.join(str(error).split())}") from error
    if not isinstance(rig, dict):
        raise IntroitError("the rig is no block of keys")
    _put(_block(rig, "ports"), {name: _in_a_line(port) for name, port in (ports or {}).items()})
    _put(_block(rig, "foot_switch"), foot_switch)
    out = io.StringIO()
    yaml.dump(rig, out)
    return _with_line_ends_of(text, out.getvalue())


def _block(rig: Any, key: str) -> Any:
    """The block under a key; an empty one is put there where there is none."""
    from ruamel.yaml.comments import CommentedMap

    if not isinstance(rig.get(key), dict):
        rig[key] = CommentedMap()
    return rig[key]


def _put(block: Any, values: Mapping[str, Any]) -> None:
    """Sets keys. A new one goes before the last one there, which a comment on what comes next may follow."""
    there = len(block)
    for key, value in values.items():
        if key in block or not there:
            block[key] = value
        else:
            block.insert(len(block) - 1, key, value)


def _in_a_line(values: Mapping[str, Value]) -> Any:
    from ruamel.yaml.comments import CommentedMap

    made = CommentedMap(values)
    made.fa.set_flow_style()
    return made


def _with_line_ends_of(text: str, new: str) -> str:
    return new.replace("\n", "\r\n") if "\r\n" in text else new
