"""Rig files: the ports, parts and controls of one stage."""

from __future__ import annotations

from introit.library.fields import Fields, choice, flag, report_repeated, word
from introit.library.guitar import read_guitar
from introit.library.intros import LINE_UPS
from introit.library.keys import check_keys, read_keys
from introit.library.nodes import Mapping, Node
from introit.library.reading import Reading, shown
from introit.library.rig_clock import check_clock, clock_on
from introit.library.rig_controls import foot_switch_on, key_zone_on
from introit.library.rig_fields import ANY, Names
from introit.library.rig_lamps import check_lamps, lamps_on
from introit.library.rig_orders import check_controls, controls_on
from introit.library.rig_parts import check_parts, parts_on
from introit.library.shelf import Shelf
from introit.library.stage import Rig, RigKeys, RigPort

SYSTEMS = ("auto", "jack", "rtmidi", "memory")


def read_rig(name: str, node: Node | None, reading: Reading, shelf: Shelf) -> Rig | None:
    """The rig that a file describes, or None with its mistakes in `reading`."""
    fields = Fields(node, reading, what="a rig")
    fields.optional("kind", word, "")
    ports: tuple[RigPort, ...] = fields.required("ports", _ports, ())
    names = _names_under(fields.raw("ports"))
    rig = Rig(
        id=name,
        name=fields.required("name", word, ""),
        ports=ports,
        parts=fields.required("parts", parts_on(names), ()),
        foot_switch=fields.optional("foot_switch", foot_switch_on(names), None),
        key_zone=fields.optional("key_zone", key_zone_on(names), None),
        active_sensing=fields.optional("active_sensing", flag, True),
        line_up=fields.optional("line_up", choice(LINE_UPS), None),
        guitar=fields.optional("guitar", read_guitar, None),
        keys=fields.optional("keys", read_keys, RigKeys()),
        clock=fields.optional("clock", clock_on(names), None),
        lamps=fields.optional("lamps", lamps_on(names), ()),
        controls=fields.optional("controls", controls_on(names), ()),
    )
    fields.finish()
    if reading.clean:
        check_parts(fields, rig, reading)
        check_clock(fields, rig, reading)
        check_lamps(fields, rig, reading)
        check_controls(fields, rig, reading)
        check_keys(fields, rig, reading)
    return rig if reading.clean else None


def _names_under(node: Node | None) -> Names:
    return [name.text for name, _ in node.entries] if isinstance(node, Mapping) else []


def _ports(node: Node, reading: Reading) -> tuple[RigPort, ...] | None:
    if not isinstance(node, Mapping) or not node.entries:
        reading.report(
            node.place, "wrong-type", "at least one port is needed, by a name of your own: `main:`"
        )
        return None
    report_repeated(node, reading)
    return tuple(_port(name.text, value, reading) for name, value in node.entries)


def _port(name: str, node: Node, reading: Reading) -> RigPort:
    fields = Fields(node, reading, what=f"port {shown(name)}")
    port = RigPort(
        name=name,
        system=fields.optional("system", choice(SYSTEMS), "auto"),
        to=_any_as_empty(fields.optional("to", word, None)),
        source=_any_as_empty(fields.optional("from", word, None)),
        virtual=fields.optional("virtual", flag, False),
        reset=fields.optional("reset", flag, False),
    )
    fields.finish()
    if fields.is_mapping and reading.clean and port.to is None and port.source is None:
        message = (
            f"port {shown(name)} neither sends nor listens; give it `to:`, `from:` or both (a name, or any)"
        )
        reading.report(fields.place, "missing-key", message)
    elif fields.is_mapping and reading.clean and port.to is None and port.reset:
        message = f"port {shown(name)} only listens, so nothing can be reset there; give it `to:`"
        reading.report(fields.place_of("reset"), "does-not-fit", message)
    return port


def _any_as_empty(name: str | None) -> str | None:
    return "" if name == ANY else name
