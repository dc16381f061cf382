"""How a player says what is practised: read in any order, answered clearly, and said back the same."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from introit.errors import IntroitError, NotationError, UsageError
from introit.library.leading import Bars
from introit.practice import sentence
from introit.practice.goal import HIDEABLE, Climb, Ear, Goal, Hide, Keys, Lesson, Order
from introit.practice.phrases import NUMBERS
from introit.practice.sentence import goal_from
from introit.practice.wording import wording
from introit.theory.key import Key, Mode, keys

TWO_CLEAN = Goal(climb=Climb(96, 160, 4, each=2, pressed=True))


def named(*names: str) -> tuple[Key, ...]:
    return tuple(Key.from_text(name) for name in names)


@pytest.mark.parametrize(
    ("text", "goal"),
    [
        ("", Goal()),
        ("loop", Goal()),
        ("loop it again and again", Goal()),
        ("bars 5 to 8, rest 2", Goal(bars=Bars(5, 8), rest=2)),
        ("loop bars five-eight with two bars rest", Goal(bars=Bars(5, 8), rest=2)),
        ("loop 5 to 8", Goal(bars=Bars(5, 8))),
        ("bar 3, count 1", Goal(bars=Bars(3, 3), count=1)),
        ("bar 3 twice round at 120.5", Goal(bars=Bars(3, 3), rounds=2, tempo=120.5)),
        ("four rounds, no count, stop after 12 passes", Goal(rounds=4, passes=12)),
        ("a count, 3 passes in all", Goal(count=1, passes=3)),
        ("climb 96 to 160 by 4, two clean each", TWO_CLEAN),
        ("Climb 96–160 by 4, 2 clean each", TWO_CLEAN),
        ("climb by 4 from 96 up to 160, after two clean passes", TWO_CLEAN),
        ("two clean passes in a row each, then climb in steps of four between 96 and 160", TWO_CLEAN),
        ("96 to 160, clean twice at each tempo", TWO_CLEAN),
        ("climb 96 to 160, two each", Goal(climb=Climb(96, 160, 4, each=2))),
        ("climb 96 to 98", Goal(climb=Climb(96, 98, 2))),
        ("climb 96 to 160 by 8, only if clean", Goal(climb=Climb(96, 160, 8, pressed=True))),
        ("slow fast slow", Goal(climb=Climb(96, 160, 4, back=True))),
        ("slow-fast-slow, 80 to 200 by 20", Goal(climb=Climb(80, 200, 20, back=True))),
        ("climb 80 to 120 and back", Goal(climb=Climb(80, 120, 4, back=True))),
        ("keys", Goal(keys=Keys())),
        ("keys round the cycle of fourths", Goal(keys=Keys())),
        ("in all keys by half steps, cue", Goal(keys=Keys(Order.HALF_STEPS, cue=True))),
        ("keys by whole tones twice in each key", Goal(keys=Keys(Order.WHOLE_STEPS, each=2))),
        ("minor thirds", Goal(keys=Keys(Order.MINOR_THIRDS))),
        ("minor keys by minor thirds", Goal(keys=Keys(Order.MINOR_THIRDS, modes=(Mode.MINOR,)))),
        ("keys c f bb", Goal(keys=Keys(Order.AS_GIVEN, own=named("C", "F", "Bb")))),
        ("keys c, f and bb minor", Goal(keys=Keys(Order.AS_GIVEN, own=named("C", "F", "Bb minor")))),
        ("keys a minor, d", Goal(keys=Keys(Order.AS_GIVEN, own=named("A minor", "D")))),
        ("in the key of f#", Goal(keys=Keys(Order.AS_GIVEN, own=named("F#")))),
        ("keys up a half step", Goal(keys=Keys(Order.HALF_STEPS))),
        ("keys down a half step", Goal(keys=Keys(Order.HALF_STEPS_DOWN))),
        ("chromatically down", Goal(keys=Keys(Order.HALF_STEPS_DOWN))),
        ("keys by whole steps down, cue", Goal(keys=Keys(Order.WHOLE_STEPS_DOWN, cue=True))),
        ("round the circle of fifths", Goal(keys=Keys(Order.FIFTHS))),
        ("climb 96 160", Goal(climb=Climb(96, 160, 4))),
        ("climb 96, 160 by 4 two clean each", TWO_CLEAN),
        ("climb 96 to 160, up 5 each time", Goal(climb=Climb(96, 160, 5))),
        ("climb 96 to 160 +5", Goal(climb=Climb(96, 160, 5))),
        ("120 bpm, 10 times", Goal(tempo=120, passes=10)),
        ("repeat bars 1-2 twice", Goal(bars=Bars(1, 2), passes=2)),
        ("melody off", Goal(hide=Hide(("melody",), in_turn=False))),
        ("mute bass and comp", Goal(hide=Hide(("bass", "comp"), in_turn=False))),
        ("bass alone", Goal(hide=Hide(("melody", "comp"), in_turn=False))),
        ("only the comping", Goal(hide=Hide(("melody", "bass"), in_turn=False))),
        ("call and response", Goal(answer=2)),
        ("keys at random without repeats", Goal(keys=Keys(Order.RANDOM))),
        ("keys in major and minor", Goal(keys=Keys(modes=(Mode.MAJOR, Mode.MINOR)))),
        ("only the keys of my own set", Goal(keys=Keys(Order.AS_GIVEN, of_set=True))),
        ("random keys of the set", Goal(keys=Keys(Order.RANDOM, of_set=True))),
        ("keys C, F and Bb minor", Goal(keys=Keys(Order.AS_GIVEN, own=named("C", "F", "Bb minor")))),
        ("in Eb and Abm by fourths", Goal(keys=Keys(own=named("Eb", "Ab minor")))),
        ("keys three each", Goal(keys=Keys(each=3))),
        ("hide", Goal(hide=Hide())),
        ("melody out, comp out, bass out, in turn", Goal(hide=Hide())),
        ("hide the melody and the bass", Goal(hide=Hide(("melody", "bass"), in_turn=False))),
        ("without comping", Goal(hide=Hide(("comp",), in_turn=False))),
        ("no bass", Goal(hide=Hide(("bass",), in_turn=False))),
        ("fade", Goal(fade=5)),
        ("fade the melody away over eight passes, 20 passes", Goal(fade=8, passes=20)),
        ("answer", Goal(answer=2)),
        ("two bars the tool, two bars the player", Goal(answer=2)),
        ("trade fours, 2 rounds", Goal(answer=4, rounds=2)),
        ("build", Goal(build=Lesson.CHORDS)),
        ("the same voicing on the next string set", Goal(build=Lesson.STRINGS)),
        ("listen", Goal(ear=Ear.BOTH)),
        ("mistakes on purpose", Goal(ear=Ear.BOTH)),
        ("listen for chords left out", Goal(ear=Ear.OUT)),
        ("listen for wrong chords", Goal(ear=Ear.SWAPPED)),
        (
            "keys by fourths, climb 96 to 160 by 4, two clean each, hide, count 1",
            Goal(keys=Keys(), climb=TWO_CLEAN.climb, hide=Hide(), count=1),
        ),
    ],
)
def test_what_is_said(text: str, goal: Goal) -> None:
    assert goal_from(text) == goal


def test_the_order_of_the_phrases_says_nothing() -> None:
    phrases = ("climb 96 to 160", "by 4", "two clean each", "bars 2 to 4", "rest 2")
    expected = goal_from(", ".join(phrases))
    assert {expected} == {goal_from(" ".join(order)) for order in permutations(phrases)}


@pytest.mark.parametrize("number", range(1, 17))
def test_numbers_are_words_too(number: int) -> None:
    assert goal_from(f"rest {NUMBERS[number]}") == goal_from(f"rest {number}") == Goal(rest=number)


@pytest.mark.parametrize(
    ("text", "at", "says"),
    [
        ("clim 96 to 160", "clim", "Did you mean 'climb'?"),
        ("keys by forths", "forths", "Did you mean 'fourths'?"),
        ("climb 96 to 160 by 4, two claen each", "claen", "Did you mean 'clean'?"),
        ("keys, two", "two", "what is two for?"),
        ("keys, out", "out", "'out' says nothing here. Say for instance"),
        ("hide mellody", "mellody", "Did you mean 'melody'?"),
        ("keys, xyzzy", "xyzzy", "'xyzzy' says nothing here. Say for instance"),
        ("96", "96", "'at 96'"),
        ("by 4", "by 4", "that is said of a climb"),
        ("two clean each", "two", "that is said of a climb"),
        ("and back", "and", "that is said of a climb"),
        ("climb", "climb", "climb needs two tempi"),
        ("loop, twice in each key", "twice", "that is said of keys"),
        ("cue", "cue", "that is said of keys"),
        ("two each", "two", "each what?"),
        ("in turn", "in turn", "what in turn?"),
        ("rest 2, rest 3", "rest 3", "rest has been said already"),
        ("keys by fourths, by half steps", "by half", "the order of the keys has been said already"),
        ("climb 96 to 160, two clean each, three each", "three", "so many clean"),
        ("without melody; melody out", "melody out", "melody is said twice"),
        ("rest 1.5", "rest", "rest is a whole number, not 1.5"),
        ("bars 1.5 to 2", "bars", "bars are whole numbers"),
        ("keys Cb minor", "keys", "Did you mean 'B minor'?"),
        ("two bars the tool, four bars me", "two", "answer has been said already"),
        ("answer 0", "answer", "answer 0 is none"),
        ("fade 0", "fade", "fade 0 is none"),
        ("slower, please", "slower", "a tempo is a number"),
        ("half tempo", "tempo", "a tempo is a number"),
        ("for ten minutes", "minutes", "goes by passes"),
        ("the last two bars", "last", "called by their numbers"),
    ],
)
def test_a_mistake_is_answered_with_its_place(text: str, at: str, says: str) -> None:
    with pytest.raises(NotationError) as caught:
        goal_from(text)
    assert says in caught.value.reason
    assert caught.value.position == text.index(at)
    assert caught.value.text == text


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("climb 160 to 96", "Did you mean 'climb 96 to 160'?"),
        ("climb 5 to 8", "allowed is 30 to 400"),
        ("rest 0", "allowed is 1 to 16"),
        ("no rest", "allowed is 1 to 16"),
        ("climb 96 to 160, 0 clean each", "allowed is 1 to 20"),
        ("listen, answer", "answer leaves it out"),
        ("climb 96 to 160, at 120", "leave out 'at'"),
    ],
)
def test_what_cannot_be_is_answered_too(text: str, says: str) -> None:
    with pytest.raises(UsageError) as caught:
        goal_from(text)
    assert says in str(caught.value)


def test_a_very_long_sentence_is_refused() -> None:
    with pytest.raises(NotationError, match="at most 400"):
        goal_from("rest 2 " * 100)


def test_the_manual_is_true() -> None:
    """Each phrase in the left column of the module's table is read as something."""
    assert sentence.__doc__ is not None
    rows = [line[4:31] for line in sentence.__doc__.splitlines() if line.startswith("    ")]
    said = [row.strip() for row in rows if row.strip()]
    assert len(said) == 19
    beside = {"two clean each": "climb 96 to 160, ", "and back, slow fast slow": "", "cue": "keys, "}
    beside |= {"twice in each key": "keys, ", "in minor, major and minor": ""}
    for row in said:
        texts = (
            [row]
            if row in {"climb 96 to 160 by 4", "hide melody and bass", "two clean each"}
            else row.split(", ")
        )
        for text in texts:
            if text != "and back":
                assert goal_from(beside.get(row, "") + text) != Goal() or text == "loop", text


# --- at random ---------------------------------------------------------------------------------------

_SOUP = """
climb keys bars bar 5 8 96 160 to by 4 two clean each rest count hide melody comp bass out in turn fade answer
build strings listen cue fourths half steps random minor major C Bb and , - twice key rounds passes at slow
fast 0 999 1.5 the of set once back over tool you zero
"""
_WORDS = st.sampled_from(_SOUP.split())


@settings(max_examples=200, deadline=None)
@given(st.one_of(st.text(max_size=60), st.lists(_WORDS, max_size=12).map(" ".join)))
def test_no_text_crashes_the_reader(text: str) -> None:
    try:
        goal: Goal | IntroitError = goal_from(text)
    except IntroitError as error:
        goal = error
    if isinstance(goal, Goal):
        assert goal_from(wording(goal)) == goal
    elif isinstance(goal, NotationError):
        assert 0 <= goal.position < max(len(text), 1)
    assert str(goal)


@st.composite
def goals(draw: st.DrawFn) -> Goal:
    def maybe(strategy: st.SearchStrategy[Any]) -> Any:
        return draw(st.one_of(st.none(), strategy))

    some = st.lists(st.sampled_from([key for mode in Mode for key in keys(mode)]), unique=True, max_size=4)
    fields: dict[str, Any] = {
        "bars": maybe(
            st.integers(1, 30).flatmap(lambda low: st.builds(Bars, st.just(low), st.integers(low, 40)))
        ),
        "rounds": draw(st.integers(1, 64)),
        "rest": draw(st.integers(1, 16)),
        "count": draw(st.integers(0, 4)),
        "tempo": maybe(st.integers(30, 400)),
        "passes": maybe(st.integers(1, 9999)),
        "fade": draw(st.sampled_from((0, 2, 5, 20))),
        "answer": draw(st.integers(0, 16)),
        "build": maybe(st.sampled_from(Lesson)),
        "ear": maybe(st.sampled_from(Ear)),
    }
    if draw(st.booleans()):
        parts = draw(st.lists(st.sampled_from(HIDEABLE), unique=True, min_size=1))
        fields["hide"] = Hide(tuple(parts), in_turn=draw(st.booleans()))
    try:
        if draw(st.booleans()):
            fields["keys"] = Keys(
                draw(st.sampled_from(Order)),
                own=tuple(draw(some)),
                of_set=draw(st.booleans()),
                modes=draw(st.sampled_from([(), (Mode.MAJOR,), (Mode.MINOR, Mode.MAJOR)])),
                each=draw(st.integers(1, 20)),
                cue=draw(st.booleans()),
            )
        if draw(st.booleans()):
            low = draw(st.integers(30, 399))
            high = draw(st.integers(low + 1, 400))
            fields["climb"] = Climb(
                low,
                high,
                draw(st.integers(1, high - low)),
                draw(st.integers(1, 20)),
                *draw(st.tuples(st.booleans(), st.booleans())),
            )
        return Goal(**fields)
    except UsageError:
        assume(False)
        raise


@settings(max_examples=60, deadline=None)
@given(goals())
def test_a_goal_said_and_read_is_the_same_goal(goal: Goal) -> None:
    assert goal_from(wording(goal)) == goal


def test_a_goal_in_words() -> None:
    goal = Goal(keys=Keys(cue=True), climb=Climb(96, 160, 4, 2, pressed=True), hide=Hide(), count=1)
    assert wording(goal) == (
        "count 1, keys by fourths, cue, climb 96 to 160 by 4, 2 clean each, hide melody, comp, bass in turn"
    )
    assert wording(Goal()) == "loop"
