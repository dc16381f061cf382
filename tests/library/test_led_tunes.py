"""What a tune says of how its intro is led by foot."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from pathlib import Path
from textwrap import dedent

import pytest

from introit.arrange.grid import lay_out
from introit.errors import Problem
from introit.library.leading import BarBeat, Bars, Leading
from introit.library.length import bars_of
from introit.library.model import Library, SetList, Tune

Read = Callable[[str, str], tuple[object | None, list[Problem]]]
TUNE = "title: x\nkey: C\nfeel: bossa\n"


@pytest.mark.parametrize(
    ("written", "leading"),
    [
        ("", Leading()),
        ("vamp: true", Leading(vamp=True)),
        ("vamp: true\nonce_more: true", Leading(vamp=True, once_more=True)),
        ("hold: true\ncolla_voce: 2", Leading(hold=True, colla_voce=2)),
        ("colla_voce: true", Leading(colla_voce=64)),
        ("colla_voce: false", Leading()),
        ("colla_voce: true\nin_time: bar 2 beat 3", Leading(colla_voce=64, in_time=BarBeat(2, 3))),
        ("in_time: bar 2\ncolla_voce: true", Leading(colla_voce=64, in_time=BarBeat(2))),
        ("count_off: tapped", Leading(tapped=True)),
        ("hold: true\nthen: tapped", Leading(hold=True, tapped_on=True)),
        ("colla_voce: 2\nthen: tapped", Leading(colla_voce=2, tapped_on=True)),
        ("hold: true\nthen: at once", Leading(hold=True)),
        ("hold: bar 3", Leading(hold=True, held=BarBeat(3))),
        ("hold: bar 3 beat 2", Leading(hold=True, held=BarBeat(3, 2))),
        ("hold: Bar 3, beat 2", Leading(hold=True, held=BarBeat(3, 2))),
        ("hold: false", Leading()),
        ("hold: true\nhold_as: rolled", Leading(hold=True, rolled=True)),
        ("hold: bar 2\nhold_as: rung", Leading(hold=True, held=BarBeat(2))),
        ("vamp: bars 1-2", Leading(vamp=True, vamp_bars=Bars(1, 2))),
        ("vamp: bars 2 to 3\nonce_more: true", Leading(vamp=True, vamp_bars=Bars(2, 3), once_more=True)),
        ("vamp: bar 2", Leading(vamp=True, vamp_bars=Bars(2, 2))),
        ("vamp: false", Leading()),
        ("start_clock: head", Leading(start_clock="head")),
        ("start_clock: intro\nvamp: true", Leading(start_clock="intro", vamp=True)),
    ],
)
def test_what_is_written_is_read(written: str, leading: Leading, read: Read) -> None:
    tune, problems = read("tune", TUNE + written + "\n")
    assert problems == []
    assert isinstance(tune, Tune)
    assert tune.leading == leading
    assert tune.count_off == 0


def test_a_count_of_bars_takes_the_place_of_taps(read: Read) -> None:
    tune, _ = read("tune", TUNE + "count_off: 2\n")
    assert isinstance(tune, Tune)
    assert (tune.count_off, tune.leading.tapped) == (2, False)


@pytest.mark.parametrize(
    ("written", "line", "words"),
    [
        ("vamp: yes", 4, "true, false, `bar 2` or `bars 1-2` is needed"),
        ("colla_voce: 0", 4, "1 to 64"),
        ("colla_voce: slow", 4, "true, false, or a number of bars"),
        ("colla_voce: yes", 4, "true, false, or a number of bars"),
        ("count_off: tap", 4, "`tapped`"),
        ("count_off: 5", 4, "0 to 4 bars, or `tapped`"),
        ("vamp: 2", 4, "true, false, `bar 2` or `bars 1-2` is needed"),
        ("vamp: bars", 4, "true, false, `bar 2` or `bars 1-2` is needed"),
        ("vamp: bars 1-", 4, "'bars 1-' names no place"),
        ("vamp: bars 3-2", 4, "3 is behind 2"),
        ("vamp: bars 0-2", 4, "bars count from 1"),
        ("vamp: bars 1-65", 4, "to 64 at most"),
        ("vamp: bar 2\nhold: bar 1", 5, "cannot have `vamp` as well"),
        ("hold: yes", 4, "true, false, `bar 3` or `bar 3 beat 2` is needed"),
        ("hold: 3", 4, "true, false, `bar 3` or `bar 3 beat 2` is needed"),
        ("hold: bar three", 4, "'bar three' names no place"),
        ("hold: bars 1-2", 4, "'bars 1-2' names no place"),
        ("hold: bar 0", 4, "bars count from 1"),
        ("hold: bar 65", 4, "to 64 at most"),
        ("hold: bar 2 beat 6", 4, "beats count from 1, to 5 at most"),
        ("hold: bar 2 beat 5", 4, "a bar of 4/4 has 4 beats"),
        ("hold: [bar 2]", 4, "a list is given"),
        ("in_time: bar 2", 4, "nothing is out of time here"),
        ("colla_voce: false\nin_time: bar 2", 5, "nothing is out of time here"),
        ("colla_voce: 2\nin_time: bar 2", 5, "says already where time is kept: after 2 bars"),
        ("colla_voce: true\nin_time: bar 1", 5, "nothing is out of time before bar 1"),
        ("colla_voce: true\nin_time: true", 5, "`bar 3` or `bar 3 beat 2` is needed"),
        ("colla_voce: true\nin_time: 2", 5, "`bar 3` or `bar 3 beat 2` is needed"),
        ("colla_voce: true\nin_time: bar 2 beat 5", 5, "a bar of 4/4 has 4 beats"),
        ("start_clock: tune", 4, "allowed is intro, head"),
        ("hold_as: rolled", 4, "no chord is held here"),
        ("colla_voce: true\nhold_as: rung", 5, "no chord is held here"),
        ("hold: true\nhold_as: strummed", 5, "allowed is rung, rolled"),
        ("then: tapped", 4, "nothing waits here"),
        ("hold: false\nthen: at once", 5, "nothing waits here"),
        ("hold: true\nthen: later", 5, "allowed is at once, tapped"),
        ("vamp: true\nhold: true", 5, "cannot have `vamp` as well"),
        ("once_more: true\ncolla_voce: true", 5, "cannot have `once_more` as well"),
    ],
)
def test_a_mistake_is_told_with_its_line(written: str, line: int, words: str, read: Read) -> None:
    tune, problems = read("tune", TUNE + written + "\n")
    assert tune is None
    assert [(problem.line, words in problem.message) for problem in problems] == [(line, True)], problems


@pytest.mark.parametrize(
    ("written", "hint"),
    [
        ("count_off: taped", "Did you mean 'tapped'?"),
        ("hold: true\nthen: taped", "Did you mean 'tapped'?"),
        ("then: tapped", "Write `hold: true` or `colla_voce: true` as well."),
        ("start_clock: haed", "Did you mean 'head'?"),
        ("hold: true\nhold_as: roled", "Did you mean 'rolled'?"),
        ("hold: 3", "Write `bar 3`."),
        ("vamp: bars 3-2", "Write `bars 2-3`."),
        ("vamp: bras 1-2", "Did you mean 'bars'?"),
        ("hold: barr 3", "Did you mean 'bar'?"),
        ("hold: on", "Write true."),
        ("colla_voce: yes", "Write true."),
        ("colla_voce: off", "Write false."),
        ("vampp: true", "Did you mean 'vamp'?"),
    ],
)
def test_what_was_probably_meant_is_told(written: str, hint: str, read: Read) -> None:
    _, problems = read("tune", TUNE + written + "\n")
    assert [problem.hint for problem in problems] == [hint]


@pytest.mark.parametrize(
    ("before", "tonight", "found"),
    [
        ("count_off: tapped", "count_off: 1", (1, False)),
        ("count_off: tapped", "count_off: 0", (0, False)),
        ("count_off: 2", "count_off: tapped", (0, True)),
        ("count_off: tapped", "tempo: 140", (0, True)),
    ],
)
def test_a_set_changes_the_count_off_of_its_tune(
    before: str,
    tonight: str,
    found: tuple[int, bool],
    read: Read,
    library: Library,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tune, problems = read("tune", TUNE + before + "\n")
    assert problems == []
    assert isinstance(tune, Tune)
    monkeypatch.setitem(library.tunes, "led", tune)
    evening, problems = read("set", f"title: x\ntunes:\n  - tune: led\n    {tonight}\n")
    assert problems == []
    assert isinstance(evening, SetList)
    assert (evening.tunes[0].count_off, evening.tunes[0].leading.tapped) == found


FOUR_BARS = "intro: three-six-two-five\n"
"""Four bars in 4/4, eight above 200."""


def test_a_bar_that_the_intro_does_not_have_is_told(read: Read) -> None:
    named = TUNE + FOUR_BARS + "hold: bar 5\n"
    _, problems = read("tune", named)
    assert [(problem.line, problem.column) for problem in problems] == [(5, 1)]
    assert problems[0].message == "intro 'three-six-two-five' has bars 1 to 4 at 128; `hold` names bar 5"
    fast, problems = read("tune", named + "tempo: 220\n")
    assert problems == []
    assert isinstance(fast, Tune)


def test_a_place_in_time_that_the_intro_does_not_have_is_told(read: Read) -> None:
    _, problems = read("tune", TUNE + FOUR_BARS + "colla_voce: true\nin_time: bar 5\n")
    assert [(problem.line, problem.column) for problem in problems] == [(6, 1)]
    assert problems[0].message == "intro 'three-six-two-five' has bars 1 to 4 at 128; `in_time` names bar 5"


def test_the_last_word_counts_on_where_time_is_kept(
    read: Read, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    for before, tonight, leading in (
        ("colla_voce: 2", "in_time: bar 2 beat 3", Leading(colla_voce=64, in_time=BarBeat(2, 3))),
        ("colla_voce: true\nin_time: bar 3", "colla_voce: 2", Leading(colla_voce=2)),
        ("colla_voce: true\nin_time: bar 3", "colla_voce: false", Leading()),
        ("colla_voce: true\nin_time: bar 3", "tempo: 100", Leading(colla_voce=64, in_time=BarBeat(3))),
    ):
        tune, _ = read("tune", TUNE + before + "\n")
        assert isinstance(tune, Tune)
        monkeypatch.setitem(library.tunes, "led", tune)
        evening, problems = read("set", f"title: x\ntunes:\n  - tune: led\n    {tonight}\n")
        assert problems == []
        assert isinstance(evening, SetList)
        assert evening.tunes[0].leading == leading, (before, tonight)


def test_bars_that_the_intro_does_not_have_are_told(read: Read) -> None:
    _, problems = read("tune", TUNE + FOUR_BARS + "vamp: bars 3-5\n")
    assert [(problem.line, problem.column) for problem in problems] == [(5, 1)]
    assert problems[0].message == "intro 'three-six-two-five' has bars 1 to 4 at 128; `vamp` names bar 5"


def test_a_bar_that_the_intro_does_not_have_tonight_is_told_in_the_set(
    read: Read, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    tune, _ = read("tune", TUNE + FOUR_BARS + "hold: bar 5\ntempo: 220\n")
    assert isinstance(tune, Tune)
    monkeypatch.setitem(library.tunes, "led", tune)
    _, problems = read("set", "title: x\ntunes:\n  - tune: led\n    tempo: 140\n")
    assert [(problem.line, "bars 1 to 4 at 140" in problem.message) for problem in problems] == [(3, True)]


def test_bars_are_counted_as_they_will_be_planned(library: Library) -> None:
    for intro in library.intros.values():
        for meter, form, tempo in product(intro.meters, intro.forms, (40, 60, 65.9, 66, 120, 200.5, 320)):
            bars = lay_out(intro, form, meter=meter, tempo=tempo).bars
            assert bars_of(intro, form, meter=meter, tempo=tempo) == bars, (intro.id, meter, tempo)


def test_a_set_takes_the_wait_and_with_it_what_comes_then(
    read: Read, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    tune, _ = read("tune", TUNE + "hold: true\nthen: tapped\n")
    assert isinstance(tune, Tune)
    monkeypatch.setitem(library.tunes, "led", tune)
    for tonight, leading in (
        ("hold: false", Leading()),
        ("then: at once", Leading(hold=True)),
        ("tempo: 140", Leading(hold=True, tapped_on=True)),
    ):
        evening, problems = read("set", f"title: x\ntunes:\n  - tune: led\n    {tonight}\n")
        assert problems == []
        assert isinstance(evening, SetList)
        assert evening.tunes[0].leading == leading


def test_the_set_that_the_readme_writes_is_led_as_it_says(read: Read) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    block = readme.split("```yaml\n", 1)[1].split("```", 1)[0]
    evening, problems = read("set", dedent(block))
    assert problems == []
    assert isinstance(evening, SetList)
    assert [tune.leading for tune in evening.tunes] == [
        Leading(tapped=True, vamp=True),
        Leading(hold=True),
        Leading(colla_voce=64),
    ]
