"""The log's file: what is added is there, for everybody, and what goes wrong is one clear line."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from introit.practice.log.opening import LogError
from introit.practice.log.played import Played
from introit.practice.log.schema import STEPS, bring_up
from introit.practice.log.store import Store, log_path
from introit.theory.key import Key

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)
Make = Callable[..., Played]


def silent(message: str) -> None:
    raise AssertionError(message)


def test_what_is_added_is_there_when_it_is_opened_again(store: Store, path: Path, played: Make) -> None:
    passes = [
        played(key="Bb"),
        played(
            NOON + timedelta(seconds=40.123),
            key="F# minor",
            tempo=132.5,
            tune="late-bus",
            hidden=("melody", "bass"),
            clean=True,
            mode="keys climb",
            goal=160.0,
        ),
        played(NOON + timedelta(minutes=2), clean=False, bars="3-4"),
    ]
    store.add(passes[:1], UTC)
    store.add(passes[1:], UTC)
    again = Store.open(path, silent)
    assert again.passes() == passes
    again.close()


def test_a_pass_is_synced_beyond_the_end_of_its_journal(store: Store) -> None:
    # https://www.sqlite.org/pragma.html#pragma_synchronous: EXTRA is 3, and a rollback journal needs it for
    # the last transaction to survive a loss of power
    assert store.connection.execute("PRAGMA synchronous").fetchone() == (3,)
    assert store.connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_at_rest_the_log_is_one_file(store: Store, path: Path, played: Make) -> None:
    store.add([played()])
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_two_processes_write_at_once_and_none_loses_a_pass(path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from datetime import UTC, datetime\n"
        "from introit.practice.log.store import Store; from introit.practice.log.played import Played\n"
        "from introit.theory.key import Key\n"
        "store = Store.open(Path(sys.argv[1]), print)\n"
        "for n in range(25):\n"
        "    store.add([Played(datetime.now(UTC), n, sys.argv[2], Key.from_text('C'), 120)])\n"
    )
    both = [
        subprocess.Popen([sys.executable, "-c", code, str(path), name], stdout=subprocess.PIPE)
        for name in ("one", "other")
    ]
    assert [process.communicate()[0] for process in both] == [b"", b""]
    assert [process.returncode for process in both] == [0, 0]
    store = Store.open(path, silent)
    passes = store.passes()
    store.close()
    for name in ("one", "other"):
        assert [one.seconds for one in passes if one.intro == name] == list(range(25))


def test_looking_makes_no_log(path: Path) -> None:
    looking = Store.look(path, silent)
    assert looking.passes() == []
    looking.close()
    assert not path.exists()


def test_looking_sees_what_a_practising_process_has_just_added(
    store: Store, path: Path, played: Make
) -> None:
    store.add([played()], UTC)
    looking = Store.look(path, silent)
    assert looking.passes() == [played()]
    store.add([played(NOON + timedelta(minutes=1))], UTC)
    assert len(looking.passes()) == 2
    looking.close()


def test_a_full_disk_is_told_and_leaves_what_was_there(store: Store, path: Path, played: Make) -> None:
    store.add([played()], UTC)
    pages = store.connection.execute("PRAGMA page_count").fetchone()[0]
    store.connection.execute(f"PRAGMA max_page_count = {pages}")  # SQLite's own full disk
    many = [played(NOON + timedelta(seconds=n), intro="x" * 100) for n in range(1, 200)]
    with pytest.raises(LogError, match="cannot be written: the disk is full"):
        store.add(many)
    assert store.passes() == [played()]
    store.connection.execute("PRAGMA max_page_count = 100000")
    store.add(many)
    assert len(store.passes()) == 200


def test_one_that_is_kept_busy_is_told(store: Store, path: Path, played: Make) -> None:
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    store.connection.execute("PRAGMA busy_timeout = 1")
    with pytest.raises(LogError, match="another process keeps it busy"):
        store.add([played()])
    other.execute("ROLLBACK")
    other.close()
    store.add([played()])


NOBODY = """
import os, sys
from pathlib import Path
from introit.errors import IntroitError
from introit.practice.log.store import Store
if os.getuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
path = Path(sys.argv[1])
try:
    Store.open(path, print).close()
except IntroitError as error:
    print(error)
store = Store.look(path, print)
print(len(store.passes()))
"""
"""Opens a log for writing, then for looking, as somebody who is not root."""


def as_nobody(path: Path) -> list[str]:
    if not hasattr(os, "setuid"):
        pytest.skip("permissions of this kind are a Unix matter")
    path.chmod(0o444)
    path.parent.chmod(0o555)
    try:
        done = subprocess.run(
            [sys.executable, "-c", NOBODY, str(path)], capture_output=True, text=True, check=False
        )
    finally:
        path.parent.chmod(0o755)
    assert done.stderr == ""
    return done.stdout.splitlines()


@pytest.fixture
def public() -> Iterator[Path]:
    """A log's path in a folder that everybody may look into."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        yield Path(folder) / "practice.sqlite"


def test_one_that_cannot_be_written_is_told_and_is_read(public: Path, played: Make) -> None:
    store = Store.open(public, silent)
    store.add([played()])
    store.close()
    assert as_nobody(public) == [
        f"the practice log {public} cannot be written: it, or its folder, cannot be written to",
        "1",
    ]


def test_an_older_one_that_cannot_be_written_is_read_as_one_of_this_version(public: Path) -> None:
    connection = sqlite3.connect(public, isolation_level=None)
    bring_up(connection, STEPS[:1])
    connection.execute(
        "INSERT INTO passes VALUES (1, 0, 0, 0, 9, 'plain', '', 'C', 120, '', NULL, 'loop', NULL, '')"
    )
    connection.close()
    assert as_nobody(public)[1:] == ["1"]


def test_a_folder_that_is_a_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").touch()
    with pytest.raises(LogError, match="cannot be made"):
        Store.open(tmp_path / "taken" / "practice.sqlite", silent)


def test_it_lies_in_the_users_own_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("INTROIT_HOME", str(tmp_path / "mine"))
    assert log_path() == tmp_path / "mine" / "practice.sqlite"
    Store.open(log_path(), silent).close()
    assert log_path().is_file()


def test_a_users_folder_with_a_slip_in_its_name_is_not_made(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("INTROIT_HOME", str(tmp_path / "mien" / "introit"))
    with pytest.raises(LogError, match="cannot be made"):
        Store.open(log_path(), silent)


def test_a_table_is_taken_in_once(store: Store, played: Make) -> None:
    store.add([played()], UTC)
    more = [played(), played(key="F"), played(NOON - timedelta(days=1)), played(key="F")]
    assert store.take_in(more) == 3
    assert store.take_in(more) == 0
    assert store.take_in([played(clean=True)]) == 1  # the same instant, but not the same pass
    assert [str(one.key) for one in store.passes()] == ["C", "C", "F", "F", "C"]


def test_a_pass_that_is_no_time_of_day_is_refused() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        Played(datetime(2026, 3, 4), 1, "plain", Key.from_text("C"), 120)
