"""The orders in words: those that make sense on a rig, with the keys and the controls that give them."""

from __future__ import annotations

from dataclasses import replace

from introit.cli.orders import OrderLanguage
from introit.cli.wiring import setup_for
from introit.library.content import program_root
from introit.library.loader import load_library
from introit.library.stage import RigKeys
from introit.live.setup import Control, PortSetup, Route, Setup
from introit.live.states import Order
from introit.performance import PARTS

SETUP = Setup(
    ports=(PortSetup("synth", "memory", to="", source=""),),
    routes=tuple(Route(part=number, port=0, channel=number) for number in range(len(PARTS))),
    tunes=3,
)
CONTROLS = (
    Control("next", number=65),
    Control("mute", message="note", number=36, part=PARTS.index("bass"), value=1),
    Control("level", number=11, channel=2, part=PARTS.index("comp")),
    Control("tune", message="program"),
    Control("tune", message="song select"),
    Control("tune", message="program", number=127, value=4),
)


def table(language: OrderLanguage) -> dict[str, str]:
    """Rows by order; what goes on below belongs to the row above."""
    rows: dict[str, str] = {}
    order = ""
    for line in language.lines():
        order = line[:15].strip() or order
        rows[order] = f"{rows.get(order, '')} {' '.join(line[15:].split())}".strip()
    return rows


def test_every_order_that_has_a_key_or_a_control_is_in_the_table() -> None:
    rows = table(OrderLanguage(replace(SETUP, controls=CONTROLS), RigKeys()))
    assert list(rows) == ["order", *(order.value for order in Order)]
    assert rows["order"] == "keys controls"
    assert rows["next"] == "n CC 65"
    assert rows["tune"].startswith("1 to 3 program, song select,")
    assert "program 128 5" in rows["tune"]
    assert rows["level"] == "CC 11 on channel 3 comp"
    assert rows["faster"] == "+, =, up"
    assert "note C2 bass off" in rows["mute"]


def test_the_table_fits_eighty_columns_and_keeps_a_key_beside_its_part() -> None:
    lines = OrderLanguage(replace(SETUP, controls=CONTROLS), RigKeys()).lines()
    assert max(map(len, lines)) < 80
    for words in ("M melody", "C comp", "B bass", "P pedal", "R ride", "K click", "U cue"):
        assert sum(words in line for line in lines) == 1


def test_only_what_makes_sense_is_told() -> None:
    comp = PARTS.index("comp")
    alone = Setup(ports=SETUP.ports, routes=(Route(part=comp, port=0, channel=0),), tunes=1)
    rows = table(OrderLanguage(alone, RigKeys()))
    assert rows["mute"] == "C comp"
    assert not {"back", "tune", "first note", "level"} & set(rows)
    muted = replace(alone, routes=(replace(alone.routes[0], muted=True),))
    assert table(OrderLanguage(muted, RigKeys()))["mute"] == "C comp"  # it can be brought in


def test_a_set_that_grows_has_keys_for_what_is_new() -> None:
    tunes = [1]
    language = OrderLanguage(replace(SETUP, tunes=1), RigKeys(), tunes=lambda: tunes[0])
    assert "tune" not in table(language)
    tunes[0] = 12
    assert table(language)["tune"] == "1 to 9"


def test_without_keys_there_are_the_controls_and_without_both_nothing() -> None:
    language = OrderLanguage(replace(SETUP, controls=CONTROLS[:1]), None)
    assert language.lines() == ["order          controls", "next           CC 65"]
    assert language.line() == "orders: next (CC 65)"
    assert language.given == {Order.NEXT}
    nothing = OrderLanguage(SETUP, None)
    assert (nothing.lines(), nothing.line(), nothing.controls(), nothing.given) == ([], "", "", frozenset())


def test_keys_that_were_moved_are_told_as_they_are() -> None:
    rows = table(OrderLanguage(SETUP, RigKeys(tune=("a", "2", ""), next=(">",), slower=())))
    assert rows["tune"] == "a, 2"
    assert rows["next"] == ">"
    assert "slower" not in rows


def test_the_controls_of_the_example_in_a_line() -> None:
    rig = load_library([program_root()])[0].rigs["two-switches"]
    setup = setup_for(rig, tunes=3, log=False, choose_system=lambda _: "memory")
    assert OrderLanguage(setup, None).controls() == (
        "controls: next: CC 65; level comp: CC 11; mute bass: note C2; tap tempo: note Db2; "
        "sound check: note D2; silence: note Eb2; tune: program"
    )
    floor = [port.name for port in rig.ports].index("floor")
    assert setup.controls[:2] == (
        Control("next", port=floor, number=65),
        Control("level", port=floor, number=11, part=PARTS.index("comp"), low=4),
    )
    assert Setup.from_json(setup.to_json()) == setup
