"""Whatever form a musician writes, the arranger's promises hold: forms, meters, tempi and heads at random."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from introit.arrange.arranger import arrange, perform
from introit.arrange.plan import ArrangeError, plan_intro
from introit.arrange.score import BASS, CLICK, COMP, MELODY, PEDAL
from introit.library.model import Library, Melody, MotifNote, PedalPoint
from introit.theory.key import Mode, keys
from introit.theory.limits import is_muddy
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


@settings(max_examples=150)
@given(
    text=forms,
    key=st.sampled_from([*keys(Mode.MAJOR), *keys(Mode.MINOR)]),
    meter=st.sampled_from([0, 1, 2]),
    tempo=st.floats(30, 400),
    first_chord=st.sampled_from(["Imaj7", "ii7", "IVmaj7", "vi7", "bVImaj7", "i6/9", "V7", "iiiø7"]),
    pedal=st.sampled_from([None, None, "5", "1", "b6"]),
    melody=st.sampled_from([Melody("line"), Melody("motif", RIFF), Melody("none")]),
    texture=st.sampled_from(["block", "rolled"]),
    pickup=st.sampled_from(["0", "0", "1/2", "3", "40"]),
    leads=st.sampled_from([(), ("I", "i")]),
)
def test_promises_hold(make: Any, plain_shelf: Library, text: str, meter: int, **drawn: Any) -> None:
    key = drawn["key"]
    tune = make.tune(
        str(key),
        drawn["first_chord"],
        meter=make.meters[meter],
        tempo=drawn["tempo"],
        pickup=Fraction(drawn["pickup"]),
        count_off=1,
    )
    written = make.intro(
        make.form(text, key.mode, leads_to=drawn["leads"]),
        pedal=PedalPoint(drawn["pedal"]) if drawn["pedal"] else None,
        melody=drawn["melody"],
        texture=drawn["texture"],
        stretch_above=200,
        halve_below=60,
    )
    plan = plan_intro(written, tune, key)
    try:
        score = arrange(plan, plain_shelf)
    except ArrangeError as told:
        raise AssertionError(f"{text}: {told}") from told
    performance = perform(score, plain_shelf)
    assert performance.head_tick == plan.bars * plan.bar_ticks == sum(chord.length for chord in plan.chords)
    ranges = {MELODY: (52, 93), COMP: (48, 77), BASS: (28, 55), PEDAL: (28, 50)}
    for note in performance.notes:
        assert note.onset < note.end <= performance.head_tick
        assert note.onset >= 0 or note.part == CLICK
        if note.part != CLICK:
            assert ranges[note.part][0] <= note.pitch <= ranges[note.part][1]
    low = [note for note in score.notes if note.part in (COMP, BASS, PEDAL)]
    for tick in {note.onset for note in low}:
        assert not is_muddy([note.pitch for note in low if note.onset <= tick < note.end])
    for above in (note for note in score.notes if note.part == MELODY):
        for below in (note for note in score.notes if note.part == COMP):
            if above.onset < below.end and below.onset < above.end:
                assert above.pitch - below.pitch not in (1, 13, 25), (text, above, below)
    heard = {note.harmony_tick for note in score.notes if note.part in (COMP, MELODY)}
    assert heard == {chord.onset for chord in plan.chords}
