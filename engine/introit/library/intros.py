"""Intro files."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from introit.library.fields import Fields, Reader, choice, listing, prose, whole, word
from introit.library.harmony import MOST_BARS, harmony_for
from introit.library.model import Bar, Form, HeadDominant, Intro, Melody, Passage, PedalPoint
from introit.library.motifs import melody_in
from introit.library.musical import head, key_degree, meter, tempo, tempo_span
from introit.library.naming import named
from introit.library.nodes import Node, Scalar
from introit.library.reading import Reading
from introit.library.shelf import Shelf
from introit.theory.key import Mode
from introit.theory.meter import Meter

TEXTURES = (
    "block",
    "rolled",
    "broken",
    "bell",
    "inner line",
    "two-hand",
    "harmonised arpeggio",
    "call and response",
    "common tone",
)
MOVES = ("nine to one", "falling root", "thirteen to flat thirteen")
LINE_UPS = ("solo guitar", "with bass", "with keys", "trio")
LAST = "last"
EASIEST, HARDEST = 1, 5

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
        passages=_passages(fields, reading, shelf),
        line_ups=fields.optional("line_ups", listing(choice(LINE_UPS)), LINE_UPS),
        difficulty=fields.optional("difficulty", whole(EASIEST, HARDEST), 2),
        comping=fields.optional("comping", named("comping", shelf), None),
        bass=fields.optional("bass", named("bass", shelf), None),
        pedal=fields.optional("pedal", _pedal, None),
        melody=fields.optional("melody", melody_in(meters), _LINE),
        stretch_above=fields.optional("stretch_above", tempo, None),
        halve_below=fields.optional("halve_below", tempo, None),
        why=fields.required("why", prose, ""),
    )
    fields.finish()
    _check_together(fields, intro, reading, shelf)
    return intro if reading.clean else None


def _passages(fields: Fields, reading: Reading, shelf: Shelf) -> tuple[Passage, ...]:
    """The textures: one word for all bars, or passages that each begin in a bar."""
    texture = fields.optional("texture", choice(TEXTURES), "block")
    passages: tuple[Passage, ...] = fields.optional("passages", listing(_passage_on(shelf)), ())
    if passages and fields.has("texture"):
        message = "an intro has one `texture` or several `passages`, not both"
        reading.report(fields.place_of("texture"), "does-not-fit", message)
    if not passages:
        return (Passage(1, texture),)
    starts = [passage.start for passage in passages]
    order = [MOST_BARS + 1 if start < 0 else start for start in starts]
    if order[0] != 1 or any(late <= early for early, late in pairwise(order)):
        message = "passages begin in bar 1 and follow each other; `from: last` can only be the last of them"
        reading.report(fields.place_of("passages"), "does-not-fit", message)
    return passages


def _passage_on(shelf: Shelf) -> Reader[Passage]:
    def read(node: Node, reading: Reading) -> Passage | None:
        before = len(reading.problems)
        fields = Fields(node, reading, what="a passage")
        passage = Passage(
            start=fields.required("from", _bar, 1),
            texture=fields.required("texture", choice(TEXTURES), "block"),
            comping=fields.optional("comping", named("comping", shelf), None),
            bass=fields.optional("bass", named("bass", shelf), None),
            top=fields.optional("top", key_degree, None),
            moves=fields.optional("moves", choice(MOVES), None),
        )
        for key, texture in (("top", "common tone"), ("moves", "inner line")):
            if fields.has(key) and passage.texture != texture:
                message = f"`{key}` belongs to the texture {texture!r}; this one is {passage.texture!r}"
                reading.report(fields.place_of(key), "does-not-fit", message)
        fields.finish()
        return passage if len(reading.problems) == before else None

    return read


def _bar(node: Node, reading: Reading) -> int | None:
    """A bar of the form from 1, or `last`, which is -1."""
    if isinstance(node, Scalar) and node.text == LAST:
        return -1
    return whole(1, MOST_BARS)(node, reading)


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
    degree = key_degree(node, reading)
    return None if degree is None else PedalPoint(degree)


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
