from __future__ import annotations

import io
from collections import Counter
from dataclasses import replace
from pathlib import Path

import mido
import pretty_midi
import pytest

from introit.arrange.arranger import ready
from introit.errors import UsageError
from introit.export.midi_file import midi_bytes, write_midi
from introit.export.routes import FileRoute
from introit.library.content import content_roots
from introit.library.loader import load_library
from introit.library.model import Library, Tune
from introit.performance import PARTS, ChordMark, Performance, PlayedNote
from introit.theory.key import Key, Mode, keys
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library(content_roots()[:1])[0]


def performance_of(
    library: Library, intro: str, key: str, *, tempo: float = 132.0, count_off: int = 2
) -> Performance:
    called = Key.from_text(key)
    tune = Tune(
        id="tune",
        title="Señal de café",
        key=called,
        meter=Meter(4),
        tempo=tempo,
        feel="medium-swing",
        first_chord=Numeral.from_text("i6/9" if called.is_minor else "Imaj7"),
        count_off=count_off,
    )
    return ready(tune, called, library, intro=library.intros[intro])


def parsed(data: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(data), charset="utf-8")


def absolute(track: mido.MidiTrack) -> list[tuple[int, mido.Message]]:
    now, events = 0, []
    for message in track:
        now += message.time
        events.append((now, message))
    return events


def notes_of(track: mido.MidiTrack) -> Counter[tuple[int, int, int, int]]:
    """(onset, end, pitch, velocity) of each note; MIDI 1.0 knows one voice a pitch and channel."""
    sounding: dict[tuple[int, int], tuple[int, int]] = {}
    notes: Counter[tuple[int, int, int, int]] = Counter()
    for tick, message in absolute(track):
        if message.type == "note_on" and message.velocity:
            assert (message.channel, message.note) not in sounding
            sounding[message.channel, message.note] = (tick, message.velocity)
        elif message.type in ("note_off", "note_on"):
            onset, velocity = sounding.pop((message.channel, message.note))
            notes[onset, tick, message.note, velocity] += 1
    assert not sounding
    return notes


CASES = [
    ("three-six-two-five", "Eb"),
    ("riff-turnaround", "F# minor"),
    ("two-fives-over-the-fifth", "Gb"),
    ("sus-from-the-minor", "C"),
]


@pytest.mark.parametrize(("intro", "key"), CASES)
def test_mido_reads_the_same_notes(library: Library, intro: str, key: str) -> None:
    performance = performance_of(library, intro, key)
    file = parsed(midi_bytes(performance))
    tracks = {track.name: track for track in file.tracks[1:]}
    assert set(tracks) == {PARTS[note.part] for note in performance.notes}
    for name, track in tracks.items():
        expected = Counter(
            (
                note.onset - performance.start_tick,
                note.end - performance.start_tick,
                note.pitch,
                note.velocity,
            )
            for note in performance.notes
            if PARTS[note.part] == name
        )
        assert notes_of(track) == expected


def test_the_cue_is_not_written(library: Library) -> None:
    performance = performance_of(library, "three-six-two-five", "Eb")
    assert performance.cue
    written = midi_bytes(performance)
    assert written == midi_bytes(replace(performance, cue=(), first_note=()))
    assert "cue" not in {track.name for track in parsed(written).tracks}


@pytest.mark.parametrize(("intro", "key"), CASES)
def test_pretty_midi_reads_the_same_notes_in_seconds(
    library: Library, intro: str, key: str, tmp_path: Path
) -> None:
    performance = performance_of(library, intro, key, tempo=123.45)
    path = tmp_path / "intro.mid"
    write_midi(performance, path)
    read = pretty_midi.PrettyMIDI(str(path))
    second = 60 / 123.45 / 960
    for instrument in read.instruments:
        expected = sorted(
            (note.onset - performance.start_tick, note.pitch, note.end - performance.start_tick)
            for note in performance.notes
            if PARTS[note.part] == instrument.name
        )
        found = sorted(
            (round(note.start / second), note.pitch, round(note.end / second)) for note in instrument.notes
        )
        assert found == expected
    assert {instrument.name for instrument in read.instruments} == {PARTS[n.part] for n in performance.notes}
    (change,) = read.time_signature_changes
    assert (change.numerator, change.denominator, change.time) == (4, 4, 0)
    assert read.get_tempo_changes()[1] == pytest.approx([123.45], abs=0.001)


@pytest.mark.parametrize("mode", list(Mode))
def test_key_signatures_by_another_reader(library: Library, mode: Mode) -> None:
    """pretty_midi numbers keys 0 to 11 from C major and 12 to 23 from C minor."""
    for key in keys(mode):
        performance = performance_of(library, "three-six-two-five", str(key))
        read = pretty_midi.PrettyMIDI(io.BytesIO(midi_bytes(performance)))
        (signature,) = read.key_signature_changes
        assert signature.key_number == key.tonic.pitch_class + (12 if mode is Mode.MINOR else 0)


def test_key_signature_bytes_as_the_standard_has_them(library: Library) -> None:
    """FF 59 02 sf mi: sharps positive, flats negative, 1 for minor (Standard MIDI Files 1.0, from memory)."""
    for key, sharps, minor in (("Eb", 0xFD, 0), ("F# minor", 3, 1), ("Gb", 0xFA, 0), ("Eb minor", 0xFA, 1)):
        data = midi_bytes(performance_of(library, "three-six-two-five", key))
        assert bytes([0xFF, 0x59, 2, sharps, minor]) in data


def test_header_tempo_and_meter_bytes_as_the_standard_has_them(library: Library) -> None:
    """MThd, length 6, format 1, division 960; FF 51 03 tttttt; FF 58 04 nn dd cc bb (from memory)."""
    data = midi_bytes(performance_of(library, "three-six-two-five", "C", tempo=120.0))
    tracks = data[11]
    assert data[:14] == b"MThd\0\0\0\6\0\1\0" + bytes([tracks]) + b"\x03\xc0"
    assert bytes([0xFF, 0x51, 3]) + (500_000).to_bytes(3, "big") in data
    assert bytes([0xFF, 0x58, 4, 4, 2, 24, 8]) in data


def test_markers_at_each_chord_and_at_the_head(library: Library) -> None:
    performance = performance_of(library, "riff-turnaround", "C", count_off=1)
    conductor = parsed(midi_bytes(performance)).tracks[0]
    markers = [(tick, message.text) for tick, message in absolute(conductor) if message.type == "marker"]
    assert markers == [
        (3840, "Cmaj7"),
        (5760, "C#dim7"),
        (7680, "Dm7"),
        (9600, "G7"),
        (11520, "Cmaj7"),
        (13440, "C#dim7"),
        (15360, "Dm7"),
        (17280, "G7"),
        (19200, "head"),
    ]
    assert conductor.name == "Señal de café"


def test_every_track_ends_with_the_head(library: Library) -> None:
    performance = performance_of(library, "three-six-two-five", "C", count_off=0)
    for track in parsed(midi_bytes(performance)).tracks:
        assert absolute(track)[-1][0] == performance.head_tick


def test_programs_and_channels_by_general_midi(library: Library) -> None:
    """General MIDI 1 ([GM-M]), as printed: jazz guitar 27, electric piano 5, bass 33, percussion on 10."""
    file = parsed(midi_bytes(performance_of(library, "three-six-two-five", "C")))
    programs = {
        m.channel + 1: m.program + 1 for track in file.tracks for m in track if m.type == "program_change"
    }
    assert programs == {1: 27, 2: 5, 3: 33}
    read = pretty_midi.PrettyMIDI(io.BytesIO(midi_bytes(performance_of(library, "three-six-two-five", "C"))))
    names = {
        i.name: "drum" if i.is_drum else pretty_midi.program_to_instrument_name(i.program)
        for i in read.instruments
    }
    assert names == {
        "melody": "Electric Guitar (jazz)",
        "comp": "Electric Piano 1",
        "bass": "Acoustic Bass",
        "click": "drum",
    }


def test_routes_can_be_given_and_parts_on_one_channel_stay_legal(library: Library) -> None:
    performance = performance_of(library, "three-six-two-five", "C")
    routes = {"melody": FileRoute(4), "comp": FileRoute(4, 10), "bass": FileRoute(5, None)}
    file = parsed(midi_bytes(performance, routes=routes))
    channels = {t.name: {m.channel for m in t if m.type == "note_on"} for t in file.tracks[1:]}
    assert channels == {"melody": {4}, "comp": {4}, "bass": {5}, "click": {9}}
    sounding: set[int] = set()
    for message in mido.merge_tracks(file.tracks):
        if message.type == "note_on" and message.channel == 4:
            assert message.note not in sounding
            sounding.add(message.note)
        elif message.type == "note_off" and message.channel == 4:
            sounding.discard(message.note)


def test_a_repeated_pitch_is_ended_before_it_begins_again() -> None:
    notes = (PlayedNote(0, 960, 0, 2, 40, 80), PlayedNote(960, 1920, 0, 2, 40, 80))
    performance = Performance(
        "i", "T", "C", 0, False, 120, 4, 0, 3840, 3840, notes, (ChordMark(0, "C", "I"),)
    )
    track = parsed(midi_bytes(performance)).tracks[1]
    kinds = [(tick, message.type) for tick, message in absolute(track) if message.type.startswith("note")]
    assert kinds == [(0, "note_on"), (960, "note_off"), (960, "note_on"), (1920, "note_off")]


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("intro.mp3", r"ends in '.mp3'; allowed are .mid and .midi"),
        ("intro.mdi", r"ends in '.mdi'; allowed are .mid and .midi. Did you mean '.midi'"),
        ("intro", r"has no ending; allowed are .mid and .midi"),
    ],
)
def test_other_endings_are_refused_by_name(library: Library, tmp_path: Path, name: str, message: str) -> None:
    with pytest.raises(UsageError, match=message):
        write_midi(performance_of(library, "three-six-two-five", "C"), tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_capital_endings_are_fine(library: Library, tmp_path: Path) -> None:
    write_midi(performance_of(library, "three-six-two-five", "C"), tmp_path / "INTRO.MID")
    assert parsed((tmp_path / "INTRO.MID").read_bytes()).type == 1
