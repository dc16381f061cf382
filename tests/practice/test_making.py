"""A pass made ready to play, from every intro in every mode; and its subject."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest

from introit.arrange.form import ArrangeError
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.score import CLICK, COMP, MELODY, RIDE
from introit.errors import UsageError
from introit.library.leading import Leading
from introit.library.model import Library, Tune
from introit.performance import Performance
from introit.practice.goal import Climb, Ear, Goal, Hide, Keys, Lesson, Order
from introit.practice.listening import places_of
from introit.practice.making import made, written
from introit.practice.passes import Outcome, Pass, Planted
from introit.practice.room import Room
from introit.practice.subject import Subject
from introit.theory.key import Key, Mode

Make = Callable[..., Subject]

GOALS = (
    Goal(),
    Goal(keys=Keys(Order.RANDOM, cue=True), hide=Hide(), count=1),
    Goal(answer=1, rounds=2, fade=3),
    Goal(build=Lesson.CHORDS),
    Goal(build=Lesson.STRINGS),
    Goal(ear=Ear.BOTH, climb=Climb(100, 140, 20)),
)


def on_two_channels(part: int) -> tuple[int, int]:
    """All that has a pitch on one channel, so that parts can meet there; the drummer on another."""
    return 0, int(part in {RIDE, CLICK})


def assert_playable(performance: Performance, one: Pass) -> None:
    sounding: dict[tuple[int, int], int] = {}
    for note in performance.notes:
        lane = (on_two_channels(note.part)[1], note.pitch)
        assert note.onset >= sounding.get(lane, -(10**9)), note
        assert performance.start_tick <= note.onset < note.end <= performance.end_tick
        assert 1 <= note.velocity <= 127
        sounding[lane] = note.end
    assert performance.end_tick <= performance.head_tick + one.rest * performance.bar_ticks
    assert performance.start_tick == -one.lead_in * performance.bar_ticks
    assert (performance.tonic, performance.minor, performance.tempo) == (
        one.key.tonic.pitch_class, one.key.is_minor, one.tempo,
    )  # fmt: skip
    assert Performance.from_bytes(performance.to_bytes()) == performance


def mistakes_can_be_made(subject: Subject) -> bool:
    """Whether the comp has two chords behind the first one."""
    score = subject.score(subject.tune.key, 100.0, 0)
    return len(places_of(score, (0, score.plan.head_tick))) > 1


@pytest.mark.parametrize("number", range(0, 60, 4))
def test_every_goal_can_be_played_with_every_intro(subject: Make, shipped: Library, number: int) -> None:
    names = sorted(shipped.intros)[number : number + 4]
    assert names or number >= len(shipped.intros)
    for name in names:
        chosen = subject(name, landing="ring", ring=3)
        for goal in GOALS:
            room = Room(goal, [chosen], seed=number)
            if goal.ear and not mistakes_can_be_made(chosen):
                with pytest.raises(UsageError, match="at least two chords"):
                    room.first()
                continue
            one: Pass | None = room.first()
            for _ in range(4):
                assert one is not None
                assert_playable(made(one, [chosen], channel_of=on_two_channels), one)
                one = room.next(Outcome((960,)))


def test_a_pass_of_the_whole_intro_is_what_the_stage_would_play(subject: Make) -> None:
    chosen = subject("blues-riff")
    one = Room(Goal(), [chosen], seed=4).first()
    made_now = made(one, [chosen])
    assert made_now == made(one, [chosen])  # the same seed, the same notes
    score = written(one, chosen)
    assert {note.part for note in made_now.notes} == {note.part for note in score.notes}
    assert made_now.head_tick == score.plan.head_tick
    assert CLICK not in {note.part for note in made_now.notes}


@pytest.mark.parametrize("line_up", LineUp)
def test_in_every_line_up_what_is_hidden_is_not_heard(subject: Make, line_up: LineUp) -> None:
    chosen = subject("blues-riff", stage=Stage(line_up))
    whole = Room(Goal(), [chosen]).first()
    everything = made(whole, [chosen])
    for part in ("melody", "comp", "bass"):
        one = Room(Goal(hide=Hide((part,), in_turn=False)), [chosen]).first()
        left = made(one, [chosen])
        assert len(left.notes) < len(everything.notes), part
        if line_up is LineUp.SOLO_GUITAR:  # all that a guitar alone plays sounds where the melody goes
            assert {note.part for note in left.notes} == {MELODY}
        else:
            names = {"melody": {0}, "comp": {1}, "bass": {2, 3}}[part]
            assert not names & {note.part for note in left.notes}


def comp(performance: Performance, planted: Planted) -> dict[bool, list[int]]:
    """The comp's pitch classes where the mistake is, and elsewhere."""
    found: dict[bool, list[int]] = {True: [], False: []}
    for note in performance.notes:
        if note.part == COMP:
            found[planted.tick <= note.harmony_tick < planted.end].append(note.pitch % 12)
    return found


def test_a_chord_left_out_is_missing_from_the_comp_and_a_swapped_one_is_another(subject: Make) -> None:
    chosen = subject("blues-bass-climbs")
    for ear in (Ear.OUT, Ear.SWAPPED):
        one = Room(Goal(ear=ear), [chosen], seed=2).first()
        planted = one.planted
        assert planted is not None
        right, wrong = made(replace(one, planted=None), [chosen]), made(one, [chosen])

        before, after = comp(right, planted), comp(wrong, planted)
        assert before[True]
        assert before[False] == after[False]
        assert bool(after[True]) == (ear is Ear.SWAPPED)
        assert ear is Ear.OUT or set(after[True]) - set(before[True])
        assert [n for n in right.notes if n.part != COMP] == [n for n in wrong.notes if n.part != COMP]


def test_the_notes_of_a_key_stay_while_the_tempo_climbs_a_little(subject: Make) -> None:
    chosen = subject("blues-riff")
    room = Room(Goal(climb=Climb(118, 122, 2)), [chosen], seed=9)
    found = [room.first()]
    for _ in range(2):
        following = room.next(Outcome())
        assert following is not None
        found.append(following)
    melodies = [[note.pitch for note in made(one, [chosen]).notes if note.part == MELODY] for one in found]
    assert all(one == other for one, other in pairwise(melodies))


def test_parts_are_made_legal_for_the_channels_they_share(subject: Make) -> None:
    chosen, asked = subject("blues-riff"), set()

    def channel_of(part: int) -> tuple[int, int]:
        asked.add(part)
        return 0, part

    performance = made(Room(Goal(), [chosen]).first(), [chosen], channel_of=channel_of)
    assert asked == {note.part for note in performance.notes}


def test_build_plays_its_own_chords(subject: Make) -> None:
    chosen = subject("blues-riff")
    room = Room(Goal(build=Lesson.CHORDS), [chosen])
    one: Pass | None = room.first()
    symbols = []
    for _ in range(5):
        assert one is not None
        symbols.append(" ".join(chord.symbol for chord in made(one, [chosen]).chords[:4]))
        one = room.next(Outcome((1,)))
    assert symbols[0] == "Cmaj7 Am7 Dm7 G7"
    assert symbols[4] == "Em7 Eb7 Dm7 Db7"


def test_a_tune_that_is_led_is_practised_in_time(tune: Callable[..., Tune], shipped: Library) -> None:
    led = tune("dominant-vamp", count_off=2, leading=Leading(hold=True, once_more=True))
    chosen = Subject.of(led, shipped)
    one = Room(Goal(), [chosen]).first()
    performance = made(one, [chosen])
    assert performance.vamp is None
    assert not performance.waits
    assert not performance.once_more
    assert performance.start_tick == 0


def test_what_is_no_subject_is_told(tune: Callable[..., Tune], shipped: Library) -> None:
    with pytest.raises(UsageError, match="no intro 'back-dor' in the library"):
        Subject.of(tune("back-door"), shipped, intro="back-dor")
    with pytest.raises(UsageError, match="names no intro"):
        Subject.of(replace(tune("back-door"), intro=None), shipped)
    minor = Subject.of(tune("back-door", key="C"), shipped)
    assert minor.modes == (Mode.MAJOR,)
    assert Subject.of(tune("amen-steps", key="D minor"), shipped).modes == (Mode.MINOR, Mode.MAJOR)
    with pytest.raises(ArrangeError, match="has no minor form"):
        minor.plan(Key.from_text("C minor"), 120.0)
