"""Which intro suits a tune: common practice of the trade throughout (no source), each rule written out.

What a reason says is held against the plan, the tune and the intro themselves, not against the ranking.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.arrange.arranger import ready
from introit.arrange.form import first_chord
from introit.arrange.plan import ArrangeError, plan_intro
from introit.arrange.suggest import Suggestion, rank, refused
from introit.library.calls import called_tune, ready_made
from introit.library.model import Intro, Library, Tune
from introit.theory.function import head_dominant
from introit.theory.key import Key, Mode, keys


def ids(suggestions: list[Suggestion]) -> list[str]:
    return [suggestion.intro.id for suggestion in suggestions]


def reasons(suggestions: list[Suggestion], name: str) -> tuple[str, ...]:
    return next(suggestion.reasons for suggestion in suggestions if suggestion.intro.id == name)


@pytest.fixture(scope="module")
def small(make: Any) -> list[Intro]:
    """A handful of intros that differ in one thing each, not in the order of their ids."""
    home = make.form("ii7 V7 | ii7 V7", leads_to=("I",))
    minor = make.form("iiø7 V7(b9) | iiø7 V7(b9)", Mode.MINOR, leads_to=("i",))
    two = make.form("Imaj7 | VI7(b9)", heads=("ii",), leads_to=("ii",))
    anywhere = make.form("Imaj7 | H")
    busy = make.form("Imaj7 VI7 | ii7 . . V7", leads_to=("I",))
    four_four = make.meters[:1]
    return [
        make.intro(home, minor, id="a-slow", feels=("ballad",), tempo=(40, 80)),
        make.intro(anywhere, id="anywhere", feels=("swing", "fast-swing"), tempo=(60, 260)),
        make.intro(home, minor, id="b-fast", feels=("fast-swing",), tempo=(180, 320)),
        make.intro(busy, id="busy", feels=("swing", "fast-swing"), tempo=(60, 260), meters=four_four),
        make.intro(home, id="home", feels=("swing", "fast-swing"), tempo=(60, 260), meters=four_four),
        make.intro(minor, id="minor", feels=("swing", "ballad"), tempo=(60, 260)),
        make.intro(two, home, id="own-two", feels=("swing", "fast-swing"), tempo=(60, 260)),
    ]


def swing(make: Any, key: str = "C", first: str | None = None, **fields: Any) -> Tune:
    tune: Tune = make.tune(key, first, **({"feel": "swing", "tempo": 140.0} | fields))
    return tune


def test_for_a_tune_on_one(small: list[Intro], make: Any) -> None:
    tune = swing(make)
    ranked = rank(small, tune, tune.key)
    # Three lead to one as written, one leads anywhere, two are made for another feel and tempo.
    assert ids(ranked) == ["busy", "home", "own-two", "anywhere", "a-slow", "b-fast"]
    assert reasons(ranked, "home") == (
        "made for swing",
        "leads to one as written",
        "140 lies in its 60-260",
        "short: 2 bars",  # two bars of four at 140 are 3.4 s
    )
    assert reasons(ranked, "b-fast") == (
        "not made for swing",
        "leads to one as written",
        "140 is below its 180-320",
        "short: 2 bars",
    )
    assert reasons(ranked, "a-slow")[2] == "140 is above its 40-80"


def test_for_a_tune_on_two(small: list[Intro], make: Any) -> None:
    tune = swing(make, first="ii7")
    ranked = rank(small, tune, tune.key)
    assert ids(ranked)[:4] == ["own-two", "anywhere", "busy", "home"]
    assert reasons(ranked, "own-two")[1] == "has a form of its own for two"
    assert reasons(ranked, "anywhere")[1] == "ends on a dominant of two"
    assert reasons(ranked, "home")[1] == "adapts its end to two"


@pytest.mark.parametrize(
    ("first", "said"),
    [("IVmaj7", "four"), ("bVImaj7", "flat six"), ("#ivø7", "raised four"), ("V7/ii", "V7/ii")],
)
def test_places_are_said_as_players_say_them(small: list[Intro], make: Any, first: str, said: str) -> None:
    tune = swing(make, first=first)
    assert reasons(rank(small, tune, tune.key), "home")[1] == f"adapts its end to {said}"


def test_a_minor_tune_gets_minor_forms_only(small: list[Intro], make: Any) -> None:
    tune = swing(make, "C minor")
    assert ids(rank(small, tune, tune.key)) == ["minor", "a-slow", "b-fast"]
    first = refused(small, tune, tune.key)[0]
    assert (first.intro.id, first.reason) == (
        "anywhere",
        "intro 'anywhere' has no minor form; it has: major",
    )


def test_the_key_that_was_called_decides_the_mode(small: list[Intro], make: Any) -> None:
    assert ids(rank(small, swing(make), Key.from_text("A minor")))[0] == "minor"


def test_a_meter_that_an_intro_has_not_forbids_it(small: list[Intro], make: Any) -> None:
    tune = swing(make, meter=make.meters[1])
    assert ids(rank(small, tune, tune.key)) == ["own-two", "anywhere", "a-slow", "b-fast"]
    assert [each.intro.id for each in refused(small, tune, tune.key)] == ["busy", "home", "minor"]


def test_a_bar_that_the_meter_cannot_hold_forbids_it(make: Any) -> None:
    thirds = make.intro(make.form("ii7 V7 I6 | V7 . . ", leads_to=("I",)), id="in-three")
    tune = make.tune()
    assert rank([thirds], tune, tune.key) == []
    assert "do not fit 4/4" in refused([thirds], tune, tune.key)[0].reason


def test_a_ballad_never_gets_the_fast_one_first(small: list[Intro], make: Any) -> None:
    for name in ("C", "C minor"):
        tune = make.tune(name, feel="ballad", tempo=60.0)
        two = [intro for intro in small if intro.id in {"a-slow", "b-fast"}]
        assert ids(rank(two, tune, tune.key)) == ["a-slow", "b-fast"]
        assert ids(rank(two, tune, tune.key, after=["a-slow"])) == ["a-slow", "b-fast"]


def test_a_held_chord_leaves_air_for_the_pickup(small: list[Intro], make: Any) -> None:
    tune = swing(make, pickup=Fraction(3, 2))
    ranked = rank(small, tune, tune.key)
    assert ids(ranked)[:4] == ["home", "own-two", "anywhere", "busy"]
    assert reasons(ranked, "home")[3] == "last chord holds under the pickup"
    assert reasons(ranked, "busy")[3] == "chords change under the pickup"


def test_what_was_just_played_sinks(small: list[Intro], make: Any) -> None:
    tune = swing(make)
    ranked = rank(small, tune, tune.key, after=["own-two", "home", "busy"])
    assert ids(ranked)[:4] == ["anywhere", "own-two", "home", "busy"]
    assert reasons(ranked, "busy")[-1] == "played just before"
    assert reasons(ranked, "home")[-1] == "played 2 intros ago"
    # Its latest time counts.
    assert (
        reasons(rank(small, tune, tune.key, after=["busy", "home", "busy"]), "busy")[-1]
        == "played just before"
    )


def test_a_repeat_comes_after_one_right_thing_and_before_none(make: Any) -> None:
    """The two promises of `just played`, at their narrowest."""
    own = make.form("ii7 | V7", heads=("I",), leads_to=("I",))
    busy = make.form("ii7 . . V7 | I6 . . IV7", leads_to=("IV",))
    tune = swing(make, pickup=Fraction(2))
    best = make.intro(own, id="a-best", feels=("swing",), tempo=(100, 200))
    poor = make.intro(busy, id="z-poor", feels=("swing", *"abcdefgh"), tempo=(140, 140))
    only_feel = make.intro(busy, id="z-feel", feels=("swing", *"abcdefgh"), tempo=(300, 320))
    only_tempo = make.intro(busy, id="z-tempo", feels=("waltz",), tempo=(100, 200))
    neither = make.intro(own, id="a-neither", feels=("waltz",), tempo=(141, 200))
    assert ids(rank([best, only_feel, only_tempo], tune, tune.key, after=["a-best"])) == [
        "z-feel",
        "z-tempo",
        "a-best",
    ]
    assert ids(rank([poor, neither], tune, tune.key, after=["z-poor"])) == ["z-poor", "a-neither"]


def test_made_for_this_feel_alone_comes_before_made_for_many(make: Any) -> None:
    form = make.form("ii7 | V7", leads_to=("I",))
    many = make.intro(form, id="a-many", feels=("swing", "waltz", "bossa"))
    alone = make.intro(form, id="b-alone", feels=("swing",))
    tune = swing(make)
    assert ids(rank([many, alone], tune, tune.key)) == ["b-alone", "a-many"]


def test_just_outside_the_tempo_comes_before_far_outside(make: Any) -> None:
    form = make.form("ii7 | V7", leads_to=("I",))
    far = make.intro(form, id="a-far", feels=("swing",), tempo=(250, 300))
    near = make.intro(form, id="b-near", feels=("swing",), tempo=(145, 300))
    tune = swing(make)
    assert ids(rank([far, near], tune, tune.key)) == ["b-near", "a-far"]


def test_equals_stand_in_the_order_of_their_ids(make: Any) -> None:
    form = make.form("ii7 | V7", leads_to=("I",))
    intros = [make.intro(form, id=name, feels=("swing",)) for name in ("c", "a", "b")]
    tune = swing(make)
    assert ids(rank(intros, tune, tune.key)) == ["a", "b", "c"]


FORMS = ("ii7 V7 | ii7 V7", "I6 | bII7", "iv6 . . bVII7 | Imaj7 H", "Imaj7 | H", "I6 ii7 V7 | V7")
HEADS = ((), (), (), ("I",), ("ii", "IV"), ("i",))


@given(data=st.data())
def test_ranking_is_a_permutation_of_what_can_be_played(make: Any, data: st.DataObject) -> None:
    heads = st.sampled_from(HEADS)
    form = st.builds(make.form, st.sampled_from(FORMS), st.sampled_from(Mode), heads=heads, leads_to=heads)
    intro = st.builds(
        lambda forms, **fields: make.intro(*forms, **fields),
        st.lists(form, min_size=1, max_size=3),
        id=st.sampled_from("abcdefgh"),
        feels=st.sampled_from([("plain",), ("bossa",), ("plain", "bossa")]),
        meters=st.sampled_from([make.meters, make.meters[:1], make.meters[1:]]),
        tempo=st.sampled_from([(40, 90), (60, 300), (200, 320)]),
    )
    intros = data.draw(st.lists(intro, unique_by=lambda made: made.id, max_size=6))
    tune = make.tune(
        data.draw(st.sampled_from(["C", "F# minor"])),
        data.draw(st.sampled_from([None, "ii7", "IVmaj7", "V7/V"])),
        meter=data.draw(st.sampled_from(make.meters)),
        tempo=data.draw(st.sampled_from([30.0, 88.5, 240.0, 400.0])),
        pickup=data.draw(st.sampled_from([Fraction(0), Fraction(3, 2), Fraction(8)])),
    )
    names = [made.id for made in intros]
    after = data.draw(st.lists(st.sampled_from([*names, "gone"]), max_size=8))
    ranked = rank(intros, tune, tune.key, after=after)
    assert sorted(ids(ranked)) == sorted(made.id for made in intros if plays(made, tune))
    out = [each.intro.id for each in refused(intros, tune, tune.key)]
    assert sorted([*ids(ranked), *out]) == sorted(names)
    for one, other in pairwise(ranked):
        assert (-one.score, one.intro.id) < (-other.score, other.intro.id)
    assert rank(data.draw(st.permutations(intros)), tune, tune.key, after=after) == ranked


def plays(intro: Intro, tune: Tune) -> bool:
    try:
        plan_intro(intro, tune, tune.key)
    except ArrangeError:
        return False
    return True


# The shipped library.


def shipped_tunes(library: Library) -> list[Tune]:
    calls = [called_tune(entry.call, library) for entry in ready_made(library)]
    pickups = [replace(tune, pickup=Fraction(3)) for tune in calls]
    odd = [replace(tune, tempo=tempo) for tune in calls for tempo in (40.0, 330.0)]
    return [*library.tunes.values(), *calls, *pickups, *odd]


def fits(intro: Intro, tune: Tune) -> bool:
    return tune.feel in intro.feels and intro.tempo[0] <= tune.tempo <= intro.tempo[1]


def test_whoever_has_one_made_for_it_gets_one_made_for_it(shipped: Library) -> None:
    looked_at = set()
    for tune in shipped_tunes(shipped):
        ranked = [suggestion.intro for suggestion in rank(shipped.intros.values(), tune, tune.key)]
        if any(fits(intro, tune) for intro in ranked):
            assert fits(ranked[0], tune), tune.title
            looked_at.add(tune.feel)
    assert {"ballad", "bossa", "jazz-waltz", "medium-swing", "up-tempo-swing"} <= looked_at


def test_a_shipped_ballad_gets_a_ballad_intro_whatever_was_played(shipped: Library) -> None:
    fast = {intro.id for intro in shipped.intros.values() if "ballad" not in intro.feels}
    assert fast
    for text in ("ballad, Eb", "ballad, C, starts on two, 54", "ballad, F minor, 70"):
        tune = called_tune(text, shipped)
        after: list[str] = []
        for _ in range(6):
            after.append(rank(shipped.intros.values(), tune, tune.key, after=after)[0].intro.id)
        assert not fast & set(after), text
        assert all(one != other for one, other in pairwise(after)), text


def test_every_shipped_waltz_gets_what_goes_in_three(shipped: Library) -> None:
    for text in ("jazz waltz, F, starts on four", "ballad, Bb, 3/4", "jazz waltz, G minor, 180"):
        tune = called_tune(text, shipped)
        ranked = rank(shipped.intros.values(), tune, tune.key)
        assert ranked
        assert all(str(tune.meter) in map(str, suggestion.intro.meters) for suggestion in ranked)
    assert any(tune.meter not in intro.meters for intro in shipped.intros.values())


def test_every_shipped_minor_tune_gets_a_minor_form(shipped: Library) -> None:
    for text in ("medium swing, C minor", "bossa, F# minor, 120"):
        tune = called_tune(text, shipped)
        best = rank(shipped.intros.values(), tune, tune.key)[0].intro
        assert tune.key.mode in {form.mode for form in best.forms}
    assert any(Mode.MINOR not in {form.mode for form in intro.forms} for intro in shipped.intros.values())


def test_no_shipped_intro_comes_twice_running(shipped: Library) -> None:
    for tune in shipped_tunes(shipped):
        for mode in Mode:
            key = keys(mode)[3]
            first, second, *_ = rank(shipped.intros.values(), tune, key)
            if tune.feel in second.intro.feels:
                again = rank(shipped.intros.values(), tune, key, after=[first.intro.id])
                assert again[0].intro != first.intro, tune.title


def test_reasons_are_true(shipped: Library) -> None:
    """Each sentence about each shipped intro, held against its plan and its file."""
    told = 0
    for tune in shipped_tunes(shipped):
        for mode in Mode:
            key = keys(mode)[8]
            for suggestion in rank(shipped.intros.values(), tune, key):
                told += len([hold_to(reason, suggestion.intro, tune, key) for reason in suggestion.reasons])
    assert told > 1000


def hold_to(reason: str, intro: Intro, tune: Tune, key: Key) -> None:
    plan = plan_intro(intro, tune, key)
    low, high = intro.tempo
    head = first_chord(tune, key.mode)
    last = plan.chords[-1].numeral
    written = {str(form.bars[-1].slots[-1].chord) for form in intro.forms if form.mode == key.mode}
    feel = tune.feel.replace("-", " ")
    late = plan.head_tick - int(tune.pickup * 960)
    still = not [chord for chord in plan.chords if late < chord.onset]
    span = f"its {low:g}-{high:g}"
    truths = {
        f"made for {feel}": tune.feel in intro.feels,
        f"not made for {feel}": tune.feel not in intro.feels,
        f"{tune.tempo:g} lies in {span}": low <= tune.tempo <= high,
        f"{tune.tempo:g} is below {span}": tune.tempo < low,
        f"{tune.tempo:g} is above {span}": tune.tempo > high,
        "last chord holds under the pickup": tune.pickup > 0 and still,
        "chords change under the pickup": tune.pickup > 0 and not still,
    }
    if reason.startswith("short: "):
        assert reason.split()[1] == str(plan.bars), (reason, intro.id)
        assert plan.bars * plan.meter.beats * 60 / plan.tempo < 5, (reason, intro.id, tune.title)
    elif reason in truths:
        assert truths[reason], (reason, intro.id, tune.title)
    elif reason.startswith(("adapts its end to", "ends on a dominant of")):
        assert last == head_dominant(head, key.mode), (reason, intro.id, tune.title)
        assert ("H" in written) or reason.startswith("adapts"), (reason, intro.id, tune.title)
    elif reason.startswith("has a form of its own for"):
        assert any(form.heads for form in intro.forms), (reason, intro.id)
    else:
        assert reason.startswith("leads to ")
        assert reason.endswith(" as written")
        assert str(last) in written, (reason, intro.id, tune.title)


def test_an_emergency_intro_is_never_first_where_there_is_another(shipped: Library) -> None:
    for text in ("medium swing, Ab, starts on two, 140", "bossa, C minor, 132", "up-tempo swing, F, 250"):
        tune = called_tune(text, shipped)
        best = rank(shipped.intros.values(), tune, tune.key)[0].intro
        plan = plan_intro(best, tune, tune.key)
        assert plan.bars >= 4, (text, best.id)


def test_an_open_tune_is_played_with_the_first_suggestion(shipped: Library) -> None:
    for text in ("ballad, Db, starts on four", "up-tempo swing, F minor, 250", "jazz waltz, D"):
        tune = called_tune(text, shipped)
        best = rank(shipped.intros.values(), tune, tune.key)[0].intro
        assert ready(tune, tune.key, shipped).intro == best.id


def test_a_tune_s_own_intro_goes_before_any_suggestion(shipped: Library) -> None:
    tune = replace(called_tune("medium swing, C", shipped), intro="two-five-to-flat-six")
    assert rank(shipped.intros.values(), tune, tune.key)[0].intro.id != tune.intro
    assert ready(tune, tune.key, shipped).intro == tune.intro
