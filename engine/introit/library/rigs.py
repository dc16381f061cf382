"""Rig files: the ports, parts and controls of one stage."""

from __future__ import annotations

from introit.library.fields import Fields, choice, flag, word
from introit.library.guitar import read_guitar
from introit.library.intros import LINE_UPS
from introit.library.keys import check_keys, read_keys
from introit.library.nodes import Node
from introit.library.reading import Reading
from introit.library.rig_clock import check_clock, clock_on
from introit.library.rig_controls import foot_switch_on, key_zone_on
from introit.library.rig_fields import ceiling_in
from introit.library.rig_lamps import check_lamps, lamps_on
from introit.library.rig_orders import check_controls, controls_on
from introit.library.rig_parts import check_parts, parts_on
from introit.library.rig_ports import check_inside, names_under, read_ports
from introit.library.shelf import Shelf
from introit.library.stage import Rig, RigKeys, RigPort


def read_rig(name: str, node: Node | None, reading: Reading, shelf: Shelf) -> Rig | None:
    """The rig that a file describes, or None with its mistakes in `reading`."""
    fields = Fields(node, reading, what="a rig")
    fields.optional("kind", word, "")
    ports: tuple[RigPort, ...] = fields.required("ports", read_ports, ())
    names = names_under(fields.raw("ports"))
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
        ceiling=ceiling_in(fields),
        gentle_start=fields.optional("gentle_start", flag, True),
    )
    fields.finish()
    if reading.clean:
        check_parts(fields, rig, reading)
        check_clock(fields, rig, reading)
        check_lamps(fields, rig, reading)
        check_inside(fields, rig.ports, rig.lamps, reading)
        check_controls(fields, rig, reading)
        check_keys(fields, rig, reading)
    return rig if reading.clean else None
