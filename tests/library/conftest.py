from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from introit.errors import Problem
from introit.library.content import program_root
from introit.library.kinds import SHELVES
from introit.library.loader import load_library, read_file
from introit.library.model import Library

Read = Callable[[str, str], tuple[object | None, list[Problem]]]


@pytest.fixture(scope="session")
def root() -> Path:
    return program_root()


@pytest.fixture(scope="session")
def library(root: Path) -> Library:
    loaded, problems = load_library([root])
    assert problems == []
    return loaded


@pytest.fixture
def read(tmp_path: Path, library: Library) -> Read:
    """Reads a text as a file of a kind, against the library that comes with the program."""

    def read_text(kind: str, text: str) -> tuple[object | None, list[Problem]]:
        path = tmp_path / SHELVES[kind] / "example.yaml"
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text.encode())
        return read_file(path, library)

    return read_text


@pytest.fixture
def problem_at(read: Read) -> Callable[[str, str], Problem]:
    """The only problem of a text whose place is marked by a `§`, which is taken out before reading."""

    def only_problem(kind: str, marked: str) -> Problem:
        before, mark, after = marked.partition("§")
        assert mark, "the text marks no place"
        _, problems = read(kind, before + after)
        assert len(problems) == 1, [str(problem) for problem in problems]
        problem = problems[0]
        assert problem.path.endswith("example.yaml")
        expected = (before.count("\n") + 1, len(before) - before.rfind("\n"))
        assert (problem.line, problem.column) == expected, str(problem)
        return problem

    return only_problem
