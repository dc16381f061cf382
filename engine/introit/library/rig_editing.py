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
    text: str,
    foot_switch: Mapping[str, Value],
    *,
    ports: Mapping[str, Mapping[str, Value]] | None = None,
    control: Mapping[str, Value] | None = None,
) -> str:
    """The text of a rig with these keys under `foot_switch`, and these ports and this control added.

    Keys of the foot-switch that are not given stay as they are. A control that orders what one
    there orders already (of the same part, the same tune) gives that one its keys. The result is not checked.

    Args:
        text: of a rig file.
        foot_switch: keys and values as the file writes them; empty to leave it alone.
        ports: new ports by name.
        control: keys and values of a control as the file writes them; None or empty for none.

    Raises:
        IntroitError: if the text is no YAML with a block of keys.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    yaml = YAML()
    yaml.Emitter = _emitter()
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
    if foot_switch:
        _put(_block(rig, "foot_switch"), foot_switch)
    if control:
        _put_control(rig, control)
    out = io.StringIO()
    yaml.dump(rig, out)
    return _with_line_ends_of(text, out.getvalue())


def _emitter() -> Any:
    """The YAML library's emitter, less a slip of it.

    Where a comment stands above a list and its first item is on one line, ruamel.yaml 0.19.1 takes a line
    break out of a later item.
    """
    from ruamel.yaml.emitter import RoundTripEmitter

    class Emitter(RoundTripEmitter):
        def expect_flow_mapping(self, *args: Any, **kwargs: Any) -> None:
            self.no_newline = False  # meant for a block whose first key follows the dash
            super().expect_flow_mapping(*args, **kwargs)

    return Emitter


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


def _put_control(rig: Any, control: Mapping[str, Value]) -> None:
    there = rig.get("controls")
    one_by_one = there if isinstance(there, list) else [there]
    same = next((one for one in one_by_one if isinstance(one, dict) and _orders_as(control, one)), None)
    if same is not None:
        _put(same, control)
    elif there:
        # Before the last one, which a comment on what comes next may follow.
        controls = _listed(rig)
        controls.insert(len(controls) - 1, _in_a_line(control))
    else:
        _put_first(rig, control)


def _listed(rig: Any) -> Any:
    """The list of controls; a single one, which needs no list, becomes the first, with its comment."""
    from ruamel.yaml.comments import CommentedSeq

    if not isinstance(rig["controls"], list):
        rig["controls"] = CommentedSeq([rig["controls"]])
        if (comment := rig.ca.items.pop("controls", None)) is not None:
            rig["controls"].ca.items[0] = [comment[2], None]
    return rig["controls"]


def _put_first(rig: Any, control: Mapping[str, Value]) -> None:
    """A first control; of the comments behind an empty list the one on its line stays there."""
    from ruamel.yaml.comments import CommentedSeq
    from ruamel.yaml.error import CommentMark
    from ruamel.yaml.tokens import CommentToken

    rig["controls"] = CommentedSeq([_in_a_line(control)])
    comment = rig.ca.items.get("controls")
    if comment is None or comment[2] is None:
        return
    on_its_line, _, below = comment[2].value.partition("\n")
    if below:
        comment[2].value = f"{on_its_line}\n"
        rig["controls"].ca.items[0] = [CommentToken(f"\n{below}", CommentMark(0)), None]


def _orders_as(control: Mapping[str, Value], other: Mapping[str, Value]) -> bool:
    """Whether two controls order the same."""
    return all(control.get(key) == other.get(key) for key in ("do", "part", "tune"))


def _in_a_line(values: Mapping[str, Value]) -> Any:
    from ruamel.yaml.comments import CommentedMap

    made = CommentedMap(values)
    made.fa.set_flow_style()
    return made


def _with_line_ends_of(text: str, new: str) -> str:
    return new.replace("\n", "\r\n") if "\r\n" in text else new
