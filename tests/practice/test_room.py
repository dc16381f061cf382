"""The practice room: exactly which keys, tempi, parts and rests come, mode by mode."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from introit.errors import UsageError
from introit.library.leading import Bars
from introit.practice.goal import Climb, Ear, Goal, Hide, Keys, Lesson, Order
from introit.practice.listening import places_of
from introit.practice.passes import Outcome, Pass
from introit.practice.room import Room
from introit.practice.subject import Subject
from introit.theory.key import Key, Mode

Make = Callable[..., Subject]
CLEAN, NOT = Outcome((960,)), Outcome()


def passes(goal: Goal, subjects: Sequence[Subject], outcomes: str = "", *, seed: int = 0) -> list[Pass]:
    """The passes of a practice: `+` for a press in a pass, `-` for none."""
    room = Room(goal, subjects, seed=seed)
    found = [room.first()]
    for sign in outcomes:
        following = room.next(CLEAN if sign == "+" else NOT)
        if following is None:
            break
        found.append(following)
    return found


def keys_of(found: Sequence[Pass]) -> str:
    return " ".join(str(one.key) for one in found)


# --- loop ------------------------------------------------------------------------------------------


def test_a_loop_is_the_same_again_and_again(subject: Make) -> None:
    found = passes(Goal(rest=2, count=1), [subject()], "-+-")
    assert [one.number for one in found] == [1, 2, 3, 4]
    assert {
        (str(one.key), one.tempo, one.rest, one.count, one.bars, one.rounds, one.seed) for one in found
    } == {("C", 120.0, 2, 1, None, 1, 0)}
    assert {one.lead_in for one in found} == {1}


def test_a_passage_in_rounds_at_a_tempo(subject: Make) -> None:
    found = passes(Goal(bars=Bars(2, 3), rounds=4, tempo=90), [subject()], "--")
    assert {(one.bars, one.rounds, one.tempo, one.lead_in) for one in found} == {(Bars(2, 3), 4, 90, 0)}


def test_so_many_passes_and_no_more(subject: Make) -> None:
    found = passes(Goal(passes=3), [subject()], "------")
    assert [one.number for one in found] == [1, 2, 3]
    assert [one.coming is None for one in found] == [False, False, True]


def test_the_player_ends_it(subject: Make) -> None:
    room = Room(Goal(), [subject()])
    room.first()
    assert room.next(Outcome(over=True)) is None


# --- keys ------------------------------------------------------------------------------------------


def test_a_key_a_pass_whatever_is_pressed(subject: Make) -> None:
    found = passes(Goal(keys=Keys()), [subject()], "-+" * 7)
    assert keys_of(found) == "C F Bb Eb Ab Db Gb B E A D G C F Bb"


def test_the_next_key_is_known_before_a_pass_is_over(subject: Make) -> None:
    found = passes(Goal(keys=Keys(Order.WHOLE_STEPS), passes=13), [subject()], "-" * 13)
    told = [one.coming for one in found]
    assert [coming.key for coming in told if coming] == [one.key for one in found[1:]]
    assert [coming.text for coming in told if coming][:3] == ["next: D", "next: E", "next: Gb"]
    assert told[-1] is None


def test_the_cue_takes_its_bar_from_the_rest_where_it_can(subject: Make) -> None:
    def shape(goal: Goal) -> list[tuple[int, int]]:
        return [(one.lead_in, one.rest) for one in passes(goal, [subject()], "---")]

    assert shape(Goal(keys=Keys(cue=True), rest=2)) == [(1, 1)] * 4
    assert shape(Goal(keys=Keys(cue=True), rest=1)) == [(1, 1)] * 4
    assert shape(Goal(keys=Keys(cue=True), rest=3, count=2)) == [(2, 3)] * 4
    assert shape(Goal(keys=Keys(cue=True, each=2), rest=2)) == [(1, 2), (0, 1), (1, 2), (0, 1)]
    assert shape(Goal(keys=Keys(), rest=2)) == [(0, 2)] * 4


def test_only_the_keys_of_the_set_for_each_of_its_tunes(subject: Make) -> None:
    tunes = [subject(key="Bb", title="One"), subject(key="F", title="Two")]
    found = passes(Goal(keys=Keys(Order.AS_GIVEN, of_set=True)), tunes, "-----")
    assert [(one.tune, str(one.key)) for one in found] == [
        (0, "Bb"), (0, "F"), (1, "Bb"), (1, "F"), (0, "Bb"), (0, "F"),
    ]  # fmt: skip
    assert [one.coming.text for one in found if one.coming][:3] == ["next: F", "next: Two, Bb", "next: F"]


def test_modes_as_the_intro_has_forms_for(subject: Make) -> None:
    both = subject("amen-steps")
    found = passes(Goal(keys=Keys(modes=(Mode.MAJOR, Mode.MINOR))), [both], "-" * 23)
    assert keys_of(found[:2]) == "C F"
    assert keys_of(found[12:14]) == "C minor F minor"
    assert len({str(one.key) for one in found}) == 24
    with pytest.raises(UsageError, match="has no minor form"):
        Room(Goal(keys=Keys(modes=(Mode.MINOR,))), [subject("back-door")])


def test_a_set_goes_round_in_its_own_keys_and_tempi(subject: Make) -> None:
    tunes = [subject(key="Bb", tempo=100.0), subject(key="F", tempo=200.0)]
    found = passes(Goal(), tunes, "---")
    assert [(one.tune, str(one.key), one.tempo) for one in found] == [
        (0, "Bb", 100), (1, "F", 200), (0, "Bb", 100), (1, "F", 200),
    ]  # fmt: skip


# --- climb -----------------------------------------------------------------------------------------


def test_another_tempo_or_meter_is_told_ahead_and_counted_in(subject: Make) -> None:
    """Of a set's tunes: nobody can begin a ballad in three with a beat of swing in his foot."""
    tunes = [
        subject(title="One"),
        subject("waltz-upstairs", title="Two"),
        subject("waltz-upstairs", title="Three", tempo=92.0),
        subject("waltz-upstairs", title="Four", tempo=92.0),
    ]
    found = passes(Goal(), tunes, "-----")
    assert [one.coming.text for one in found if one.coming] == [
        "next: Two, C, in 3/4",
        "next: Three, C, at 92",
        "next: Four, C",
        "next: One, C, in 4/4, at 120",
        "next: Two, C, in 3/4",
        "next: Three, C, at 92",
    ]
    assert [one.count for one in found] == [0, 1, 1, 0, 1, 1]
    assert [one.count for one in passes(Goal(count=2), tunes, "---")] == [2] * 4
    assert [one.count for one in passes(Goal(tempo=100.0), tunes, "----")] == [0, 1, 0, 0, 1]


def test_a_climb_goes_by_what_is_pressed(subject: Make) -> None:
    goal = Goal(climb=Climb(96, 160, 4, each=2, pressed=True))
    found = passes(goal, [subject()], "++++-+----")
    assert [one.tempo for one in found] == [96, 96, 100, 100, 104, 104, 104, 104, 100, 100, 96]


def test_several_presses_in_a_pass_are_one_clean_pass(subject: Make) -> None:
    room = Room(Goal(climb=Climb(96, 160, 4, each=2, pressed=True)), [subject()])
    room.first()
    following = room.next(Outcome((10, 2_000, 4_000)))
    assert following is not None
    assert following.tempo == 96


def test_slow_fast_slow(subject: Make) -> None:
    found = passes(Goal(climb=Climb(96, 160, 32, back=True)), [subject()], "-----")
    assert [one.tempo for one in found] == [96, 128, 160, 128, 96, 128]


def test_it_says_whether_it_went_up_or_down(subject: Make) -> None:
    room = Room(Goal(climb=Climb(96, 160, 4, pressed=True)), [subject()])
    room.first()
    room.next(CLEAN)
    assert room.said() == "up to 100"
    room.next(NOT)
    assert room.said() == ""
    room.next(NOT)
    assert room.said() == "down to 96"


def test_a_passage_keeps_its_bars_while_the_tempo_climbs(subject: Make) -> None:
    stretched = subject("back-door", tempo=150.0)  # above 190 this intro is played twice as long
    assert stretched.library.intros["back-door"].stretch_above == 190
    bars = {stretched.plan(stretched.tune.key, tempo).bars for tempo in (60.0, 150.0, 189.0, 191.0, 300.0)}
    assert bars == {stretched.bars} == {4}
    fast = subject("back-door", tempo=220.0)
    assert {fast.plan(fast.tune.key, tempo).bars for tempo in (60.0, 220.0)} == {fast.bars} == {8}


@settings(max_examples=60, deadline=None)
@given(
    low=st.integers(30, 399),
    width=st.integers(1, 200),
    each=st.integers(1, 3),
    outcomes=st.text("+-", max_size=40),
)
def test_the_tempo_never_leaves_its_bounds(
    subject: Make, low: int, width: int, each: int, outcomes: str
) -> None:
    high = min(low + width, 400)
    goal = Goal(climb=Climb(low, high, min(4, high - low), each=each, pressed=True), keys=Keys(), hide=Hide())
    found = passes(goal, [subject()], outcomes)
    assert all(low <= one.tempo <= high for one in found)
    assert len(found) == len(outcomes) + 1


# --- hide, fade, answer ------------------------------------------------------------------------------


def test_parts_in_turn(subject: Make) -> None:
    found = passes(Goal(hide=Hide()), [subject()], "---")
    assert [sorted(one.hidden) for one in found] == [["melody"], ["comp"], ["bass", "pedal"], ["melody"]]
    assert [one.coming.text for one in found if one.coming][:2] == ["next: comp out", "next: bass out"]


def test_a_melody_fades_and_then_stays_away(subject: Make) -> None:
    found = passes(Goal(fade=4), [subject()], "-----")
    assert [one.melody for one in found] == [100, 67, 33, 0, 0, 0]


def test_in_each_key_the_melody_fades_anew(subject: Make) -> None:
    found = passes(Goal(fade=3, keys=Keys()), [subject()], "------")
    assert keys_of(found) == "C C C F F F Bb"
    assert [one.melody for one in found] == [100, 50, 0, 100, 50, 0, 100]


def test_answer_needs_bars_for_the_player(subject: Make) -> None:
    assert passes(Goal(answer=2), [subject()])[0].answer == 2
    with pytest.raises(UsageError, match="nothing would be left to you"):
        Room(Goal(answer=4), [subject()])
    assert passes(Goal(answer=4, rounds=2), [subject()])[0].rounds == 2
    with pytest.raises(UsageError, match="a pass has 1 bar, so"):
        Room(Goal(answer=1, bars=Bars(2, 2)), [subject()])


# --- build -----------------------------------------------------------------------------------------


def test_a_press_takes_build_to_its_next_step_and_round_again(subject: Make) -> None:
    found = passes(Goal(build=Lesson.CHORDS), [subject()], "-++-+++")
    assert [one.step for one in found] == [1, 1, 2, 3, 3, 4, 5, 1]
    assert {one.steps for one in found} == {5}


def test_two_presses_are_two_steps(subject: Make) -> None:
    room = Room(Goal(build=Lesson.CHORDS), [subject()])
    room.first()
    following = room.next(Outcome((100, 3_000)))
    assert following is not None
    assert following.step == 3


def test_the_same_voicing_on_the_next_string_set(subject: Make) -> None:
    room = Room(Goal(build=Lesson.STRINGS), [subject()])
    one: Pass | None = room.first()
    names = []
    for _ in range(4):
        assert one is not None
        names.append(room.sentence(one))
        one = room.next(CLEAN)
    assert names == [f"C, 120, strings {name}" for name in ("6-5-4-3", "5-4-3-2", "4-3-2-1", "6-5-4-3")]


# --- for the ear -------------------------------------------------------------------------------------


def test_a_mistake_a_pass_and_never_in_one_place_twice_running(subject: Make) -> None:
    made = subject("blues-bass-climbs")
    found = passes(Goal(ear=Ear.BOTH), [made], "-" * 40)
    planted = [one.planted for one in found]
    chords = [mistake.chord for mistake in planted if mistake]
    assert len(chords) == 41
    assert all(one != other for one, other in pairwise(chords))
    score = made.score(Key.from_text("C"), 120.0, 0)
    assert set(chords) == set(places_of(score, (0, score.plan.head_tick)))  # each place has its turn
    swapped = [mistake.instead is not None for mistake in planted if mistake]
    assert 10 <= sum(swapped) <= 31  # 41 fair throws: outside with less than one chance in a thousand


@pytest.mark.parametrize(("ear", "swapped"), [(Ear.OUT, False), (Ear.SWAPPED, True)])
def test_the_kind_that_is_asked_for(subject: Make, ear: Ear, *, swapped: bool) -> None:
    found = passes(Goal(ear=ear), [subject()], "-" * 10)
    assert {one.planted is not None and one.planted.instead is not None for one in found} == {swapped}


def test_the_same_seed_makes_the_same_mistakes(subject: Make) -> None:
    goal = Goal(ear=Ear.BOTH, keys=Keys())
    first, again, other = (
        [one.planted for one in passes(goal, [subject()], "-" * 8, seed=seed)] for seed in (3, 3, 4)
    )
    assert first == again != other


def test_a_mistake_lies_in_what_is_played(subject: Make) -> None:
    goal = Goal(ear=Ear.OUT, bars=Bars(2, 3), rounds=3)
    for one in passes(goal, [subject("blues-bass-climbs")], "-" * 30):
        assert one.planted is not None
        bars = one.planted.tick / 3840
        assert bars % 2 > 0  # not on the first chord of a round
        assert bars < 6
        assert one.planted.tick < one.planted.end <= 6 * 3840


def test_it_says_whether_the_mistake_was_heard(subject: Make) -> None:
    room = Room(Goal(ear=Ear.OUT), [subject()])
    planted = room.first().planted
    assert planted is not None
    hit, early = Outcome((planted.tick + 1440,)), Outcome((planted.tick - 1,))
    assert room.clean(hit) is True
    assert room.clean(early) is False
    assert room.clean(Outcome((*early.marks, *hit.marks))) is False
    assert room.clean(NOT) is False
    twin = room.twin()
    twin.next(hit)
    assert twin.said().startswith("heard after 1.5 beats; ")
    assert "was left out in bar" in twin.said()
    room.next(early)
    assert room.said().startswith("not heard; ")
    assert room.said().endswith("; 1 false alarm")


def test_one_chord_alone_cannot_be_missed(subject: Make) -> None:
    with pytest.raises(UsageError, match="at least two chords"):
        Room(Goal(ear=Ear.OUT, bars=Bars(1, 1)), [subject()]).first()


# --- together ----------------------------------------------------------------------------------------


def test_keys_and_climb_and_hide(subject: Make) -> None:
    goal = Goal(keys=Keys(Order.HALF_STEPS), climb=Climb(96, 160, 4, each=2, pressed=True), hide=Hide())
    found = passes(goal, [subject()], "+++--++")
    assert keys_of(found) == "C C C Db Db Db D D"
    assert [sorted(one.hidden)[0] for one in found] == [
        "melody", "comp", "bass", "melody", "comp", "bass", "melody", "comp",
    ]  # fmt: skip
    assert [one.tempo for one in found] == [96, 96, 100, 100, 100, 96, 96, 100]


def test_twice_in_each_key_is_twice_all_that_goes_in_turn(subject: Make) -> None:
    goal = Goal(keys=Keys(each=2), hide=Hide(("melody", "bass")))
    assert keys_of(passes(goal, [subject()], "-----")) == "C C C C F F"


def test_what_was_clean(subject: Make) -> None:
    plain = Room(Goal(), [subject()])
    assert (plain.clean(CLEAN), plain.clean(NOT)) == (True, None)
    climb = Room(Goal(climb=Climb(96, 160, pressed=True)), [subject()])
    assert (climb.clean(CLEAN), climb.clean(NOT)) == (True, False)
    alone = Room(Goal(climb=Climb(96, 160)), [subject()])
    assert (alone.clean(CLEAN), alone.clean(NOT)) == (True, None)
    build = Room(Goal(build=Lesson.CHORDS), [subject()])
    assert (build.clean(CLEAN), build.clean(NOT)) == (None, None)


@pytest.mark.parametrize(
    ("goal", "says"),
    [
        (Goal(bars=Bars(4, 5)), "there is no bar 5: intro 'back-door' has bars 1 to 4"),
        (Goal(keys=Keys(Order.AS_GIVEN, of_set=True)), "keys of the set need a set to practise"),
    ],
)
def test_what_does_not_suit_the_intro_is_told(subject: Make, goal: Goal, says: str) -> None:
    with pytest.raises(UsageError) as caught:
        Room(goal, [subject()])
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("goal", "says"),
    [
        (Goal(climb=Climb(96, 160)), "climb takes one intro or tune"),
        (Goal(bars=Bars(1, 2)), "bars 1-2 of which intro?"),
    ],
)
def test_what_does_not_suit_a_set_is_told(subject: Make, goal: Goal, says: str) -> None:
    with pytest.raises(UsageError) as caught:
        Room(goal, [subject(), subject("blues-riff")])
    assert says in str(caught.value)


def test_nothing_to_practise_is_told() -> None:
    with pytest.raises(UsageError, match="there is nothing to practise"):
        Room(Goal(), [])


def test_a_twin_can_be_asked_without_changing_the_room(subject: Make) -> None:
    goal = Goal(climb=Climb(96, 160, pressed=True), keys=Keys(Order.RANDOM))
    room = Room(goal, [subject()], seed=7)
    first = room.first()
    twin = room.twin()
    assert twin.next(CLEAN) == room.twin().next(CLEAN)
    assert room.first() == first
    slower, faster = room.twin().next(NOT), room.next(CLEAN)
    assert slower is not None
    assert faster is not None
    assert (slower.key, slower.tempo, faster.tempo) == (faster.key, 96, 100)


@pytest.mark.parametrize(
    ("goal", "line"),
    [
        (Goal(), "C, 120"),
        (Goal(keys=Keys(), hide=Hide()), "C (1 of 12), 120, melody out"),
        (Goal(climb=Climb(96, 160, 4, 2, pressed=True)), "C, 96 (0 of 2 clean)"),
        (Goal(bars=Bars(2, 3), rounds=3), "C, 120, bars 2-3, 3 rounds"),
        (Goal(hide=Hide(("comp", "bass"), in_turn=False)), "C, 120, comp and bass out"),
        (Goal(answer=2), "C, 120, 2 bars the tool, 2 bars you"),
        (Goal(build=Lesson.CHORDS), "C, 120, step 1 of 5: one, six, two, five"),
        (Goal(ear=Ear.BOTH), "C, 120"),
    ],
)
def test_a_pass_in_a_line(subject: Make, goal: Goal, line: str) -> None:
    room = Room(goal, [subject()])
    assert room.sentence(room.first()) == line
