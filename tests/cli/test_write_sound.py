"""`introit write` with sound: what lands on the disk, and what is said."""

from __future__ import annotations

import wave
from pathlib import Path

import click
import mido
import pytest
from click.testing import CliRunner, Result

from introit.cli.commands.write import write as command
from introit.cli.main import main
from introit.errors import PortError
from introit.export.wav import RATES
from introit.export.wav_file import BITS
from introit.fluid import library
from introit.fluid.soundfonts import find_soundfont

INTRO = "waltz-riff"


def run(*words: str) -> tuple[int, str, str]:
    result: Result = CliRunner().invoke(command, list(words), standalone_mode=False)
    error = result.exception
    if error is not None:
        return getattr(error, "exit_code", 1), result.stdout, str(error)
    return 0, result.stdout, result.stderr


@pytest.fixture(scope="module")
def soundfont() -> str:
    try:
        library.load()
    except PortError as error:
        pytest.skip(str(error))
    return str(find_soundfont(folders=[]))


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_an_intro_is_written_as_sound_with_its_stems(tmp_path: Path, soundfont: str) -> None:
    out = tmp_path / "waltz.wav"
    code, said, _ = run(
        INTRO, "--key", "C minor", "-o", str(out), "--stems", "--rate", "44100", "--soundfont", soundfont
    )
    assert code == 0
    assert names(tmp_path) == ["waltz-bass.wav", "waltz-comp.wav", "waltz-melody.wav", "waltz.wav"]
    assert said.splitlines()[0].startswith(f"{out}: ")
    assert "in C minor" in said
    for path in tmp_path.iterdir():
        with wave.open(str(path)) as file:
            assert (file.getframerate(), file.getsampwidth()) == (44_100, 2)


def test_the_count_off_is_in_it_if_asked_for(tmp_path: Path, soundfont: str) -> None:
    lengths = []
    for bars in ("0", "2"):
        out = tmp_path / f"{bars}.wav"
        words = (INTRO, "--tempo", "150", "--count-off", bars, "--bits", "24", "--soundfont", soundfont)
        assert run(*words, "-o", str(out))[0] == 0
        with wave.open(str(out)) as file:
            assert file.getsampwidth() == 3
            lengths.append(file.getnframes() / file.getframerate())
    assert lengths[1] - lengths[0] == pytest.approx(2 * 3 * 60 / 150, abs=0.05)


def test_a_set_goes_into_a_folder_beside_its_midi_files(tmp_path: Path, soundfont: str) -> None:
    code, said, _ = run(
        "--set", "demo", "-o", str(tmp_path / "out"), "--as", "wav", "--as", "mid", "--soundfont", soundfont
    )
    assert code == 0
    written = names(tmp_path / "out")
    assert len([name for name in written if name.endswith(".wav")]) == 5
    assert [name.replace(".wav", ".mid") for name in written if name.endswith(".wav")] == [
        name for name in written if name.endswith(".mid")
    ]
    assert "10 files" in said


def test_a_comp_on_the_guitar_sounds_like_one(tmp_path: Path) -> None:
    programs = {}
    for line_up in ("with keys", "with bass"):
        out = tmp_path / "a.mid"
        assert run(INTRO, "--line-up", line_up, "-o", str(out))[0] == 0
        comp = next(track for track in mido.MidiFile(str(out)).tracks if track.name == "comp")
        programs[line_up] = next(message.program for message in comp if message.type == "program_change")
    assert programs == {"with keys": 4, "with bass": 26}


def test_a_tunes_own_sounds_are_written(tmp_path: Path) -> None:
    """General MIDI's programs, counted from 1: 12 is a vibraphone ([GM-M])."""
    (tmp_path / "vibes.yaml").write_text(
        "title: Vibes\ntunes:\n"
        "  - {title: Brass Bell, key: F, feel: medium-swing, intro: three-six-two-five, sounds: {comp: 12}}\n"
    )
    assert run("--set", str(tmp_path / "vibes.yaml"), "-o", str(tmp_path / "a.mid"))[0] == 0
    comp = next(track for track in mido.MidiFile(str(tmp_path / "a.mid")).tracks if track.name == "comp")
    assert [message.program + 1 for message in comp if message.type == "program_change"] == [12]


def test_with_a_rig_its_sounds_are_heard_and_its_soundfont_is_taken(tmp_path: Path, soundfont: str) -> None:
    rig = tmp_path / "mine.yaml"
    text = "name: Mine\nports:\n  synth: {system: fluidsynth, soundfont: mine.sf2}\nparts:\n"
    rig.write_text(text + "  comp: {port: synth, channel: 7, program: 12, level: 30}\n")
    out = tmp_path / "a.mid"
    assert run(INTRO, "--rig", str(rig), "-o", str(out))[0] == 0
    programs = {
        track.name: message.program + 1
        for track in mido.MidiFile(str(out)).tracks
        for message in track
        if message.type == "program_change"
    }
    assert programs == {"melody": 27, "comp": 12, "bass": 33}
    code, _, said = run(INTRO, "--rig", str(rig), "-o", str(tmp_path / "a.wav"))
    assert code == 1
    assert "there is no soundfont" in said
    (tmp_path / "mine.sf2").symlink_to(soundfont)
    assert run(INTRO, "--rig", str(rig), "-o", str(tmp_path / "a.wav"))[0] == 0
    assert run(INTRO, "-o", str(tmp_path / "b.wav"), "--soundfont", soundfont)[0] == 0
    assert (tmp_path / "a.wav").read_bytes() != (tmp_path / "b.wav").read_bytes()


def test_straight_midi_has_its_off_beats_on_the_eighth(tmp_path: Path) -> None:
    found = {}
    for flag in ((), ("--straight",)):
        out = tmp_path / "a.mid"
        assert run(INTRO, "-o", str(out), *flag)[0] == 0
        ticks = set()
        for track in mido.MidiFile(str(out)).tracks:
            now = 0
            for message in track:
                now += message.time
                if message.type == "note_on" and message.velocity:
                    ticks.add(now % 480)
        found[flag] = ticks
    assert len(found[("--straight",)]) < 5 < len(found[()])


def test_the_options_are_those_that_can_be_written() -> None:
    choices = {option.name: option.type for option in command.params}
    for name, allowed in (("rate", RATES), ("bits", BITS)):
        kind = choices[name]
        assert isinstance(kind, click.Choice)
        assert [int(choice) for choice in kind.choices] == list(allowed)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--rate", "22050"), "'22050' is not one of '44100', '48000'"),
        (("--soundfont", "gone.sf2"), "there is no soundfont 'gone.sf2'; it is named with `--soundfont`"),
    ],
)
def test_what_cannot_be_is_told_and_nothing_is_written(
    tmp_path: Path, soundfont: str, words: tuple[str, ...], message: str
) -> None:
    code, _, said = run(INTRO, "-o", str(tmp_path / "a.wav"), *words)
    assert code != 0
    assert message in said
    assert names(tmp_path) == []


def test_without_the_library_one_line_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(library.ctypes.util, "find_library", lambda _: None)
    monkeypatch.setattr(library, "_FILES", ())
    monkeypatch.setattr("sys.argv", ["introit", "write", INTRO, "-o", str(tmp_path / "a.wav")])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("introit: no FluidSynth library on this system (")
    assert names(tmp_path) == []
