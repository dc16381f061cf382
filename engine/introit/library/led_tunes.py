"""The keys of a tune that say how the player leads its intro with the foot."""

from __future__ import annotations

from dataclasses import replace

from introit.errors import did_you_mean
from introit.library.fields import Fields, Reader, choice, flag, report_word, scalar, whole
from introit.library.leading import BarBeat, Leading
from introit.library.led_places import MOST_BARS, held, in_time, vamped
from introit.library.nodes import Node, Scalar
from introit.library.reading import Reading, shown
from introit.library.rig_clock import CLOCK_STARTS

TAPPED, BY_TAPS = "tapped", -1
AT_ONCE = "at once"
RUNG, ROLLED = "rung", "rolled"


def read_leading(fields: Fields, before: Leading, reading: Reading) -> Leading:
    """The keys that say how an intro is led; what is not there stays as `before`."""
    vamp = fields.optional("vamp", vamped, before.vamp_bars or before.vamp)
    hold = fields.optional("hold", held, before.held or before.hold)
    colla_voce, kept_from = _out_of_time(fields, before, reading)
    found = Leading(
        tapped=before.tapped,
        vamp=bool(vamp),
        vamp_bars=None if isinstance(vamp, bool) else vamp,
        once_more=fields.optional("once_more", flag, before.once_more),
        hold=bool(hold),
        held=None if isinstance(hold, bool) else hold,
        colla_voce=colla_voce,
        in_time=kept_from,
        tapped_on=fields.optional("then", choice((AT_ONCE, TAPPED)), _then(before)) == TAPPED,
        rolled=fields.optional("hold_as", choice((RUNG, ROLLED)), _held_as(before)) == ROLLED,
        start_clock=fields.optional("start_clock", choice(CLOCK_STARTS), before.start_clock),
    )
    goes_round = next((name for name in ("vamp", "once_more") if getattr(found, name)), None)
    waits = next((name for name in ("hold", "colla_voce") if getattr(found, name)), None)
    if goes_round and waits:
        place = fields.place_of(waits if fields.has(waits) else goes_round)
        message = f"an intro with `{waits}` cannot have `{goes_round}` as well: it waits, or it goes round"
        reading.report(place, "does-not-fit", message)
    if waits is None and fields.has("then"):
        message = "`then` says how it goes on after a wait, and nothing waits here"
        hint = "Write `hold: true` or `colla_voce: true` as well."
        reading.report(fields.place_of("then"), "does-not-fit", message, hint)
    if not found.hold and fields.has("hold_as"):
        message = "`hold_as` says how the held chord is struck, and no chord is held here"
        reading.report(fields.place_of("hold_as"), "does-not-fit", message, "Write `hold: true` as well.")
    return replace(found, tapped_on=found.tapped_on and waits is not None, rolled=found.rolled and found.hold)


def _out_of_time(fields: Fields, before: Leading, reading: Reading) -> tuple[int, BarBeat | None]:
    """Bars out of time, and the place where time is kept before they end; the last word of the two counts."""
    bars = fields.optional("colla_voce", _bars, before.colla_voce)
    counted_here = fields.has("colla_voce") and bars not in (0, MOST_BARS)
    place = fields.optional("in_time", in_time, None if counted_here else before.in_time)
    if not fields.has("in_time"):
        return bars, place if bars else None
    if counted_here:
        message = f"`colla_voce: {bars}` says already where time is kept: after {bars} bars"
        reading.report(fields.place_of("in_time"), "does-not-fit", message, "Write `colla_voce: true`.")
    elif not bars:
        message = "`in_time` says where time is kept after bars out of time, and nothing is out of time here"
        hint = "Write `colla_voce: true` as well."
        reading.report(fields.place_of("in_time"), "does-not-fit", message, hint)
    return (MOST_BARS, place) if bars else (0, None)


def _then(leading: Leading) -> str:
    return TAPPED if leading.tapped_on else AT_ONCE


def _held_as(leading: Leading) -> str:
    return ROLLED if leading.rolled else RUNG


def counted(most: int) -> Reader[int]:
    """A reader of a count-off: bars from 0 to `most`, or -1 for `tapped`."""

    def read(node: Node, reading: Reading) -> int | None:
        if isinstance(node, Scalar) and node.text.strip().casefold() == TAPPED:
            return BY_TAPS
        if isinstance(node, Scalar) and (hint := did_you_mean(node.text.strip(), (TAPPED,))):
            message = f"{shown(node.text)} is no count-off; 0 to {most} bars, or `{TAPPED}`, is needed"
            reading.report(node.place, "not-allowed", message, hint)
            return None
        return whole(0, most, unit=f"bars, or `{TAPPED}`")(node, reading)

    return read


def _bars(node: Node, reading: Reading) -> int | None:
    """`true` for all bars, or the number of bars from the first."""
    value = scalar(node, reading, needed=f"true, or a number of bars from 1 to {MOST_BARS}")
    if value is None:
        return None
    if value.style == "plain" and value.text.casefold() in {"true", "false"}:
        return MOST_BARS if value.text.casefold() == "true" else 0
    if value.text[:1].isalpha():
        report_word(value, reading, needed=f"true, false, or a number of bars from 1 to {MOST_BARS}")
        return None
    return whole(1, MOST_BARS, unit="bars")(node, reading)
