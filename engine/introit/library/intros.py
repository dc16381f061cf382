"""Intro files."""

from __future__ import annotations

import re
from collections.abc import Sequence

from introit.library.fields import Fields, Reader, choice, listing, prose, scalar, whole, word
from introit.library.figures import riff_for
from introit.library.harmony import MOST_BARS, harmony_for
from introit.library.model import Bar, Form, HeadDominant, Intro, Melody, PedalPoint
from introit.library.musical import head, meter, tempo, tempo_span
from introit.library.nodes import Mapping, Node
from introit.library.reading import Reading, shown
from introit.library.shelf import Shelf, named
from introit.theory.key import Mode
from introit.theory.meter import Meter

TEXTURES = ("block", "rolled")
MELODIES = ("line", "riff", "none")

_PEDAL = re.compile(r"[b#]?[1-7]")
_LINE = Melody("line")


def read_intro(name: str, node: Node | None, reading: Reading, shelf: Shelf) -> Intro | None:
    """The intro that a file describes, or None with its mistakes in `reading`."""
    fields = Fields(node, reading, what="an intro")
    fields.optional("kind", word, "")
    meters: tuple[Meter, ...] = fields.required("meters", listing(meter), ())
    intro = Intro(
        id=name,
        name=fields.required("name", word, ""),
        forms=fields.required("forms", _forms_in(meters), ()),
        meters=meters,
        tempo=fields.required("tempo", tempo_span, (0.0, 0.0)),
        feels=fields.required("feels", listing(named("feel", shelf)), ()),
        texture=fields.optional("texture", choice(TEXTURES), "block"),
        comping=fields.optional("comping", named("comping", shelf), None),
        bass=fields.optional("bass", named("bass", shelf), None),
        pedal=fields.optional("pedal", _pedal, None),
        melody=fields.optional("melody", _melody_in(meters), _LINE),
        stretch_above=fields.optional("stretch_above", tempo, None),
        halve_below=fields.optional("halve_below", tempo, None),
        why=fields.required("why", prose, ""),
    )
    fields.finish()
    _check_together(fields, intro, reading, shelf)
    return intro if reading.clean else None


def _forms_in(meters: Sequence[Meter]) -> Reader[tuple[Form, ...]]:
    def read(node: Node, reading: Reading) -> Form | None:
        before = len(reading.problems)
        fields = Fields(node, reading, what="a form")
        bars: tuple[Bar, ...] = fields.required("harmony", harmony_for(meters), ())
        form = Form(
            mode=Mode(fields.required("mode", choice([mode.value for mode in Mode]), Mode.MAJOR.value)),
            bars=bars,
            heads=fields.optional("heads", listing(head), ()),
            leads_to=fields.optional("leads_to", listing(head), ()),
        )
        fields.finish()
        if len(reading.problems) == before:
            _check_end(fields, form, reading)
        return form if len(reading.problems) == before else None

    return listing(read)


def _check_end(fields: Fields, form: Form, reading: Reading) -> None:
    """A form ends on H, or says which first chord its own last chord leads to."""
    ends_on_head = isinstance(form.bars[-1].slots[-1].chord, HeadDominant)
    if ends_on_head and form.leads_to:
        message = "a form that ends on H leads to any first chord; take leads_to out, or the H"
        reading.report(fields.place, "does-not-fit", message)
    if not ends_on_head and not form.leads_to:
        message = (
            "a form needs 'leads_to', the first chord that its last chord leads to, or H as its last chord"
        )
        reading.report(fields.place, "missing-key", message)


def _pedal(node: Node, reading: Reading) -> PedalPoint | None:
    value = scalar(node, reading, needed="a degree of the key, such as 5")
    if value is None:
        return None
    if _PEDAL.fullmatch(value.text):
        return PedalPoint(value.text)
    message = f"{shown(value.text)} is no degree of the key; allowed is 1 to 7, with b or # where altered"
    reading.report(value.place, "not-allowed", message)
    return None


def _melody_in(meters: Sequence[Meter]) -> Reader[Melody]:
    beats = min((one.beats for one in meters), default=4)

    def read(node: Node, reading: Reading) -> Melody | None:
        if not isinstance(node, Mapping):
            style = choice(("line", "none"))(node, reading)
            return None if style is None else Melody(style)
        fields = Fields(node, reading, what="a melody")
        melody = Melody(
            style=fields.required("style", choice(MELODIES), "riff"),
            riff=fields.optional("riff", riff_for(beats), ()),
            bars=fields.optional("bars", listing(whole(1, MOST_BARS)), ()),
        )
        fields.finish()
        if reading.clean and (melody.style == "riff") != fields.has("riff"):
            message = "style riff needs a `riff`, and no other style has one"
            reading.report(fields.place, "does-not-fit", message)
        return melody

    return read


def _check_together(fields: Fields, intro: Intro, reading: Reading, shelf: Shelf) -> None:
    """What each field allows by itself and the fields together do not."""
    if not reading.clean:
        return
    fast, slow = intro.stretch_above, intro.halve_below
    if fast is not None and slow is not None and slow >= fast:
        message = "halve_below must lie under stretch_above; no tempo can be both slow and fast"
        reading.report(fields.place_of("halve_below"), "does-not-fit", message)
    for feel in intro.feels:
        if not set(shelf.library.feels[feel].meters) & set(intro.meters):
            meters = ", ".join(map(str, shelf.library.feels[feel].meters))
            message = f"feel {feel!r} is felt in {meters}, in which this intro cannot be played"
            reading.report(fields.place_of("feels"), "does-not-fit", message)
