"""Which of a tune's intros a number means. What suits a tune is the ranking's business."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from introit.arrange.rotation import Rotation
from introit.arrange.suggest import rank
from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.library.model import Intro, Library, Tune
from introit.theory.key import Key, Mode

MAJOR, MINOR = Mode.MAJOR, Mode.MINOR


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library(content_roots()[:1])[0]


@pytest.fixture(scope="module")
def tune(library: Library) -> Tune:
    """In Ab major, at 140."""
    return replace(library.tunes["late-bus-to-orrin"], intro=None)


def named(tune: Tune, *names: str) -> Tune:
    return replace(tune, intro=names[0], more_intros=names[1:])


def best(library: Library, tune: Tune, key: Key | None = None) -> list[str]:
    return [found.intro.id for found in rank(library.intros.values(), tune, key or tune.key)]


def within(library: Library, name: str, low: float, high: float) -> dict[str, Intro]:
    """All intros, one of them with another range."""
    return library.intros | {name: replace(library.intros[name], tempo=(low, high))}


def test_a_tune_that_names_none_has_them_best_first_and_round_again(library: Library, tune: Tune) -> None:
    rotation = Rotation(tune, library.intros)
    ranked = best(library, tune)
    assert len(ranked) > 20
    numbers = range(2 * len(ranked))
    assert [rotation.at(number, MAJOR, 140) for number in numbers] == ranked + ranked


def test_its_own_come_first_and_none_comes_twice(library: Library, tune: Tune) -> None:
    third, first, *_ = own = (best(library, tune)[3], best(library, tune)[0], "one-bar")
    rotation = Rotation(named(tune, *own), library.intros)
    ranked = best(library, tune)
    found = [rotation.at(number, MAJOR, 140) for number in range(len(ranked))]
    assert found == [third, first, "one-bar", *(name for name in ranked if name not in own)]


def test_in_the_other_mode_another_takes_the_place_of_what_has_no_form_there(
    library: Library, tune: Tune
) -> None:
    only_major = next(
        name for name in best(library, tune) if {form.mode for form in library.intros[name].forms} == {MAJOR}
    )
    rotation = Rotation(named(tune, only_major, "one-bar"), library.intros)
    in_minor = best(library, tune, Key.from_text("C minor"))
    found = [rotation.at(number, MINOR, 140) for number in range(len(in_minor))]
    first = next(name for name in in_minor if name != "one-bar")
    assert found[:2] == [first, "one-bar"]
    assert sorted(found) == sorted(in_minor)
    assert rotation.at(0, MAJOR, 140) == only_major


def test_at_another_tempo_another_stands_in_for_what_the_tune_does_not_name(
    library: Library, tune: Tune
) -> None:
    second = best(library, tune)[1]
    rotation = Rotation(tune, within(library, second, 100, 150))
    plain = [rotation.at(number, MAJOR, 140) for number in range(30)]
    faster = [rotation.at(number, MAJOR, 160) for number in range(30)]
    assert plain[1] == second
    assert second not in faster
    assert all(one != other for one, other in pairwise(faster))
    for before, after in zip(plain, faster, strict=True):
        low, high = library.intros[after or ""].tempo
        assert low <= 160 <= high
        if before != after:
            assert before is not None
            held = (100.0, 150.0) if before == second else library.intros[before].tempo
            assert not held[0] <= 160 <= held[1]
    assert [rotation.at(number, MAJOR, 140) for number in range(30)] == plain


def test_what_the_tune_names_is_played_at_any_tempo_and_objects_to_one_out_of_its_range(
    library: Library, tune: Tune
) -> None:
    rotation = Rotation(named(tune, "one-bar"), within(library, "one-bar", 100, 150))
    assert rotation.at(0, MAJOR, 400) == "one-bar"
    assert rotation.objection(0, MAJOR, 150, before=140) is None
    assert rotation.objection(0, MAJOR, 152, before=150) == (
        "intro 'one-bar' suits 100 to 150 a minute, not 152"
    )
    assert rotation.objection(0, MAJOR, 98.5, before=140) == (
        "intro 'one-bar' suits 100 to 150 a minute, not 98.5"
    )
    assert rotation.objection(0, MAJOR, 168, before=170) is None  # nearer
    assert rotation.objection(0, MAJOR, 172, before=170) is not None
    assert rotation.objection(1, MAJOR, 400, before=140) is None  # that one gives way
    assert Rotation(tune, library.intros).objection(0, MAJOR, 400, before=140) is None


def test_turns_are_taken_among_its_own(library: Library, tune: Tune) -> None:
    rotation = Rotation(named(tune, "one-bar", "dominant-vamp", "three-six-two-five"), library.intros)
    assert [rotation.after(number, MAJOR, 140) for number in range(3)] == [1, 2, 0]
    assert rotation.after(9, MAJOR, 140) == 0  # after one that the tune does not name
    assert Rotation(tune, library.intros).after(4, MAJOR, 140) == 4
    assert Rotation(named(tune, "one-bar"), library.intros).after(0, MAJOR, 140) == 0


def test_a_turn_that_the_tempo_does_not_suit_is_passed_over_while_another_can_be_had(
    library: Library, tune: Tune
) -> None:
    three = named(tune, "one-bar", "dominant-vamp", "three-six-two-five")
    rotation = Rotation(three, within(library, "dominant-vamp", 60, 150))
    assert rotation.after(0, MAJOR, 160) == 2
    two = Rotation(named(tune, "one-bar", "dominant-vamp"), within(library, "dominant-vamp", 60, 150))
    assert two.after(0, MAJOR, 160) == 1


def test_a_turn_that_has_no_form_in_the_mode_is_passed_over(library: Library, tune: Tune) -> None:
    only_major = next(
        name for name in best(library, tune) if {form.mode for form in library.intros[name].forms} == {MAJOR}
    )
    rotation = Rotation(named(tune, "one-bar", only_major, "dominant-vamp"), library.intros)
    assert [rotation.after(0, mode, 140) for mode in (MAJOR, MINOR)] == [1, 2]


def test_numbers_keep_their_meaning_when_other_intros_are_saved(library: Library, tune: Tune) -> None:
    names = best(library, tune)
    newest = names[0]
    fewer = {name: intro for name, intro in library.intros.items() if name != newest}
    before = Rotation(tune, fewer)
    known = [before.at(number, MAJOR, 140) for number in range(len(names) - 1)]
    after = Rotation(tune, library.intros, before=before)
    assert [after.at(number, MAJOR, 140) for number in range(len(names))] == [*known, newest]


def test_without_any_intro_there_is_none(tune: Tune) -> None:
    rotation = Rotation(named(tune, "one-bar"), {})
    assert rotation.at(3, MAJOR, 140) is None
    assert rotation.after(3, MAJOR, 140) == 3
    assert rotation.objection(3, MAJOR, 400, before=140) is None
