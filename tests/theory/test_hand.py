"""What a hand can hold, by rules worked out again here, and figures of the trade."""

from collections.abc import Iterator
from itertools import combinations, product
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from introit.theory.chord import chord_from_symbol
from introit.theory.fingering import Fingering, Unplayable
from introit.theory.fretboard import STANDARD_TUNING, Fretboard, Place
from introit.theory.grip import Grip
from introit.theory.hand import ARCHED_STRINGS, BRIDGED_STRINGS, FLAT_STRINGS, REACH_MM, Hand
from introit.theory.holding import FrettingHand

NECK = Fretboard()
HAND = FrettingHand(NECK)


def mm(fret: int, scale: float = 648) -> float:
    return scale - scale / 2 ** (fret / 12)


def held(text: str, hand: FrettingHand = HAND) -> Fingering:
    answer = hand.hold(Grip.from_text(text))
    assert isinstance(answer, Fingering), answer
    return answer


def refused(text: str, hand: FrettingHand = HAND) -> str:
    answer = hand.hold(Grip.from_text(text))
    assert isinstance(answer, Unplayable), answer
    return answer.reason


# -- the stretch, in millimetres ---------------------------------------------------------------------------


def test_four_frets_at_the_nut_are_a_stretch_and_five_at_the_ninth_are_easy() -> None:
    at_nut, at_ninth = mm(4) - mm(1), mm(13) - mm(9)
    assert (round(at_nut), round(at_ninth)) == (97, 79)
    strain = Hand().strain
    assert (strain(1, 4, at_nut) or 0) > 0
    assert strain(1, 4, at_ninth) == 0


def test_four_frets_are_held_everywhere_and_five_only_where_they_are_close() -> None:
    # "4 frets normal, 5 a stretch": recalled common practice, no source.
    assert all(
        isinstance(HAND.hold(Grip((fret, -1, fret + 3, -1, -1, -1))), Fingering) for fret in range(1, 17)
    )
    five = [isinstance(HAND.hold(Grip((fret, -1, fret + 4, -1, -1, -1))), Fingering) for fret in range(1, 16)]
    assert five == [False, False] + [True] * 13
    assert refused("1x5xxx") == "span 126 mm, fret 1 to 5; a hand reaches 115 mm"


def test_a_shorter_neck_and_a_larger_hand_reach_farther() -> None:
    assert held("1x5xxx", FrettingHand(Fretboard(scale_mm=560))).fingers[::2] == (1, 4, -1)
    assert held("1x5xxx", FrettingHand(hand=Hand(size=1.2))).fingers[::2] == (1, 4, -1)
    assert held("1x5xxx", FrettingHand(Fretboard(capo=5))).fingers[::2] == (1, 4, -1)
    assert refused("1x4xxx", FrettingHand(hand=Hand(size=0.8))).startswith("span 97 mm")


# -- fingers, barres, open strings -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "fingers"),
    [
        # As every beginner's book has them (common practice, no source).
        ("x32010", (-1, 3, 2, 0, 1, 0)),
        ("022100", (0, 2, 3, 1, 0, 0)),
        ("133211", (1, 3, 4, 2, 1, 1)),
        ("xx0232", (-1, -1, 0, 1, 3, 2)),
        ("x35453", (-1, 1, 3, 2, 4, 1)),
        ("x24232", (-1, 1, 3, 1, 2, 1)),
        ("x02220", (-1, 0, 1, 2, 3, 0)),
        ("000000", (0,) * 6),
        ("xxxxxx", (-1,) * 6),
    ],
)
def test_plain_grips_are_fingered_as_people_do(text: str, fingers: tuple[int, ...]) -> None:
    assert held(text).fingers == fingers


def test_open_strings_are_free() -> None:
    assert held("000000").cost == 0
    assert held("xx0232").cost == held("xxx232").cost


def test_a_flat_index_finger_costs_more_than_fingertips_and_leaves_no_string_lower() -> None:
    assert held("x11111").cost > held("x1xxxx").cost
    assert held("x-5-7-5-6-5").fingers == (-1, 1, 3, 1, 2, 1)
    assert refused("560657") == "five fingers needed, four may be used"  # the open string parts both fives


def test_partial_barres() -> None:
    assert held("x13331", FrettingHand(hand=Hand(fingers=2))).fingers == (-1, 1, 3, 3, 3, 1)
    assert held("x13331").fingers == (-1, 1, 2, 3, 4, 1)
    assert held("xx5587", FrettingHand(hand=Hand(fingers=3))).fingers == (-1, -1, 1, 1, 4, 3)
    assert held("322454").fingers == (2, 1, 1, 3, 4, 3)  # a ring finger under the little one
    assert refused("x24442", FrettingHand(hand=Hand(fingers=1)))
    assert held("4x4xxx", FrettingHand(hand=Hand(fingers=1))).stops[0].highest == 2  # the index, over silence
    assert refused("24x4xx", FrettingHand(hand=Hand(fingers=2))) == "three fingers needed, two may be used"


def test_the_thumb_helps_only_when_asked() -> None:
    plain, with_thumb = FrettingHand(), FrettingHand(hand=Hand(thumb=True))
    assert 5 not in held("2x0232", plain).fingers
    assert held("23xxxx", FrettingHand(hand=Hand(fingers=1, thumb=True))).fingers == (5, 1, -1, -1, -1, -1)
    assert refused("23xxxx", FrettingHand(hand=Hand(fingers=1))) == "two fingers needed, one may be used"
    assert held("233555", FrettingHand(hand=Hand(fingers=2, thumb=True))).fingers[0] == 5
    assert refused("27xxxx", FrettingHand(hand=Hand(fingers=1, thumb=True)))  # it keeps near the index
    assert held("133211", with_thumb).cost <= held("133211", plain).cost


def test_fingers_that_jump_across_the_strings_pay() -> None:
    assert held("7xxxx8").cost > held("7x8xxx").cost  # the same two fingers, one fret apart


def test_a_hand_that_damps_gives_silent_strings_no_flat_finger() -> None:
    damping = FrettingHand(hand=Hand(damps=True))
    assert held("5x5556").stops[0].highest > 1
    assert held("5x5556", damping).fingers[0] != held("5x5556", damping).fingers[2]
    assert refused("0x0xxx", damping) == "nothing damps string 5: no string beside it is stopped"
    assert held("0x0xxx").cost == 0


def test_seven_strings() -> None:
    seven = FrettingHand(Fretboard((35, *STANDARD_TUNING)))
    assert held("x133211", seven).fingers == (-1, *held("133211").fingers)
    assert held("1111111", seven).fingers == (1,) * 7
    with pytest.raises(ValueError, match="the neck has 7"):
        seven.hold(Grip.from_text("133211"))


# -- grips that no hand can hold, made by us ---------------------------------------------------------------

IMPOSSIBLE = {
    "x12345": "five fingers needed",
    "x54321": "five fingers needed",
    "135797": "five fingers needed",
    "212012": "five fingers needed",
    "123456": "six fingers needed",
    "1xxxx6": "span 153 mm, fret 1 to 6; a hand reaches 115 mm",
    "154151": "span 126 mm",
    "x2x6x2": "span 119 mm",
    "1xx9xx": "span",
    "x-1-x-12-x-x": "span",
    "5-5-0-9-0-12": "span",
    "xx1476": "span",
    "x-x-x-x-x-21": "fret 21 is wanted, the last fret is 20",
}


@pytest.mark.parametrize(("text", "reason"), IMPOSSIBLE.items())
def test_no_hand_holds_these(text: str, reason: str) -> None:
    assert reason in refused(text)


def spread_frets(count: int) -> st.SearchStrategy[Grip]:
    """Grips with that many different frets, each on its own string."""
    return st.tuples(
        st.lists(st.integers(1, 20), min_size=count, max_size=count, unique=True), st.permutations(range(6))
    ).map(
        lambda drawn: Grip.from_places(
            [Place(row + 1, fret) for fret, row in zip(drawn[0], drawn[1], strict=False)]
        )
    )


@given(st.integers(5, 6).flatmap(spread_frets))
def test_five_different_frets_need_five_fingers(grip: Grip) -> None:
    answer = HAND.hold(grip)
    assert isinstance(answer, Unplayable)
    assert "fingers needed" in answer.reason


@given(st.lists(st.integers(-1, 20), min_size=6, max_size=6).map(tuple))
def test_nothing_wider_than_any_hand_is_held(frets: tuple[int, ...]) -> None:
    stopped = [fret for fret in frets if fret > 0]
    assume(stopped and mm(max(stopped)) - mm(min(stopped)) > 115)  # our figure; no source
    assert isinstance(HAND.hold(Grip(frets)), Unplayable)


# -- the same rules, tried by brute force ------------------------------------------------------------------


def brute_force_holds(frets: tuple[int, ...]) -> bool:
    """Whether any of the 4^n ways to give fingers to the stopped strings keeps every rule."""
    stopped = [row for row, fret in enumerate(frets) if fret > 0]
    ways = product(range(1, 5), repeat=len(stopped))
    return any(keeps_rules(dict(zip(stopped, way, strict=True)), frets) for way in ways)


def keeps_rules(way: dict[int, int], frets: tuple[int, ...]) -> bool:
    for (row, finger), (other_row, other) in combinations(way.items(), 2):
        low, high = sorted([(finger, frets[row], row), (other, frets[other_row], other_row)])
        if finger == other and frets[row] != frets[other_row]:
            return False
        if low[0] < high[0] and (low[1] > high[1] or (low[1] == high[1] and low[2] > high[2])):
            return False
        if low[0] < high[0] and mm(high[1]) - mm(low[1]) > REACH_MM[low[0], high[0]]:
            return False
    return all(
        may_lie_flat(finger, [row for row in way if way[row] == finger], frets)
        for finger in set(way.values())
    )


def may_lie_flat(finger: int, rows: list[int], frets: tuple[int, ...]) -> bool:
    if len(rows) == 1:
        return True
    fret, spanned = frets[rows[0]], rows[-1] - rows[0] + 1
    between = [frets[row] for row in range(rows[0], rows[-1] + 1) if row not in rows]
    if any(0 <= other < fret for other in between) or spanned > FLAT_STRINGS[finger]:
        return False
    if any(0 <= above < fret for above in frets[rows[-1] + 1 :]) and spanned > ARCHED_STRINGS:
        return False
    return finger == 1 or (-1 not in between and (not between or spanned <= BRIDGED_STRINGS))


@st.composite
def near_grips(draw: st.DrawFn) -> tuple[int, ...]:
    """Grips about one place of the neck, so that about half can be held."""
    base = draw(st.integers(1, 14))
    fret = st.one_of(st.just(-1), st.just(0), st.integers(base, base + 4), st.integers(base, base + 2))
    return tuple(draw(st.lists(fret, min_size=6, max_size=6)))


@settings(max_examples=120, deadline=None)
@given(near_grips())
def test_the_search_finds_a_way_exactly_when_there_is_one(frets: tuple[int, ...]) -> None:
    answer = HAND.hold(Grip(frets))
    assert isinstance(answer, Fingering) == brute_force_holds(frets)


@given(near_grips())
def test_what_is_held_keeps_every_rule(frets: tuple[int, ...]) -> None:
    answer = HAND.hold(Grip(frets))
    if isinstance(answer, Unplayable):
        assert answer.reason
        return
    assert [min(finger, 0) for finger in answer.fingers] == [min(fret, 0) for fret in frets]
    assert [finger > 0 for finger in answer.fingers] == [fret > 0 for fret in frets]
    assert keeps_rules({row: finger for row, finger in enumerate(answer.fingers) if finger > 0}, frets)
    assert answer.cost >= 0


@given(near_grips())
def test_a_fret_higher_without_open_strings_is_no_harder_to_reach(frets: tuple[int, ...]) -> None:
    assume(0 not in frets and max(frets) < 12)
    here = HAND.hold(Grip(frets))
    higher = HAND.hold(Grip(tuple(fret + 1 if fret > 0 else fret for fret in frets)))
    if isinstance(here, Fingering):
        assert isinstance(higher, Fingering)
        assert higher.cost <= here.cost + 1e-9


@given(near_grips())
def test_a_larger_hand_holds_all_that_a_smaller_does(frets: tuple[int, ...]) -> None:
    small, large = FrettingHand(hand=Hand(size=0.8)), FrettingHand(hand=Hand(size=1.3))
    assert isinstance(small.hold(Grip(frets)), Unplayable) or isinstance(large.hold(Grip(frets)), Fingering)


# -- drop voicings on their string sets --------------------------------------------------------------------

# Drop 2: second note from the top of a close voicing down an octave, on sets 1234 2345 3456. Drop 3: third
# from the top, on 1235 and 2346. heyjazzguy.com 2012; zelva.dev drop3-voicing-guide;
# mckiel.us/music/Drop2Voicings.htm; timfischermusic.com post 73 (the sets).
DROPS = {
    2: ((1, 2, 3, 4), (2, 3, 4, 5), (3, 4, 5, 6)),
    3: ((1, 2, 3, 5), (2, 3, 4, 6)),
}
QUALITIES = ("maj7", "7", "m7", "m7b5")


def close_voicings(symbol: str) -> list[list[int]]:
    """The four inversions of a seventh chord within an octave, as semitones, lowest first."""
    chord = chord_from_symbol(symbol)
    tones = sorted(
        (tone.pitch_class - chord.root.pitch_class) % 12
        for tone in (*chord.required, *chord.optional)
        if tone.degree in (1, 3, 5, 7)
    )
    assert len(tones) == 4
    return [tones[start:] + [tone + 12 for tone in tones[:start]] for start in range(4)]


def dropped(voicing: list[int], which: int) -> list[int]:
    return sorted([*voicing[:-which], voicing[-which] - 12, *voicing[len(voicing) - which + 1 :]])


def on_strings(voicing: list[int], strings: tuple[int, ...]) -> Iterator[Grip]:
    """A voicing moved along its strings, lowest note on the lowest string, up to the fifteenth fret."""
    for lift in range(128):
        frets = [
            NECK.fret(tone + lift, string)
            for tone, string in zip(voicing, reversed(strings), strict=True)
            if 0 <= tone + lift < 128
        ]
        places = [
            Place(s, f) for s, f in zip(reversed(strings), frets, strict=False) if f is not None and f <= 15
        ]
        if len(places) == 4:
            yield Grip.from_places(places)


def test_the_example_of_each_drop_is_the_sources() -> None:
    c_e_g_b = [0, 4, 7, 11]
    assert dropped(c_e_g_b, 2) == [-5, 0, 4, 11]  # C E G B -> G C E B
    assert dropped(c_e_g_b, 3) == [-8, 0, 7, 11]  # C E G B -> E C G B


@pytest.mark.parametrize(("drop", "strings"), [(drop, strings) for drop in DROPS for strings in DROPS[drop]])
def test_every_drop_voicing_can_be_held_on_its_sets(drop: int, strings: tuple[int, ...]) -> None:
    tried = dict.fromkeys(QUALITIES, 0)
    for quality in QUALITIES:
        for voicing in close_voicings(f"C{quality}"):
            grips = list(on_strings(dropped(voicing, drop), strings))
            assert len(grips) >= 10
            tried[quality] += len(grips)
            for grip in grips:
                lowest = min(fret for fret in grip.frets if fret >= 0)
                if lowest > 2 or grip.fret_span < 5:  # five frets at the nut are no hand's
                    assert isinstance(HAND.hold(grip), Fingering), str(grip)
    assert min(tried.values()) >= 40


def test_close_voicings_are_what_a_guitar_does_not_hold() -> None:
    """The same check with nothing dropped: it can fail, and why the drops are played at all."""
    grips = [
        grip
        for quality in QUALITIES
        for voicing in close_voicings(f"C{quality}")
        for grip in on_strings(voicing, (3, 4, 5, 6))
    ]
    share = sum(isinstance(HAND.hold(grip), Fingering) for grip in grips) / len(grips)
    assert share < 0.5


@pytest.mark.parametrize(
    ("given_", "says"),
    [
        ({"fingers": 0}, "0 fingers"),
        ({"fingers": 5}, "5 fingers"),
        ({"size": 0.1}, "size 0.1"),
        ({"size": 9}, "size 9"),
    ],
)
def test_what_is_no_hand_is_refused(given_: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Hand(**given_)


# -- fingers that stay where they are ------------------------------------------------------------------------


def on(text: str, placed: tuple[tuple[int, int], ...]) -> tuple[int, ...] | None:
    found = HAND.hold_on(Grip.from_text(text), placed)
    return None if found is None else found.fingers


def test_fingers_that_stop_a_string_already_stay_there() -> None:
    """Little, ring and middle finger hold an upper grip; the lowest string is struck open under it."""
    assert held("0x665x").fingers == (0, -1, 2, 3, 1, -1)
    assert on("0x665x", ((2, 3), (3, 4), (4, 2))) == (0, -1, 3, 4, 2, -1)
    assert on("5x665x", ((2, 3), (3, 4), (4, 2))) == (1, -1, 3, 4, 2, -1)
    assert on("0x665x", ((2, 4), (3, 3), (4, 2))) is None  # the lower finger takes the lower string


def test_no_lower_fret_is_left_for_a_finger_above_one_that_stays() -> None:
    assert on("4x5xxx", ((2, 1),)) is None
    assert on("4x5xxx", ((2, 2),)) == (1, -1, 2, -1, -1, -1)


@given(st.lists(st.integers(-1, 9), min_size=6, max_size=6), st.data())
@settings(max_examples=200)
def test_a_fingering_that_stays_is_the_best_one_or_costs_more(frets: list[int], data: st.DataObject) -> None:
    best = HAND.hold(Grip(tuple(frets)))
    assume(isinstance(best, Fingering))
    assert isinstance(best, Fingering)
    rows = [row for row, fret in enumerate(frets) if fret > 0]
    own = tuple((row, best.fingers[row]) for row in rows if data.draw(st.booleans()))
    assert HAND.hold_on(best.grip, own) == best
    other = tuple((row, data.draw(st.integers(1, 4))) for row in rows[:1])
    found = HAND.hold_on(best.grip, other)
    if found is not None:
        assert all(found.fingers[row] == finger for row, finger in other)
        assert found.cost >= best.cost
