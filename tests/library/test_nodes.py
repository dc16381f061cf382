"""The YAML layer: values stay text, places are exact, and what is meant to hurt is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from introit.library import composing
from introit.library.composing import DEPTH_LIMIT, compose
from introit.library.content import program_root
from introit.library.nodes import Mapping, Node, Scalar, Sequence
from introit.library.reading import SIZE_LIMIT, Reading, source_of


def composed(text: str) -> tuple[Node | None, Reading]:
    reading = source_of("example.yaml", text.encode())
    return (compose(reading) if reading.clean else None), reading


def scalars(node: Node | None) -> list[Scalar]:
    if isinstance(node, Scalar):
        return [node]
    if isinstance(node, Sequence):
        return [found for item in node.items for found in scalars(item)]
    if isinstance(node, Mapping):
        return [found for pair in node.entries for item in pair for found in scalars(item)]
    return []


@pytest.mark.parametrize(
    "word", ["off", "no", "yes", "on", "4:30", "1e3", "0o17", "2024-01-01", "1_000", "<<"]
)
def test_words_stay_words(word: str) -> None:
    node, reading = composed(f"value: {word}\n")
    assert reading.clean
    assert [scalar.text for scalar in scalars(node)] == ["value", word]


def test_every_value_knows_its_place() -> None:
    text = 'title: "Über: x"\nlist:\n  - a\n  - {b: ø, c: d}\nblock: |\n  x\n'
    node, _ = composed(text)
    for scalar in scalars(node):
        line = text.split("\n")[scalar.place.line - 1]
        assert line[scalar.place.column - 1 :].startswith((scalar.text.strip(), '"', "|"))
        assert text[scalar.start] == line[scalar.place.column - 1]


def test_line_ends_of_every_system_count_alike() -> None:
    for end in ("\n", "\r\n", "\r"):
        node, _ = composed(f"a: 1{end}b: 2{end}")
        assert [scalar.place.line for scalar in scalars(node)] == [1, 1, 2, 2]


@pytest.mark.parametrize(
    "path", sorted((program_root() / "patterns").rglob("*.yaml")), ids=lambda path: path.stem
)
def test_both_yaml_parsers_build_the_same_tree(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = path.read_bytes()
    fast = compose(source_of("x", data))
    monkeypatch.setattr(composing, "_LOADER", yaml.SafeLoader)
    assert compose(source_of("x", data)) == fast


def test_repeated_keys_are_kept_apart() -> None:
    node, reading = composed("a: 1\nb: 2\na: 3\n")
    assert isinstance(node, Mapping)
    assert reading.clean
    assert [key.text for key, _ in node.entries] == ["a", "b"]
    assert [(key.text, key.place.line) for key in node.repeated] == [("a", 3)]


def one_code(text: str) -> str:
    node, reading = composed(text)
    assert node is None
    assert len(reading.problems) == 1
    return reading.problems[0].code


def test_aliases_that_multiply_are_refused() -> None:
    """The document known as a billion laughs: nine lines that would grow to 10**9 values."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 9)]
    assert one_code("\n".join(lines)) == "nested"


def test_a_few_aliases_are_fine() -> None:
    node, reading = composed("a: &x [1, 2]\nb: *x\n")
    assert reading.clean
    assert [scalar.text for scalar in scalars(node)] == ["a", "1", "2", "b", "1", "2"]


def test_an_alias_that_contains_itself_is_refused() -> None:
    assert one_code("a: &a [1, *a]\n") == "nested"


def test_an_alias_without_its_anchor_is_refused() -> None:
    assert one_code("a: *b\n") == "syntax"


def test_depth_is_bounded() -> None:
    deepest = DEPTH_LIMIT - 1
    assert composed("a: " + "[" * deepest + "]" * deepest)[1].clean
    assert one_code("a: " + "[" * 200) == "nested"
    assert one_code("a: " + "[" * 100_000) in {"nested", "syntax"}  # libyaml may give up first


def test_size_is_bounded() -> None:
    assert one_code("#" * (SIZE_LIMIT + 1)) == "too-big"
    assert source_of("x", b"#" * SIZE_LIMIT).clean


def test_a_second_document_is_refused() -> None:
    assert one_code("a: 1\n---\nb: 2\n") == "syntax"


def test_tags_are_refused() -> None:
    _, reading = composed("a: !!python/object/apply:os.system [true]\n")
    assert [problem.code for problem in reading.problems] == ["syntax"]


@pytest.mark.parametrize(
    ("data", "line", "column"),
    [
        (b"a: 1\nb: \xff\n", 2, 4),
        (b"a: 1\r\xff", 2, 1),
        ("a: ø\nø: \x07".encode(), 2, 4),
        ("a: \u2028".encode(), 1, 4),
    ],
)
def test_what_is_not_text_is_told_where(data: bytes, line: int, column: int) -> None:
    reading = source_of("x", data)
    assert [(problem.code, problem.line, problem.column) for problem in reading.problems] == [
        ("not-text", line, column)
    ]
    assert reading.text == ""
