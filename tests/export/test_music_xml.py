"""MusicXML against three readers that are not ours: the standard's own schema, music21, and Verovio.

What they find is held against the score itself, not against the sheet: pitches, onsets, strings, frets, chord
symbols, for the whole library in three keys; in twelve keys and every line-up in the long run.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

import music21
import musicxml
import pytest
import verovio
import xmlschema

from introit.arrange.arranger import arrange, symbol_of
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.plan import plan_intro, suits
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, RIDE, Score, ScoreNote, Touch
from introit.export.diagram import diagrams
from introit.export.music_xml import compressed, music_xml
from introit.export.sheet.builder import sheet_of
from introit.export.sheet.model import Sheet
from introit.library.leading import BarBeat, Bars, Leading
from introit.library.model import Intro, Library, Tune
from introit.theory.chord import chord_from_symbol
from introit.theory.key import Key, Mode, keys
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone
from introit.units import TICKS_PER_QUARTER

THREE = {Mode.MAJOR: ("C", "Gb", "B"), Mode.MINOR: ("A minor", "Eb minor", "G# minor")}
"""No signs, and as many as there are on either side."""


class Written(NamedTuple):
    """A score and its file."""

    score: Score
    sheet: Sheet
    data: bytes

    @property
    def root(self) -> ElementTree.Element:
        return ElementTree.fromstring(self.data)

    def notes(self, *parts: int) -> list[ScoreNote]:
        return [note for note in self.score.notes if note.part in parts and note.touch is not Touch.ORNAMENT]


def tune_of(intro: Intro, library: Library, key: Key, *, leading: Leading | None = None) -> Tune:
    low, high = intro.tempo
    feel = next(feel for feel in intro.feels if intro.meters[0] in library.feels[feel].meters)
    tempo = min(max(library.feels[feel].typical_tempo, low), high)
    first = Numeral.from_text("i" if key.is_minor else "I")
    tune = Tune("t", "A Tune", key, intro.meters[0], tempo, feel, first)
    return replace(tune, leading=leading or Leading())


def write(library: Library, intro: Intro, key: Key, line_up: LineUp, *, tune: Tune | None = None) -> Written:
    tune = tune or tune_of(intro, library, key)
    score = arrange(plan_intro(intro, tune, key), library, stage=Stage(line_up), seed=3)
    sheet = sheet_of(score, library)
    return Written(score, sheet, music_xml(sheet, diagrams(score)))


def cases(
    library: Library, names: dict[Mode, tuple[str, ...]], *, every: LineUp | None = None
) -> Iterator[Written]:
    """The library in these keys; each time with another of its line-ups, or all that has this one."""
    turn = 0
    for intro in library.intros.values():
        line_ups = [LineUp(word) for word in intro.line_ups]
        for mode in Mode:
            for name in names[mode]:
                key = Key.from_text(name)
                if suits(intro, tune_of(intro, library, key), key) is not None:
                    continue
                turn += 1
                line_up = every or line_ups[turn % len(line_ups)]
                if line_up in line_ups:
                    yield write(library, intro, key, line_up)


@pytest.fixture(scope="module")
def three_keys(library: Library) -> list[Written]:
    found = list(cases(library, THREE))
    assert len(found) > 150
    return found


@cache
def schema() -> Any:
    folder = Path(musicxml.__file__).parent / "generate_classes"
    names = {"http://www.w3.org/XML/1998/namespace": str(folder / "xml.xsd")}
    return xmlschema.XMLSchema(str(folder / "musicxml_4_0.xsd"), locations=names, allow="local")


def check_schema(written: Written) -> None:
    """The schema is the W3C Community Group's, as the PyPI package `musicxml` carries it."""
    errors = [f"{error.path}: {error.reason}" for error in schema().iter_errors(written.root)]
    assert errors == [], written.sheet.title


# --- what the readers should find -------------------------------------------------------------------


def staves_of(written: Written) -> list[tuple[int, ...]]:
    """The score's parts on each staff, from the top; tab staves left out. Keys' two staves are one."""
    seats = written.score.scene.seats
    if seats.one_pair_of_hands:
        return [(MELODY, COMP, BASS, PEDAL)]
    own = [(MELODY, COMP)] if seats.comp_on == "guitar" else [(MELODY,), (COMP,)]
    return [parts for parts in (*own, (BASS, PEDAL)) if written.notes(*parts)]


def sounding(written: Written, parts: tuple[int, ...]) -> set[tuple[Fraction, int]]:
    return {(Fraction(note.onset, TICKS_PER_QUARTER), note.pitch) for note in written.notes(*parts)}


def strings(written: Written) -> set[tuple[Fraction, int, int, int]]:
    """Onset, string, fret and pitch of what the arranger placed on the neck."""
    placed = [note for note in written.notes(MELODY, COMP, BASS, PEDAL) if note.string is not None]
    return {
        (Fraction(note.onset, TICKS_PER_QUARTER), note.string or 0, note.fret or 0, note.pitch)
        for note in placed
    }


# --- music21 ----------------------------------------------------------------------------------------


def heard_by_music21(staff: Any) -> set[tuple[Fraction, int]]:
    found = set()
    for note in staff.flatten().notes:
        if isinstance(note, music21.harmony.ChordSymbol) or note.duration.isGrace:
            continue
        for one in note.notes if note.isChord else [note]:
            if one.tie is None or one.tie.type == "start":
                found.add((Fraction(note.offset).limit_denominator(96), one.pitch.midi))
    return found


def strings_by_music21(staff: Any) -> set[tuple[Fraction, int, int, int]]:
    found = set()
    for note in staff.flatten().notes:
        if isinstance(note, music21.harmony.ChordSymbol) or note.duration.isGrace:
            continue
        said = [one.number for one in note.articulations if hasattr(one, "number")]
        heads = note.notes if note.isChord else [note]
        for head, string, fret in zip(heads, said[::2], said[1::2], strict=True):
            found.add((Fraction(note.offset).limit_denominator(96), string, fret, head.pitch.midi))
    return found


def check_music21(written: Written) -> None:
    parsed = music21.converter.parseData(written.data, format="musicxml")
    staves = list(parsed.parts)
    tab = [staff for staff in staves if any(staff.recurse().getElementsByClass(music21.clef.TabClef))]
    others = [staff for staff in staves if staff not in tab]
    heard = [heard_by_music21(staff) for staff in others]
    if written.score.scene.seats.comp_on == "keys":
        at = 1 if written.notes(MELODY) else 0
        heard[at : at + 2] = [heard[at] | heard[at + 1]]
    where = (written.sheet.title, str(written.sheet.key), written.sheet.line_up)
    assert heard == [sounding(written, parts) for parts in staves_of(written)], where
    on_tab = strings_by_music21(tab[0]) if tab else set()
    assert strings(written) <= on_tab, where
    assert {(onset, pitch) for onset, _, _, pitch in on_tab} <= heard[0], where
    tuning = written.score.scene.stage.fretboard.open_pitches
    assert all(tuning[-string] + fret == pitch for _, string, fret, pitch in on_tab), where
    check_symbols(written, parsed)


def check_symbols(written: Written, parsed: Any) -> None:
    symbols = list(parsed.parts[0].recurse().getElementsByClass(music21.harmony.ChordSymbol))
    chords = written.sheet.chords
    onsets = [
        Fraction(symbol.getOffsetInHierarchy(parsed.parts[0])).limit_denominator(96) for symbol in symbols
    ]
    assert onsets == [Fraction(chord.onset, TICKS_PER_QUARTER) for chord in chords]
    for symbol, chord in zip(symbols, chords, strict=True):
        named = chord_from_symbol(symbol_of(chord))
        assert symbol.root().pitchClass == named.root.pitch_class
        assert symbol.root().name == str(named.root).replace("b", "-"), symbol_of(chord)
        assert symbol.bass().pitchClass == named.bass.pitch_class


# --- Verovio ----------------------------------------------------------------------------------------

MEI = "{http://www.music-encoding.org/ns/mei}"
NAMED = "{http://www.w3.org/XML/1998/namespace}id"
ACCIDENTALS = {"s": 1, "f": -1, "n": 0, "x": 2, "ss": 2, "ff": -2}


def check_verovio(written: Written) -> None:
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "none"})
    assert toolkit.loadData(in_plain_time(written.root))
    onsets = {
        name: Fraction(entry["qstamp"]).limit_denominator(96)
        for entry in toolkit.renderToTimemap({})
        for name in entry.get("on", [])
    }
    root = ElementTree.fromstring(toolkit.getMEI())
    check_names(written, root)
    tied = {tie.get("endid", "").removeprefix("#") for tie in root.iter(f"{MEI}tie")}
    heard, on_tab = set(), set()
    for note in root.iter(f"{MEI}note"):
        name = note.get(NAMED, "")
        if name not in onsets or name in tied:
            continue
        if note.get("pname") is None:
            on_tab.add((onsets[name], int(note.get("tab.course", 0)), int(note.get("tab.fret", 0))))
            continue
        accidental = next(
            (one.get("accid.ges") or one.get("accid") for one in note.iter(f"{MEI}accid")), None
        )
        accidental = note.get("accid.ges") or note.get("accid") or accidental or "n"
        tone = Tone(note.get("pname", "").upper(), ACCIDENTALS[accidental])
        heard.add((onsets[name], 12 * (int(note.get("oct", 0)) + 1) + pitch_in_octave(tone)))
    where = (written.sheet.title, str(written.sheet.key), written.sheet.line_up)
    assert heard == sounding(written, (MELODY, COMP, BASS, PEDAL)), where
    assert {(onset, string, fret) for onset, string, fret, _ in strings(written)} <= on_tab, where


def check_names(written: Written, root: ElementTree.Element) -> None:
    """Each chord's name is read, at its beat; Verovio prints degrees again that the name has already."""
    harms = [
        ("".join(harm.itertext()).strip().replace("♭", "b").replace("♯", "#"), harm.get("tstamp", ""))
        for harm in root.iter(f"{MEI}harm")
    ]
    beats = written.sheet.bar_ticks // TICKS_PER_QUARTER
    expected = [
        (symbol_of(chord), chord.onset / TICKS_PER_QUARTER % beats + 1) for chord in written.sheet.chords
    ]
    assert len(harms) == len(expected)
    for (name, beat), (symbol, at) in zip(harms, expected, strict=True):
        plain, _, bass = symbol.partition("/") if "6/9" not in symbol else (symbol, "", "")
        assert name.startswith(plain), (name, symbol)
        assert not bass or name.endswith(f"/{bass}"), (name, symbol)
        assert float(beat) == at, (symbol, beat, at)


def in_plain_time(root: ElementTree.Element) -> str:
    """Verovio's map of time moves what is rolled, and everything that follows a grace note, by a little."""
    for measure in root.iter("measure"):
        for note in [note for note in measure.iter("note") if note.find("grace") is not None]:
            measure.remove(note)
        for notations in measure.iter("notations"):
            for roll in notations.findall("arpeggiate"):
                notations.remove(roll)
    return ElementTree.tostring(root, encoding="unicode")


def pitch_in_octave(tone: Tone) -> int:
    """Semitones above the C of its octave's name: 12 for B#, -1 for Cb."""
    return {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[tone.letter] + tone.alter


# --- the tests --------------------------------------------------------------------------------------


def test_it_is_valid(three_keys: list[Written]) -> None:
    for written in three_keys[::3]:
        check_schema(written)


def test_music21_finds_the_notes_of_the_score(three_keys: list[Written]) -> None:
    for written in three_keys:
        check_music21(written)


def test_verovio_finds_the_notes_of_the_score(three_keys: list[Written]) -> None:
    for written in three_keys:
        check_verovio(written)


@pytest.mark.long
@pytest.mark.parametrize("tonic", range(12))
@pytest.mark.parametrize("line_up", LineUp)
def test_the_whole_library_in_twelve_keys(tonic: int, line_up: LineUp, library: Library) -> None:
    """Every line-up of every intro."""
    names = {mode: (str(keys(mode)[tonic]),) for mode in Mode}
    checked = 0
    for written in cases(library, names, every=line_up):
        check_schema(written)
        check_music21(written)
        check_verovio(written)
        checked += 1
    assert checked > 80


def test_a_frame_is_a_grip_of_its_chord(three_keys: list[Written]) -> None:
    """Sounding pitches of each frame, by the neck's tuning, are notes that begin within its chord."""
    frames = 0
    for written in three_keys:
        tuning = written.score.scene.stage.fretboard.open_pitches
        harmonies = list(written.root.iter("harmony"))
        for chord, harmony in zip(written.sheet.chords, harmonies, strict=True):
            frame = harmony.find("frame")
            if frame is None:
                continue
            frames += 1
            own = {
                note.pitch
                for note in written.notes(MELODY, COMP, BASS, PEDAL)
                if note.harmony_tick == chord.onset
            }
            for note in frame.iter("frame-note"):
                string, fret = int(note.findtext("string", "0")), int(note.findtext("fret", "0"))
                assert tuning[-string] + fret in own, (written.sheet.title, symbol_of(chord))
    assert frames > 100


def test_accidentals_are_shown_where_music21_shows_them(three_keys: list[Written]) -> None:
    """In bars that have no letter in two octaves: there music21 lets one hold for both."""
    seen = set()
    for written in three_keys[::6]:
        parsed = music21.converter.parseData(written.data, format="musicxml")
        for staff in parsed.parts:
            if any(staff.recurse().getElementsByClass(music21.clef.TabClef)):
                continue
            signature = staff.flatten().keySignature
            for measure in staff.getElementsByClass("Measure"):
                ours, past = shown_in(measure), []
                places = {name.replace("#", "").replace("-", "") for _, name, _ in ours}
                if len({place[0] for place in places}) < len(places):
                    continue
                for _, head in heads_in(measure):
                    head.pitch.updateAccidentalDisplay(
                        pitchPast=past,
                        alteredPitches=signature.alteredPitches,
                        cautionaryNotImmediateRepeat=False,
                        overrideStatus=True,
                    )
                    past.append(head.pitch)
                where = (written.sheet.title, str(written.sheet.key), measure.number)
                assert ours == shown_in(measure), where
                seen |= {shown for _, _, shown in ours}
    assert seen == {True, False}


def heads_in(measure: Any) -> list[tuple[Fraction, Any]]:
    """Noteheads of a bar's staff from left to right, voice by voice where they are together."""
    return [
        (Fraction(note.offset).limit_denominator(96), head)
        for note in measure.flatten().notes
        if not isinstance(note, music21.harmony.ChordSymbol)
        for head in (note.notes if note.isChord else [note])
        if head.tie is None or head.tie.type == "start"
    ]


def shown_in(measure: Any) -> list[tuple[Fraction, str, bool]]:
    return [
        (
            onset,
            head.pitch.nameWithOctave,
            bool(head.pitch.accidental and head.pitch.accidental.displayStatus),
        )
        for onset, head in heads_in(measure)
    ]


@pytest.mark.parametrize(("line_up", "clefs"), [
    (LineUp.SOLO_GUITAR, ["G2-1", "TAB5"]),
    (LineUp.WITH_BASS, ["G2-1", "TAB5", "F4-1"]),
    (LineUp.TRIO, ["G2-1", "TAB5", "F4-1"]),
    (LineUp.WITH_KEYS, ["G2-1", "TAB5", "G2", "F4", "F4-1"]),
])  # fmt: skip
def test_each_line_up_has_its_staves(line_up: LineUp, clefs: list[str], library: Library) -> None:
    """A guitar sounds an octave below treble clef, a double bass an octave below bass clef."""
    written = write(library, library.intros["three-six-two-five"], Key.from_text("F"), line_up)
    found = [
        clef.findtext("sign", "") + clef.findtext("line", "") + clef.findtext("clef-octave-change", "")
        for clef in written.root.iter("clef")
    ]
    assert found == clefs


def test_solo_guitar_has_fingers(library: Library) -> None:
    written = write(library, library.intros["three-six-two-five"], Key.from_text("F"), LineUp.SOLO_GUITAR)
    fingers = [one.text for one in written.root.iter("fingering")]
    assert len(fingers) > 20
    assert set(fingers) <= {"1", "2", "3", "4", "T"}


def test_swing_and_tempo_are_told(library: Library) -> None:
    swung = write(library, library.intros["three-six-two-five"], Key.from_text("F"), LineUp.WITH_BASS)
    swing = swung.root.find(".//swing")
    assert swing is not None
    ratio = Fraction(int(swing.findtext("first", "0")), int(swing.findtext("second", "1")))
    assert 1 < ratio <= 2, "a comp swings less than a ride does"
    parsed = music21.converter.parseData(swung.data, format="musicxml")
    marks = list(parsed.recurse().getElementsByClass(music21.tempo.MetronomeMark))
    assert marks[0].number == swung.sheet.tempo
    even = replace(tune_of(swung.score.plan.intro, library, Key.from_text("F")), feel="bossa")
    straight = write(library, swung.score.plan.intro, even.key, LineUp.WITH_BASS, tune=even)
    assert straight.root.find(".//swing/straight") is not None


def test_bars_that_go_round_are_repeated(library: Library) -> None:
    intro = library.intros["three-six-two-five"]
    for bars, expected in ((None, [1, 4]), (Bars(2, 3), [2, 3])):
        tune = tune_of(intro, library, Key.from_text("F"), leading=Leading(vamp=True, vamp_bars=bars))
        written = write(library, intro, tune.key, LineUp.WITH_BASS, tune=tune)
        check_schema(written)
        parsed = music21.converter.parseData(written.data, format="musicxml")
        for staff in parsed.parts:
            repeats = [
                measure.number
                for measure in staff.getElementsByClass("Measure")
                for line in (measure.leftBarline, measure.rightBarline)
                if isinstance(line, music21.bar.Repeat)
            ]
            assert repeats == expected, staff


def test_what_waits_has_a_fermata(library: Library) -> None:
    intro = library.intros["three-six-two-five"]
    leading = Leading(colla_voce=64, in_time=BarBeat(3), hold=True)
    tune = tune_of(intro, library, Key.from_text("F"), leading=leading)
    written = write(library, intro, tune.key, LineUp.SOLO_GUITAR, tune=tune)
    check_schema(written)
    words = [one.text for one in written.root.iter("words")]
    assert "colla voce" in words
    assert "in time" in words
    assert len(list(written.root.iter("fermata"))) >= 5


def test_each_staff_says_once_that_time_waits(library: Library) -> None:
    """As music21 reads it: voices that wait together have one fermata, on every waiting chord."""
    sharing = 0
    for name, line_up in product(("amen-steps", "three-six-two-five", "shout-turnaround"), LineUp):
        intro = library.intros[name]
        if line_up not in intro.line_ups:
            continue
        tune = tune_of(intro, library, Key.from_text("Ab"), leading=Leading(colla_voce=64))
        written = write(library, intro, tune.key, line_up, tune=tune)
        chords = {Fraction(chord.onset, TICKS_PER_QUARTER) for chord in written.sheet.chords}
        parsed = music21.converter.parseData(written.data, format="musicxml")
        told = set()
        for staff in parsed.parts:
            notes = [
                (Fraction(note.getOffsetInHierarchy(staff)).limit_denominator(96), note)
                for note in staff.recurse().notes
                if not isinstance(note, music21.harmony.ChordSymbol)
            ]
            waits = [
                onset
                for onset, note in notes
                if any(isinstance(sign, music21.expressions.Fermata) for sign in note.expressions)
            ]
            assert len(waits) == len(set(waits)), (name, line_up)
            told |= set(waits)
            struck = [onset for onset, _ in notes]
            sharing += any(struck.count(onset) > 1 for onset in waits)
        assert told <= chords
        begun = {onset for onset, _ in sounding(written, (MELODY, COMP, BASS, PEDAL))}
        assert told == chords & begun, (name, line_up)
    assert sharing > 2


def test_the_head_has_a_bar_where_the_landing_rings(library: Library) -> None:
    intro = library.intros["three-six-two-five"]
    tune = replace(tune_of(intro, library, Key.from_text("F")), landing="ring", ring=Fraction(4))
    written = write(library, intro, tune.key, LineUp.WITH_BASS, tune=tune)
    check_schema(written)
    assert len(written.root.findall("part[1]/measure")) == written.sheet.bars + 1
    assert "head" in [one.text for one in written.root.iter("words")]
    parsed = music21.converter.parseData(written.data, format="musicxml")
    (symbol,) = list(parsed.parts[0].getElementsByClass("Measure"))[-1].getElementsByClass("ChordSymbol")
    assert symbol.root().name == "F"
    assert symbol.quality == "major"
    assert written.root.findall("part[1]/measure")[-1].find("harmony/frame") is not None


def test_a_title_is_text(library: Library) -> None:
    intro = library.intros["three-six-two-five"]
    tune = tune_of(intro, library, Key.from_text("F"))
    score = arrange(plan_intro(intro, tune, tune.key), library, stage=Stage(LineUp.SOLO_GUITAR))
    title = 'Soup & <b>"Bread"</b> ]]> &amp;'
    data = music_xml(sheet_of(score, library, tune=title))
    assert ElementTree.fromstring(data).findtext("movement-title") == f"Intro to {title}"


def test_the_archive_holds_the_score_and_says_where(library: Library, tmp_path: Path) -> None:
    """Source: MusicXML 4.0, compressed .mxl files."""
    written = write(library, library.intros["three-six-two-five"], Key.from_text("F"), LineUp.SOLO_GUITAR)
    data = compressed(written.data)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        container = ElementTree.fromstring(archive.read("META-INF/container.xml"))
        place = next(container.iter("rootfile")).get("full-path", "")
        assert archive.read(place) == written.data
    assert compressed(written.data) == data
    path = tmp_path / "x.mxl"
    path.write_bytes(data)
    assert len(music21.converter.parseFile(path, forceSource=True).parts) == 2


def test_the_ride_is_not_written(three_keys: list[Written]) -> None:
    trios = [written for written in three_keys if written.score.scene.seats.ride]
    assert any(note.part == RIDE for written in trios for note in written.score.notes)
    assert all([part.name for part in written.sheet.parts] == ["Guitar", "Bass"] for written in trios)


def test_every_bar_of_every_voice_is_full(three_keys: list[Written]) -> None:
    for written, part in ((one, part) for one in three_keys for part in one.sheet.parts):
        for number, voices in enumerate(part.bars):
            start = number * written.sheet.bar_ticks
            for voice in voices:
                ticks = [start]
                for event in voice.events:
                    assert event.tick == ticks[-1]
                    ticks.append(event.end)
                assert ticks[-1] == start + written.sheet.bar_ticks


def test_nothing_is_written_twice(three_keys: list[Written]) -> None:
    for written, staff in product(three_keys[::7], (1, 2)):
        part = written.sheet.parts[0]
        for voices in part.bars:
            heads = [
                (event.tick, head.pitch)
                for voice in voices
                if voice.staff == staff
                for event in voice.events
                for head in event.heads
                if not head.tied_from
            ]
            assert len(heads) - len(set(heads)) <= 2, "a unison of two voices, at most"
