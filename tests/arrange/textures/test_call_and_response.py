"""Call and response: accents of the comp only in the figure's gap, two or three, the last one closing.

That the comp keeps less busy than the line, and that a push takes the coming chord: [CP2], [CP7].
The figures are common practice (no source).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from introit.arrange.arranger import arrange
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro
from introit.arrange.score import COMP, MELODY, Score, ScoreNote, Touch
from introit.arrange.textures import TEXTURES, silences_motif
from introit.arrange.textures.members import members
from introit.library.model import Library, Melody, MotifNote, Passage

KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
BEAT, EIGHTH, BAR = 960, 480, 3840
FORMS = ("ii9 | V13 | Imaj9 | VI7 | ii9 | H", "Imaj9 vi7 | ii9 V7 | iii7 VI7 | ii7 H")

LayOut = Callable[..., Any]


def bar_of(notes: list[ScoreNote], part: int, start: int, long: int = BAR) -> list[ScoreNote]:
    return sorted(note for note in notes if note.part == part and start <= note.onset < start + long)


def calling_bars(notes: list[ScoreNote], bars: int) -> list[int]:
    """Starts of the bars with a figure, the last bar apart."""
    return [start for start in range(0, (bars - 1) * BAR, BAR) if bar_of(notes, MELODY, start)]


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("line_up", ["with keys", "with bass", "solo guitar"])
@pytest.mark.parametrize("form", FORMS)
def test_the_comp_answers_in_the_gap_two_or_three_times_and_closes(
    lay_out: LayOut, key: str, line_up: str, form: str
) -> None:
    played = lay_out("call and response", form, key=key, line_up=line_up)
    bars = played.scene.plan.bars
    assert len(calling_bars(played.notes, bars)) >= 3
    for start in calling_bars(played.notes, bars):
        call = bar_of(played.notes, MELODY, start)
        answer = bar_of(played.notes, COMP, start)
        onsets = sorted({note.onset for note in answer})
        assert len(call) in {3, 4}
        assert call[0].onset - start <= EIGHTH
        assert onsets[0] >= max(note.end for note in call)
        assert len(onsets) in {2, 3}
        closing = [note for note in answer if note.onset == onsets[-1]]
        assert onsets[-1] - start in {3 * BEAT, 3 * BEAT + EIGHTH}
        assert all(note.accent and note.length <= EIGHTH for note in closing)
        assert not any(note.accent for note in answer if note.onset < onsets[-1])


def test_a_closing_push_sounds_the_coming_chord(lay_out: LayOut) -> None:
    pushed = 0
    for seed in range(12):
        played = lay_out("call and response", FORMS[0], line_up="with keys", seed=seed)
        for note in played.notes:
            early = note.onset < note.harmony_tick
            pushed += early
            assert early == (note.part == COMP and note.onset % BAR == BAR - EIGHTH)
            assert not early or note.end == note.harmony_tick
    assert pushed > 0


def test_no_push_in_a_ballad(lay_out: LayOut) -> None:
    for seed in range(8):
        played = lay_out("call and response", FORMS[0], line_up="with keys", feel="ballad", seed=seed)
        assert all(note.onset >= note.harmony_tick for note in played.notes)


@pytest.mark.parametrize("key", KEYS)
def test_the_call_is_made_of_chord_members_and_comes_back_with_another_end(lay_out: LayOut, key: str) -> None:
    played = lay_out(
        "call and response", "Imaj9 | Imaj9 | Imaj9 | ii9 | V13 | H", key=key, line_up="with keys"
    )
    for note in played.notes:
        if note.part == MELODY:
            chord = played.scene.chord_of(played.scene.unit_at(note.onset)).chord
            assert note.pitch % 12 in members(chord)
    first, second, third = (bar_of(played.notes, MELODY, bar * BAR) for bar in range(3))
    assert [note.onset for note in first] == [note.onset - BAR for note in second]
    assert [note.pitch for note in first[:-1]] == [note.pitch for note in second[:-1]]
    assert first[-1].pitch != second[-1].pitch
    assert [note.pitch for note in third] == [note.pitch for note in first]


def test_the_dice_change_the_answer_and_leave_the_call(lay_out: LayOut) -> None:
    calls, answers = set(), set()
    for seed in range(8):
        notes = lay_out("call and response", FORMS[0], line_up="with keys", seed=seed).notes
        calls.add(tuple((note.onset, note.pitch) for note in sorted(notes) if note.part == MELODY))
        answers.add(tuple((note.onset, note.end) for note in sorted(notes) if note.part == COMP))
    assert len(calls) == 1
    assert len(answers) > 3


def _said(score: Score) -> list[tuple[int, int]]:
    """Ends and pitches of the melody: a grace note takes a little off the head of the note after it."""
    return [
        (note.end, note.pitch)
        for note in score.notes
        if note.part == MELODY and note.touch is not Touch.ORNAMENT
    ]


def test_the_motif_calls_where_an_intro_has_one(shipped: Library, make: Any) -> None:
    motifs = [intro for intro in shipped.intros.values() if intro.melody.has_motif]
    assert motifs
    assert not silences_motif("call and response")
    assert silences_motif("two-hand")
    heard = 0
    for motif in motifs:
        intro = replace(motif, passages=(Passage(1, "call and response"),))
        feel = next(one for one in intro.feels if intro.meters[0] in shipped.feels[one].meters)
        first = next((head for form in intro.forms for head in form.leads_to), "I")
        key = "C minor" if intro.forms[0].mode.value == "minor" else "C"
        tune = make.tune(key, first, meter=intro.meters[0], tempo=sum(intro.tempo) / 2, feel=feel)
        block = replace(motif, passages=(Passage(1, "block"),))
        score, plain = (
            arrange(plan_intro(one, tune, tune.key), shipped) for one in (intro, block)
        )  # fmt: skip
        said, as_written = (_said(one) for one in (score, plain))
        assert said
        assert said == as_written
        last_bar = score.plan.head_tick - score.plan.bar_ticks
        for note in score.notes:
            if note.part == COMP and note.onset < last_bar:
                sounding = [
                    one for one in score.notes if one.part == MELODY and one.onset <= note.onset < one.end
                ]
                assert not sounding
                heard += 1
    assert heard > 10


def test_a_plain_line_gives_way_to_the_call(make: Any, plain_shelf: Library) -> None:
    intro = make.intro(
        make.form(FORMS[0]), passages=(Passage(1, "call and response"),), melody=Melody("line")
    )
    tune = make.tune("C")
    score = arrange(plan_intro(intro, tune, tune.key), plain_shelf)
    silent = make.intro(
        make.form(FORMS[0]), passages=(Passage(1, "call and response"),), melody=Melody("none")
    )
    same = arrange(plan_intro(silent, tune, tune.key), plain_shelf)
    assert TEXTURES["call and response"].sings
    assert [note for note in score.notes if note.part == MELODY] == [
        note for note in same.notes if note.part == MELODY
    ]


@pytest.mark.parametrize("tempo", [240.0])
def test_when_it_is_fast_call_and_answer_take_a_bar_each(lay_out: LayOut, tempo: float) -> None:
    played = lay_out("call and response", FORMS[0], line_up="with keys", tempo=tempo)
    assert all(note.onset % BEAT == 0 for note in played.notes)
    call = bar_of(played.notes, MELODY, 0, 2 * BAR)
    answer = sorted({note.onset for note in bar_of(played.notes, COMP, 0, 2 * BAR)})
    assert len(call) == 3
    assert call[-1].end <= answer[0]
    assert len(answer) in {2, 3}


def lengths_of(notes: list[ScoreNote]) -> list[float]:
    """In beats, of the comp's hits."""
    ends: dict[int, int] = {}
    for note in notes:
        if note.part == COMP:
            ends[note.onset] = max(note.end, ends.get(note.onset, 0))
    return [(end - onset) / BEAT for onset, end in sorted(ends.items())]


LONG = " | ".join(["Imaj7", "vi7", "ii7", "V7"] * 2)


@pytest.mark.parametrize("meter", [0, 1, 2])
@pytest.mark.parametrize("end", ["3/2", "2", "5/2"])
def test_answers_are_short_and_held_vary_and_breathe(
    make: Any, shipped: Library, meter: int, end: str
) -> None:
    """Three in ten short, three in ten held; no rhythm three times running; one bar of four with one hit."""
    from_the_off_beat = MotifNote(0, Fraction(1, 2), "3", Fraction(end) - Fraction(1, 2))
    called = Melody("motif", (from_the_off_beat,), bars=tuple(range(1, 8)))
    intro = make.intro(make.form(LONG), passages=(Passage(1, "call and response"),), melody=called)
    feel = ("medium-swing", "jazz-waltz", "five-four-swing")[meter]
    for seed in range(3):
        tune = make.tune("C", meter=make.meters[meter], feel=feel)
        score = arrange(plan_intro(intro, tune, tune.key), shipped, seed=seed)
        lengths = lengths_of(list(score.notes))
        assert sum(length <= 0.75 for length in lengths) >= 0.3 * len(lengths), lengths
        assert sum(length >= 1 for length in lengths) >= 0.3 * len(lengths), lengths
        bar_ticks = score.plan.bar_ticks
        rhythms = [
            tuple(
                sorted({note.onset % bar_ticks for note in bar_of(list(score.notes), COMP, start, bar_ticks)})
            )
            for start in range(0, score.plan.head_tick, bar_ticks)
        ]
        assert len(rhythms) == 8
        assert all(not rhythms[first] or len(set(rhythms[first : first + 3])) > 1 for first in range(6))
        assert all(min(map(len, rhythms[first : first + 4])) <= 1 for first in (0, 4)), rhythms


def test_no_answer_rings_on_into_the_next_texture(make: Any, shipped: Library) -> None:
    """What takes its first chord early ends where that begins, and is struck anew: no key is down twice."""
    intro = shipped.intros["minor-blues-riff"]
    for key in ("Eb minor", "E minor"):
        tune = make.tune(key, tempo=190.0, feel="medium-swing")
        score = arrange(plan_intro(intro, tune, tune.key), shipped, stage=Stage(LineUp.WITH_KEYS))
        comp = sorted((note for note in score.notes if note.part == COMP), key=lambda note: note.onset)
        for number, note in enumerate(comp):
            later = [other for other in comp[number + 1 :] if other.onset > note.onset]
            assert all(other.onset >= note.end for other in later if other.pitch == note.pitch), key


@pytest.mark.parametrize("seed", range(8))
def test_the_last_full_answer_before_a_pickup_makes_up_for_the_one_that_it_takes(
    lay_out: LayOut, seed: int
) -> None:
    form = "ii9 | V13 | Imaj9 | VI7 | ii9 | V13 | iii7 | V7"
    played = lay_out(
        "call and response", form, line_up="with keys", tempo=240.0, pickup="1", seed=seed, feel="swung"
    )
    onsets = {note.onset for note in played.notes if note.part == COMP}
    assert len([onset for onset in onsets if 4 * BAR <= onset < 6 * BAR]) == 3


@pytest.mark.parametrize("key", KEYS)
def test_a_figure_in_the_last_bar_leaves_the_first_note_of_the_tune_alone(
    make: Any, shipped: Library, key: str
) -> None:
    """Three beats, a pickup of two and a half: nothing can lead to that note, and nothing takes it away."""
    intro = shipped.intros["blues-bass-climbs"]
    for first_note in ("1", "3", "5"):
        tune = make.tune(
            key,
            "I6",
            meter=make.meters[1],
            tempo=210.0,
            feel="jazz-waltz",
            pickup=Fraction(5, 2),
            first_note=first_note,
        )
        plan = plan_intro(intro, tune, tune.key)
        score = arrange(plan, shipped, stage=Stage(LineUp("with bass")))
        last = [note for note in score.notes if note.part == MELODY and note.onset >= 7 * plan.bar_ticks]
        assert last
        spent = plan.key.degree_from_text(first_note).pitch_class
        assert all(note.pitch % 12 != spent for note in last)
