import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.grip import Grip
from introit.theory.hand import Hand
from introit.theory.holding import FrettingHand
from introit.theory.move import MoveCost, move, move_costs
from introit.theory.plucking import Plucking, why_not_plucked

NECK = Fretboard()
HAND = FrettingHand(NECK)


def held(text: str) -> Fingering:
    answer = HAND.hold(Grip.from_text(text))
    assert isinstance(answer, Fingering), answer
    return answer


def test_staying_costs_nothing() -> None:
    stay = move(held("x35453"), held("x35453"), NECK)
    assert (stay.kept, stay.guides, stay.placed, stay.shift_frets, stay.cost) == ((1, 2, 3, 4), (), (), 0, 0)


def test_the_same_shape_slides_on_guide_fingers() -> None:
    up = move(held("xx3434"), held("xx5656"), NECK)
    assert up.kept == up.placed == ()
    assert up.guides == (1, 2, 3, 4)
    assert up.shift_frets == 2
    assert up.shift_mm == pytest.approx(648 / 2 ** (3 / 12) - 648 / 2 ** (5 / 12))
    assert move(held("xx5656"), held("xx3434"), NECK).shift_mm == pytest.approx(-up.shift_mm)


def test_a_common_finger_stays() -> None:
    am_to_c = move(
        held("x02210"), held("x32010"), NECK
    )  # the index stays on string 2, the middle on string 4
    assert am_to_c.kept == (1, 2)
    assert am_to_c.placed == (3,)
    assert am_to_c.shift_mm == 0


def test_open_strings_are_taken_from_anywhere() -> None:
    assert move(held("x-x-12-12-12-12"), held("000000"), NECK).cost == 0
    away = move(held("000000"), held("x-12-x-x-x-x"), NECK)
    assert away.shift_mm == 0
    assert away.placed == (1,)


def test_a_farther_shift_costs_more() -> None:
    costs = [move(held("xx1111"), held(text), NECK).cost for text in ("xx2222", "xx5555", "xx9999")]
    assert costs == sorted(costs)
    assert len(set(costs)) == 3


@st.composite
def fingerings(draw: st.DrawFn) -> Fingering:
    base = draw(st.integers(1, 12))
    frets = draw(st.lists(st.sampled_from([-1, 0, base, base, base + 1, base + 2]), min_size=6, max_size=6))
    answer = HAND.hold(Grip(tuple(frets)))
    return answer if isinstance(answer, Fingering) else held("x32010")


@settings(max_examples=50)
@given(st.lists(fingerings(), min_size=1, max_size=5), st.lists(fingerings(), min_size=1, max_size=5))
def test_all_moves_at_once_cost_what_each_does(before: list[Fingering], after: list[Fingering]) -> None:
    table = move_costs(before, after, NECK, weigh=MoveCost(placed=0.3, guide=0.07, shift=2.0))
    assert table.shape == (len(before), len(after))
    for row, one in zip(table, before, strict=True):
        for cost, other in zip(row, after, strict=True):
            single = move(one, other, NECK, weigh=MoveCost(placed=0.3, guide=0.07, shift=2.0))
            assert cost == pytest.approx(single.cost)
            assert len(single.kept) + len(single.guides) + len(single.placed) == len(other.stops)


# -- the other hand ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "plucking", "says"),
    [
        ("xx5768", Plucking.FINGERS, ""),
        ("3x0003", Plucking.FINGERS, "5 strings at once"),
        ("8x798x", Plucking.FINGERS, ""),
        ("133211", Plucking.FINGERS, "6 strings at once, fingers pluck at most 4"),
        ("133211", Plucking.PICK, ""),
        ("8x798x", Plucking.PICK, ""),  # the finger on string 6 leans against string 5
        ("x3x453", Plucking.PICK, ""),
        ("0x0xxx", Plucking.PICK, "a pick would sound string 5, which no finger damps"),
        ("5xxx5x", Plucking.PICK, "a pick would sound string 4"),
        ("xxxxxx", Plucking.PICK, ""),
        ("xxxxxx", Plucking.FINGERS, ""),
    ],
)
def test_what_the_other_hand_can_sound(text: str, plucking: Plucking, says: str) -> None:
    answer = why_not_plucked(held(text), plucking)
    assert answer.startswith(says)
    assert bool(answer) == bool(says)


@given(st.lists(st.integers(-1, 5), min_size=6, max_size=6))
def test_what_a_damping_hand_holds_a_pick_sounds(frets: list[int]) -> None:
    damping = FrettingHand(NECK, Hand(damps=True))
    grip = Grip(tuple(frets))
    answer = damping.hold(grip)
    if isinstance(answer, Fingering):
        assert why_not_plucked(answer, Plucking.PICK) == ""
        assert isinstance(HAND.hold(grip), Fingering)


def test_a_flat_finger_does_not_damp_what_it_covers() -> None:
    flat = held("5x7555")
    assert flat.stops[0].lowest == 0
    assert flat.stops[0].highest == 5
    assert "string 5" in why_not_plucked(flat, Plucking.PICK)
