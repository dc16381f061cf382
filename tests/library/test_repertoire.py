"""The shipped intros as a repertoire: whatever is called, there is something to choose from, no two alike.

Sources are named where there are any; what has none is common practice, or a figure of the project's own.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from dataclasses import replace
from itertools import groupby, pairwise

import pytest

from introit.arrange.form import choose_form
from introit.arrange.grid import lay_out
from introit.arrange.plan import Plan, plan_intro, suits
from introit.library.model import Form, HeadDominant, Intro, Library, Tune
from introit.theory.key import Key, Mode
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.theory.target import root_of

METERS = tuple(Meter.from_text(text) for text in ("4/4", "3/4", "5/4"))
KEY = {Mode.MAJOR: Key.from_text("C"), Mode.MINOR: Key.from_text("C minor")}
FIRST_CHORDS = {
    Mode.MAJOR: ("Imaj7", "ii7", "IVmaj7", "vi7"),
    Mode.MINOR: ("i6/9", "iiø7", "iv6", "bVImaj7"),
}
SLOWEST, FASTEST = 50, 300
"""Quarter notes a minute: ballads from 50 ([BT]); 300 lies inside the range called up (from memory)."""
LEADS_DOWN = {
    7: "the dominant",
    1: "its tritone substitute (Lavengood, Open Music Theory, Substitutions)",
    10: "flat seven, the back door (Coker 1997 p. 82)",
    5: "four, a plagal close (common practice, no source)",
}
"""Semitones of the last chord's root over the root of the head's first chord."""


def modes_of(intro: Intro) -> set[Mode]:
    return {form.mode for form in intro.forms}


def tune_in(mode: Mode, first_chord: str | None = None, *, meter: Meter, tempo: float = 132.0) -> Tune:
    chord = Numeral.from_text(first_chord or FIRST_CHORDS[mode][0])
    return Tune("tune", "A tune", KEY[mode], meter, tempo, "medium-swing", chord)


def fitting(library: Library, mode: Mode, meter: Meter) -> list[Intro]:
    return [i for i in library.intros.values() if meter in i.meters and mode in modes_of(i)]


def plan_of(intro: Intro, tune: Tune) -> Plan:
    return plan_intro(intro, tune, tune.key)


def chords_of(form: Form) -> list[Numeral | HeadDominant]:
    return [slot.chord for bar in form.bars for slot in bar.slots]


def harmony_of(form: Form) -> tuple[str, ...]:
    """The chords in order, one that is repeated named once."""
    return tuple(chord for chord, _ in groupby(str(chord) for chord in chords_of(form)))


def lasting_bars(intro: Intro, mode: Mode, tempo: float) -> int:
    tune = tune_in(mode, meter=intro.meters[0], tempo=tempo)
    return lay_out(intro, choose_form(intro, tune, tune.key), meter=tune.meter, tempo=tempo).bars


def test_as_many_as_a_working_player_calls(library: Library) -> None:
    """The project's own figures, no source."""
    assert len(library.intros) >= 48
    assert len(library.comping) >= 12
    assert len(library.bass) >= 8
    assert len(library.feels) >= 8


@pytest.mark.parametrize("mode", Mode)
def test_every_feel_has_three_intros_in_each_of_its_meters(mode: Mode, library: Library) -> None:
    """Each made for the feel, and at home at one tempo of the feel at least."""
    for feel in library.feels.values():
        for meter in feel.meters:
            made_for_it = [
                intro.id
                for intro in fitting(library, mode, meter)
                if feel.id in intro.feels
                and max(intro.tempo[0], feel.tempo[0]) <= min(intro.tempo[1], feel.tempo[1])
            ]
            assert len(made_for_it) >= 3, (mode, feel.id, str(meter), made_for_it)


@pytest.mark.parametrize("meter", METERS, ids=str)
@pytest.mark.parametrize("mode", Mode)
def test_every_typical_tempo_lies_in_three_intros_for_that_feel(
    mode: Mode, meter: Meter, library: Library
) -> None:
    for feel in (feel for feel in library.feels.values() if meter in feel.meters):
        at_home = [
            intro.id
            for intro in fitting(library, mode, meter)
            if feel.id in intro.feels and intro.tempo[0] <= feel.typical_tempo <= intro.tempo[1]
        ]
        assert len(at_home) >= 3, (mode, feel.id, at_home)


@pytest.mark.parametrize("meter", METERS, ids=str)
@pytest.mark.parametrize("first_chord", FIRST_CHORDS[Mode.MAJOR] + FIRST_CHORDS[Mode.MINOR])
def test_every_first_chord_is_led_to_in_each_meter(first_chord: str, meter: Meter, library: Library) -> None:
    """By five intros, each of which ends on a chord that leads there by its root."""
    mode = Mode.MAJOR if first_chord in FIRST_CHORDS[Mode.MAJOR] else Mode.MINOR
    tune = tune_in(mode, first_chord, meter=meter)
    led: Counter[int] = Counter()
    for intro in fitting(library, mode, meter):
        if suits(intro, tune, tune.key) is None:
            plan = plan_of(intro, tune)
            last = plan.chords[-1].chord.root.pitch_class
            apart = (last - plan.head.root.pitch_class) % 12
            assert apart in LEADS_DOWN, (intro.id, first_chord, plan.chords[-1].chord.symbol)
            led[apart] += 1
    assert led.total() >= 5, led


def test_most_heads_on_another_chord_have_intros_made_for_any_head(library: Library) -> None:
    """At least five in each mode end on H: there an ending is not adapted but meant."""
    for mode in Mode:
        open_ended = [
            intro.id
            for intro in library.intros.values()
            for form in intro.forms
            if form.mode is mode and isinstance(chords_of(form)[-1], HeadDominant)
        ]
        assert len(set(open_ended)) >= 5, (mode, open_ended)


def test_no_two_intros_have_the_same_harmony(library: Library) -> None:
    """The sus of the major and of the minor are two; so are a bar of H and the sus before it."""
    found: dict[tuple[Mode, tuple[str, ...]], list[str]] = defaultdict(list)
    for intro in library.intros.values():
        for form in intro.forms:
            found[form.mode, harmony_of(form)].append(intro.id)
    assert [ids for ids in found.values() if len(ids) > 1] == []


@pytest.mark.parametrize(
    ("meter", "mode", "least"),
    [
        (METERS[0], Mode.MAJOR, 5),
        (METERS[0], Mode.MINOR, 5),
        (METERS[1], Mode.MAJOR, 3),
        (METERS[1], Mode.MINOR, 3),
        (METERS[2], Mode.MAJOR, 3),
        (METERS[2], Mode.MINOR, 3),
    ],
)
def test_every_tempo_has_enough_intros(meter: Meter, mode: Mode, least: int, library: Library) -> None:
    for tempo in range(SLOWEST, FASTEST + 1):
        at_home = [
            intro.id for intro in fitting(library, mode, meter) if intro.tempo[0] <= tempo <= intro.tempo[1]
        ]
        assert len(at_home) >= least, (tempo, at_home)


def test_there_are_intros_of_one_two_four_and_eight_bars(library: Library) -> None:
    """The usual form is four; one and two for emergencies, eight where there is time (no source)."""
    for mode in Mode:
        lengths = {
            len(form.bars) for intro in library.intros.values() for form in intro.forms if form.mode is mode
        }
        assert lengths >= {1, 2, 4, 8}, (mode, lengths)


def test_three_and_five_have_intros_of_their_own(library: Library) -> None:
    own = Counter(intro.meters for intro in library.intros.values() if len(intro.meters) == 1)
    assert own[METERS[1],] >= 3
    assert own[METERS[2],] >= 2


def test_no_intro_is_over_before_it_is_heard(library: Library) -> None:
    """Three and a half seconds at its fastest; those of one and two bars, 1.5. No source."""
    for intro in library.intros.values():
        for mode in modes_of(intro):
            for tempo in {intro.tempo[1], intro.stretch_above or intro.tempo[1]}:
                bars = lasting_bars(intro, mode, tempo)
                seconds = bars * intro.meters[0].beats * 60 / tempo
                short = len(intro.forms[0].bars) <= 2
                assert seconds >= (1.5 if short else 3.5), (intro.id, tempo, seconds)


def test_no_intro_keeps_the_tune_waiting(library: Library) -> None:
    """Half a minute at its slowest at most. No source."""
    for intro in library.intros.values():
        for mode in modes_of(intro):
            for meter in intro.meters:
                tune = tune_in(mode, meter=meter, tempo=intro.tempo[0])
                plan = plan_of(intro, tune)
                assert plan.bars * meter.beats * 60 / intro.tempo[0] <= 30, intro.id


def test_pedal_points_on_the_five_and_on_the_one(library: Library) -> None:
    pedals = Counter(intro.pedal.degree for intro in library.intros.values() if intro.pedal)
    assert pedals["5"] >= 3
    assert pedals["1"] >= 3


def test_a_tonic_pedal_point_is_let_go_before_the_head(library: Library) -> None:
    """Held to the end it would leave the bass no step, fourth or fifth to go: these forms end on H."""
    for intro in library.intros.values():
        if intro.pedal and intro.pedal.degree == "1":
            assert all(isinstance(chords_of(form)[-1], HeadDominant) for form in intro.forms), intro.id


def test_minor_home_before_the_head_is_no_minor_seventh(library: Library) -> None:
    """`i7` and `i9` stand in modal vamps and moving lines only, not where a cadence comes home."""
    for intro in library.intros.values():
        for form in (form for form in intro.forms if form.mode is Mode.MINOR):
            chords = chords_of(form)
            for before, home in pairwise(chords):
                if isinstance(before, HeadDominant) or isinstance(home, HeadDominant):
                    continue
                at_home = (home.degree, home.alter) == (1, 0) and home.quality in {"m7", "m9", "m11"}
                comes_from_five = (before.degree, before.alter) == (5, 0) and before.upper
                assert not (at_home and comes_from_five), intro.id


def test_a_riff_leaves_a_bar_or_a_beat_for_the_answer(library: Library) -> None:
    for intro in library.intros.values():
        if intro.melody.has_motif:
            beats = min(meter.beats for meter in intro.meters)
            ends = max(note.position + note.length for note in intro.melody.motif)
            bars = len(intro.forms[0].bars)
            every_bar = len(intro.melody.bars) * intro.melody.motif_bars > bars / 2
            assert not every_bar or ends <= beats - 1, intro.id
            assert all(bar <= bars for bar in intro.melody.bars), intro.id


def test_names_and_notes_are_each_their_own(library: Library) -> None:
    names = [intro.name.casefold() for intro in library.intros.values()]
    assert len(set(names)) == len(names)
    sentences = [
        " ".join(sentence.split())
        for intro in library.intros.values()
        for sentence in re.split(r"(?<=[.?!:])\s", intro.why)
        if sentence.strip()
    ]
    assert [text for text, times in Counter(sentences).items() if times > 1] == []


def test_a_teachers_note_can_be_read_while_the_band_tunes(library: Library) -> None:
    """Thirty to ninety words."""
    for intro in library.intros.values():
        assert 30 <= len(intro.why.split()) <= 90, (intro.id, len(intro.why.split()))


def test_the_chords_of_a_chain_each_lead_to_the_next(library: Library) -> None:
    """Applied dominants, a fifth apart; with substitutes, a half step (Lavengood, Open Music Theory)."""
    for name, step in (("chain-of-dominants", 5), ("sliding-dominants", 11)):
        chords = [c for c in chords_of(library.intros[name].forms[0]) if isinstance(c, Numeral)]
        roots = [root_of(chord, KEY[Mode.MAJOR]).pitch_class for chord in chords]
        moved = {(after - before) % 12 for before, after in zip(roots, [*roots[1:], 0], strict=True)}
        assert moved - {0} == {step}, (name, moved)


def test_the_diatonic_circle_falls_by_fifths_and_one_tritone(library: Library) -> None:
    for form in library.intros["round-the-circle"].forms:
        chords = [chord for chord in chords_of(form) if isinstance(chord, Numeral)]
        roots = [root_of(chord, KEY[form.mode]).pitch_class for chord in chords]
        moved = Counter((after - before) % 12 for before, after in pairwise(roots))
        assert moved == {5: 5, 6: 1}, (form.mode, moved)


@pytest.mark.parametrize(
    ("name", "mode", "line"),
    [
        # Bass lines in semitones over the tonic, written out by hand; common practice, no source.
        ("half-steps-up", Mode.MAJOR, [0, 1, 2, 3, 4]),
        ("blues-bass-climbs", Mode.MAJOR, [0, 4, 5, 6, 7]),
        ("blues-bass-falls", Mode.MAJOR, [0, 10, 9, 8, 7]),
        ("bass-walks-down-in-minor", Mode.MINOR, [0, 11, 10, 9, 8, 7]),
        ("half-step-down-to-two", Mode.MAJOR, [4, 3, 2]),
        ("steps-down-in-minor", Mode.MINOR, [0, 10, 8, 7]),
        ("amen-steps", Mode.MAJOR, [5, 4, 2, 0]),
        ("amen-steps", Mode.MINOR, [5, 3, 2, 0]),
        ("up-two-whole-steps", Mode.MAJOR, [8, 10, 0]),
        ("waltz-upstairs", Mode.MAJOR, [0, 2, 4, 5, 6, 7]),
        ("waltz-upstairs", Mode.MINOR, [0, 2, 3, 5, 6, 7]),
    ],
)
def test_bass_lines_go_where_their_names_say(
    name: str, mode: Mode, *, line: list[int], library: Library
) -> None:
    intro = library.intros[name]
    plan = plan_of(intro, tune_in(mode, meter=intro.meters[0]))
    assert [chord.chord.bass.pitch_class for chord in plan.chords][: len(line)] == line


@pytest.mark.parametrize(
    ("name", "mode", "line"),
    [
        # An inner line: one pitch class of each chord in turn, in semitones over the tonic.
        ("home-note-held", Mode.MAJOR, [11, 10, 9, 8, 7]),
        ("the-fifth-climbs", Mode.MAJOR, [7, 8, 9, 10, 9, 8, 7]),
        ("one-voice-walks-down", Mode.MINOR, [11, 10, 9, 8, 7]),
    ],
)
def test_inner_lines_are_there_to_be_voiced(
    name: str, mode: Mode, *, line: list[int], library: Library
) -> None:
    """Every note of the line belongs to its chord: required, or the fifth that may be left out."""
    intro = library.intros[name]
    plan = plan_of(intro, tune_in(mode, meter=intro.meters[0]))
    for planned, wanted in zip(plan.chords, line, strict=False):
        members = {tone.pitch_class for tone in (*planned.chord.required, *planned.chord.optional)}
        assert wanted in members, (planned.chord.symbol, wanted)


def test_a_riff_carries_the_line_cliche(library: Library) -> None:
    """Seven means major seventh, minor seventh and sixth in turn: the note that walks down."""
    intro = library.intros["one-voice-walks-down"]
    plan = plan_of(intro, tune_in(Mode.MINOR, meter=intro.meters[0]))
    sevenths = [planned.chord.tone("7") for planned in plan.chords[:3]]
    assert [tone.pitch_class if tone else None for tone in sevenths] == [11, 10, 9]


def test_a_feel_that_swings_keeps_the_players_apart(library: Library) -> None:
    """Drummers above 2 and soloists below it at medium tempi; the ratio falls as the tempo rises.

    [F97], [F02]. Checked at 120 or the tempo of the feel nearest to it.
    """
    for feel in library.feels.values():
        swings = {who: points for who, points in feel.swing.items() if points[0][1] > 1}
        if len(swings) < 3 or feel.tempo[0] > 150:
            continue
        first = {who: points[0][1] for who, points in swings.items()}
        assert first["ride"] >= 2 > first["line"], feel.id
        assert first["ride"] >= first["comp"] >= first["line"], feel.id
        for points in swings.values():
            ratios = [ratio for _, ratio in points]
            assert ratios == sorted(ratios, reverse=True), feel.id


def test_even_feels_are_even(library: Library) -> None:
    for name in ("bossa", "latin", "straight-eighths"):
        assert {ratio for points in library.feels[name].swing.values() for _, ratio in points} == {1.0}


def test_an_intro_of_the_library_can_be_played_in_the_tunes_own_feel(library: Library) -> None:
    """Every tune that is shipped finds three intros made for its feel and tempo that lead to its head."""
    for tune in library.tunes.values():
        open_tune = replace(tune, intro=None)
        made = [
            intro.id
            for intro in library.intros.values()
            if suits(intro, open_tune, tune.key) is None
            and tune.feel in intro.feels
            and intro.tempo[0] <= tune.tempo <= intro.tempo[1]
        ]
        assert len(made) >= 3, (tune.id, made)
