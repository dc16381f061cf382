"""The memory that front and player share."""

from __future__ import annotations

import gc
import subprocess
import sys
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from introit.errors import PlayerError
from introit.live.messages import note_on
from introit.live.shared import SLOT, Shared, SharedMemory, Snapshot

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=10,
)


@pytest.fixture
def shared() -> Iterator[Shared]:
    made = Shared.create(2)
    yield made
    made.close()
    made.close()


@pytest.mark.skipif(sys.platform == "win32", reason="descriptors are not inherited there")
def test_another_process_reads_what_was_written(shared: Shared) -> None:
    shared.ledger.owe(1, note_on(3, 60, 64))
    shared.connections.write({"1": ["synth:in"]})
    script = (
        "import sys; from introit.live.shared import Shared; s = Shared.open(sys.argv[1], 2);"
        "print(s.ledger.owed(1), s.connections.read()); s.ledger.beat('player', 77)"
    )
    handle = shared.memory.handle
    done = subprocess.run(
        [sys.executable, "-c", script, handle],
        pass_fds=[int(handle)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[(3, 60, 1)] {'1': ['synth:in']}"
    assert shared.ledger.last_beat("player") == 77


def test_a_new_block_is_empty(shared: Shared) -> None:
    assert shared.connections.read() is None
    assert [shared.ledger.owed(port) for port in (0, 1)] == [[], []]


def test_a_block_without_a_ledger_is_refused() -> None:
    memory = SharedMemory.create(Shared.size(1))
    with pytest.raises(PlayerError, match="holds no ledger"):
        Shared(memory, 1, new=False)
    gc.collect()
    memory.close()


@given(st.lists(JSON, min_size=1, max_size=6))
def test_the_last_whole_snapshot_is_read(values: list[object]) -> None:
    snapshot = Snapshot(memoryview(bytearray(Snapshot.SIZE)))
    for value in values:
        assert snapshot.write(value)
        assert snapshot.read() == value


def test_a_snapshot_that_does_not_fit_leaves_the_old_one() -> None:
    snapshot = Snapshot(memoryview(bytearray(Snapshot.SIZE)))
    snapshot.write("old")
    assert not snapshot.write("x" * SLOT)
    assert snapshot.read() == "old"


@given(st.data())
def test_a_writer_that_dies_anywhere_leaves_the_old_snapshot_or_the_new(data: st.DataObject) -> None:
    buffer = bytearray(Snapshot.SIZE)
    Snapshot(memoryview(buffer)).write("old")
    after = bytearray(buffer)
    Snapshot(memoryview(after)).write("the new one")
    changed = [at for at in range(8, len(buffer)) if buffer[at] != after[at]]
    for at in changed[: data.draw(st.integers(0, len(changed)))]:  # the choice of slot is written last
        buffer[at] = after[at]
    assert Snapshot(memoryview(buffer)).read() == "old"


@pytest.mark.skipif(sys.platform == "win32", reason="descriptors are not inherited there")
def test_a_front_with_closed_streams_still_starts_its_player() -> None:
    script = (
        "import os\nfor n in (0, 1): os.close(n)\n"
        "from introit.live.keeper import Keeper\nfrom introit.testing import sketch_setup\n"
        "keeper = Keeper(sketch_setup()); keeper.start()\n"
        "low = min(keeper.fileno(), int(keeper._life.shared.memory.handle))\n"
        "keeper.stop('enough')\nraise SystemExit(7 if low > 2 else 8)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (7, "")
