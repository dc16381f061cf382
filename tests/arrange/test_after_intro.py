"""Intro, choruses, last bar: one performance. How it is put together, what differs, and that it can be left.

What is written and played is held to the rules of `introit check --music` (patterns/measures.yaml) chorus
after chorus; `chorus.NOT_ASKED` says which of them an intro alone can keep, and why.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise

import pytest

from introit.arrange.after_intro import (
    chorus_scores,
    followed,
    for_choruses,
    played_chorus,
    unlike,
    with_the_tune,
)
from introit.arrange.arranger import perform, ready
from introit.arrange.chorus import NOT_ASKED, choruses_of
from introit.arrange.form import ArrangeError
from introit.arrange.joined import starts_of
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.review import review
from introit.arrange.score import BASS, CLICK, COMP, MELODY, RIDE, Score
from introit.library.bars import Bar, Slot
from introit.library.chart import Chart, Measure, Section, Strain
from introit.library.content import program_root
from introit.library.leading import Leading
from introit.library.loader import load_library
from introit.library.measures import Measures, load_measures
from introit.library.model import Library, Tune
from introit.live.events import Ready, Wanted
from introit.live.setup import PortSetup, Route, Setup
from introit.performance import PARTS, Performance, PlayedNote
from introit.testing import Rehearsal
from introit.testing.outcome import ends_in_silence, states
from introit.testing.script import feet
from introit.theory.key import Key, Mode, keys
from introit.theory.numeral import Numeral
from introit.units import NS_PER_SECOND, TICKS_PER_QUARTER

AWAY = {
    "lantern-for-edda": 31,
    "late-bus-to-orrin": 30,
    "marmalade-weather": 24,
    "quarter-past-wednesday": 14,
    "the-ferrymans-ledger": 30,
    "two-left-umbrellas": 31,
}
"""Bars after which the last chorus of each tune goes its own way; by hand."""
WALKING = ("late-bus-to-orrin", "two-left-umbrellas")


@cache
def shelf() -> Library:
    return load_library([program_root()])[0]


@cache
def measures() -> Measures:
    return load_measures([program_root()])


def tune_of(name: str, **changes: object) -> Tune:
    return replace(shelf().tunes[name], **changes)  # type: ignore[arg-type]


@cache
def whole(name: str, *, choruses: int = 2, open_end: bool = True) -> Performance:
    tune = tune_of(name)
    return with_the_tune(tune, tune.key, shelf(), choruses=choruses, open_end=open_end)


# --- how it is put together -------------------------------------------------------------------------


@pytest.mark.parametrize("name", AWAY)
def test_choruses_go_round_from_where_the_last_one_leaves(name: str) -> None:
    made, tune = whole(name), tune_of(name)
    bar = made.bar_ticks
    intro = ready(replace(tune, landing="cut"), tune.key, shelf())
    bars = len(choruses_of(tune, tune.key).bars)
    before = intro.head_tick // bar
    away = [before + number * bars + AWAY[name] for number in range(3)]
    assert [tick // bar for tick in made.exits] == away[:2]
    assert made.vamp == (away[0] * bar, away[2] * bar)
    coda = 3 if name == "marmalade-weather" else 1
    assert made.head_tick == (away[2] + coda) * bar
    assert made.head_tick <= made.end_tick <= made.head_tick + bar
    assert made.intro == intro.intro
    assert made.notes[: len(intro.notes) // 2] == intro.notes[: len(intro.notes) // 2]


@pytest.mark.parametrize("name", AWAY)
@pytest.mark.parametrize("choruses", [1, 2])
def test_without_an_open_end_so_many_are_played(name: str, choruses: int) -> None:
    made, tune = whole(name, choruses=choruses, open_end=False), tune_of(name)
    intro = ready(replace(tune, landing="cut"), tune.key, shelf())
    scores = chorus_scores(tune, tune.key, shelf(), count=choruses)
    parts = [intro, *(played_chorus(score, shelf()) for score in scores)]
    assert (made.vamp, made.exits) == (None, ())
    assert made.head_tick == starts_of(parts)[-1]
    bars = len(choruses_of(tune, tune.key).bars)
    coda = 3 if name == "marmalade-weather" else 1
    length = (made.head_tick - intro.head_tick) // made.bar_ticks
    assert length == (choruses - 1) * bars + AWAY[name] + coda


@pytest.mark.parametrize("name", AWAY)
def test_the_last_chord_is_struck_on_its_bar_line_and_nothing_follows(name: str) -> None:
    made = whole(name, open_end=False)
    landing = made.chords[-1]
    assert landing.tick == made.head_tick - made.bar_ticks
    last = max(note.onset for note in made.notes if note.part != RIDE)
    assert landing.tick - TICKS_PER_QUARTER // 2 <= last <= landing.tick + TICKS_PER_QUARTER // 4
    assert {note.part for note in made.notes if note.harmony_tick == landing.tick} >= {COMP, BASS}
    own = {note.pitch % 12 for note in made.notes if note.harmony_tick == landing.tick and note.part == BASS}
    assert own == {Key.from_text(made.key).tonic.pitch_class}  # each of these tunes ends on its tonic


def test_only_the_count_off_lies_before_the_first_bar() -> None:
    made = whole("the-ferrymans-ledger")
    assert made.start_tick == -2 * made.bar_ticks
    assert {note.part for note in made.notes if note.onset < 0} == {CLICK}
    assert not [note for note in made.notes if note.part == CLICK and note.onset >= 0]


def test_there_is_no_melody_behind_the_intro_and_the_rhythm_section_plays_every_bar() -> None:
    tune = tune_of("late-bus-to-orrin")
    made = with_the_tune(tune, tune.key, shelf(), stage=Stage(LineUp.TRIO))
    bar, start = made.bar_ticks, 4 * made.bar_ticks
    behind = [note for note in made.notes if note.onset >= start]
    assert MELODY in {note.part for note in made.notes}
    assert MELODY not in {note.part for note in behind}
    bars = Counter((note.part, note.onset // bar) for note in behind)
    played = range(start // bar, made.head_tick // bar - 1)
    assert all(bars[RIDE, number] and bars[BASS, number] for number in played)


def test_a_tunes_foot_and_landing_are_left_to_the_choruses() -> None:
    plain, led = (
        tune_of("late-bus-to-orrin", **changes)
        for changes in ({}, {"landing": "chord", "leading": Leading(hold=True, once_more=False)})
    )
    one, other = (with_the_tune(tune, tune.key, shelf(), choruses=1) for tune in (plain, led))
    assert one == other
    assert one.waits == ()


def test_another_tempo_is_the_intros() -> None:
    tune = tune_of("marmalade-weather")
    slow = ready(replace(tune, tempo=100.0), tune.key, shelf())
    assert followed(slow, tune, tune.key, shelf(), choruses=1).tempo == 100.0


def test_what_cannot_be() -> None:
    tune = tune_of("marmalade-weather")
    with pytest.raises(ValueError, match="one chorus at least"):
        with_the_tune(tune, tune.key, shelf(), choruses=0)
    with pytest.raises(ArrangeError, match="has no chart"):
        with_the_tune(replace(tune, chart=None), tune.key, shelf())
    with pytest.raises(ArrangeError, match="in minor"):
        with_the_tune(tune, Key.from_text("D"), shelf())


@pytest.mark.parametrize("leading", [Leading(hold=True), Leading(colla_voce=64), Leading(vamp=True)])
def test_an_intro_waits_for_the_foot_only_before_choruses_that_are_counted(leading: Leading) -> None:
    tune = tune_of("marmalade-weather")
    intro = ready(replace(tune, leading=leading), tune.key, shelf())
    open_ended = followed(intro, tune, tune.key, shelf(), choruses=1)
    assert (open_ended.waits, open_ended.out_of_time, len(open_ended.exits)) == ((), False, 1)
    counted = followed(intro, tune, tune.key, shelf(), open_end=False, choruses=1)
    assert (counted.waits, counted.out_of_time) == (intro.waits, intro.out_of_time)
    assert counted.vamp is None


@pytest.mark.parametrize("name", AWAY)
@pytest.mark.parametrize("line_up", list(LineUp))
def test_all_is_legal_across_the_joins(name: str, line_up: LineUp) -> None:
    tune = tune_of(name)
    made = with_the_tune(tune, tune.key, shelf(), choruses=2, stage=Stage(line_up))
    lanes: defaultdict[tuple[int, int], list[PlayedNote]] = defaultdict(list)
    for note in made.notes:
        assert note.onset < note.end <= made.end_tick
        lanes[note.part, note.pitch].append(note)
    for lane in lanes.values():
        assert all(before.end <= after.onset for before, after in pairwise(lane))


# --- left by the foot -------------------------------------------------------------------------------


def played_live(made: Performance, *presses_ms: int, minutes: int = 6) -> Rehearsal:
    """The performance in the live core, the foot-switch pressed at one second and at these milliseconds."""
    routes = tuple(Route(part, 0, part) for part in range(len(PARTS)))
    setup = Setup(
        ports=(PortSetup("synth", "memory", to="", source=""),), routes=routes, tunes=1, active_sensing=False
    )

    def answer(wanted: Wanted) -> list[Ready]:
        return [Ready(wanted.request.tune, wanted.request.tonic is None, made, 0)]

    rehearsal = Rehearsal(setup, answer, lookaheads=(0,))
    rehearsal.play(feet(1000, *presses_ms))
    rehearsal.run(minutes * 60 * NS_PER_SECOND)
    return rehearsal


@pytest.mark.parametrize("share", [-0.05, 0.02, 0.5, 0.98, 1.5, 2.4, 3.3])
@pytest.mark.parametrize("name", ["two-left-umbrellas", "marmalade-weather"])
def test_the_nod_ends_whichever_chorus_it_comes_in(name: str, share: float) -> None:
    """At a share of the choruses' length from the first one's beginning; pressed in the intro it is one."""
    made = replace(whole(name), start_tick=0)
    tune = tune_of(name)
    bars = len(choruses_of(tune, tune.key).bars)
    beat_ms, bar = 60_000 / made.tempo, made.beats * 60_000 / made.tempo
    intro_bars = made.vamp[0] // made.bar_ticks - AWAY[name] if made.vamp else 0
    press = 1000 + (intro_bars + share * bars) * bar
    heard = played_live(made, round(press))
    landed = next(second for second, state in states(heard) if state == "in the tune")
    chorus_played = next(count for count in range(1, 9) if share * bars < (count - 1) * bars + AWAY[name])
    last = made.head_tick - (made.vamp[1] if made.vamp else 0)
    leaves = intro_bars + (chorus_played - 1) * bars + AWAY[name] + last // made.bar_ticks
    assert landed == pytest.approx(1 + leaves * bar / 1000, abs=beat_ms / 1e5)
    assert ends_in_silence(heard)


@pytest.mark.parametrize("name", ["lantern-for-edda", "marmalade-weather", "quarter-past-wednesday"])
def test_round_and_round_nothing_hangs_or_is_struck_twice(name: str) -> None:
    made = replace(whole(name), start_tick=0)
    heard = played_live(made, minutes=10)
    assert {state for _, state in states(heard)[1:]} <= {"vamping", "playing", "ready"}
    sounding: set[tuple[int, int]] = set()
    for sent in heard.receivers[0].notes():
        note = sent.data[0] & 0x0F, sent.data[1]
        if sent.data[0] & 0xF0 == 0x90:
            assert note not in sounding
            sounding.add(note)
        else:
            sounding.discard(note)
    assert len(heard.receivers[0].ons()) > 1.3 * len(made.notes)
    assert ends_in_silence(heard)


# --- what it sounds like ----------------------------------------------------------------------------


@pytest.mark.parametrize("line_up", list(LineUp))
@pytest.mark.parametrize("name", AWAY)
def test_chorus_after_chorus_holds_the_musical_rules_in_twelve_keys(name: str, line_up: LineUp) -> None:
    """Each key another chorus, the last one among them: 32 bars of walking, comping and light time."""
    tune, stage, broken = tune_of(name), Stage(line_up), []
    for seed, key in enumerate(keys(tune.key.mode)):
        for score in chorus_scores(tune, key, shelf(), count=2, stage=stage, seed=seed):
            found = review(score, perform(score, for_choruses(shelf())), measures())
            broken += [f"{key}, seed {seed}: {one}" for one in found if one.rule not in NOT_ASKED]
    assert broken == []


@pytest.mark.parametrize("name", WALKING)
def test_the_bass_walks_through_thirty_two_bars(name: str) -> None:
    """A note on every beat; common practice, no source."""
    tune = tune_of(name)
    score, _ = chorus_scores(tune, tune.key, shelf(), count=2)
    onsets = [note.onset for note in score.notes if note.part == BASS]
    assert onsets == [beat * TICKS_PER_QUARTER for beat in range(score.plan.bars * 4)]
    assert score.plan.bars == 32


def by_bar(score: Score, part: int) -> list[list[tuple[int, int]]]:
    """(tick in the bar, pitch) of a part's notes in each bar."""
    bar = score.plan.bar_ticks
    found: list[list[tuple[int, int]]] = [[] for _ in range(score.plan.bars)]
    for note in score.notes:
        if note.part == part and note.onset < score.plan.head_tick:
            found[note.onset // bar].append((note.onset % bar, note.pitch))
    return found


def other_bars(one: Score, other: Score, part: int) -> float:
    """The share of the bars in which a part plays something else; the last chorus is the shorter one."""
    both = list(zip(by_bar(one, part), by_bar(other, part), strict=False))
    return sum(mine != yours for mine, yours in both) / len(both)


@pytest.mark.parametrize("line_up", [LineUp.WITH_BASS, LineUp.WITH_KEYS, LineUp.SOLO_GUITAR])
@pytest.mark.parametrize("name", AWAY)
def test_choruses_differ(name: str, line_up: LineUp) -> None:
    """Of each two of four, the last among them: in half of the bars the comp plays other notes, or elsewhere.

    And a walking bass plays another line in a fifth of them. Both figures are judgements, no source.
    """
    tune = tune_of(name)
    made = chorus_scores(tune, tune.key, shelf(), count=4, stage=Stage(line_up))
    for one, other in combinations(made, 2):
        assert other_bars(one, other, COMP) >= 0.5
        assert unlike(one, other) == other_bars(one, other, COMP)
        if name in WALKING and line_up != LineUp.SOLO_GUITAR:
            assert other_bars(one, other, BASS) >= 0.2


def test_the_same_seed_is_the_same_tune_and_another_one_another() -> None:
    tune = tune_of("late-bus-to-orrin")
    one, again, other = (with_the_tune(tune, tune.key, shelf(), choruses=1, seed=seed) for seed in (3, 3, 4))
    assert one == again
    assert one.notes != other.notes


@pytest.mark.parametrize("name", AWAY)
def test_the_next_chorus_is_about_as_loud_as_the_one_before_ends(name: str) -> None:
    """Means of comp and bass over the bars at the join, in velocity; a judgement, no source."""
    made, tune = whole(name), tune_of(name)
    bars = len(choruses_of(tune, tune.key).bars)
    join = made.vamp[0] // made.bar_ticks - AWAY[name] + bars if made.vamp else 0
    for part in (COMP, BASS):
        sides = [
            [
                note.velocity
                for note in made.notes
                if note.part == part and first <= note.onset // made.bar_ticks < first + 2
            ]
            for first in (join - 2, join)
        ]
        before, after = (sum(side) / len(side) for side in sides)
        assert abs(before - after) < 12, (PARTS[part], before, after)


@pytest.mark.parametrize("seed", range(6))
def test_at_the_way_out_the_bass_leads_either_way(seed: int) -> None:
    """Where the coda begins on another chord than the bar there, the note before is one of its own chord."""
    numerals = ("I6", "ii7", "V7", "I6", "VI7(b9)", "ii7", "V7")
    bars = [Bar((Slot(Numeral.from_text(text)),)) for text in numerals]
    marked = tuple(Measure(bar, to_coda=number == 2) for number, bar in enumerate(bars))
    coda = tuple(Bar((Slot(Numeral.from_text(text)),)) for text in ("bVImaj7", "bVII7", "I6"))
    chart = Chart(Mode.MAJOR, (Section("", (Strain(marked),)),), ("",), coda)
    tune = tune_of("two-left-umbrellas", chart=chart)
    made = with_the_tune(tune, tune.key, shelf(), choruses=2, seed=seed)
    assert made.vamp is not None
    for line in (*made.exits, made.vamp[1]):
        early = line - TICKS_PER_QUARTER // 8
        before = [note.pitch for note in made.notes if note.part == BASS and note.onset < early]
        assert before[-1] % 12 in {5, 9, 0, 3}  # F7 in Bb: F, A, C, Eb
