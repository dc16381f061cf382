"""How a chart becomes choruses: the way back, where the last one leaves, what it lands on; by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from introit.arrange.chorus import chorus_plan, choruses_of
from introit.arrange.form import ArrangeError
from introit.library.bars import Bar, HeadDominant, Slot
from introit.library.chart import Chart, Measure, Section, Strain
from introit.library.leading import BarBeat, Leading
from introit.library.model import Tune
from introit.theory.key import Key, Mode, keys
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.units import TICKS_PER_QUARTER

BAR = 4 * TICKS_PER_QUARTER


def bars_from(text: str) -> list[Bar]:
    """Bars from text such as `ii9 . V13 | % | Imaj9 H`."""
    bars: list[Bar] = []
    for written in text.split("|"):
        slots: list[Slot] = []
        for word in written.split():
            if word == ".":
                slots[-1] = Slot(slots[-1].chord, slots[-1].share + 1)
            elif word == "%":
                slots = list(bars[-1].slots)
            else:
                slots.append(Slot(HeadDominant(word) if word in {"H", "Hsus"} else Numeral.from_text(word)))
        if slots:
            bars.append(Bar(tuple(slots)))
    return bars


def charted(key: str, text: str, *, coda: str = "", mark: int = 0, meter: str = "4/4") -> Tune:
    """A tune whose chart has these bars; its coda is gone to after bar `mark`, counted from 0."""
    called = Key.from_text(key)
    bars = bars_from(text)
    measures = tuple(Measure(bar, bool(coda) and number == mark) for number, bar in enumerate(bars))
    chart = Chart(called.mode, (Section("", (Strain(measures),)),), ("",), tuple(bars_from(coda)))
    first = bars[0].slots[0].chord
    assert isinstance(first, Numeral)
    return Tune(
        "tune",
        "A tune",
        called,
        Meter.from_text(meter),
        132.0,
        "medium-swing",
        first_chord=first,
        chart=chart,
    )


def text_of(bars: Sequence[Bar]) -> str:
    """Bars as text again."""
    return " | ".join(
        " ".join(" ".join([str(slot.chord), *"." * (slot.share - 1)]) for slot in bar.slots) for bar in bars
    )


@pytest.mark.parametrize(
    ("key", "chart", "bars", "leaves", "last", "landing", "rings"),
    [
        # A last bar at rest gives its second half to the dominant of the first chord.
        ("C", "Imaj7 | ii7 V7 | I6", "Imaj7 | ii7 V7 | I6 V7", 2, "Imaj7 | ii7 V7", "I6", 1),
        # A last bar that only holds on becomes a two-five.
        ("C", "Imaj7 | V7 | I6 | %", "Imaj7 | V7 | I6 | ii7 V7", 2, "Imaj7 | V7", "I6", 2),
        ("C", "ii7 | V7 | I6 | %", "ii7 | V7 | I6 | iiiø7 VI7(b9,b13)", 2, "ii7 | V7", "I6", 2),
        ("C", "IVmaj7 | V7 | Imaj7 | I6", "IVmaj7 | V7 | Imaj7 | I6 I7", 2, "IVmaj7 | V7", "I6", 2),
        # Of two chords the last gives its last beat.
        ("C", "I6 | V7 | IV6 I6", "I6 | V7 | IV6 . I6 V7", 2, "I6 | V7 | IV6 I6", "I6", 1),
        # What leads back stays: by a fifth, a half step, the back door, a diminished chord, a two over five.
        ("C", "I6 | IV6 | I6 | V7", "I6 | IV6 | I6 | V7", 2, "I6 | IV6", "I6", 2),
        ("C", "I6 | IV6 | I6 | bII7", "I6 | IV6 | I6 | bII7", 2, "I6 | IV6", "I6", 2),
        ("C", "I6 | IV6 | I6 | bVII7", "I6 | IV6 | I6 | bVII7", 2, "I6 | IV6", "I6", 2),
        ("C", "ii7 | V7 | I6 | #i°7", "ii7 | V7 | I6 | #i°7", 2, "ii7 | V7", "I6", 2),
        ("C", "I6 | IV6 | I6 | ii7/5", "I6 | IV6 | I6 | ii7/5", 2, "I6 | IV6", "I6", 2),
        ("C", "ii7 | V7 | Imaj7 | H", "ii7 | V7 | Imaj7 | VI7(b9,b13)", 2, "ii7 | V7", "Imaj7", 2),
        # A turnaround over two bars, in a blues as well.
        ("C", "Imaj7 | V7 | I6 vi7 | ii7 V7", "Imaj7 | V7 | I6 vi7 | ii7 V7", 2, "Imaj7 | V7", "I6", 2),
        ("C", "I7 | V7 | I7 VI7 | ii7 V7", "I7 | V7 | I7 VI7 | ii7 V7", 2, "I7 | V7", "I7", 2),
        # No tonic near the end: a bar more.
        ("C minor", "i6/9 | % | iiø7 | V7 | iv7 | bVImaj7 | iiø7 | V7",
         "i6/9 | i6/9 | iiø7 | V7 | iv7 | bVImaj7 | iiø7 | V7", 8,
         "i6/9 | i6/9 | iiø7 | V7 | iv7 | bVImaj7 | iiø7 | V7", "i6/9", 1),
        ("C", "IVmaj7 | iii7 | ii7 | V7", "IVmaj7 | iii7 | ii7 | V7 I7", 3, "IVmaj7 | iii7 | ii7", "V7", 1),
        # It ends on another chord than the tonic, and so does the last chorus.
        ("C", "I6 | V7 | IVmaj7 | vi7", "I6 | V7 | IVmaj7 | vi7 V7", 3, "I6 | V7 | IVmaj7", "vi7", 1),
        # No dominant anywhere: a mode has no turnaround.
        ("D minor", "i9 | % | IV | i9", "i9 | i9 | IV | i9", 3, "i9 | i9 | IV", "i9", 1),
        # One bar alone.
        ("C", "I7", "I7", 1, "I7", "I7", 1),
    ],
)  # fmt: skip
def test_choruses_worked_out_by_hand(
    key: str, chart: str, bars: str, leaves: int, last: str, landing: str, rings: int
) -> None:
    choruses = choruses_of(charted(key, chart), Key.from_text(key))
    assert text_of(choruses.bars) == bars
    assert (choruses.leaves, text_of(choruses.last)) == (leaves, last)
    assert (str(choruses.landing), choruses.rings) == (landing, rings)


def test_with_a_coda_the_last_chorus_leaves_for_it() -> None:
    tune = charted("C", "I6 | IV6 | V7", coda="bVI7 V7 | I6 | %", mark=1)
    choruses = choruses_of(tune, tune.key)
    assert text_of(choruses.bars) == "I6 | IV6 | V7"
    assert choruses.leaves == 2
    assert text_of(choruses.last) == "I6 | IV6 | bVI7 V7"
    assert (str(choruses.landing), choruses.rings) == ("I6", 2)


@pytest.mark.parametrize(
    ("meter", "last_bar", "turned"),
    [
        ("3/4", "I6", "I6 V7"),
        ("3/4", "IV6 I6", "IV6 . V7"),
        ("5/4", "IV6 I6", "IV6 . . I6 V7"),
        ("5/4", "IV6 . I6 . .", "IV6 . I6 . V7"),
        ("4/4", "IV6 . . I6", "IV6 . . V7"),
    ],
)
def test_the_turnaround_keeps_to_the_beats_of_the_meter(meter: str, last_bar: str, turned: str) -> None:
    tune = charted("C", f"I6 | V7 | {last_bar}", meter=meter)
    choruses = choruses_of(tune, tune.key)
    assert text_of(choruses.bars[-1:]) == turned
    beats = [chord.length // TICKS_PER_QUARTER for chord in chorus_plan(tune, tune.key).chords]
    assert sum(beats) == 3 * tune.meter.beats


def test_a_chorus_is_a_plan_whose_head_is_its_first_chord() -> None:
    tune = charted("F", "ii7 | V7 | Imaj7 | %")
    plan = chorus_plan(tune, tune.key)
    assert (plan.bars, plan.head_tick, plan.head.symbol) == (4, 4 * BAR, "Gm7")
    assert [chord.chord.symbol for chord in plan.chords] == ["Gm7", "C7", "Fmaj7", "Am7b5", "D7(b9,b13)"]
    assert plan.tune.landing == "cut"
    last = chorus_plan(tune, tune.key, last=True)
    assert (last.bars, last.head.symbol, last.tune.landing, last.tune.ring) == (2, "Fmaj7", "ring", 8)


def test_a_chord_that_goes_on_is_one_chord_coloured_by_where_it_leads() -> None:
    tune = charted("C", "I6 | VI7 | % | ii7 | V7 | % | I6 | %")
    chords = [(chord.chord.symbol, chord.length // BAR) for chord in chorus_plan(tune, tune.key).chords]
    assert chords[1:4] == [("A7", 2), ("Dm7", 1), ("G7", 2)]
    for target, ninth in (("ii7", "b9"), ("II7", "9")):  # a minor chord, and a major one
        tune = charted("C", f"I6 | VI7 | % | {target} | V7")
        (held,) = (one for one in chorus_plan(tune, tune.key).chords if one.chord.symbol == "A7")
        assert {tone.name for tone in held.chord.optional} & {"b9", "9"} == {ninth}


def test_a_chord_begins_where_the_last_chorus_leaves() -> None:
    tune = charted("C", "I6 | IV6 | % | V7", coda="I6", mark=1)
    assert 2 * BAR in [chord.onset for chord in chorus_plan(tune, tune.key).chords]


def test_what_the_tune_asks_of_its_intro_is_not_asked_of_a_chorus() -> None:
    plain = charted("C", "I6 | IV6 | ii7 | V7")
    led = replace(
        plain,
        pickup=Fraction(3, 2),
        landing="ring",
        ring=Fraction(4),
        count_off=2,
        first_note="5",
        leading=Leading(vamp=True, hold=False, in_time=BarBeat(9, 1), tapped=True),
    )
    assert chorus_plan(led, led.key) == chorus_plan(plain, plain.key)
    assert chorus_plan(led, led.key).pickup_tick == 4 * BAR


def test_without_a_chart_or_in_the_other_mode_there_is_no_chorus() -> None:
    tune = charted("C", "I6 | V7")
    with pytest.raises(ArrangeError, match="has no chart"):
        chorus_plan(replace(tune, chart=None), tune.key)
    with pytest.raises(ArrangeError, match="is in major; C minor is minor"):
        chorus_plan(tune, Key.from_text("C minor"))


CHORDS = st.sampled_from(
    ["I6", "Imaj7", "ii7", "iii7", "IVmaj7", "V7", "vi7", "VI7(b9)", "II7", "bVII7", "#iv°7", "ii7/5", "I7"]
)
BARS = st.lists(CHORDS, min_size=1, max_size=2).map(" ".join) | st.just("%")


@given(
    first=CHORDS,
    bars=st.lists(BARS, max_size=14),
    coda=st.lists(CHORDS, max_size=3).map(" | ".join),
    mark=st.integers(0, 99),
    key=st.sampled_from(keys(Mode.MAJOR)),
)
@settings(max_examples=150, deadline=None)
def test_any_chart_has_choruses_that_lead_on_and_a_last_one_that_lands(
    first: str, bars: list[str], coda: str, mark: int, key: Key
) -> None:
    tune = charted(str(key), " | ".join([first, *bars]), coda=coda, mark=mark % (1 + len(bars)))
    choruses = choruses_of(tune, key)
    assert 1 <= choruses.leaves <= min(len(choruses.bars), len(choruses.last))
    assert choruses.last[: choruses.leaves] == choruses.bars[: choruses.leaves]
    assert len(choruses.bars) == 1 + len(bars)
    assert choruses.rings in (1, 2)
    for last in (False, True):
        plan = chorus_plan(tune, key, last=last)
        assert plan.chords[0].onset == 0
        assert all(one.end == after.onset for one, after in pairwise(plan.chords))
        assert plan.chords[-1].end == plan.head_tick == plan.bars * BAR
    regular = chorus_plan(tune, key)
    moved = chorus_plan(tune, Key.from_pitch_class(key.tonic.pitch_class + 5, Mode.MAJOR))
    assert [one.numeral for one in moved.chords] == [one.numeral for one in regular.chords]
    assert regular.head.root.pitch_class == regular.chords[0].chord.root.pitch_class
