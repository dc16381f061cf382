"""The content that comes with the program, and where content is looked for."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from introit.errors import Problem
from introit.library.codes import CODES
from introit.library.content import content_roots, program_root, user_root
from introit.library.kinds import FOLDERS, SHELVES
from introit.library.loader import load_file
from introit.library.model import Library

Read = Callable[[str, str], tuple[object | None, list[Problem]]]

_ROOT = program_root()
_FILES = sorted(path for part in ("patterns", "config") for path in (_ROOT / part).glob("*/*.y*ml"))
_EXAMPLE = re.compile(r"```yaml\n# (\S+)\n(.*?)```", re.DOTALL)
_READMES = [_ROOT / "patterns" / "README.md", _ROOT / "config" / "README.md"]
_EXAMPLES = [found for readme in _READMES for found in _EXAMPLE.findall(readme.read_text())]


@pytest.mark.parametrize("path", _FILES, ids=lambda path: str(path.relative_to(_ROOT)))
def test_every_file_loads(path: Path, library: Library) -> None:
    assert load_file(path, library) is not None


def test_every_file_lies_where_it_is_looked_for(library: Library) -> None:
    loaded = {
        f"{FOLDERS[kind]}/{name}.yaml" for kind, shelf in SHELVES.items() for name in getattr(library, shelf)
    }
    assert loaded == {path.relative_to(_ROOT).as_posix() for path in _FILES}


def test_there_is_enough_to_play(library: Library) -> None:
    assert len(library.intros) >= 48
    assert {"default", "demo"} <= set(library.rigs)
    assert len(library.sets["demo"].tunes) == 5
    assert 4 <= len(library.tunes) <= 6


def test_the_demo_set_shows_different_things(library: Library) -> None:
    tunes = library.sets["demo"].tunes
    assert {tune.key.mode.value for tune in tunes} == {"major", "minor"}
    assert {str(tune.meter) for tune in tunes} == {"3/4", "4/4", "5/4"}
    assert len({tune.feel for tune in tunes}) == 5
    assert len({str(tune.first_chord) for tune in tunes}) >= 4


@pytest.mark.parametrize(("path", "text"), _EXAMPLES, ids=[path for path, _ in _EXAMPLES])
def test_every_example_in_the_readmes_loads(path: str, text: str, read: Read) -> None:
    kind = next(kind for kind, folder in FOLDERS.items() if path.startswith(folder))
    thing, problems = read(kind, text)
    assert problems == []
    assert thing is not None


def test_no_example_in_the_readmes_is_overlooked() -> None:
    fences = sum(readme.read_text().count("```yaml") for readme in _READMES)
    assert len(_EXAMPLES) == fences
    assert {path.rpartition("/")[0] for path, _ in _EXAMPLES} == set(FOLDERS.values())


def test_the_readme_explains_every_code() -> None:
    meanings = _READMES[0].read_text().partition("## What the messages mean")[2]
    rows = re.findall(r"^\| `([a-z-]+)` \| (.+) \|$", meanings, re.MULTILINE)
    assert dict(rows) == CODES


def test_every_intro_says_why(library: Library) -> None:
    for intro in library.intros.values():
        assert 2 <= len(re.findall(r"[.?!](?:\s|$)", intro.why)) <= 4, intro.id


def test_the_checkout_is_found(tmp_path: Path) -> None:
    package = tmp_path / "engine" / "introit"
    package.mkdir(parents=True)
    assert program_root(package=package) == package / "_content"
    (tmp_path / "patterns").mkdir()
    assert program_root(package=package) == tmp_path


def test_an_installed_package_has_its_content_inside(tmp_path: Path) -> None:
    (tmp_path / "patterns").mkdir()  # a stranger's folder beside site-packages changes nothing
    package = tmp_path / "site-packages" / "introit"
    assert program_root(package=package) == package / "_content"


def test_the_variable_names_the_users_folder(tmp_path: Path) -> None:
    environ = {"INTROIT_HOME": str(tmp_path)}
    assert user_root(environ=environ) == tmp_path
    assert content_roots(environ=environ) == [_ROOT, tmp_path]


def test_a_users_folder_that_is_not_there_is_no_root(tmp_path: Path) -> None:
    assert content_roots(environ={"INTROIT_HOME": str(tmp_path / "none")}) == [_ROOT]


def test_without_the_variable_the_system_says_where() -> None:
    assert user_root(environ={}).name == "introit"
