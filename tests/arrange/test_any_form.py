"""Whatever form a musician writes, the arranger's promises hold: forms, meters, tempi and heads at random."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from introit.arrange.arranger import arrange, perform
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import ArrangeError, plan_intro
from introit.arrange.score import BASS, CLICK, COMP, MELODY, PEDAL, RIDE, Score
from introit.library.intros import TEXTURES
from introit.library.model import Library, Melody, MotifNote, Passage, PedalPoint
from introit.performance import Performance
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Place
from introit.theory.grip import Grip
from introit.theory.holding import FrettingHand
from introit.theory.key import Mode, keys
from introit.theory.quality import QUALITIES

ROMAN = ("I", "bII", "II", "bIII", "III", "IV", "#IV", "V", "bVI", "VI", "bVII", "VII")
ENDINGS = sorted({(row.numeral, row.case.value) for row in QUALITIES.values()})
EXTRA = [
    ("13(b9)", "upper"),
    ("7(b9,b13)", "upper"),
    ("7(#9)", "upper"),
    ("maj7(#11)", "upper"),
    ("7(#5)", "upper"),
]
RIFF = (MotifNote(0, Fraction(0), "5", Fraction(1, 2)), MotifNote(0, Fraction(1), "9", Fraction(1)))

chords = st.builds(
    lambda roman, ending, bass: (roman.lower() if ending[1] == "lower" else roman) + ending[0] + bass,
    st.sampled_from(ROMAN),
    st.sampled_from([*ENDINGS, *EXTRA]),
    st.sampled_from(["", "", "", "/5", "/1", "/b7"]),
)
bars = st.lists(st.lists(chords, min_size=1, max_size=2).map(" ".join), min_size=1, max_size=4)
forms = st.builds(
    lambda written, end: " | ".join(written) + end, bars, st.sampled_from(["", " | H", " | Hsus"])
)


@settings(max_examples=150, deadline=None)
@given(
    text=forms,
    key=st.sampled_from([*keys(Mode.MAJOR), *keys(Mode.MINOR)]),
    meter=st.sampled_from([0, 1, 2]),
    tempo=st.floats(30, 400),
    first_chord=st.sampled_from(["Imaj7", "ii7", "IVmaj7", "vi7", "bVImaj7", "i6/9", "V7", "iiiø7"]),
    pedal=st.sampled_from([None, None, "5", "1", "b6"]),
    melody=st.sampled_from([Melody("line"), Melody("motif", RIFF), Melody("none")]),
    textures=st.lists(st.sampled_from(TEXTURES), min_size=1, max_size=2),
    pickup=st.sampled_from(["0", "0", "1/2", "3", "40"]),
    leads=st.sampled_from([(), ("I", "i")]),
    landing=st.sampled_from([("cut", 0), ("cut", 0), ("chord", 0), ("ring", 3)]),
    line_up=st.sampled_from(LineUp),
    seed=st.integers(0, 5),
)
def test_promises_hold(make: Any, plain_shelf: Library, text: str, meter: int, **drawn: Any) -> None:
    key = drawn["key"]
    landing, ring = drawn["landing"]
    tune = make.tune(
        str(key),
        drawn["first_chord"],
        meter=make.meters[meter],
        tempo=drawn["tempo"],
        pickup=Fraction(drawn["pickup"]),
        count_off=1,
        landing=landing,
        ring=Fraction(ring),
    )
    written = make.intro(
        make.form(text, key.mode, leads_to=drawn["leads"]),
        pedal=PedalPoint(drawn["pedal"]) if drawn["pedal"] else None,
        melody=drawn["melody"],
        passages=tuple(
            Passage(start, texture) for start, texture in zip((1, -1), drawn["textures"], strict=False)
        ),
        stretch_above=200,
        halve_below=60,
    )
    plan = plan_intro(written, tune, key)
    stage = Stage(drawn["line_up"])
    try:
        score = arrange(plan, plain_shelf, stage=stage, seed=drawn["seed"])
    except ArrangeError as told:
        raise AssertionError(f"{text}: {told}") from told
    check_performance(perform(score, plain_shelf), score)
    heard = {note.harmony_tick for note in score.notes}
    stated = {chord.onset for chord in plan.chords if chord.onset < plan.pickup_tick}
    assert heard >= stated, "a chord is passed over"
    if stage.seats.one_pair_of_hands:
        check_one_pair_of_hands(score)
    assert score.notes == arrange(plan, plain_shelf, stage=stage, seed=drawn["seed"]).notes


def check_performance(performance: Performance, score: Score) -> None:
    plan, tune = score.plan, score.plan.tune
    assert performance.head_tick == plan.bars * plan.bar_ticks == sum(chord.length for chord in plan.chords)
    over = {"cut": 0, "chord": plan.bar_ticks, "ring": round(tune.ring * 960)}[tune.landing]
    assert performance.end_tick <= performance.head_tick + over
    alone = score.scene.seats.one_pair_of_hands
    ranges = {MELODY: (52, 93), COMP: (40, 80), BASS: (28, 67 if alone else 55), PEDAL: (28, 50)}
    for note in performance.notes:
        assert note.onset < note.end <= performance.end_tick
        assert note.onset >= 0 or note.part == CLICK
        if note.part in ranges:
            assert ranges[note.part][0] <= note.pitch <= ranges[note.part][1]


def check_one_pair_of_hands(score: Score) -> None:
    """Whatever sounds at once, one hand holds, by the hand that people's fingerings are held against."""
    hand = FrettingHand(score.scene.stage.fretboard)
    for tick in {note.onset for note in score.notes}:
        sounding = [note for note in score.notes if note.onset <= tick < note.end and note.part != RIDE]
        places = [Place(note.string or 0, note.fret or 0) for note in sounding]
        assert isinstance(hand.hold(Grip.from_places(places)), Fingering)
