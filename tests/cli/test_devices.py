"""`introit devices`: listed, and forgotten by id or name; a stand that runs sees it in the file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from introit.cli.commands.devices import devices
from introit.cli.stand_front import stand_folder
from introit.errors import UsageError
from introit.stand.devices import Devices


@pytest.fixture
def paired(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Devices:
    monkeypatch.setenv("INTROIT_HOME", str(tmp_path))
    found = Devices(stand_folder())
    for name, view in (("Tablet", False), ("Pupil", True), ("Pupil", True)):
        found.add(name, 1_790_000_000.0, view=view)
    return found


def run(*arguments: str) -> str:
    result = CliRunner().invoke(devices, list(arguments), catch_exceptions=False, standalone_mode=False)
    return result.output


def test_they_are_listed(paired: Devices) -> None:
    lines = run().splitlines()
    assert [line.split()[0] for line in lines] == [one.id for one in paired.all()]
    assert ["plays" in line for line in lines] == [True, False, False]
    assert [row["name"] for row in json.loads(run("--json"))] == ["Tablet", "Pupil", "Pupil"]


def test_one_is_forgotten_by_name_or_id(paired: Devices) -> None:
    token, device = paired.add("Phone", 1_790_000_001.0, view=False)
    assert run("--revoke", "Phone") == f"revoked: Phone ({device.id})\n"
    assert Devices(stand_folder()).find(token, 1_790_000_002.0) is None
    last = paired.all()[-2].id
    run("--revoke", last)
    assert last not in run()


def test_two_of_one_name_are_told_apart(paired: Devices) -> None:
    with pytest.raises(UsageError, match="2 devices are called 'Pupil'"):
        run("--revoke", "Pupil")


def test_what_is_not_there_is_told(paired: Devices) -> None:
    with pytest.raises(UsageError, match="Did you mean 'Tablet'"):
        run("--revoke", "Tablett")
    assert run("--revoke", "all") == "revoked: all\n"
    assert "no device is paired" in run()
    assert run("--revoke", "all") == "revoked: nobody was paired\n"
