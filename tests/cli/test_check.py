"""`introit check --music` as a player meets it; what the rules say is tested with them, in tests/arrange."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from introit.arrange.line_up import LineUp
from introit.arrange.plan import suits
from introit.arrange.review import Breach, Movement
from introit.arrange.review import sweep as sweeping
from introit.arrange.review.occasions import FIRST_NOTES, HEADS, LANDINGS, PICKUPS, SEEDS
from introit.arrange.review.sweep import Reviewed, Setting, settings, some_keys, tempi
from introit.cli import review_pool
from introit.cli.content import open_library
from introit.cli.main import run
from introit.cli.review_pool import Bench, do, jobs_for, search
from introit.errors import IntroitError
from introit.library.content import program_root
from introit.library.measures import FILE, load_measures
from introit.library.model import Library
from introit.theory.key import Mode
from introit.theory.numeral import Numeral

INTRO = """\
name: Mine
tempo: [100, 140]
feels: [medium-swing]
meters: [4/4]
line_ups: [with keys]
forms:
  - mode: major
    leads_to: I
    harmony: |
      ii9 V13
why: |
  Two and five, and off.
"""
SUMMARY = re.compile(r"(\d+) intros?, ([\d,]+) scores?: (no breaches|([\d,]+) breach(es)? in .*)")


@pytest.fixture(autouse=True)
def _nothing_of_the_users(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("INTROIT_HOME", str(tmp_path / "home"))


@pytest.fixture
def own(tmp_path: Path) -> Path:
    path = tmp_path / "intros" / "mine.yaml"
    path.parent.mkdir()
    path.write_text(INTRO, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def library() -> Library:
    return open_library(quiet=True)


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, list[str], str]:
    code = run(["check", *arguments])
    printed = capsys.readouterr()
    return code, printed.out.splitlines(), printed.err


def answer_with(monkeypatch: pytest.MonkeyPatch, *breaches: Breach, only: str | None = None) -> list[Setting]:
    """Puts a review in place that finds just these, in one key or in all; what it was asked is listed."""
    asked: list[Setting] = []

    def review(intro: object, setting: Setting, *rest: object, **more: object) -> Reviewed:
        asked.append(setting)
        found = list(breaches) if only in {None, str(setting.tune.key)} else []
        return Reviewed(found, Movement(2, 3.0, 2.0, 1, 40.0, 40.0))

    monkeypatch.setattr(review_pool, "reviewed", review)
    return asked


BREACH = Breach("clash", 3, 2.5, "comp and bass: B2 under C4 is a minor ninth")


def test_nothing_to_tell_is_exit_0(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, own: Path
) -> None:
    asked = answer_with(monkeypatch)
    code, lines, error = call(capsys, "--music", str(own))
    assert (code, error) == (0, "")
    assert lines[-1] == "1 intro, 36 scores: no breaches"
    assert "1.50 semitones" in lines[-2]
    assert "40.0 mm" in lines[-2]
    assert len(asked) == 36  # twelve keys at three tempi
    assert {setting.tune.tempo for setting in asked} == {100, 120, 140}


def test_a_breach_is_a_line_and_exit_1(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, own: Path
) -> None:
    asked = answer_with(monkeypatch, BREACH, only="Eb")
    code, lines, error = call(capsys, "--music", str(own))
    assert (code, error) == (1, "")
    first = next(setting for setting in asked if str(setting.tune.key) == "Eb")
    assert lines[0] == f"mine Eb {first}: {BREACH}"
    assert str(first).startswith("medium-swing 100 with keys")
    assert str(BREACH).startswith("bar 3 beat 2.5: clash: ")
    assert lines[-1] == "1 intro, 36 scores: 3 breaches in 3 scores of 1 intro"


def test_the_same_breach_in_several_keys_is_one_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, own: Path
) -> None:
    answer_with(monkeypatch, BREACH)

    def on_one_occasion(*asked: Any, **more: Any) -> Iterator[Setting]:
        plain = next(settings(*asked, **more))
        yield from (plain._replace(tune=replace(plain.tune, key=key)) for key in some_keys(Mode.MAJOR, 3))

    monkeypatch.setattr(review_pool, "settings", on_one_occasion)
    code, lines, _ = call(capsys, "--music", str(own))
    assert code == 1
    assert re.fullmatch(rf"mine C, E, Ab \(3 keys\) medium-swing [^:]+: {re.escape(str(BREACH))}", lines[0])
    assert lines[1].split() == ["3", "clash"]
    assert lines[-1] == "1 intro, 3 scores: 3 breaches in 3 scores of 1 intro"


def test_the_arranger_itself_is_asked(capsys: pytest.CaptureFixture[str], own: Path) -> None:
    code, lines, error = call(capsys, "--music", "--keys", "1", "--jobs", "1", "--seed", "4", str(own))
    assert error == ""
    found = SUMMARY.fullmatch(lines[-1])
    assert found, lines[-1]
    assert (found[1], found[2]) == ("1", "3")
    assert code == (0 if found[3] == "no breaches" else 1)
    for line in lines[:-2]:
        playing = r"mine C medium-swing \d+ with keys(, [^:]+)?, seed 4: bar \d+ beat [\d.]+: "
        assert re.match(playing + r"|[ \d,]{8}  ", line), line


def test_a_file_with_a_mistake_is_told_and_the_others_are_reviewed(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, own: Path
) -> None:
    answer_with(monkeypatch)
    bad = own.with_name("bad.yaml")
    bad.write_text(INTRO.replace("V13", "V99"), encoding="utf-8")
    code, lines, _ = call(capsys, "--music", "--keys", "1", str(own.parent))
    assert code == 1
    assert lines[0].startswith(f"{bad}:10:")
    assert lines[-1] == "1 mistake; 1 intro, 3 scores: no breaches"


def test_an_intro_may_name_a_rhythm_that_lies_beside_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, own: Path
) -> None:
    answer_with(monkeypatch)
    rhythm = own.parent.parent / "zz" / "comping"
    rhythm.mkdir(parents=True)
    shutil.copy(program_root() / "patterns" / "comping" / "charleston.yaml", rhythm / "my-rhythm.yaml")
    own.write_text(INTRO.replace("meters:", "comping: my-rhythm\nmeters:"), encoding="utf-8")
    code, lines, _ = call(capsys, "--music", "--keys", "1", str(own.parent.parent))
    assert code == 0, lines


@pytest.mark.parametrize("kind", ["feels/jazz-waltz", "bass/waltz", "comping/four-answers"])
def test_a_rhythm_or_a_feel_stands_for_the_intros_that_name_it(
    kind: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, library: Library
) -> None:
    answer_with(monkeypatch)
    path = program_root() / "patterns" / f"{kind}.yaml"
    users = sweeping.users_of([path.stem], library)
    code, lines, error = call(capsys, "--music", "--keys", "1", "--jobs", "1", str(path))
    if not users:
        assert (code, lines) == (2, [])
        assert "there is no intro" in error
        return
    assert code == 0
    assert lines[-1].startswith(f"{len(users)} intro")


def test_a_tune_stands_for_itself(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, library: Library
) -> None:
    asked = answer_with(monkeypatch)
    path = program_root() / "patterns" / "tunes" / "late-bus-to-orrin.yaml"
    code, lines, _ = call(capsys, "--music", str(path))
    assert code == 0
    tune = library.tunes["late-bus-to-orrin"]
    assert {setting.tune for setting in asked} == {tune}
    names = [tune.line_up] if tune.line_up else library.intros[tune.intro or ""].line_ups
    assert [setting.line_up for setting in asked] == [LineUp(name) for name in names]
    assert lines[-1] == f"1 intro, {len(asked)} score{'s' * (len(asked) > 1)}: no breaches"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--keys", "3"], "--keys is for --music"),
        (["--seed", "3"], "--seed is for --music"),
        (["--jobs", "3"], "--jobs is for --music"),
        (["--music", "--keys", "13"], "allowed is 1 to 12 or all"),
        (["--music", "--keys", "0"], "allowed is 1 to 12 or all"),
        (["--music", "--keys", "²"], "allowed is 1 to 12 or all"),
        (["--music", "--jobs", "0"], "--jobs"),
        (["--music", str(program_root() / "config" / "rigs")], "there is no intro"),
    ],
)
def test_wrong_use_is_one_clear_line(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, lines, error = call(capsys, *arguments)
    assert (code, lines) == (2, [])
    assert says in error
    assert error.count("\n") == 1


def test_a_users_own_measures_with_a_mistake_are_told(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, own: Path
) -> None:
    mine = tmp_path / "home" / FILE
    mine.parent.mkdir(parents=True)
    shipped = (program_root() / FILE).read_text(encoding="utf-8")
    mine.write_text(shipped.replace("least: 85", "least: 850"), encoding="utf-8")
    for arguments in ([], [str(mine)], ["--music", str(own)]):
        code, lines, error = call(capsys, *arguments)
        assert code == 1
        assert f"{mine}:" in " ".join([*lines, error])
        assert "850 is out of range" in " ".join([*lines, error])


def test_the_shipped_measures_are_checked_with_their_folder(capsys: pytest.CaptureFixture[str]) -> None:
    code, lines, _ = call(capsys, str(program_root() / FILE))
    assert (code, lines) == (0, ["1 file: no mistakes"])


def test_every_intro_has_settings_in_all_its_keys_feels_and_line_ups(library: Library) -> None:
    for intro in library.intros.values():
        asked = list(settings(intro, library))
        modes = {form.mode for form in intro.forms}
        assert {setting.tune.key for setting in asked} == {
            key for mode in modes for key in some_keys(mode, 12)
        }
        assert {setting.line_up for setting in asked} == set(map(LineUp, intro.line_ups))
        played = {name for name in intro.feels if tempi(intro, library.feels[name])}
        assert {setting.tune.feel for setting in asked} == played, intro.id
        for setting in asked:
            feel = library.feels[setting.tune.feel]
            assert (
                max(intro.tempo[0], feel.tempo[0]) <= setting.tune.tempo <= min(intro.tempo[1], feel.tempo[1])
            )
            assert setting.tune.meter in intro.meters
            assert setting.tune.meter in feel.meters
    assert set(HEADS) == set(Mode)


def test_each_intro_is_met_on_every_kind_of_occasion_several_times(library: Library) -> None:
    """Three keys are enough for that; and a setting has the same occasion however many keys are asked for."""
    for intro in library.intros.values():
        few = list(settings(intro, library, keys_each=3))
        assert set(few) <= set(settings(intro, library))
        suited = {mode: set[str]() for mode in Mode}
        for setting in few:
            plain = replace(setting.tune, first_chord=Numeral.from_text("I"))
            for head in HEADS[setting.tune.key.mode]:
                if suits(intro, replace(plain, first_chord=Numeral.from_text(head)), plain.key) is None:
                    suited[plain.key.mode].add(head)
        met = [
            [(one.tune.key.mode, str(one.tune.first_chord)) for one in few],
            [one.tune.pickup for one in few],
            [one.tune.landing for one in few],
            [one.tune.first_note for one in few],
            [one.seed for one in few],
        ]
        wanted = [
            {(mode, head) for mode, heads in suited.items() for head in heads},
            set(PICKUPS),
            set(LANDINGS),
            set(FIRST_NOTES),
            set(range(SEEDS)),
        ]
        for found, all_of_them in zip(met, wanted, strict=True):
            counted = Counter[object](found)
            assert set(counted) == all_of_them, intro.id
            assert min(counted.values()) >= 2, (intro.id, counted)


def test_an_intro_that_cannot_be_arranged_is_a_breach(library: Library) -> None:
    intro = library.intros["dominant-vamp"]
    setting = next(settings(intro, library))
    empty = Library(intros={}, comping={}, bass={}, feels={}, tunes={}, sets={}, rigs={})
    found = sweeping.reviewed(intro, setting, empty, load_measures([program_root()]))
    assert [breach.rule for breach in found.breaches] == [sweeping.FAILS]
    assert "no feel" in found.breaches[0].text


def test_many_processes_find_what_one_finds(library: Library) -> None:
    bench = Bench(library, load_measures([program_root()]), 1)
    work = jobs_for(library, ["dominant-vamp", "waltz-riff"])
    told: list[tuple[int, int]] = []
    many = list(search(bench, work, processes=2, progress=lambda *counts: told.append(counts)))
    assert many == [do(job, bench) for job in work]
    assert told == [(number, len(work)) for number in range(1, len(work) + 1)]


class _Deadly:
    """Ends the process that unpickles it."""

    def __reduce__(self) -> tuple[object, tuple[int]]:
        return os._exit, (3,)


def test_a_lost_process_is_one_clear_error(library: Library) -> None:
    bench = Bench(library, load_measures([program_root()]), 1, _Deadly())  # type: ignore[arg-type]
    work = jobs_for(library, ["dominant-vamp"])
    with pytest.raises(IntroitError, match="is gone; --jobs 1 does without"):
        list(search(bench, work, processes=2, progress=lambda *counts: None))


def test_an_interrupt_ends_it_without_a_word(tmp_path: Path) -> None:
    """The exit code of the shells; the processes of the pool are told nothing and say nothing."""
    mine = tmp_path / "home" / FILE  # measures that no bass can keep: the first job has something to tell
    mine.parent.mkdir(parents=True)
    shipped = (program_root() / FILE).read_text(encoding="utf-8")
    mine.write_text(shipped.replace("bass: [E1, G3]", "bass: [C9, C9]"), encoding="utf-8")
    command = [sys.executable, "-m", "introit", "check", "--music", "--jobs", "2", "--keys", "1"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline().strip()  # it is at work
    process.send_signal(signal.SIGINT)
    _, error = process.communicate(timeout=60)
    assert (process.returncode, error) == (130, "")


def test_with_mistakes_alone_nothing_is_called_free_of_breaches(
    capsys: pytest.CaptureFixture[str], own: Path
) -> None:
    own.write_text(INTRO.replace("V13", "V99"), encoding="utf-8")
    code, lines, _ = call(capsys, "--music", "--keys", "1", str(own))
    assert code == 1
    assert lines[-1] == f"{len(lines) - 1} mistake{'' if len(lines) == 2 else 's'}, and no music to review"
