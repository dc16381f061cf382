"""What `introit show` has to show, as plain values: chords and what they do, tab, diagrams."""

from __future__ import annotations

from typing import Any

from introit.arrange.arranger import symbol_of
from introit.arrange.line_up import SEATS, LineUp
from introit.arrange.plan import Plan, PlannedChord
from introit.arrange.score import Score
from introit.export.diagram import Diagram, diagrams
from introit.library.model import Intro
from introit.performance import PARTS
from introit.theory.function import explain
from introit.theory.lesson import Placed, lesson
from introit.units import TICKS_PER_QUARTER


def line_up_to_show(intro: Intro, *words: str | None) -> str | None:
    """The first of these words that is given; else the intro's first line-up with a guitar, or None."""
    asked = next((word for word in words if word), None)
    return asked or next((word for word in intro.line_ups if has_guitar(word)), None)


def has_guitar(line_up: str) -> bool:
    """Whether the comp, or everything, lies on a guitar."""
    return SEATS[LineUp(line_up)].comp_on == "guitar"


def document(score: Score) -> dict[str, Any]:
    """Everything, for programs. Beats are counted from 1, frets from the capo."""
    plan = score.plan
    return {
        "id": plan.intro.id,
        "name": plan.intro.name,
        "key": str(plan.key),
        "meter": str(plan.meter),
        "tempo": plan.tempo,
        "feel": plan.tune.feel,
        "bars": plan.bars,
        "leads_to": str(plan.tune.first_chord),
        "difficulty": plan.intro.difficulty,
        "line_ups": list(plan.intro.line_ups),
        "passages": [{"from_bar": bar, "texture": texture} for bar, texture in textures(score)],
        "why": plan.intro.why,
        "chords": chord_rows(plan),
        "line_up": score.scene.stage.line_up.value,
        "seed": score.scene.seed,
        "strings": list(score.scene.stage.fretboard.tuning),
        "capo": score.scene.stage.fretboard.capo,
        "tab": _tab(score),
        "diagrams": [_place(plan, tick) | _diagram(diagram) for tick, diagram in diagrams(score)],
    }


def chord_rows(plan: Plan) -> list[dict[str, Any]]:
    """The chords in order, each with its place, names and tones, what it does, and a lesson."""
    return [_chord(plan, number) for number in range(len(plan.chords))]


def textures(score: Score) -> list[tuple[int, str]]:
    """The bar in which each passage begins, and its texture."""
    bar = score.plan.bar_ticks
    return [(passage.start // bar + 1, passage.texture) for passage in score.scene.passages]


def _chord(plan: Plan, number: int) -> dict[str, Any]:
    planned = plan.chords[number]
    last = number + 1 == len(plan.chords)
    following = plan.tune.first_chord if last else plan.chords[number + 1].numeral
    return _place(plan, planned.onset) | {
        "beats": planned.length / TICKS_PER_QUARTER,
        "symbol": symbol_of(planned),
        "numeral": str(planned.numeral),
        "tones": [str(tone.tone) for tone in planned.chord.required],
        "pedal_point": None if planned.pedal is None else str(planned.pedal),
        "does": explain(planned.numeral, plan.key, following),
        "lesson": lesson(
            _stands(planned), plan.key, _head(plan) if last else _stands(plan.chords[number + 1])
        ),
    }


def _stands(planned: PlannedChord) -> Placed:
    bass = planned.pedal or planned.chord.bass
    return Placed(planned.numeral, planned.chord, symbol_of(planned), bass)


def _head(plan: Plan) -> Placed:
    return Placed(plan.tune.first_chord, plan.head, plan.head.symbol, plan.head.bass)


def _place(plan: Plan, tick: int) -> dict[str, Any]:
    """Bar and beat; the head's downbeat is beat 1 of the bar behind the last."""
    bar, rest = divmod(tick, plan.bar_ticks)
    return {"bar": bar + 1, "beat": rest / TICKS_PER_QUARTER + 1}


def _tab(score: Score) -> list[dict[str, Any]]:
    return [
        _place(score.plan, note.onset)
        | {
            "beats": note.length / TICKS_PER_QUARTER,
            "part": PARTS[note.part],
            "pitch": note.pitch,
            "string": note.string,
            "fret": note.fret,
            "finger": note.finger or None,
        }
        for note in score.notes
        if note.string is not None
    ]


def _diagram(diagram: Diagram) -> dict[str, Any]:
    return {
        "symbol": diagram.symbol,
        "grip": str(diagram.grip),
        "first_fret": diagram.first_fret,
        "rows": diagram.rows,
        "dots": [dot._asdict() for dot in diagram.dots],
        "open_strings": list(diagram.open_strings),
        "muted": list(diagram.muted),
        "barre": diagram.barre._asdict() if diagram.barre else None,
    }
