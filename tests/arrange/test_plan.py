from __future__ import annotations

from typing import Any

import pytest

from introit.arrange.form import head_name
from introit.arrange.plan import ArrangeError, Plan, plan_intro, suits
from introit.library.model import PedalPoint
from introit.theory.key import Key, Mode
from introit.theory.numeral import Numeral


def symbols(plan: Plan) -> list[str]:
    return [planned.chord.symbol for planned in plan.chords]


def beats(plan: Plan) -> list[int]:
    return [planned.length // 960 for planned in plan.chords]


def plan_of(make: Any, text: str, *, fields: dict[str, Any] | None = None, **tune_fields: Any) -> Plan:
    tune = make.tune(**tune_fields)
    mode = tune.key.mode
    return plan_intro(make.intro(make.form(text, mode), **(fields or {})), tune, tune.key)


# Two chords a bar share it evenly, 2+1 in 3/4, 3+2 in 5/4: common practice, no source.
@pytest.mark.parametrize(
    ("meter", "expected"),
    [(0, [2, 2, 4]), (1, [2, 1, 3]), (2, [3, 2, 5])],
    ids=["4/4", "3/4", "5/4"],
)
def test_two_chords_share_a_bar(make: Any, meter: int, expected: list[int]) -> None:
    plan = plan_of(make, "ii7 V7 | Imaj7", meter=make.meters[meter])
    assert beats(plan) == expected
    assert plan.head_tick == 2 * sum(expected[:2]) * 960


def test_one_chord_a_beat_and_a_chord_that_goes_on(make: Any) -> None:
    assert beats(plan_of(make, "I6 vi7 ii7 V7 | ii7 . . V7 | ii7 . V7 .")) == [1, 1, 1, 1, 3, 1, 2, 2]


def test_shares_that_no_bar_of_the_meter_has_are_refused(make: Any) -> None:
    with pytest.raises(ArrangeError, match=r"bar 2: 4 shares do not fit 3/4; allowed are 1, 2 or 3"):
        plan_of(make, "Imaj7 | ii7 . . V7", meter=make.meters[1])


@pytest.mark.parametrize(("meter", "expected"), [(0, [4, 4, 8]), (1, [3, 3, 6]), (2, [5, 5, 10])])
def test_above_the_given_tempo_each_bar_lasts_two(make: Any, meter: int, expected: list[int]) -> None:
    plan = plan_of(
        make, "ii7 V7 | Imaj7", fields={"stretch_above": 200}, meter=make.meters[meter], tempo=201.0
    )
    assert beats(plan) == expected
    assert (plan.bars, plan.scale) == (4, 2)


def test_at_the_given_tempo_nothing_is_stretched_yet(make: Any) -> None:
    assert plan_of(make, "ii7 V7 | Imaj7", fields={"stretch_above": 200}, tempo=200.0).bars == 2


def test_below_the_given_tempo_each_chord_lasts_half(make: Any) -> None:
    plan = plan_of(make, "ii7 V7 | Imaj7", fields={"halve_below": 60}, tempo=55.0)
    assert (beats(plan), plan.bars) == ([1, 1, 2], 1)


@pytest.mark.parametrize(
    ("meter", "text"),
    [(1, "ii7 V7 | Imaj7"), (0, "ii7 V7 | Imaj7 | V7"), (0, "I6 vi7 ii7 V7 | Imaj7")],
    ids=["bars of three", "a bar left over", "beats in two"],
)
def test_what_would_not_add_up_is_not_halved(make: Any, meter: int, text: str) -> None:
    plan = plan_of(make, text, fields={"halve_below": 60}, tempo=55.0, meter=make.meters[meter])
    assert plan.scale == 1
    assert plan.head_tick == plan.bars * plan.bar_ticks


# Dominants of the head's first chord: common practice, no source.
@pytest.mark.parametrize(
    ("key", "first_chord", "expected"),
    [
        ("C", "Imaj7", "G7"),
        ("C", "ii7", "A7(b9,b13)"),
        ("C", "IVmaj7", "C7"),
        ("C", "vi7", "E7(b9,b13)"),
        ("C minor", "i6/9", "G7(b9,b13)"),
        ("Eb", "ii9", "C7(b9,b13)"),
    ],
)
def test_h_is_the_dominant_of_the_heads_first_chord(
    make: Any, key: str, first_chord: str, expected: str
) -> None:
    plan = plan_of(make, "Imaj9 H" if "minor" not in key else "i6/9 H", key=key, first_chord=first_chord)
    assert symbols(plan)[-1] == expected


def test_a_suspended_h(make: Any) -> None:
    assert symbols(plan_of(make, "Imaj9 Hsus"))[-1] == "G7sus4"


# A two-five into the head's first chord, written out: common practice, no source.
@pytest.mark.parametrize(
    ("key", "first_chord", "expected"),
    [
        ("C", "Imaj7", "Dm7 G7"),
        ("C", "I6/9", "Dm7 G7"),
        ("C", "ii7", "Em7b5 A7(b9,b13)"),
        ("C", "IVmaj7", "Gm7 C7"),
        ("C", "vi7", "Bm7b5 E7(b9,b13)"),
        ("Ab", "ii9", "Cm7b5 F7(b9,b13)"),
        ("C minor", "i6/9", "Dm7 G7"),
        ("C minor", "iv7", "Gm7b5 C7(b9,b13)"),
        ("C minor", "iiø7", "Em7b5 A7(b9,b13)"),
        ("C minor", "bVImaj7", "Bbm7 Eb7"),
    ],
)
@pytest.mark.parametrize("tempo", [132.0, 240.0])
def test_a_last_two_five_that_leads_elsewhere_gives_way_to_the_heads_own(
    make: Any, key: str, first_chord: str, *, expected: str, tempo: float
) -> None:
    tune = make.tune(key, first_chord, tempo=tempo)
    form = make.form("ii7 V7 | ii7 V7", tune.key.mode, leads_to=("I", "i"))
    plan = plan_intro(make.intro(form, stretch_above=200), tune, tune.key)
    assert symbols(plan)[:2] == ["Dm7", "G7"] if key.startswith("C") else ["Bbm7", "Eb7"]
    assert symbols(plan)[2:] == expected.split()


def test_the_heads_own_chord_never_sounds_just_before_it(make: Any) -> None:
    """Also where the bar was no two-five: F in the last bar would give away a head on F."""
    tune = make.tune(first_chord="IVmaj7")
    plan = plan_intro(make.intro(make.form("ii7 V7 | IV6 V7", leads_to=("I",))), tune, tune.key)
    assert symbols(plan) == ["Dm7", "G7", "Gm7", "C7"]


def test_a_tonic_written_before_h_stays(make: Any) -> None:
    assert symbols(plan_of(make, "ii7 V7 | Imaj9 H"))[2:] == ["Cmaj9", "G7"]
    assert symbols(plan_of(make, "ii7 V7 | Imaj9 H", first_chord="ii7"))[2:] == ["Cmaj9", "A7(b9,b13)"]


def test_a_chord_in_the_bar_before_stays(make: Any) -> None:
    tune = make.tune(first_chord="ii7")
    plan = plan_intro(make.intro(make.form("ii7 | V7", leads_to=("I",))), tune, tune.key)
    assert symbols(plan) == ["Dm7", "A7(b9,b13)"]


def test_the_pedal_point_lies_under_every_chord(make: Any) -> None:
    plan = plan_of(make, "iii7 VI7(b9) | ii7 V7", fields={"pedal": PedalPoint("5")}, key="Eb")
    assert {str(planned.pedal) for planned in plan.chords} == {"Bb"}


def test_a_flat_thirteenth_cannot_stand_over_its_own_fifth(make: Any) -> None:
    """C7(b9,b13) drops the fifth, so a held G under it is freed: the b13 would lie a half step over it."""
    written = make.intro(make.form("iiø7 V7", Mode.MINOR, leads_to=("i",)), pedal=PedalPoint("5"))
    tune = make.tune("C minor", "iv7")
    last = plan_intro(written, tune, tune.key).chords[-1]
    assert (last.chord.symbol, last.pedal) == ("C7(b9,b13)", None)


# E7 is at war with a held G, its own raised ninth; C7 over G has its fifth in the bass. Judgement, no source.
@pytest.mark.parametrize(
    ("first_chord", "freed"), [("Imaj7", False), ("vi7", True), ("IVmaj7", False), ("ii7", True)]
)
def test_a_dominant_that_cannot_stand_over_the_pedal_frees_the_bass(
    make: Any, first_chord: str, *, freed: bool
) -> None:
    written = make.intro(make.form("iii7 VI7 | ii7 V7", leads_to=("I",)), pedal=PedalPoint("5"))
    tune = make.tune(first_chord=first_chord)
    *before, last = plan_intro(written, tune, tune.key).chords
    assert all(planned.pedal is not None for planned in before)
    assert (last.pedal is None) is freed


def test_the_last_chord_is_coloured_by_the_head(make: Any) -> None:
    """A dominant of a minor chord takes b9 and b13, never plain 9 or 13 (from memory)."""
    written = make.intro(make.form("IVmaj7 VI7"))
    for first_chord, has_natural in (("ii7", False), ("IImaj7", True)):
        tune = make.tune(first_chord=first_chord)
        names = {tone.name for tone in plan_intro(written, tune, tune.key).chords[-1].chord.optional}
        assert ("9" in names) is has_natural


def test_the_first_form_for_mode_and_head_is_chosen(make: Any) -> None:
    written = make.intro(
        make.form("iiø7 V7", Mode.MINOR), make.form("Imaj9 | V7", heads=("I",)), make.form("ii7 H")
    )
    assert plan_intro(written, make.tune(), Key.from_text("C")).bars == 2
    assert plan_intro(written, make.tune(first_chord="IVmaj7"), Key.from_text("C")).bars == 1
    assert symbols(plan_intro(written, make.tune("C minor"), Key.from_text("C minor")))[0] == "Dm7b5"


def test_a_minor_form_is_never_forced(make: Any) -> None:
    written, tune = make.intro(make.form("ii7 V7")), make.tune("C minor")
    with pytest.raises(ArrangeError, match=r"'made-up' has no minor form; it has: major"):
        plan_intro(written, tune, tune.key)


def test_meters_that_it_is_not_written_for_are_refused(make: Any) -> None:
    written = make.intro(make.form("ii7 V7"), meters=make.meters[:2])
    tune = make.tune(meter=make.meters[2])
    assert suits(written, tune, tune.key) == "intro 'made-up' is written for 4/4, 3/4; the tune is in 5/4"
    with pytest.raises(ArrangeError, match="written for 4/4, 3/4"):
        plan_intro(written, tune, tune.key)


def test_heads_that_no_form_leads_to_are_refused(make: Any) -> None:
    written = make.intro(make.form("ii7 bIImaj7", heads=("I", "vi")))
    tune = make.tune(first_chord="IVmaj7")
    with pytest.raises(ArrangeError, match="does not lead to a head on IV in major; it leads to: I, vi"):
        plan_intro(written, tune, tune.key)


def test_a_pedal_point_on_no_degree_is_refused(make: Any) -> None:
    with pytest.raises(ArrangeError, match="pedal point is '9'; allowed is a degree of the key, 1 to 7"):
        plan_of(make, "ii7 V7", fields={"pedal": PedalPoint("9")})


def test_a_tune_called_in_the_other_mode_starts_on_that_modes_chord(make: Any) -> None:
    written = make.intro(make.form("ii7 H"), make.form("iiø7 H", Mode.MINOR))
    plan = plan_intro(written, make.tune("C"), Key.from_text("A minor"))
    assert str(plan.key) == "A minor"
    assert plan.head.symbol == "Am6/9"
    assert symbols(plan)[-1] == "E7(b9,b13)"


@pytest.mark.parametrize(
    ("numeral", "expected"),
    [("Imaj7", "I"), ("ii9", "ii"), ("iiø7", "ii"), ("bVImaj7", "bVI"), ("i(maj9)", "i"), ("V7/ii", "V7/ii")],
)
def test_head_names(numeral: str, expected: str) -> None:
    assert head_name(Numeral.from_text(numeral)) == expected


def test_the_chord_at_a_tick(make: Any) -> None:
    plan = plan_of(make, "ii7 V7 | Imaj7")
    assert [plan.at(tick) for tick in (0, 1919, 1920, 3839, 3840, 99999)] == [0, 0, 1, 1, 2, 2]
