"""Files of the rhythm section: comping rhythms, bass manners and feels."""

from __future__ import annotations

from introit.library.fields import Fields, Reader, choice, flag, listing, number, report_repeated, whole, word
from introit.library.figures import BassFigure, hits_for, steps_for
from introit.library.light_time import light_time
from introit.library.model import BassManner, CompingRhythm, Feel
from introit.library.musical import FOUR_FOUR, meter, tempo, tempo_span
from introit.library.naming import named
from introit.library.nodes import Mapping, Node
from introit.library.reading import Reading
from introit.library.shelf import Shelf
from introit.performance import PLAYED_PARTS
from introit.units import TEMPO_MIN

SWUNG = ("ride", "comp", "line")
"""What can swing, each by a ratio of its own."""
MOST_SWING = 3.5
"""The highest ratio of long to short eighth reported for any player (Friberg & Sundstroem 1997)."""
USUAL_VELOCITY = 72
ANSWERING = "answering"
FILLS = (ANSWERING,)
"""How a bass may fill what its steps leave open: in the gaps that the comping leaves."""
STRUM_MS = (8, 25)
ROLL_MS = (30, 70)
"""Milliseconds from string to string, least and most, of a strummed and of a rolled chord. Common practice,
no source."""
USUAL_ROLL_MS = 45.0
MOST_DRIFT_MS = 8
"""Players in time together stay well within 19 ms of each other (Hofmann et al. 2017); 8 ms as the standard
deviation of each is ours."""
LAST_BAR = ("lets go", "digs in")
ORNAMENTS = ("grace", "slide")
"""A grace note into a long note of the melody; a grip slid in from a half step below."""

SwingPoints = tuple[tuple[float, float], ...]


def read_comping(name: str, node: Node | None, reading: Reading, shelf: Shelf) -> CompingRhythm | None:
    """The comping rhythm that a file describes, or None with its mistakes in `reading`."""
    fields = Fields(node, reading, what="a comping rhythm")
    fields.optional("kind", word, "")
    beats = fields.required("meter", meter, FOUR_FOUR)
    rhythm = CompingRhythm(
        id=name,
        name=fields.required("name", word, ""),
        meters=(beats,),
        bars=fields.required("rhythm", hits_for(beats.beats), ()),
        steady=fields.optional("steady", flag, default=False),
    )
    fields.finish()
    return rhythm if reading.clean else None


def read_bass(name: str, node: Node | None, reading: Reading, shelf: Shelf) -> BassManner | None:
    """The bass manner that a file describes, or None with its mistakes in `reading`."""
    fields = Fields(node, reading, what="a bass manner")
    fields.optional("kind", word, "")
    beats = fields.required("meter", meter, FOUR_FOUR)
    title = fields.required("name", word, "")
    figure = fields.required("steps", steps_for(beats.beats), BassFigure(1, ()))
    fill = fields.optional("fill", choice(FILLS), "")
    manner = BassManner(name, title, (beats,), figure.steps, bars=figure.bars, answering=fill == ANSWERING)
    fields.finish()
    return manner if reading.clean else None


def read_feel(name: str, node: Node | None, reading: Reading, shelf: Shelf) -> Feel | None:
    """The feel that a file describes, or None with its mistakes in `reading`."""
    fields = Fields(node, reading, what="a feel")
    fields.optional("kind", word, "")
    feel = Feel(
        id=name,
        name=fields.required("name", word, ""),
        meters=fields.required("meters", listing(meter), ()),
        tempo=fields.required("tempo", tempo_span, (0.0, 0.0)),
        typical_tempo=fields.required("typical_tempo", tempo, 0.0),
        swing=fields.optional("swing", _swing, _even()),
        comping=fields.required("comping", listing(named("comping", shelf)), ()),
        bass=fields.required("bass", listing(named("bass", shelf)), ()),
        velocity=fields.optional("velocity", _velocity, _usual_velocity()),
        strum_ms=fields.optional("strum_ms", _strum, 0.0),
        late_line_ms=fields.optional("late_line_ms", number(0, 60, unit="ms"), 0.0),
        drift_ms=fields.optional("drift_ms", number(0, MOST_DRIFT_MS, unit="ms"), 0.0),
        roll_ms=fields.optional("roll_ms", number(*ROLL_MS, unit="ms"), USUAL_ROLL_MS),
        last_bar=fields.optional("last_bar", choice(LAST_BAR), LAST_BAR[0]),
        ornaments=fields.optional("ornaments", listing(choice(ORNAMENTS)), ()),
        time=fields.optional("time", light_time, {}),
    )
    fields.finish()
    if reading.clean:
        _check_together(fields, feel, reading, shelf)
    return feel if reading.clean else None


def _check_together(fields: Fields, feel: Feel, reading: Reading, shelf: Shelf) -> None:
    low, high = feel.tempo
    if not low <= feel.typical_tempo <= high:
        message = f"typical_tempo {feel.typical_tempo:g} lies outside the feel's tempo, {low:g} to {high:g}"
        reading.report(fields.place_of("typical_tempo"), "out-of-range", message)
    for beats in feel.meters:
        for kind, names in (("comping", feel.comping), ("bass", feel.bass)):
            if not any(beats in shelf.of(kind)[one].meters for one in names):
                message = f"no {kind} named here is in {beats}, which is one of the feel's meters"
                reading.report(fields.place_of(kind), "does-not-fit", message)
    for beats in feel.time:
        if beats not in feel.meters:
            message = f"light time in {beats}, which is none of the feel's meters"
            reading.report(fields.place_of("time"), "does-not-fit", message)


def _strum(node: Node, reading: Reading) -> float | None:
    """0 for fingers, or a strum's milliseconds: between the two lies what no hand does on purpose."""
    low, high = STRUM_MS
    found = number(0, high, unit="ms")(node, reading)
    if found is not None and 0 < found < low:
        message = f"{found:g} is out of range; allowed is 0 (plucked together), or {low} to {high} ms"
        reading.report(node.place, "out-of-range", message)
        return None
    return found


def _even() -> dict[str, SwingPoints]:
    return {who: ((float(TEMPO_MIN), 1.0),) for who in SWUNG}


def _swing(node: Node, reading: Reading) -> dict[str, SwingPoints] | None:
    """Ratios by tempo for ride, comp and line; who is left out plays even."""
    fields = Fields(node, reading, what="swing")
    even = _even()
    swing = {who: fields.optional(who, _points, even[who]) for who in SWUNG}
    fields.finish()
    return swing


def _points(node: Node, reading: Reading) -> SwingPoints | None:
    """A block of `tempo: ratio`, or one ratio for every tempo."""
    ratio: Reader[float] = number(1, MOST_SWING)
    if not isinstance(node, Mapping):
        value = ratio(node, reading)
        return None if value is None else ((float(TEMPO_MIN), value),)
    report_repeated(node, reading)
    pairs = [(tempo(key, reading), ratio(value, reading)) for key, value in node.entries]
    points = sorted((at, value) for at, value in pairs if at is not None and value is not None)
    return tuple(points) if points and len(points) == len(pairs) else None


def _usual_velocity() -> dict[str, int]:
    return dict.fromkeys(PLAYED_PARTS, USUAL_VELOCITY)


def _velocity(node: Node, reading: Reading) -> dict[str, int] | None:
    """Velocities by part; a part left out gets the usual one."""
    fields = Fields(node, reading, what="velocity")
    velocity = {part: fields.optional(part, whole(1, 127), USUAL_VELOCITY) for part in PLAYED_PARTS}
    fields.finish()
    return velocity
