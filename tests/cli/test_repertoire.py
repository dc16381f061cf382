"""Files that are saved while an evening runs: told once, read whole, and taken or kept."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from introit.arrange.legal import own_channel
from introit.cli.desk import Desk
from introit.cli.repertoire import POLL_SECONDS, Repertoire, Rereader
from introit.cli.slots import Slots
from introit.cli.watch import Watch
from introit.library.content import program_root
from introit.library.kinds import Stamp, stamp_of
from introit.library.loader import read_file
from introit.library.model import Library, SetList, Tune
from introit.live.events import Ready, Refused, Reordered, Request

SET = """\
title: Friday
tunes:
  - tune: copper-lamp
  - title: The Slow Lift
    key: G
    meter: 4/4
    tempo: 200
    feel: medium-swing
    first_chord: I
    intro: three-six-two-five
"""
TUNE = """\
title: Copper Lamp
key: Bb
meter: 4/4
tempo: 140
feel: medium-swing
first_chord: I
intro: three-six-two-five
"""


# --- the watch --------------------------------------------------------------------------------------


def test_a_file_is_told_once_when_it_has_come_to_rest() -> None:
    one, two = "one", "two"
    stamps: dict[str, Stamp | None] = {one: Stamp(1, 10, 1), two: Stamp(1, 10, 2)}
    watch = Watch(lambda: stamps, stamps.get)
    assert watch.look() == []
    stamps[one] = Stamp(2, 0, 1)  # emptied, and being written
    assert watch.look() == []
    stamps[one] = Stamp(3, 11, 1)
    assert watch.look() == []
    assert watch.look() == [Path(one)]
    assert watch.look() == []


def test_a_file_that_is_replaced_or_new_is_told_and_one_that_is_gone_is_not() -> None:
    one, two = "one", "two"
    stamps: dict[str, Stamp | None] = {one: Stamp(1, 10, 1)}
    watch = Watch(lambda: stamps, stamps.get)
    stamps[one] = None
    assert [watch.look(), watch.look()] == [[], []]
    stamps[one], stamps[two] = Stamp(1, 10, 7), Stamp(5, 5, 5)  # the same size and time, another file
    assert [watch.look(), watch.look(), watch.look()] == [[], [Path(one), Path(two)], []]


def test_a_file_that_is_gone_is_told_once_when_it_stays_away() -> None:
    one = "one"
    stamps: dict[str, Stamp | None] = {one: Stamp(1, 10, 1)}
    watch = Watch(lambda: stamps, stamps.get)

    def looks(count: int) -> list[list[Path]]:
        return [(watch.look(), watch.gone())[1] for _ in range(count)]

    stamps[one] = None
    assert looks(1) == [[]]
    stamps[one] = Stamp(2, 10, 7)  # it was only being replaced
    assert looks(3) == [[], [], []]
    stamps[one] = None
    assert looks(4) == [[], [Path(one)], [], []]
    stamps[one] = Stamp(3, 10, 8)
    assert looks(2) == [[], []]
    stamps[one] = None
    assert looks(3) == [[], [Path(one)], []]


def test_real_files_have_stamps(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_text("x")
    watch = Watch(lambda: {str(path): stamp_of(path) for path in (file, tmp_path / "missing.yaml")})
    file.write_text("xy")
    assert [watch.look(), watch.look(), watch.look()] == [[], [file], []]


# --- the repertoire ---------------------------------------------------------------------------------


class Stage:
    """A folder of the user's own with a tune and a set, and an evening with it."""

    def __init__(self, folder: Path, library: Library, name: str = "friday") -> None:
        self.folder = folder
        self.tune = folder / "patterns" / "tunes" / "copper-lamp.yaml"
        self.set = folder / "config" / "sets" / "friday.yaml"
        for path, text in ((self.tune, TUNE), (self.set, SET)):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
        self.library = Library(**{kind: dict(getattr(library, kind)) for kind in Library.__slots__})
        tune, problems = read_file(self.tune, self.library)
        assert isinstance(tune, Tune), problems
        self.library.tunes["copper-lamp"] = tune
        chosen, problems = read_file(self.set, self.library)
        assert isinstance(chosen, SetList), problems
        self.library.sets["friday"] = chosen
        tunes = chosen.tunes if name != "copper-lamp" else (tune,)
        self.repertoire = Repertoire(name, self.library, tunes, roots=[program_root(), folder])
        self.desk = Desk(tunes, self.library, own_channel)
        self.said: list[str] = []
        self.renewed: list[Iterator[Ready | Refused | Reordered]] = []
        self.seconds = 0.0
        self.rereader = Rereader(self.repertoire, self.desk, say=self.said.append, clock=lambda: self.seconds)

    def renew(self, answers: Iterator[Ready | Refused | Reordered]) -> None:
        self.renewed.append(answers)

    def save(self, path: Path, old: str, new: str) -> None:
        text = path.read_text()
        assert old in text
        path.write_text(text.replace(old, new))

    def pass_seconds(self) -> list[Ready | Refused | Reordered]:
        """A second passes; what the desk sends on then."""
        for _ in range(3):
            self.seconds += POLL_SECONDS
            assert 0 <= self.rereader.tick(self) <= POLL_SECONDS
        answers = [answer for renewal in self.renewed for answer in renewal]
        self.renewed.clear()
        return answers

    def ask(self, tune: int, *, all_keys: bool = False) -> Any:
        answers = self.desk.answer(Request(tune))
        return list(answers) if all_keys else next(answers)


@pytest.fixture
def stage(tmp_path: Path, library: Library) -> Stage:
    return Stage(tmp_path, library)


def test_nothing_saved_is_nothing_said(stage: Stage) -> None:
    stage.ask(0)
    assert stage.pass_seconds() == []
    stage.tune.write_text(TUNE)  # saved as it was
    assert stage.pass_seconds() == []
    assert stage.said == []


def test_a_tune_that_was_ready_is_arranged_anew_in_every_key(stage: Stage) -> None:
    before = stage.ask(0, all_keys=True)
    assert before[0].performance.tempo == 140
    stage.save(stage.tune, "140", "96")
    answers = stage.pass_seconds()
    assert len(answers) == len(before)
    assert all(isinstance(one, Ready) and one.performance.tempo == 96 for one in answers)
    assert [one.own for one in answers if isinstance(one, Ready)] == [True] + [False] * (len(before) - 1)
    assert stage.ask(0).performance.tempo == 96
    assert stage.said == ["read again: copper-lamp.yaml; heard from the next start on"]


def test_a_tune_that_was_not_ready_waits_until_it_is_asked_for(stage: Stage) -> None:
    stage.save(stage.set, "G\n", "Eb\n")
    assert stage.pass_seconds() == []
    assert stage.ask(1).performance.key == "Eb"
    assert stage.ask(0).performance.key == "Bb"


@pytest.mark.parametrize(
    ("broken", "line"), [("key: H", 2), ("key: [", 4), ("kay: Bb", 1), ("key: Bb\nkey: C", 3)]
)
def test_a_broken_edit_is_one_line_and_the_old_tune_plays_on(broken: str, line: int, stage: Stage) -> None:
    stage.save(stage.tune, "key: Bb", broken)
    assert stage.pass_seconds() == []
    assert len(stage.said) == 1
    assert stage.said[0].startswith(f"{stage.tune}:{line}:")
    assert stage.said[0].endswith("; kept as it was")
    assert "\n" not in stage.said[0]
    assert stage.ask(0).performance.key == "Bb"
    assert stage.pass_seconds() == []
    assert len(stage.said) == 1  # told once
    stage.save(stage.tune, broken, "key: C")
    stage.pass_seconds()
    assert stage.ask(0).performance.key == "C"


def test_a_set_with_a_bad_entry_is_kept_as_it_was(stage: Stage) -> None:
    stage.save(stage.set, "tempo: 200", "tempo: 9000")
    stage.save(stage.set, "copper-lamp", "copper-lump")
    assert stage.pass_seconds() == []
    assert len(stage.said) == 1
    assert stage.said[0].startswith(f"{stage.set}:3:")
    assert "(and 1 more)" in stage.said[0]
    assert stage.ask(1).performance.tempo == 200


def test_a_tune_that_cannot_be_arranged_is_kept_as_it_was(stage: Stage) -> None:
    stage.ask(0)
    bare = replace(stage.library, intros={})
    tunes = [replace(stage.repertoire.tunes[0], tempo=99.0), stage.repertoire.tunes[1]]
    assert list(stage.desk.take(tunes, bare, say=stage.said.append)) == []
    assert len(stage.said) == 1
    assert stage.said[0].startswith("Copper Lamp: ")
    assert stage.said[0].endswith("; kept as it was")
    assert stage.ask(0).performance.tempo == 140


def test_a_tune_taken_out_is_refused_and_the_others_keep_their_numbers(stage: Stage) -> None:
    stage.save(stage.set, "  - tune: copper-lamp\n", "")
    assert stage.pass_seconds() == [Reordered((1,))]
    refused = stage.ask(0)
    assert isinstance(refused, Refused)
    assert refused.reason == "that tune has been taken out of the set"
    assert stage.ask(1).performance.title == "The Slow Lift"
    stage.save(stage.set, "tunes:\n", "tunes:\n  - tune: copper-lamp\n")
    assert stage.pass_seconds() == [Reordered((2, 1))]
    assert [stage.ask(place).performance.title for place in (2, 1)] == ["Copper Lamp", "The Slow Lift"]


def test_tunes_added_at_the_end_can_be_called_the_same_evening(stage: Stage) -> None:
    ready = stage.ask(0)
    stage.set.write_text(SET + "  - call: bossa, C minor\n  - tune: copper-lamp\n")
    assert stage.pass_seconds() == [Reordered((0, 1, 2, 3))]
    assert stage.said == ["read again: friday.yaml; 4 tunes now; heard from the next start on"]
    titles = [stage.ask(place).performance.title for place in range(4)]
    assert titles == ["Copper Lamp", "The Slow Lift", "Bossa from i", "Copper Lamp"]
    assert stage.ask(0).performance.chords == ready.performance.chords
    stage.set.write_text(SET)
    assert stage.pass_seconds() == [Reordered((0, 1))]
    assert isinstance(stage.ask(3), Refused)


def test_an_added_tune_that_cannot_be_arranged_is_told_and_says_so_again(stage: Stage) -> None:
    bare = replace(stage.library, intros={})
    tunes = [*stage.repertoire.tunes, replace(stage.repertoire.tunes[0], id="new", title="New One", tempo=99)]
    desk = Desk(stage.repertoire.tunes, bare, own_channel)
    assert list(desk.take(tunes, bare, say=stage.said.append)) == []
    assert stage.said == [f"New One: {next(desk.answer(Request(2))).reason}"]  # type: ignore[union-attr]


@pytest.mark.parametrize("kind", ["set", "tune"])
def test_a_file_that_is_deleted_is_told_once_and_what_was_there_is_kept(kind: str, stage: Stage) -> None:
    path = stage.set if kind == "set" else stage.tune
    text = path.read_text()
    path.unlink()
    assert stage.pass_seconds() == []
    told = [f"{path}: the file is gone; what was read from it is kept"]
    assert stage.said == told
    assert stage.pass_seconds() == []
    assert stage.said == told
    assert [stage.ask(place).performance.title for place in (0, 1)] == ["Copper Lamp", "The Slow Lift"]
    if kind == "set":
        stage.save(stage.tune, "Copper Lamp", "Tin Lamp")
        stage.pass_seconds()
        assert stage.said == told  # another file that is saved does not tell it again
        path.write_text(text)
        stage.pass_seconds()
        assert stage.ask(0).performance.title == "Tin Lamp"


def test_a_file_of_ones_own_that_is_deleted_uncovers_the_programs(stage: Stage) -> None:
    own = stage.folder / "patterns" / "intros" / "three-six-two-five.yaml"
    own.parent.mkdir()
    text = (program_root() / "patterns" / "intros" / own.name).read_text()
    own.write_text(text.replace("tempo: [50, 300]", "tempo: [50, 299]"))
    stage.pass_seconds()
    assert stage.repertoire.library.intros[own.stem].tempo == (50, 299)
    own.unlink()
    stage.pass_seconds()
    assert stage.repertoire.library.intros[own.stem].tempo == (50, 300)
    assert not any("is gone" in line for line in stage.said)


# --- where tunes stand ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("saved", "slots"),
    [
        (["abc"], "abc 012"),
        (["abcd"], "abcd 0123"),
        (["ac"], "a-c 02"),
        (["bc"], "-bc 12"),
        (["ab"], "ab- 01"),
        (["acd"], "a-cd 023"),
        (["axc"], "axc 012"),
        (["xbc"], "xbc 012"),
        (["xy"], "xy- 01"),
        (["axbc"], "abcx 0312"),
        (["cab"], "abc 201"),
        (["ac", "abc"], "a-cb 032"),
        (["ac", "acd", "dca"], "a-cd 320"),
        (["xabc", "abc"], "abc- 012"),
        (["aabc"], "abca 0312"),
        (["a", "b"], "b-- 0"),
    ],
)
def test_a_tune_keeps_its_slot_wherever_it_comes(saved: list[str], slots: str, stage: Stage) -> None:
    plain = stage.repertoire.tunes[0]

    def tunes(names: str) -> list[Tune]:
        return [replace(plain, id=name) for name in names]

    found = Slots.of(tunes("abc"))
    for names in saved:
        found = found.filled(tunes(names))
        assert [tune.id for slot in found.order if (tune := found.tunes[slot])] == list(names)
        assert sorted(found.order) == [slot for slot, tune in enumerate(found.tunes) if tune]
    names = "".join("-" if tune is None else tune.id for tune in found.tunes)
    assert f"{names} {''.join(map(str, found.order))}" == slots


# --- what was ordered, and what was saved -----------------------------------------------------------


def order(stage: Stage, **ordered: Any) -> Ready:
    answer = next(stage.desk.answer(Request(0, **ordered)))
    assert isinstance(answer, Ready), answer
    return answer


def test_a_tempo_that_is_saved_wins_over_one_that_was_ordered(stage: Stage) -> None:
    order(stage, tempo=150.0)
    stage.save(stage.tune, "tempo: 140", "tempo: 96")
    answers = stage.pass_seconds()
    assert {one.performance.tempo for one in answers if isinstance(one, Ready)} == {96}
    assert order(stage).performance.tempo == 96


def test_a_tempo_that_was_ordered_stays_when_something_else_is_saved(stage: Stage) -> None:
    order(stage, tempo=150.0)
    stage.save(stage.tune, "key: Bb", "key: F")
    answers = stage.pass_seconds()
    assert {one.performance.tempo for one in answers if isinstance(one, Ready)} == {150}
    assert order(stage).performance.key == "F"


def test_a_tempo_that_was_ordered_gives_way_to_a_named_intro_that_cannot_have_it(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    slow = replace(stage.library.intros["dominant-vamp"], tempo=(60.0, 145.0))
    monkeypatch.setitem(stage.library.intros, "dominant-vamp", slow)
    order(stage, tempo=150.0)
    stage.save(stage.tune, "three-six-two-five", "dominant-vamp")
    stage.pass_seconds()
    answer = order(stage)
    assert (answer.performance.intro, answer.performance.tempo) == ("dominant-vamp", 140)


def test_intros_that_are_saved_win_over_one_that_was_called_for(stage: Stage) -> None:
    assert order(stage, intro=2).performance.intro != "three-six-two-five"
    stage.save(stage.tune, "intro: three-six-two-five", "intro: [one-bar, three-six-two-five]")
    answers = stage.pass_seconds()
    assert {one.intro for one in answers if isinstance(one, Ready)} == {0}
    assert order(stage).performance.intro == "one-bar"


def test_an_intro_that_was_called_for_stays_when_something_else_is_saved(stage: Stage) -> None:
    called = order(stage, intro=2)
    stage.save(stage.tune, "tempo: 140", "tempo: 150")
    stage.pass_seconds()
    answer = order(stage)
    assert (answer.intro, answer.performance.intro) == (2, called.performance.intro)
    assert answer.performance.tempo == 150


def test_an_intro_of_ones_own_that_is_saved_is_heard(stage: Stage, library: Library) -> None:
    own = stage.folder / "patterns" / "intros" / "three-six-two-five.yaml"
    own.parent.mkdir()
    shutil.copy(program_root() / "patterns" / "intros" / "three-six-two-five.yaml", own)
    before = stage.ask(0).performance
    stage.ask(1)
    assert stage.pass_seconds() == []  # the same music as the program's own
    text = own.read_text()
    name = next(line for line in text.splitlines() if line.startswith("name:"))
    own.write_text(text.replace(name, "name: Mine"))
    answers = stage.pass_seconds()
    assert {answer.tune for answer in answers if isinstance(answer, Ready)} == {0, 1}
    assert stage.repertoire.library.intros["three-six-two-five"].name == "Mine"
    assert library.intros["three-six-two-five"].name != "Mine"
    assert stage.ask(0).performance.chords == before.chords


def test_a_tune_by_its_name_alone(tmp_path: Path, library: Library) -> None:
    stage = Stage(tmp_path, library, "copper-lamp")
    stage.save(stage.tune, "Bb", "Ab")
    stage.pass_seconds()
    assert stage.ask(0).performance.key == "Ab"


def test_a_call_in_words_has_no_file(stage: Stage) -> None:
    repertoire = Repertoire(
        "medium swing, Ab", stage.library, stage.repertoire.tunes[:1], roots=[stage.folder]
    )
    assert set(repertoire.files()) == {stage.tune}


def test_a_second_edit_ends_what_the_first_one_still_had_to_send(stage: Stage) -> None:
    stage.ask(0)
    stage.save(stage.tune, "140", "96")
    for _ in range(3):
        stage.seconds += POLL_SECONDS
        stage.rereader.tick(stage)
    first = stage.renewed.pop()
    assert isinstance(next(first), Ready)
    stage.save(stage.tune, "96", "120")
    second = stage.pass_seconds()
    assert isinstance(second[0], Ready)
    assert second[0].performance.tempo == 120
    assert list(first) == []


def test_whoever_asks_has_everything_read_at_once_and_is_told_where_nothing_changed(stage: Stage) -> None:
    stage.ask(0)
    stage.rereader.again(stage)
    assert stage.said == ["read again: everything, as asked; nothing has changed"]
    assert stage.renewed == []
    stage.save(stage.tune, "140", "96")
    stage.rereader.again(stage)
    first, *_ = stage.renewed.pop()
    assert isinstance(first, Ready)
    assert first.performance.tempo == 96
    assert stage.said[1:] == ["read again: everything, as asked; heard from the next start on"]
    assert stage.pass_seconds() == []
    assert len(stage.said) == 2, "it was read already: the next look tells nothing"


def test_whoever_asks_is_told_a_mistake_and_keeps_what_was_there(stage: Stage) -> None:
    stage.save(stage.tune, "key: Bb", "key: H")
    stage.rereader.again(stage)
    assert len(stage.said) == 1
    assert stage.said[0].startswith(f"{stage.tune}:2:")
    assert stage.ask(0).performance.key == "Bb"
