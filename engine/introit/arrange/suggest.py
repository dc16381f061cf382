"""Which of the library's intros suits a tune, best first, and why: the one place that decides it.

Pure: intros, a tune, a key and what was played before go in; a ranking with its reasons comes out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from introit.arrange.form import (
    ArrangeError,
    choose_form,
    ends_on_head_dominant,
    first_chord,
    head_name,
    leads_there,
)
from introit.arrange.grid import Grid, lay_out
from introit.library.model import Form, Intro, Tune
from introit.theory.key import Key
from introit.theory.numeral import Numeral
from introit.theory.passage import NUMBERS


@dataclass(frozen=True, slots=True)
class Weight:
    """What one thing counts in the ranking.

    Attributes:
        points: from 0; added for what suits, taken away for `just played`.
        why: the reason for that many.
    """

    points: int
    why: str


WEIGHTS = {
    "feel": Weight(100, "an intro in another feel announces another tune: the first thing anyone hears"),
    "tempo": Weight(80, "outside its range an intro is crowded or drags, but it still says the right feel"),
    "near tempo": Weight(10, "just outside is better than far outside; a point less for each 2 % beyond"),
    "few feels": Weight(4, "made for this feel alone has more of its character; shared among all its feels"),
    "line-up": Weight(60, "an intro for one pair of hands is another thing than one for a band"),
    "own form": Weight(20, "a form written for this very first chord was composed as one thing with it"),
    "as written": Weight(18, "the end that the intro was made with leads there"),
    "head dominant": Weight(16, "made to lead anywhere: sure, and a little less particular"),
    "adapted end": Weight(0, "the last chord gives way: it leads there, and its own ending is lost"),
    "air": Weight(10, "the pickup is heard over one held chord; a change under it talks into the melody"),
    "too short": Weight(
        30,
        "taken away: under five seconds nobody has settled into a tempo; kept for when there is no time",
    ),
    "just played": Weight(
        135,
        "taken away: never the same one twice while another has the feel or the tempo, but one that has both "
        "comes again before any that has neither. Half as much for the one before it, and so on by halves",
    ),
}
"""What each thing counts. Common practice (no source); `tests/arrange` holds them to what they promise."""

SETTLED_SECONDS = 5.0
"""An intro this long has said its tempo (common practice, no source)."""

_SIGNS = {"b": "flat ", "#": "raised "}


@dataclass(frozen=True, slots=True)
class Suggestion:
    """An intro that can be played for a tune.

    Attributes:
        intro: the intro.
        score: points by `WEIGHTS`; higher suits better; it may be negative.
        reasons: a few words each, such as `made for medium swing`.
    """

    intro: Intro
    score: int
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Refusal:
    """An intro that cannot be played for a tune, and the reason in one sentence."""

    intro: Intro
    reason: str


def rank(
    intros: Iterable[Intro],
    tune: Tune,
    key: Key,
    *,
    after: Sequence[str] = (),
    line_up: str | None = None,
) -> list[Suggestion]:
    """The intros that can be played for a tune in a key, the most suitable first; equals by their ids.

    Args:
        intros: to choose from, in any order.
        tune: the tune; what its own file names as its intro counts for nothing here.
        key: the key that was called.
        after: ids of the intros played before, the latest last.
        line_up: who plays, by its word; None when unknown, then it counts for nothing.
    """
    fitting = []
    for intro in intros:
        try:
            form, grid = _laid_out(intro, tune, key)
        except ArrangeError:
            continue
        fitting.append(_weighed(intro, form, grid, tune=tune, key=key, after=after, line_up=line_up))
    return sorted(fitting, key=lambda suggestion: (-suggestion.score, suggestion.intro.id))


def refused(intros: Iterable[Intro], tune: Tune, key: Key) -> list[Refusal]:
    """The intros that `rank` leaves out, by their ids, each with what stands in its way."""
    found = []
    for intro in intros:
        try:
            _laid_out(intro, tune, key)
        except ArrangeError as error:
            found.append(Refusal(intro, str(error)))
    return sorted(found, key=lambda refusal: refusal.intro.id)


def _laid_out(intro: Intro, tune: Tune, key: Key) -> tuple[Form, Grid]:
    form = choose_form(intro, tune, key)
    return form, lay_out(intro, form, meter=tune.meter, tempo=tune.tempo)


def _weighed(
    intro: Intro,
    form: Form,
    grid: Grid,
    *,
    tune: Tune,
    key: Key,
    after: Sequence[str],
    line_up: str | None,
) -> Suggestion:
    parts = (
        _feel(intro, tune),
        _ending(form, first_chord(tune, key.mode)),
        _tempo(intro, tune),
        _line_up(intro, line_up),
        _air(grid, tune),
        _length(grid, tune),
        _played(intro, after),
    )
    return Suggestion(
        intro,
        score=sum(points for points, _ in parts),
        reasons=tuple(reason for _, reason in parts if reason),
    )


def _length(grid: Grid, tune: Tune) -> tuple[int, str]:
    seconds = grid.bars * tune.meter.beats * 60 / tune.tempo
    if seconds >= SETTLED_SECONDS:
        return 0, ""
    return -_points("too short"), f"short: {grid.bars} bar{'' if grid.bars == 1 else 's'}"


def _feel(intro: Intro, tune: Tune) -> tuple[int, str]:
    name = tune.feel.replace("-", " ")
    if tune.feel not in intro.feels:
        return 0, f"not made for {name}"
    return _points("feel") + _points("few feels") // len(intro.feels), f"made for {name}"


def _ending(form: Form, first: Numeral) -> tuple[int, str]:
    """How the form comes to the head's first chord."""
    head = head_name(first)
    place = _spoken(first)
    if not leads_there(form, head):
        return _points("adapted end"), f"adapts its end to {place}"
    if head in form.heads:
        return _points("own form"), f"has a form of its own for {place}"
    if ends_on_head_dominant(form):
        return _points("head dominant"), f"ends on a dominant of {place}"
    return _points("as written"), f"leads to {place} as written"


def _tempo(intro: Intro, tune: Tune) -> tuple[int, str]:
    low, high = intro.tempo
    span = f"its {low:g}-{high:g}"
    if low <= tune.tempo <= high:
        return _points("tempo"), f"{tune.tempo:g} lies in {span}"
    bound, where = (low, "below") if tune.tempo < low else (high, "above")
    percent = int(100 * abs(tune.tempo - bound) / bound)
    return max(0, _points("near tempo") - percent // 2), f"{tune.tempo:g} is {where} {span}"


def _line_up(intro: Intro, line_up: str | None) -> tuple[int, str]:
    """Whether it is for who plays; said only where it is not, or where it is for nobody else."""
    if line_up is None:
        return 0, ""
    if line_up not in intro.line_ups:
        return 0, f"not made for {line_up}"
    return _points("line-up"), f"made for {line_up}" if len(intro.line_ups) == 1 else ""


def _air(grid: Grid, tune: Tune) -> tuple[int, str]:
    """Whether the last chord sounds from the pickup's first note on; no pickup, no points, no words."""
    if not tune.pickup:
        return 0, ""
    if grid.chords[-1].beats >= tune.pickup:
        return _points("air"), "last chord holds under the pickup"
    return 0, "chords change under the pickup"


def _played(intro: Intro, after: Sequence[str]) -> tuple[int, str]:
    """The loss of an intro that was played before, by how many intros ago; its latest time counts."""
    ago = next((ago for ago, name in enumerate(reversed(after)) if name == intro.id), None)
    if ago is None:
        return 0, ""
    reason = "played just before" if ago == 0 else f"played {ago + 1} intros ago"
    return -(_points("just played") >> ago), reason


def _spoken(chord: Numeral) -> str:
    """Where a chord stands, as it is said: `two`, `flat six`; an applied one as it is written."""
    name = head_name(chord)
    if chord.applied is not None:
        return name
    return "".join(_SIGNS.get(sign, "") for sign in name) + NUMBERS[chord.degree - 1]


def _points(name: str) -> int:
    return WEIGHTS[name].points
