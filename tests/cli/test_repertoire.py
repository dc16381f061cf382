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
from introit.cli.watch import Stamp, Watch
from introit.library.content import program_root
from introit.library.loader import load_library, read_file
from introit.library.model import Library, SetList, Tune
from introit.live.events import Ready, Refused, Request

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
    one, two = Path("one"), Path("two")
    stamps = {one: Stamp(1, 10, 1), two: Stamp(1, 10, 2)}
    watch = Watch(lambda: list(stamps), lambda path: stamps.get(path))
    assert watch.look() == []
    stamps[one] = Stamp(2, 0, 1)  # emptied, and being written
    assert watch.look() == []
    stamps[one] = Stamp(3, 11, 1)
    assert watch.look() == []
    assert watch.look() == [one]
    assert watch.look() == []


def test_a_file_that_is_replaced_or_new_is_told_and_one_that_is_gone_is_not() -> None:
    one, two = Path("one"), Path("two")
    stamps: dict[Path, Stamp | None] = {one: Stamp(1, 10, 1)}
    watch = Watch(lambda: list(stamps), lambda path: stamps[path])
    stamps[one] = None
    assert [watch.look(), watch.look()] == [[], []]
    stamps[one], stamps[two] = Stamp(1, 10, 7), Stamp(5, 5, 5)  # the same size and time, another file
    assert [watch.look(), watch.look(), watch.look()] == [[], [one, two], []]


def test_real_files_have_stamps(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_text("x")
    watch = Watch(lambda: [file, tmp_path / "missing.yaml"])
    file.write_text("xy")
    assert [watch.look(), watch.look(), watch.look()] == [[], [file], []]


# --- the repertoire ---------------------------------------------------------------------------------


class Stage:
    """A folder of the user's own with a tune and a set, and an evening with it."""

    def __init__(self, folder: Path, shared: Library, name: str = "friday") -> None:
        self.folder = folder
        self.tune = folder / "patterns" / "tunes" / "copper-lamp.yaml"
        self.set = folder / "config" / "sets" / "friday.yaml"
        for path, text in ((self.tune, TUNE), (self.set, SET)):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
        self.library = Library(**{kind: dict(getattr(shared, kind)) for kind in Library.__slots__})
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
        self.renewed: list[Iterator[Ready | Refused]] = []
        self.seconds = 0.0
        self.rereader = Rereader(self.repertoire, self.desk, say=self.said.append, clock=lambda: self.seconds)

    def renew(self, answers: Iterator[Ready | Refused]) -> None:
        self.renewed.append(answers)

    def save(self, path: Path, old: str, new: str) -> None:
        text = path.read_text()
        assert old in text
        path.write_text(text.replace(old, new))

    def pass_seconds(self) -> list[Ready | Refused]:
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


@pytest.fixture(scope="module")
def shared() -> Library:
    return load_library([program_root()])[0]


@pytest.fixture
def stage(tmp_path: Path, shared: Library) -> Stage:
    return Stage(tmp_path, shared)


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
    assert stage.said == ["read again: copper-lamp.yaml; what has changed is played when it is next readied"]


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


def test_a_tune_taken_out_is_refused_and_one_added_waits_for_the_next_start(stage: Stage) -> None:
    stage.save(stage.set, "  - tune: copper-lamp\n", "")
    stage.pass_seconds()
    assert stage.ask(0).performance.title == "The Slow Lift"
    assert isinstance(stage.ask(1), Refused)
    stage.save(stage.set, "tunes:\n", "tunes:\n" + 2 * "  - tune: copper-lamp\n")
    stage.pass_seconds()
    assert [stage.ask(place).performance.title for place in (0, 1)] == ["Copper Lamp"] * 2
    assert "3 tunes, and 2 when the evening began" in stage.said[-2]


def test_an_intro_of_ones_own_that_is_saved_is_heard(stage: Stage, shared: Library) -> None:
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
    assert shared.intros["three-six-two-five"].name != "Mine"
    assert stage.ask(0).performance.chords == before.chords


def test_a_tune_by_its_name_alone(tmp_path: Path, shared: Library) -> None:
    stage = Stage(tmp_path, shared, "copper-lamp")
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
