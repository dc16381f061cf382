"""Chord diagrams against the notes that they stand for, over the whole library.

A pitch is reckoned here by itself: the open string (E2 A2 D3 G3 B3 E4: Radicioni and Lombardo 2005, figure 1)
plus one half step a fret.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from itertools import groupby, pairwise

import pytest

from introit.arrange.line_up import LineUp
from introit.arrange.score import COMP, MELODY, Score, ScoreNote, Touch
from introit.export.diagram import Barre, Diagram, Dot, diagrams
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.holding import hand_on

OPEN = {6: 40, 5: 45, 4: 50, 3: 55, 2: 59, 1: 64}


def spans(score: Score) -> Iterator[tuple[int, int, Diagram]]:
    """Each diagram with the ticks from which and up to which it is the one to look at."""
    told = diagrams(score)
    ends = [*(tick for tick, _ in told[1:]), score.plan.head_tick + 1][: len(told)]
    for (tick, diagram), end in zip(told, ends, strict=True):
        yield tick, end, diagram


def sounding_places(diagram: Diagram) -> set[tuple[int, int]]:
    return {(dot.string, dot.fret) for dot in diagram.dots} | {(string, 0) for string in diagram.open_strings}


def on_guitar(score: Score) -> list[ScoreNote]:
    return [note for note in score.notes if note.string is not None and note.touch is not Touch.ORNAMENT]


def _begins(note: ScoreNote) -> tuple[int, int]:
    """When, and with which chord: a pushed melody note may begin with the last voice of the chord before."""
    return note.onset, note.harmony_tick


def struck_together(score: Score) -> Iterator[list[ScoreNote]]:
    """Notes that begin together, three or more, with at least one of the comp among them."""
    for _, group in groupby(sorted(on_guitar(score), key=_begins), key=_begins):
        notes = list(group)
        if len(notes) > 2 and COMP in {note.part for note in notes}:
            yield notes


def test_every_dot_is_a_note_that_sounds_there(scores: Mapping[object, Score]) -> None:
    seen = 0
    for name, score in scores.items():
        for tick, end, diagram in spans(score):
            heard = {
                (note.string, note.fret): note.pitch
                for note in on_guitar(score)
                if tick <= note.onset < end or note.onset <= tick < note.end
            }
            begin = {(note.string, note.fret) for note in on_guitar(score) if note.onset == tick}
            places = sounding_places(diagram)
            assert places & begin, (name, tick, "nothing of it begins there")
            for string, fret in places:
                assert heard.get((string, fret)) == OPEN[string] + fret, (name, tick, string, fret)
                seen += 1
            fingered = {
                (note.string, note.fret, note.finger)
                for note in on_guitar(score)
                if tick <= note.onset < end or note.onset <= tick < note.end
            }
            assert {tuple(dot) for dot in diagram.dots} <= fingered, (name, tick)
    assert seen > 5000


def test_every_grip_that_is_struck_is_in_the_diagram_of_its_time(scores: Mapping[object, Score]) -> None:
    seen = 0
    for name, score in scores.items():
        stretches = list(spans(score))
        for notes in struck_together(score) if stretches else ():
            onset = notes[0].onset
            current = next((d for tick, end, d in stretches if tick <= onset < end), None)
            assert current is not None, (name, onset)
            pitches = {OPEN[string] + fret for string, fret in sounding_places(current)}
            assert {note.pitch for note in notes if note.part != MELODY} <= pitches, (name, onset)
            seen += 1
    assert seen > 2000


def test_a_diagram_can_be_held_and_every_string_is_told_once(scores: Mapping[object, Score]) -> None:
    hand = hand_on(Fretboard())
    for name, score in scores.items():
        for _, diagram in diagrams(score):
            strings = [dot.string for dot in diagram.dots] + [*diagram.open_strings, *diagram.muted]
            assert sorted(strings) == [1, 2, 3, 4, 5, 6], (name, diagram)
            assert all(
                diagram.first_fret <= dot.fret < diagram.first_fret + diagram.rows for dot in diagram.dots
            )
            assert isinstance(hand.hold(diagram.grip), Fingering), (name, str(diagram.grip))


def test_a_barre_is_one_finger_over_strings_that_all_sound_as_high(scores: Mapping[object, Score]) -> None:
    seen = 0
    for name, score in scores.items():
        for _, diagram in diagrams(score):
            of_finger: dict[int | None, list[Dot]] = {}
            for dot in diagram.dots:
                of_finger.setdefault(dot.finger, []).append(dot)
            flat = {finger: dots for finger, dots in of_finger.items() if len(dots) > 1}
            assert None not in flat
            assert (diagram.barre is not None) == bool(flat), (name, diagram)
            if diagram.barre is None:
                continue
            fret, lowest, highest = diagram.barre
            dots = flat[min(finger or 0 for finger in flat)]
            assert {dot.fret for dot in dots} == {fret}
            assert (lowest, highest) == (max(d.string for d in dots), min(d.string for d in dots))
            under = [fret_ for string, fret_ in sounding_places(diagram) if highest <= string <= lowest]
            assert min(under) == fret, (name, diagram)
            seen += 1
    assert seen > 100


def test_diagrams_are_in_order_and_none_follows_itself(scores: Mapping[object, Score]) -> None:
    for name, score in scores.items():
        told = diagrams(score)
        assert all(one < other for (one, _), (other, _) in pairwise(told)), name
        assert all(one != other for (_, one), (_, other) in pairwise(told)), name


def test_a_comp_on_keys_has_no_diagrams_and_a_guitar_has(
    scores: Mapping[tuple[str, str, str], Score],
) -> None:
    for called, score in scores.items():
        keys = score.scene.stage.line_up is LineUp.WITH_KEYS
        has_grips = any(note.part == COMP for note in on_guitar(score))
        assert bool(diagrams(score)) == has_grips != keys, called


def test_a_capo_is_the_nut(arranged: Callable[..., Score]) -> None:
    """Frets are counted from the capo, where the strings sound a whole step higher."""
    score = arranged("verse-for-one-guitar", "F", neck=Fretboard(capo=2, highest_fret=22))
    told = list(spans(score))
    for tick, end, diagram in told:
        heard = {n.pitch for n in on_guitar(score) if tick <= n.onset < end or n.onset <= tick < n.end}
        assert {OPEN[string] + 2 + fret for string, fret in sounding_places(diagram)} <= heard
    assert any(diagram.open_strings for _, _, diagram in told)


def test_a_seventh_string_is_drawn_too(arranged: Callable[..., Score]) -> None:
    neck = Fretboard(tuning=(35, 40, 45, 50, 55, 59, 64))
    told = diagrams(arranged("one-six-two-five", "Eb", neck=neck))
    for _, diagram in told:
        strings = [dot.string for dot in diagram.dots] + [*diagram.open_strings, *diagram.muted]
        assert sorted(strings) == [1, 2, 3, 4, 5, 6, 7]
        assert diagram.strings == 7


def grip_of(score: Score, *notes: ScoreNote) -> tuple[tuple[int, Diagram], ...]:
    return diagrams(replace(score, notes=tuple(sorted(notes))))


def note(onset: int, string: int, fret: int, finger: int, **fields: int) -> ScoreNote:
    plain = {"length": 960, "harmony_tick": 0, "part": COMP, "touch": Touch.STRUCK} | fields
    return ScoreNote(
        onset,
        pitch=OPEN[string] + fret,
        string=string,
        fret=fret,
        finger=finger,
        **plain,  # type: ignore[arg-type]
    )


@pytest.fixture
def score(arranged: Callable[..., Score]) -> Score:
    return arranged("three-six-two-five", "Eb")


def test_a_grip_by_hand(score: Score) -> None:
    """The small F of every chord book, the index flat over strings 2 and 1 (no source)."""
    f = [note(0, 4, 3, 3), note(0, 3, 2, 2), note(0, 2, 1, 1), note(0, 1, 1, 1)]
    ((tick, diagram),) = grip_of(score, *f)
    assert (tick, diagram.first_fret, diagram.rows) == (0, 1, 4)
    assert str(diagram.grip) == "xx3211"
    assert diagram.muted == (5, 6)
    assert diagram.barre == Barre(1, lowest=2, highest=1)


def test_an_open_string_has_no_dot_and_a_high_grip_no_nut(score: Score) -> None:
    ((_, diagram),) = grip_of(score, note(0, 3, 0, 0), note(0, 2, 8, 2), note(0, 4, 7, 1))
    assert diagram.open_strings == (3,)
    assert (diagram.first_fret, diagram.dots) == (7, (Dot(2, 8, 2), Dot(4, 7, 1)))


def test_a_broken_chord_is_one_grip_and_a_moved_voice_a_new_one(score: Score) -> None:
    broken = [note(0, 4, 5, 3), note(240, 3, 5, 4), note(480, 2, 3, 1)]
    moved = [note(960, 4, 4, 2)]
    told = grip_of(score, *broken, *moved)
    assert [(tick, str(diagram.grip)) for tick, diagram in told] == [(0, "xx553x"), (960, "xx453x")]


def test_a_line_of_single_notes_is_no_grip(score: Score) -> None:
    line = [note(240 * step, 4 - step, 3, 2, length=240) for step in range(3)]
    assert grip_of(score, *line) == ()


def test_pairs_over_a_shell_are_a_line_and_a_shell_alone_is_a_grip(score: Score) -> None:
    shell = [note(0, 4, 5, 1, length=480), note(0, 3, 5, 1, length=480)]
    pairs = [note(at, string, fret, 1, length=480) for at, fret in ((480, 8), (960, 10)) for string in (1, 2)]
    assert [str(diagram.grip) for _, diagram in grip_of(score, *shell, *pairs)] == ["xx55xx"]
    full = [note(0, 2, 5, 1, length=480), *shell]
    assert [str(diagram.grip) for _, diagram in grip_of(score, *pairs, *full)] == ["xx555x"]


def test_a_part_of_the_grip_before_is_not_told_again(score: Score) -> None:
    full = [note(0, 4, 5, 3), note(0, 3, 5, 4), note(0, 2, 3, 1)]
    again = [note(960, 4, 5, 3), note(960, 3, 5, 4)]
    assert len(grip_of(score, *full, *again)) == 1


def test_the_melody_is_in_the_grip_only_where_it_begins_with_it(score: Score) -> None:
    full = [note(0, 4, 5, 3), note(0, 3, 5, 4)]
    with_it, later = note(0, 1, 3, 1, part=MELODY), note(480, 1, 3, 1, part=MELODY)
    assert str(grip_of(score, *full, with_it)[0][1].grip) == "xx55x3"
    assert str(grip_of(score, *full, later)[0][1].grip) == "xx55xx"


def test_another_finger_on_the_same_fret_makes_no_new_grip(score: Score) -> None:
    full = [note(0, 4, 5, 1), note(0, 3, 7, 3), note(0, 2, 8, 4)]
    again = [note(960, 4, 5, 1), note(960, 3, 7, 2), note(960, 2, 8, 4)]
    assert grip_of(score, *full, *again) == grip_of(score, *full)


def test_a_finger_that_leaves_for_the_melody_makes_no_new_grip(score: Score) -> None:
    full = [note(0, 4, 5, 1), note(0, 3, 7, 3), note(0, 1, 8, 4, part=MELODY)]
    again = [note(960, 4, 5, 1), note(960, 3, 7, 3), note(960, 1, 7, 4, part=MELODY)]
    assert [str(diagram.grip) for _, diagram in grip_of(score, *full, *again)] == ["xx57x8"]


def test_a_grace_grip_is_in_none(score: Score) -> None:
    grace = [note(0, 4, 4, 3, touch=Touch.ORNAMENT), note(0, 3, 4, 4, touch=Touch.ORNAMENT)]
    struck = [note(60, 4, 5, 3), note(60, 3, 5, 4)]
    assert [str(diagram.grip) for _, diagram in grip_of(score, *grace, *struck)] == ["xx55xx"]
