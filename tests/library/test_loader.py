"""Folders to a library: nothing half-loaded, later roots laid over earlier ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from introit.errors import ContentError, Problem
from introit.library.loader import load_file, load_library, read_file
from introit.library.model import Library, SetList, Tune

COMPING = "name: x\nmeter: 4/4\nrhythm: |\n  1 held\n"
BASS = "name: x\nmeter: 4/4\nsteps: |\n  1 root\n"
FEEL = "name: Slow\nmeters: 4/4\ntempo: [60, 80]\ntypical_tempo: 70\ncomping: plain\nbass: plain\n"
INTRO = (
    "name: x\nmeters: 4/4\ntempo: [60, 240]\nfeels: slow\nwhy: because\n"
    "forms:\n  - mode: major\n    leads_to: I\n    harmony: |\n      V7\n"
)
TUNE = "title: Tune\nkey: C\nfeel: slow\nintro: five\n"
SET = "title: Set\ntunes:\n  - tune: good\n  - tune: bad\n  - tune: good\n    key: D\n"


def lay_out(root: Path, **changed: str) -> Path:
    """A small root; a keyword such as `tunes_bad=` replaces or adds the file tunes/bad.yaml."""
    files = {
        "comping_plain": COMPING, "bass_plain": BASS, "feels_slow": FEEL, "intros_five": INTRO,
        "tunes_good": TUNE, "tunes_bad": TUNE.replace("Tune", "Other"), "sets_gig": SET,
    } | changed  # fmt: skip
    for name, text in files.items():
        folder, _, stem = name.partition("_")
        path = root / ("config" if folder in {"sets", "rigs"} else "patterns") / folder / f"{stem}.yaml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return root


def told(problems: list[Problem]) -> list[tuple[str, str]]:
    return [(Path(problem.path).stem, problem.code) for problem in problems]


def titles(library: Library) -> list[str]:
    return [tune.title for tune in library.sets["gig"].tunes]


def test_a_whole_root_loads(tmp_path: Path) -> None:
    library, problems = load_library([lay_out(tmp_path)])
    assert problems == []
    assert titles(library) == ["Tune", "Other", "Tune"]


def test_one_bad_tune_does_not_take_the_set_down(tmp_path: Path) -> None:
    library, problems = load_library([lay_out(tmp_path, tunes_bad="title: Other\nkey: H\nfeel: slow\n")])
    assert told(problems) == [("gig", "left-out"), ("bad", "bad-key")]
    assert list(library.tunes) == ["good"]
    assert titles(library) == ["Tune", "Tune"]


def test_a_bad_intro_is_left_out_and_so_is_the_tune_that_names_it(tmp_path: Path) -> None:
    root = lay_out(
        tmp_path, intros_five=INTRO.replace("V7", "V7 x"), tunes_bad="title: O\nkey: C\nfeel: slow\n"
    )
    library, problems = load_library([root])
    assert told(problems) == [
        ("gig", "left-out"),
        ("gig", "left-out"),
        ("five", "bad-numeral"),
        ("good", "left-out"),
    ]
    assert library.intros == {}
    assert list(library.tunes) == ["bad"]
    assert titles(library) == ["O"]


def test_a_bad_comping_takes_down_what_stands_on_it_and_says_why(tmp_path: Path) -> None:
    library, problems = load_library([lay_out(tmp_path, comping_plain="name: x\n")])
    assert library == Library(intros={}, comping={}, bass=library.bass, feels={}, tunes={}, sets={}, rigs={})
    assert ("slow", "left-out") in told(problems)
    blame = next(problem for problem in problems if Path(problem.path).stem == "slow")
    assert "comping 'plain' was left out" in blame.message
    assert "plain.yaml" in blame.message


def test_a_mistake_in_a_sets_own_keys_leaves_the_set_out(tmp_path: Path) -> None:
    library, problems = load_library([lay_out(tmp_path, sets_gig=SET + "colour: red\n")])
    assert told(problems) == [("gig", "unknown-key")]
    assert library.sets == {}
    assert set(library.tunes) == {"good", "bad"}


def test_a_key_twice_in_one_entry_costs_that_entry_only(tmp_path: Path) -> None:
    library, problems = load_library([lay_out(tmp_path, sets_gig=SET + "    key: E\n")])
    assert told(problems) == [("gig", "duplicate-key")]
    assert titles(library) == ["Tune", "Other"]


def test_a_set_without_any_good_entry_is_left_out(tmp_path: Path) -> None:
    library, problems = load_library([lay_out(tmp_path, sets_gig="title: x\ntunes:\n  - tune: none\n")])
    assert told(problems) == [("gig", "not-there")]
    assert library.sets == {}


def test_a_later_root_lies_over_an_earlier_one(tmp_path: Path) -> None:
    ours = lay_out(tmp_path / "ours")
    own = tmp_path / "own"
    path = own / "patterns" / "tunes" / "good.yaml"
    path.parent.mkdir(parents=True)
    path.write_text(TUNE.replace("Tune", "Mine"))
    (path.parent / "new.yml").write_text(TUNE.replace("Tune", "New"))
    library, problems = load_library([ours, own])
    assert problems == []
    assert titles(library) == ["Mine", "Other", "Mine"]
    assert library.tunes["new"].title == "New"


def test_a_bad_file_in_a_later_root_leaves_the_earlier_one_and_is_told(tmp_path: Path) -> None:
    ours = lay_out(tmp_path / "ours")
    path = tmp_path / "own" / "patterns" / "tunes" / "good.yaml"
    path.parent.mkdir(parents=True)
    path.write_text("title: Mine\n")
    library, problems = load_library([ours, tmp_path / "own"])
    assert library.tunes["good"].title != "Mine"
    assert titles(library) == ["Tune", "Other", "Tune"]
    assert ("good", "missing-key") in told(problems)


def test_two_files_of_one_name_are_told(tmp_path: Path) -> None:
    root = lay_out(tmp_path)
    (root / "patterns" / "tunes" / "good.yml").write_text(TUNE)
    library, problems = load_library([root])
    assert told(problems) == [("good", "same-name")]
    assert "good" in library.tunes


def test_problems_come_in_the_order_of_files_and_lines(tmp_path: Path) -> None:
    root = lay_out(tmp_path, tunes_good="title: x\nkey: H\ntempo: 1\n", tunes_bad="key: H\n")
    _, problems = load_library([root])
    assert problems == sorted(problems)


def test_a_root_that_is_not_there_is_empty(tmp_path: Path) -> None:
    library, problems = load_library([tmp_path / "none"])
    assert problems == []
    assert library.tunes == {}


def test_hidden_files_and_other_endings_are_not_read(tmp_path: Path) -> None:
    root = lay_out(tmp_path)
    for name in (".good.yaml", "good.yaml~", "notes.txt"):
        (root / "patterns" / "tunes" / name).write_text("]")
    assert load_library([root])[1] == []


def test_a_file_elsewhere_says_its_kind(tmp_path: Path, library: Library) -> None:
    path = tmp_path / "lamp.yaml"
    path.write_text("kind: tune\ntitle: Lamp\nkey: C\nfeel: bossa\n")
    tune = load_file(path, library)
    assert isinstance(tune, Tune)
    assert (tune.id, tune.tempo, str(tune.first_chord)) == ("lamp", 128, "I")
    path.write_text("title: Lamp\nfeel: bossa\n")
    with pytest.raises(ContentError, match="nothing tells what this file describes"):
        load_file(path, library)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("title: Lamp\nkey: C\nfeel: bossa\n", "Tune"),
        ("title: Night\ntunes:\n  - call: bossa, C\n", "SetList"),
        (
            "name: Stage\nports:\n  a: {system: memory, to: any}\nparts:\n  comp: {port: a, channel: 1}\n",
            "Rig",
        ),
        ("name: Two\nmeter: 4/4\nsteps: 1 root 2, 3 fifth 2\n", "BassManner"),
    ],
)
def test_a_file_elsewhere_is_known_by_its_keys(
    tmp_path: Path, library: Library, text: str, kind: str
) -> None:
    path = tmp_path / "friday.yaml"
    path.write_text(text)
    assert type(load_file(path, library)).__name__ == kind


def test_loading_one_file_changes_no_library(tmp_path: Path, library: Library) -> None:
    before = dict(library.tunes)
    path = tmp_path / "tunes" / "lamp.yaml"
    path.parent.mkdir()
    path.write_text("title: Lamp\nkey: C\nfeel: bossa\n")
    load_file(path, library)
    assert library.tunes == before


def test_load_file_raises_with_every_mistake(tmp_path: Path, library: Library) -> None:
    path = tmp_path / "tunes" / "lamp.yaml"
    path.parent.mkdir()
    path.write_text("titel: Lamp\nkey: H\n")
    with pytest.raises(ContentError) as caught:
        load_file(path, library)
    assert [problem.code for problem in caught.value.problems] == [
        "missing-key", "missing-key", "unknown-key", "bad-key",
    ]  # fmt: skip
    assert str(caught.value).count("\n") == 3


def test_a_set_file_with_a_bad_entry_can_still_be_had(tmp_path: Path, library: Library) -> None:
    path = tmp_path / "sets" / "gig.yaml"
    path.parent.mkdir()
    path.write_text("title: x\ntunes:\n  - tune: nowhere\n  - tune: lantern-for-edda\n")
    thing, problems = read_file(path, library)
    assert isinstance(thing, SetList)
    assert [tune.id for tune in thing.tunes] == ["lantern-for-edda"]
    assert [problem.code for problem in problems] == ["not-there"]


def test_a_file_name_that_cannot_be_shown_is_refused(tmp_path: Path, library: Library) -> None:
    path = tmp_path / "tunes" / "a\x1b[31mb.yaml"
    path.parent.mkdir()
    path.write_text("title: Lamp\nkey: C\nfeel: bossa\n")
    thing, problems = read_file(path, library)
    assert thing is None
    assert [problem.code for problem in problems] == ["bad-name"]
    assert "\x1b" not in str(problems[0])
