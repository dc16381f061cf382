"""What was read and kept is what the files say, or it is not used: nothing stale, nothing damaged."""

from __future__ import annotations

import json
import os
import tempfile
import zlib
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from introit.errors import Problem
from introit.library import cache as cache_module
from introit.library import loader
from introit.library.cache import CLASSES, MAGIC, MOST_LOOSE, SETTLED_NS, Cache
from introit.library.content import program_root
from introit.library.loader import load_library, read_file
from introit.library.model import Library, SetList
from introit.library.pool import Pool

YESTERDAY = 86_400
COMPING = "name: x\nmeter: 4/4\nrhythm: |\n  1 held\n"
BASS = "name: x\nmeter: 4/4\nsteps: |\n  1 root\n"
FEEL = "name: Slow\nmeters: 4/4\ntempo: [60, 80]\ntypical_tempo: 70\ncomping: plain\nbass: plain\n"
INTRO = (
    "name: x\nmeters: 4/4\ntempo: [60, 240]\nfeels: slow\nwhy: because\n"
    "forms:\n  - mode: major\n    leads_to: I\n    harmony: |\n      V7\n"
)
FILES = {
    "patterns/comping/plain.yaml": COMPING,
    "patterns/bass/plain.yaml": BASS,
    "patterns/feels/slow.yaml": FEEL,
    "patterns/intros/five.yaml": INTRO,
    "patterns/tunes/one.yaml": "title: One\nkey: C\nfeel: slow\nintro: five\n",
    "patterns/tunes/two.yaml": "title: Two\nkey: D\nfeel: slow\n",
    "config/sets/gig.yaml": "title: Gig\ntunes:\n  - tune: one\n  - tune: two\n",
}


class Loaded(NamedTuple):
    """A library, its mistakes, and the cache as it stands then."""

    library: Library
    problems: list[Problem]
    cache: Cache

    @property
    def told(self) -> str:
        """All of it in words: 1 and 1.0 are equal, and are not the same."""
        return repr((self.library, self.problems))


def save(path: Path, text: str, *, age: float = YESTERDAY) -> None:
    """Writes a file that was last changed so many seconds ago."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    then = path.stat().st_mtime - age
    os.utime(path, (then, then))


def load(roots: list[Path], data: bytes | None) -> Loaded:
    cache = Cache(data, roots)
    return Loaded(*load_library(roots, cache=cache), cache)


def from_files(roots: list[Path]) -> str:
    return repr(load_library(roots))


@pytest.fixture
def root(tmp_path: Path) -> Path:
    for name, text in FILES.items():
        save(tmp_path / name, text)
    return tmp_path


@pytest.fixture
def read_files(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the files that are read from now on."""
    names: list[str] = []
    read = loader._read_file

    def noting(path: Path, kind: str | None, shelf: Any) -> Any:
        names.append(path.name)
        return read(path, kind, shelf)

    monkeypatch.setattr(loader, "_read_file", noting)
    return names


# --- the same as the files --------------------------------------------------------------------------


def test_all_content_of_ours_comes_back_as_the_files_say(read_files: list[str]) -> None:
    roots = [program_root()]
    cache = Cache(None, roots, now_ns=1 << 62)  # far from when any file was written
    first = Loaded(*load_library(roots, cache=cache), cache)
    assert len(read_files) > 100
    read_files.clear()
    again = load(roots, first.cache.to_bytes())
    assert read_files == []
    assert again.library == first.library
    assert again.told == first.told
    assert not again.cache.changed


KEYS = st.sampled_from(["C", "Bb minor", "F#", "H", "", "[C]", "c sharp minor"])
VALUES: dict[str, st.SearchStrategy[Any]] = {
    "title": st.text(max_size=12),
    "key": KEYS,
    "feel": st.sampled_from(["slow", "fast"]),
    "meter": st.sampled_from(["4/4", "3/4"]),
    "tempo": st.sampled_from([60, 72.5, "off", 1000]),
    "first_chord": st.sampled_from(["I", "ii7", "IVmaj7#11", "V7(b9,b13)/ii", "i", "VIII"]),
    "pickup": st.sampled_from([0, 1, "3/2", "7/8", -1]),
    "intro": st.sampled_from(["five", "six", "[five]", "[five, five]"]),
    "landing": st.sampled_from(["cut", "chord", "ring 4", "ring"]),
    "count_off": st.sampled_from([0, 2, "tapped", 9]),
    "vamp": st.sampled_from([True, "bar 1", "bars 1-9", "no"]),
    "hold": st.sampled_from([True, "bar 1", "bar 1 beat 3"]),
    "colla_voce": st.sampled_from([True, 1, "maybe"]),
    "line_up": st.sampled_from(["trio", "solo guitar", "quartet"]),
    "first_note": st.sampled_from(["5", "b3", "x"]),
    "notes": st.text(max_size=30),
    "sounds": st.sampled_from(["{bass: {program: 33, level: 90}}", "{bass: 33}", "{kazoo: 1}"]),
    "chart": st.sampled_from(["I6 | ii7 V7", "{order: AAB, A: I6 | 1. V7 | 2. H, B: ii7 V7}", "Bb6 | Q"]),
    "nonsense": st.just(1),
}
TUNES = st.fixed_dictionaries(
    {name: VALUES[name] for name in ("title", "key", "feel")},
    optional={name: values for name, values in VALUES.items() if name not in ("title", "key", "feel")},
)


def as_yaml(tune: dict[str, Any]) -> str:
    plain = {"title", "notes"}
    return "".join(f"{key}: {json.dumps(tune[key]) if key in plain else tune[key]}\n" for key in tune)


@given(tune=TUNES)
@settings(deadline=None)
def test_any_tune_and_its_mistakes_come_back_as_the_file_says(tune: dict[str, Any]) -> None:
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        for path, text in FILES.items():
            save(root / path, text)
        save(root / "patterns/tunes/two.yaml", as_yaml(tune))
        data = load([root], None).cache.to_bytes()
        again = load([root], data)
        assert not again.cache.changed
        assert again.told == from_files([root])


def test_what_many_have_in_common_is_held_once(root: Path) -> None:
    library = load([root], load([root], None).cache.to_bytes()).library
    assert library.sets["gig"].tunes[0] is library.tunes["one"]
    assert library.tunes["one"].leading is library.tunes["two"].leading


def test_numbers_keep_their_kind() -> None:
    pool, library = Pool(CLASSES), load_library([program_root()])[0]
    places = [pool.put(thing) for thing in (*library.tunes.values(), *library.feels.values())]
    other = Pool(CLASSES)
    other.read(json.loads(pool.text))
    tune = next(iter(library.tunes.values()))
    back = other.get(places[0])
    assert isinstance(back.pickup, Fraction)
    assert [type(getattr(back, name)) for name in tune.__slots__] == [
        type(getattr(tune, name)) for name in tune.__slots__
    ]


# --- what has changed is read again -----------------------------------------------------------------


def test_an_edited_tune_is_read_again_and_so_are_the_sets(root: Path, read_files: list[str]) -> None:
    data = load([root], None).cache.to_bytes()
    save(root / "patterns/tunes/two.yaml", FILES["patterns/tunes/two.yaml"].replace("Two", "Too"), age=90)
    read_files.clear()
    again = load([root], data)
    assert read_files == ["two.yaml", "gig.yaml"]
    assert again.cache.changed
    assert [tune.title for tune in again.library.sets["gig"].tunes] == ["One", "Too"]


def test_what_stands_on_an_edited_file_is_read_again(root: Path) -> None:
    data = load([root], None).cache.to_bytes()
    save(root / "patterns/feels/slow.yaml", FEEL.replace("typical_tempo: 70", "typical_tempo: 66"), age=90)
    again = load([root], data)
    assert {tune.tempo for tune in again.library.tunes.values()} == {66.0}
    assert again.told == from_files([root])


@pytest.mark.parametrize("name", list(FILES))
@pytest.mark.parametrize("how", ["gone", "broken", "hidden"])
def test_whatever_happens_to_a_file_the_library_is_that_of_the_files(root: Path, name: str, how: str) -> None:
    mine = root / "mine"
    mine.mkdir()
    data = load([root, mine], None).cache.to_bytes()
    if how == "gone":
        (root / name).unlink()
    elif how == "broken":
        save(root / name, "nonsense: [", age=90)
    else:
        save(mine / name, FILES[name].replace("x", "y").replace("title: ", "title: My "), age=90)
    for _ in range(2):
        again = load([root, mine], data)
        assert again.told == from_files([root, mine])
        assert again.cache.changed
        data = again.cache.to_bytes()
        assert not load([root, mine], data).cache.changed
        if how == "hidden":  # what hid it goes, and it comes to light again
            (mine / name).unlink(missing_ok=True)
        else:
            save(root / name, FILES[name], age=30)


def test_roots_in_another_order_are_another_library(root: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    save(other / "patterns/tunes/one.yaml", FILES["patterns/tunes/one.yaml"].replace("One", "Uno"))
    data = load([root, other], None).cache.to_bytes()
    assert load([other, root], data).library.tunes["one"].title == "One"
    assert load([root, other], data).library.tunes["one"].title == "Uno"


def test_mistakes_are_told_each_time(root: Path, read_files: list[str]) -> None:
    save(root / "patterns/tunes/one.yaml", "title: One\nkey: H\nfeel: slow\n")
    first = load([root], None)
    assert [problem.code for problem in first.problems] == ["left-out", "bad-key"]
    read_files.clear()
    again = load([root], first.cache.to_bytes())
    assert read_files == []
    assert again.told == first.told


def test_a_file_that_was_just_saved_is_not_kept(root: Path, read_files: list[str]) -> None:
    """It may be saved again in the same tick of the file system's clock, with the same length."""
    save(root / "patterns/tunes/one.yaml", FILES["patterns/tunes/one.yaml"], age=0)
    data = load([root], None).cache.to_bytes()
    read_files.clear()
    load([root], data)
    assert "one.yaml" in read_files
    assert "two.yaml" not in read_files
    assert (
        SETTLED_NS == 2_000_000_000
    )  # FAT's clock is that coarse (Microsoft's FAT specification; from memory)


# --- files that lie elsewhere -----------------------------------------------------------------------


def test_a_set_named_by_its_path_is_kept_too(root: Path, tmp_path: Path, read_files: list[str]) -> None:
    path = tmp_path / "friday.yaml"
    save(path, "title: Friday\ntunes:\n  - tune: one\n  - tune: nobody\n")
    first = load([root], None)
    read = read_file(path, first.library, cache=first.cache)
    data = first.cache.to_bytes()
    read_files.clear()
    again = load([root], data)
    assert repr(read_file(path, again.library, cache=again.cache)) == repr(read)
    assert read_files == []
    assert not again.cache.changed
    save(path, "title: Friday\ntunes:\n  - tune: two\n", age=90)
    thing, problems = read_file(path, again.library, cache=again.cache)
    assert isinstance(thing, SetList)
    assert ([tune.title for tune in thing.tunes], problems) == (["Two"], [])


def test_a_set_named_by_its_path_is_read_again_when_a_tune_was_edited(root: Path, tmp_path: Path) -> None:
    path = tmp_path / "friday.yaml"
    save(path, "title: Friday\ntunes:\n  - tune: one\n")
    first = load([root], None)
    read_file(path, first.library, cache=first.cache)
    data = first.cache.to_bytes()
    save(root / "patterns/tunes/one.yaml", FILES["patterns/tunes/one.yaml"].replace("One", "Uno"), age=90)
    again = load([root], data)
    thing, _ = read_file(path, again.library, cache=again.cache)
    assert isinstance(thing, SetList)
    assert thing.tunes[0].title == "Uno"
    assert load([root], again.cache.to_bytes()).told == from_files([root])


def test_only_the_last_files_from_elsewhere_are_kept(root: Path, tmp_path: Path) -> None:
    data = None
    for number in range(MOST_LOOSE + 4):
        path = tmp_path / f"{number}.yaml"
        save(path, "title: Friday\ntunes:\n  - tune: one\n")
        loaded = load([root], data)
        read_file(path, loaded.library, cache=loaded.cache)
        data = loaded.cache.to_bytes()
    assert data is not None
    kept = load([root], data).cache
    there = [kept.recall_loose(tmp_path / f"{number}.yaml") is not None for number in range(MOST_LOOSE + 4)]
    assert there == [False] * 4 + [True] * MOST_LOOSE


# --- what is not as it was written ------------------------------------------------------------------


def signed(text: bytes) -> bytes:
    return b"%s%08x\n%s" % (MAGIC, zlib.crc32(text), text)


def body(data: bytes) -> Any:
    return json.loads(data.partition(b"\n")[2])


def dug(data: bytes, *way: Any, value: Any) -> bytes:
    """The same with another value somewhere inside, and a sum that is right."""
    whole = body(data)
    at = whole
    for step in way[:-1]:
        at = at[step]
    at[way[-1]] = value
    return signed(json.dumps(whole).encode())


DAMAGE: dict[str, Callable[[bytes], bytes]] = {
    "empty": lambda data: b"",
    "another file": lambda data: b"title: Friday\n",
    "cut off": lambda data: data[: len(data) // 2],
    "one bit": lambda data: data[:-100] + bytes([data[-100] ^ 1]) + data[-99:],
    "no JSON": lambda data: signed(b"{"),
    "another JSON": lambda data: signed(b"[1, 2]"),
    "not UTF-8": lambda data: signed(b'"\xff"'),
    "very deep": lambda data: signed(b"[" * 100_000),
    "nothing in it": lambda data: signed(b"{}"),
    "another version": lambda data: dug(data, "head", 0, 0, value=["0.0.0"]),
    "other code": lambda data: dug(data, "head", 0, 5, 2, value=1),
    "other fields": lambda data: dug(data, "head", 1, 0, value="Tune()"),
    "no such class": lambda data: dug(data, "pool", 0, 0, value=99),
    "too few fields": lambda data: dug(data, "pool", 0, value=[0]),
    "no such row": lambda data: dug(data, "read", next(iter(body(data)["read"])), 0, value=1 << 40),
    "a row before all": lambda data: dug(data, "read", next(iter(body(data)["read"])), 0, value=-1),
    "a word for a row": lambda data: dug(data, "pool", 0, value="x"),
    "an empty pool": lambda data: dug(data, "pool", value=[]),
    "no pool": lambda data: dug(data, "pool", value=None),
    "nothing read": lambda data: dug(data, "read", value=None),
    "a list for what was read": lambda data: dug(data, "read", value=[1]),
    "no list of files": lambda data: dug(data, "listed", value=7),
    "strange stamps": lambda data: dug(data, "listed", "tune", value={"x": "y"}),
}


@pytest.mark.parametrize("damage", list(DAMAGE))
def test_a_cache_that_is_not_ours_is_as_good_as_none(root: Path, damage: str) -> None:
    data = DAMAGE[damage](load([root], None).cache.to_bytes())
    again = load([root], data)
    assert again.told == from_files([root])
    assert again.cache.changed
    assert not load([root], again.cache.to_bytes()).cache.changed


def test_every_program_that_reads_otherwise_starts_anew(
    root: Path, monkeypatch: pytest.MonkeyPatch, read_files: list[str]
) -> None:
    data = load([root], None).cache.to_bytes()
    code = cache_module.reading_code()
    modules = {(folder, name) for folder, name, *_ in code[1:]}
    assert {("library", "tunes.py"), ("theory", "key.py"), ("", "errors.py")} <= modules
    monkeypatch.setattr(cache_module, "reading_code", lambda: [["9.9.9"], *code[1:]])
    read_files.clear()
    load([root], data)
    assert len(read_files) == len(FILES)


def test_a_program_in_an_archive_has_its_version_alone(tmp_path: Path) -> None:
    assert cache_module.reading_code(tmp_path / "archive.zip") == cache_module.reading_code()[:1]
