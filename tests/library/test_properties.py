"""No text crashes the loader: whatever is in a file, there is a thing, or there are problems with places."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from introit.errors import NotationError, Problem
from introit.library.calls import called_tune
from introit.library.composing import compose
from introit.library.content import program_root
from introit.library.file_reading import READERS, kind_of_file
from introit.library.kinds import KINDS, SHELVES
from introit.library.loader import load_library, read_file
from introit.library.model import Library, SetList
from introit.library.reading import clean_title, source_of
from introit.library.shelf import Shelf

_FILES = sorted(
    path
    for kind in SHELVES.values()
    for shelf in ("patterns", "config")
    for path in sorted((program_root() / shelf).rglob(f"{kind}/*.yaml"))
    if "engine" not in path.parts
)
_TEXTS = [(path, path.read_text(encoding="utf-8")) for path in _FILES]
_SIGNS = st.sampled_from(
    [*"#|&*:-[]{},.%!'\"\n\t ØøøH0179/°@`?>~", "  ", "\n  - ", ": ", " #", "off", "&2", "*a", "ø7"]
)


@cache
def _library() -> Library:
    """Not a fixture: hypothesis prints a test's arguments, and a library is long."""
    return load_library([program_root()])[0]


def read_text(kind: str, data: bytes) -> tuple[object | None, list[Problem]]:
    """What `read_file` does, without a file."""
    reading = source_of("x.yaml", data)
    node = compose(reading) if reading.clean else None
    composed = reading.clean or node is not None
    found = kind_of_file(Path("x.yaml"), node, kind, reading) if composed else None
    thing = READERS[found]("x", node, reading, Shelf(_library())) if found else None
    return thing, reading.problems


def check(data: bytes, thing: object | None, problems: list[Problem]) -> None:
    assert (thing is None) == bool(problems) or isinstance(thing, SetList)  # only sets are kept in part
    lines = data.decode("utf-8", errors="replace").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for problem in problems:
        assert problem.message
        assert 0 <= problem.line <= len(lines)
        if problem.line:
            assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1
        assert "\n" not in str(problem)


@pytest.mark.parametrize("kind", KINDS)
@given(
    data=st.one_of(
        st.binary(max_size=200), st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace"))
    )
)
@settings(max_examples=40, deadline=None)
def test_random_bytes(kind: str, data: bytes) -> None:
    check(data, *read_text(kind, data))


@given(data=st.data())
@settings(max_examples=400, deadline=None)
def test_valid_files_changed_in_a_few_places(data: st.DataObject) -> None:
    path, text = data.draw(st.sampled_from(_TEXTS))
    kind = next(kind for kind, folder in SHELVES.items() if folder == path.parent.name)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        until = data.draw(st.integers(at, min(len(text), at + 12)))
        text = text[:at] + data.draw(st.one_of(_SIGNS, st.text(max_size=3))) + text[until:]
    encoded = text.encode("utf-8", "replace")
    check(encoded, *read_text(kind, encoded))


_NAMES = st.sampled_from(
    [
        "name",
        "title",
        "key",
        "meter",
        "meters",
        "tempo",
        "feel",
        "feels",
        "forms",
        "harmony",
        "tunes",
        "x",
        "ports",
        "parts",
        "main",
        "comp",
        "swing",
        "ride",
        "rhythm",
        "steps",
        "call",
        "tune",
        "melody",
        "motif",
    ]
)
_LEAVES = st.one_of(
    st.text(max_size=8), st.integers(-5, 500).map(str), st.sampled_from(["any", "4/4", "I", "~"])
)
_TREES = st.recursive(
    _LEAVES,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_NAMES, inner, max_size=4),
    max_leaves=15,
)


@pytest.mark.parametrize("kind", KINDS)
@given(tree=st.dictionaries(_NAMES, _TREES, max_size=5))
@settings(max_examples=40, deadline=None)
def test_well_formed_yaml_of_any_shape(kind: str, tree: object) -> None:
    data = json.dumps(tree).encode()  # JSON is YAML
    check(data, *read_text(kind, data))


_CALL_PARTS = st.sampled_from(
    [
        "medium swing",
        "bossa",
        "Ab",
        "C minor",
        "140",
        "3/4",
        "starts on two",
        "starts on ",
        "starts on iiø",
        "",
    ]
)


@given(text=st.one_of(st.text(max_size=60), st.lists(_CALL_PARTS, max_size=5).map(", ".join)))
@settings(max_examples=200, deadline=None)
def test_calls_are_read_or_refused(text: str) -> None:
    try:
        tune = called_tune(text, _library())
    except NotationError as caught:
        error = caught
    else:
        assert tune.feel in _library().feels
        return
    assert 0 <= error.position <= len(text)


@given(text=st.text())
def test_titles_can_be_shown(text: str) -> None:
    title = clean_title(text)
    assert len(title) <= 200
    assert title.isprintable()
    assert clean_title(title) == title


@pytest.mark.parametrize(("path", "text"), _TEXTS[::9], ids=[path.stem for path, _ in _TEXTS[::9]])
def test_the_shortcut_reads_as_the_loader_does(path: Path, text: str) -> None:
    kind = next(kind for kind, folder in SHELVES.items() if folder == path.parent.name)
    thing, problems = read_text(kind, text.encode())
    assert type(thing) is type(read_file(path, _library())[0])
    assert problems == []
