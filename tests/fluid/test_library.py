"""The library and the soundfont, and their absence."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

from introit.errors import PortError
from introit.fluid import library, soundfonts
from introit.fluid.reverb import dry_channels
from introit.fluid.soundfonts import find_soundfont
from introit.library.content import program_root
from introit.live.ports.fluidsynth import listing


def test_a_default_goes_first_then_the_names_in_order(tmp_path: Path) -> None:
    empty, full = tmp_path / "empty", tmp_path / "full"
    empty.mkdir()
    full.mkdir()
    folders = [str(tmp_path / "none"), str(empty), str(full)]
    for name in ("b.sf2", "a.SF3", "readme.txt"):
        (full / name).touch()
    assert find_soundfont(folders=folders).name == "a.SF3"
    (full / "default-GM.sf2").touch()
    assert find_soundfont(folders=folders).name == "default-GM.sf2"
    assert find_soundfont(str(full / "b.sf2"), folders=folders).name == "b.sf2"


def test_the_package_that_carries_one_is_looked_into_without_being_imported() -> None:
    before = "pretty_midi" in sys.modules
    assert find_soundfont(folders=[]).name == "TimGM6mb.sf2"
    assert ("pretty_midi" in sys.modules) == before


def test_the_manual_names_every_place() -> None:
    manual = (program_root() / "patterns" / "README.md").read_text(encoding="utf-8")
    assert [folder for folder in soundfonts.FOLDERS if f"`{folder}`" not in manual] == []


def test_no_soundfont_is_told_with_where_it_was_looked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(soundfonts, "CARRIED", ("no_such_package", "x.sf2"))
    with pytest.raises(PortError, match=r"/nowhere and in the package no_such_package.*soundfont: PATH.*pip"):
        find_soundfont(folders=["/nowhere"])
    with pytest.raises(PortError, match=r"no soundfont '/nowhere/x.sf2'; it is named with `--soundfont`"):
        find_soundfont("/nowhere/x.sf2", named_with="`--soundfont`")


@pytest.mark.parametrize(
    ("platform", "way"),
    [("linux", "apt install libfluidsynth3"), ("darwin", "brew install"), ("win32", "choco install")],
)
def test_no_library_is_told_with_how_to_get_it(
    monkeypatch: pytest.MonkeyPatch, platform: str, way: str
) -> None:
    monkeypatch.setattr(library.ctypes.util, "find_library", lambda _: None)
    monkeypatch.setattr(library, "_FILES", ("no-such-library.so",))
    monkeypatch.setattr(library.sys, "platform", platform)
    with pytest.raises(PortError, match=way) as told:
        library.load()
    assert "\n" not in str(told.value)
    assert "no FluidSynth library" in listing().reason


def test_a_system_without_a_way_of_its_own_is_told_all_of_them() -> None:
    said = library.how_to_install("plan9")
    assert all(way in said for way in library.INSTALL.values())


def test_the_readme_says_how_to_get_it() -> None:
    readme = (program_root() / "README.md").read_text(encoding="utf-8")
    for way in ("apt install libfluidsynth3", "brew install fluid-synth", "choco install fluidsynth"):
        assert way in readme
        assert any(way in line for line in library.INSTALL.values())


def test_a_library_without_a_call_that_is_needed_is_too_old(monkeypatch: pytest.MonkeyPatch) -> None:
    def open_one(_name: str) -> Any:
        return object()

    monkeypatch.setattr(library.ctypes, "CDLL", open_one)
    with pytest.raises(PortError, match=r"FluidSynth 2\.1 or later"):
        library.load()


def test_channels_that_only_the_bass_and_its_like_play_on_are_dry() -> None:
    assert dry_channels([("melody", 0), ("bass", 2), ("pedal", 3), ("ride", 9), ("click", 9)]) == [2, 3]
    assert dry_channels([("melody", 0), ("bass", 0), ("click", 9)]) == [9]
