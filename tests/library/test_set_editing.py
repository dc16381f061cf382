"""Edits of a set file's text: only what is meant changes, and no comment is ever lost.

The reference for what a text says is PyYAML's safe loader, not the code that edits.
"""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
import yaml
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from introit.library.content import program_root
from introit.library.set_editing import Change, EditError, Move, edited_set, entries_of, read_edit

EVENING = """\
# The evening
title: "Thursday"   # at nine
tunes:   # in playing order
  # opener
  - tune: late-bus    # ask for the key
    tempo: 132   # a little faster
    # the singer likes it

  # ---- second set ----

  # in three
  - call: 'jazz waltz, F'
    intro:
      - one   # first night
      # not this one
      - two
    vamp: true
  - title: Quince
    key: 'C minor'
    notes: |
      # no comment
      soft

    landing: cut
  # the end
rig: default
"""


def said(text: str) -> Any:
    return yaml.safe_load(text)


def comments(text: str) -> list[str]:
    """Every comment, as a bag: outside block scalars the texts made here have no other `#`."""
    return sorted(re.findall(r"(?:^|(?<=\s))#[^\n\r]*", text, re.MULTILINE))


def test_a_moved_tune_takes_its_comments_along_and_headings_stay() -> None:
    assert (
        edited_set(EVENING, Move(0, 1))
        == """\
# The evening
title: "Thursday"   # at nine
tunes:   # in playing order
  # in three
  - call: 'jazz waltz, F'
    intro:
      - one   # first night
      # not this one
      - two
    vamp: true

  # ---- second set ----

  # opener
  - tune: late-bus    # ask for the key
    tempo: 132   # a little faster
    # the singer likes it
  - title: Quince
    key: 'C minor'
    notes: |
      # no comment
      soft

    landing: cut
  # the end
rig: default
"""
    )


@pytest.mark.parametrize(
    ("change", "old", "new"),
    [
        ({"tempo": 140}, "tempo: 132   #", "tempo: 140   #"),
        ({"tempo": 140.5}, "tempo: 132   #", "tempo: 140.5   #"),
        ({"key": "F#"}, "ask for the key\n", "ask for the key\n    key: F#\n"),
        ({"landing": "ring 4"}, "a little faster\n", "a little faster\n    landing: ring 4\n"),
        ({"tempo": None}, "    tempo: 132   # a little", "    # a little"),
        ({"intro": None}, "", ""),
        ({"intro": "no"}, "a little faster\n", 'a little faster\n    intro: "no"\n'),
        ({"intro": "a: b"}, "a little faster\n", 'a little faster\n    intro: "a: b"\n'),
    ],
)
def test_a_change_is_all_that_changes(change: dict[str, Any], old: str, new: str) -> None:
    assert edited_set(EVENING, Change(0, change)) == EVENING.replace(old, new, 1)


def test_quotes_stay() -> None:
    assert edited_set(EVENING, Change(2, {"key": "D minor"})) == EVENING.replace("'C minor'", "'D minor'")


def test_a_list_of_intros_gives_way_and_its_comments_stay() -> None:
    new = edited_set(EVENING, Change(1, {"intro": "three"}))
    assert said(new)["tunes"][1]["intro"] == "three"
    assert comments(new) == comments(EVENING)
    assert comments(edited_set(EVENING, Change(1, {"intro": None}))) == comments(EVENING)


def test_what_stands_behind_the_dash_can_go() -> None:
    text = "title: T\ntunes:\n- key: F\n  tune: a\n- key: G   # odd\n  tune: b"
    assert edited_set(text, Change(0, {"key": None})) == text.replace("key: F\n  ", "")
    assert edited_set(text, Change(1, {"key": None})) == text.replace("key: G   ", "")
    assert edited_set(text, Change(1, {"tempo": 99})) == f"{text}\n  tempo: 99"


def test_a_last_line_without_an_end_stays_so() -> None:
    text = "title: T\ntunes:\n- tune: a\n- tune: b"
    assert edited_set(text, Move(1, 0)) == "title: T\ntunes:\n- tune: b\n- tune: a"
    assert edited_set(text, Change(1, {"key": "F"})) == text + "\n  key: F"
    assert edited_set(text + "\n  key: F", Change(1, {"key": None})) == text


def test_line_ends_stay() -> None:
    text = EVENING.replace("\n", "\r\n")
    assert edited_set(text, Change(0, {"key": "F"})) == edited_set(EVENING, Change(0, {"key": "F"})).replace(
        "\n", "\r\n"
    )
    assert edited_set(text, Move(2, 0)) == edited_set(EVENING, Move(2, 0)).replace("\n", "\r\n")


def test_brackets() -> None:
    text = "{title: T, tunes: [{tune: a}, {tune: b, key: F}], rig: x}   # all in one\n"
    assert edited_set(text, Move(0, 1)) == text.replace(
        "{tune: a}, {tune: b, key: F}", "{tune: b, key: F}, {tune: a}"
    )
    assert edited_set(text, Change(0, {"tempo": 90})) == text.replace("{tune: a}", "{tune: a, tempo: 90}")
    assert edited_set(text, Change(1, {"key": None})) == text.replace(", key: F", "")


@pytest.mark.parametrize(
    ("text", "edit", "word"),
    [
        ("tunes:\n- tune: a\n", Move(0, 1), "1 tune;"),
        ("tunes: none\n", Move(0, 0), "no list"),
        ("title: T\n", Move(0, 0), "no list"),
        ("tunes: [", Move(0, 0), "YAML"),
        ("tunes:\n- &a\n  tune: a\n  key: &k F\n- tune: b\n  key: *k\n", Move(1, 0), "must come after"),
        ("tunes:\n- tune: a\n  key: &k F\n- tune: b\n  key: *k\n", Change(0, {"key": "G"}), "by hand"),
        ("tunes: [{tune: a}, # first\n {tune: b}]\n", Move(1, 0), "by hand"),
        ("tunes:\n- ? key\n  : F\n  tune: a\n- tune: b\n", Change(0, {"key": None}), "by hand"),
        ("tunes:\n- key: F\n", Change(0, {"key": None}), "only thing"),
        ("tunes:\n- a\n", Change(0, {"key": "F"}), "no keys"),
    ],
)
def test_what_cannot_be_done_is_said(text: str, edit: Any, word: str) -> None:
    with pytest.raises(EditError, match=re.escape(word)):
        edited_set(text, edit)


def test_an_anchor_that_is_moved_with_those_that_refer_to_it_is_kept() -> None:
    text = "tunes:\n- tune: a\n  key: &k F\n- tune: b\n- tune: c\n  key: *k\n"
    moved = edited_set(text, Move(1, 0))
    assert "&k F" in moved
    assert said(moved)["tunes"][2]["key"] == "F"
    assert edited_set(text, Change(2, {"key": "G"})) == text.replace("*k", "G")


@pytest.mark.parametrize(
    "wrong",
    [
        None, [], {}, {"move": 0}, {"move": 0, "to": 1, "change": 0}, {"move": -1, "to": 0},
        {"move": True, "to": 0}, {"move": 0.0, "to": 1}, {"move": 0, "to": 1, "x": 1}, {"change": 0},
        {"change": 0, "title": "x"},
        {"change": 0, "key": 3}, {"change": 0, "key": ""},
        {"change": 0, "key": "a\nb"}, {"change": 0, "key": "x" * 101},
        {"change": 0, "tempo": "fast"}, {"change": 0, "tempo": True}, {"change": 0, "tempo": float("nan")},
        {"change": 0, "tempo": float("inf")}, {"change": "0", "key": "F"},
    ],
)  # fmt: skip
def test_what_is_no_edit_is_refused(wrong: Any) -> None:
    with pytest.raises(EditError):
        read_edit(wrong)


def test_edits_are_read() -> None:
    assert read_edit({"move": 3, "to": 0}) == Move(3, 0)
    assert read_edit({"change": 1, "key": "F", "tempo": None}) == Change(1, {"key": "F", "tempo": None})


def test_the_set_that_comes_with_the_program() -> None:
    text = (program_root() / "config/sets/demo.yaml").read_text(encoding="utf-8")
    entries = entries_of(text)
    assert [entry.sort for entry in entries] == ["tune", "call", "tune", "title", "tune"]
    assert entries[3].says == {"key": "C minor", "tempo": "166", "intro": "dominant-vamp"}
    for index in range(5):
        for to in range(5):
            there = edited_set(text, Move(index, to))
            assert edited_set(there, Move(to, index)) == text


# --- any text ---------------------------------------------------------------------------------------

NOTE = st.sampled_from(["", ' # it\'s "so"', "   # - tune: x", " #", " # key: F"])
ABOVE = st.lists(
    st.sampled_from(["", "# about it", "# ---- set ----", "    # deep", "#- tune: x"]), max_size=3
)
PAIRS = {
    "key": st.sampled_from(["F", "'C minor'", '"Bb"', "F#", ""]),
    "tempo": st.sampled_from(["120", "99.5"]),
    "intro": st.sampled_from(
        ["one", "[one, two]", "\n{in}  - one # 1\n{in}  # no\n{in}  - two", "\n{in}- a"]
    ),
    "landing": st.sampled_from(["cut", "ring 4", "'chord'"]),
    "notes": st.sampled_from(
        ["|\n{in}  # in it\n{in}  two", ">-\n{in}  a\n\n{in}  b", '"# no"', "it's # so"]
    ),
    "feel": st.sampled_from(["waltz"]),
}


@st.composite
def sets(draw: st.DrawFn) -> str:
    left = draw(st.sampled_from(["", "  ", "    "]))
    lines = [*draw(ABOVE), f"title: T{draw(NOTE)}", f"tunes:{draw(NOTE)}"]
    for number in range(draw(st.integers(1, 5))):
        lines += [line and left + line for line in draw(ABOVE)]
        pairs = [(draw(st.sampled_from(["tune", "call", "title"])), f"name-{number}")]
        keys = draw(st.lists(st.sampled_from(sorted(PAIRS)), unique=True, max_size=4))
        pairs += [(key, draw(PAIRS[key])) for key in keys]
        if draw(st.booleans()) and not any("\n" in value for _, value in pairs):
            lines.append(f"{left}- {{{', '.join(f'{k}: {flow(v)}' for k, v in pairs)}}}{draw(NOTE)}")
            continue
        pairs = draw(st.permutations(pairs))
        inner = f"{left}  "
        for place, (key, value) in enumerate(pairs):
            multi = "\n" in value and not value.startswith("\n")
            note = "" if multi or value.startswith("\n") else draw(NOTE)
            lead = f"{left}- " if place == 0 else inner
            gap = "" if value.startswith("\n") else " "
            lines += f"{lead}{key}:{gap}{value.replace('{in}', inner)}{note}".split("\n")
            lines += (
                [inner + line for line in draw(ABOVE) if line and not multi] if draw(st.booleans()) else []
            )
    lines += draw(ABOVE)
    if draw(st.booleans()):
        lines.append("rig: default")
    text = "\n".join(lines)
    text += draw(st.sampled_from(["\n", "", "\n\n"])) if not text.endswith(("a", "b")) else "\n"
    return text.replace("\n", draw(st.sampled_from(["\n", "\r\n"])))


def flow(value: str) -> str:
    return '"it is"' if "#" in value else value


def changes() -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(
        {},
        optional={
            "key": st.sampled_from(["G", "F# minor", "Db", None]),
            "tempo": st.sampled_from([140, 72.5, None]),
            "intro": st.sampled_from(["three", None]),
            "landing": st.sampled_from(["cut", "ring 2", None]),
        },
    ).filter(bool)


def bag(text: str) -> list[str]:
    return sorted(line.strip() for line in comments(text))


@settings(max_examples=100, deadline=None)
@given(sets(), st.data())
def test_a_move_and_its_way_back_are_nothing(text: str, data: st.DataObject) -> None:
    count = len(said(text)["tunes"])
    index, to = (data.draw(st.integers(0, count - 1)) for _ in range(2))
    there = edited_set(text, Move(index, to))
    wanted = copy.deepcopy(said(text))
    wanted["tunes"].insert(to, wanted["tunes"].pop(index))
    assert trimmed(said(there)) == trimmed(wanted)
    assert bag(there) == bag(text)
    assert edited_set(there, Move(to, index)) == text


@settings(max_examples=150, deadline=None)
@given(sets(), changes(), st.data())
def test_a_change_says_what_was_meant_and_loses_no_comment(
    text: str, change: dict[str, Any], data: st.DataObject
) -> None:
    before = said(text)["tunes"]
    index = data.draw(st.integers(0, len(before) - 1))
    try:
        new = edited_set(text, Change(index, change))
    except EditError:
        # A comment that would become the last line of a text above it, as YAML reads it: that is refused.
        assume(not ({"|", ">-"} & set(text.split())))
        raise
    wanted = copy.deepcopy(said(text))
    for key, value in change.items():
        wanted["tunes"][index].pop(key, None)
        if value is not None:
            wanted["tunes"][index][key] = value
    assert trimmed(said(new)) == trimmed(wanted)
    assert set(comments(text)) <= set(comments(new))
    if not set(change) & set(before[index]):  # nothing was taken from it: the way back is the same text
        assert edited_set(new, Change(index, dict.fromkeys(change))) == text


def trimmed(value: Any) -> Any:
    """Without the line end that a last line may lose or get."""
    if isinstance(value, str):
        return value.rstrip("\n")
    if isinstance(value, list):
        return [trimmed(one) for one in value]
    return {key: trimmed(one) for key, one in value.items()} if isinstance(value, dict) else value
