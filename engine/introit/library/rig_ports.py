"""A rig's ports: the system of each, what it is connected to, and how it is lined up with the others."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from introit.library.fields import Fields, choice, flag, number, report_repeated, whole, word
from introit.library.nodes import Mapping, Node
from introit.library.reading import Reading, shown
from introit.library.rig_fields import ANY, ceiling_in
from introit.library.stage import INSIDE, OFFSET_MS, USUAL_GAIN, RigLamp, RigPort

SYSTEMS = ("auto", "jack", "rtmidi", "alsa", INSIDE, "memory")
_INSIDE_ONLY = ("soundfont", "gain", "audio")
_CABLES = ("to", "from", "virtual")


def names_under(node: Node | None) -> Sequence[str]:
    """The names that a `ports:` block gives."""
    return [name.text for name, _ in node.entries] if isinstance(node, Mapping) else []


def read_ports(node: Node, reading: Reading) -> tuple[RigPort, ...] | None:
    """Each port by its name; at least one."""
    if not isinstance(node, Mapping) or not node.entries:
        reading.report(
            node.place, "wrong-type", "at least one port is needed, by a name of your own: `main:`"
        )
        return None
    report_repeated(node, reading)
    return tuple(_port(name.text, value, reading) for name, value in node.entries)


def _port(name: str, node: Node, reading: Reading) -> RigPort:
    fields = Fields(node, reading, what=f"port {shown(name)}")
    system = fields.optional("system", choice(SYSTEMS), "auto")
    to = _any_as_empty(fields.optional("to", word, None))
    port = RigPort(
        name=name,
        system=system,
        to="" if system == INSIDE else to,
        source=_any_as_empty(fields.optional("from", word, None)),
        virtual=fields.optional("virtual", flag, False),
        reset=fields.optional("reset", flag, False),
        offset_ms=fields.optional("offset_ms", whole(-OFFSET_MS, OFFSET_MS, unit="milliseconds"), 0),
        soundfont=_beside(fields.optional("soundfont", word, ""), reading),
        gain=fields.optional("gain", number(0, 1), USUAL_GAIN),
        audio=fields.optional("audio", word, ""),
        ceiling=ceiling_in(fields),
    )
    fields.finish()
    if fields.is_mapping and reading.clean:
        _check(fields, port, reading)
    return port


def _check(fields: Fields, port: RigPort, reading: Reading) -> None:
    def report(key: str, message: str) -> None:
        reading.report(fields.place_of(key), "does-not-fit", message)

    inside = port.system == INSIDE
    for key in _CABLES if inside else _INSIDE_ONLY:
        if fields.has(key):
            plain = f"port {shown(port.name)} is a synth inside: it needs no `{key}:`, and hears nothing"
            other = f"`{key}:` goes with `system: {INSIDE}` alone"
            report(key, plain if inside else other)
    if inside:
        return
    if port.to is None and port.source is None:
        message = (
            f"port {shown(port.name)} neither sends nor listens; give it `to:`, `from:` or both"
            " (a name, or any)"
        )
        reading.report(fields.place, "missing-key", message)
        return
    for key in ("reset", "offset_ms"):
        if port.to is None and getattr(port, key):
            done = "be reset" if key == "reset" else "go out earlier or later"
            report(key, f"port {shown(port.name)} only listens, so nothing can {done} there; give it `to:`")


def check_inside(
    fields: Fields, ports: Sequence[RigPort], lamps: Sequence[RigLamp], reading: Reading
) -> None:
    """A synth inside has no lamps: what would light them, it would sound."""
    inside = {port.name for port in ports if port.system == INSIDE}
    for name in sorted({lamp.port for lamp in lamps} & inside):
        message = f"port {shown(name)} is a synth inside: it has no lamps, and would sound what lights them"
        reading.report(fields.place_of("lamps"), "does-not-fit", message)


def _any_as_empty(name: str | None) -> str | None:
    return "" if name == ANY else name


def _beside(path: str, reading: Reading) -> str:
    """A path as it can be opened from anywhere: one that is not whole is meant from the rig's own folder."""
    if not path or path.startswith("~") or Path(path).is_absolute():
        return path
    return str(Path(reading.path).absolute().parent / path)
