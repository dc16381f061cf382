"""A sheet as MusicXML 4.0 (partwise), plain or compressed.

Source: MusicXML 4.0, W3C Community Group Final Report. Guitar and double bass are written at the pitch that
sounds, under clefs that say the octave; the tab staff is the guitar part's second one, with the same notes.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from introit.arrange.arranger import symbol_of
from introit.arrange.plan import PlannedChord
from introit.export.diagram import Diagram
from introit.export.harmony_xml import harmony
from introit.export.sheet.model import BARS_A_LINE, Clef, Event, Head, Sheet, SheetPart, Voice
from introit.theory.hand import THUMB
from introit.theory.key import Key, Mode
from introit.units import TICKS_PER_QUARTER

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
_HEADER = f'<?xml version="1.0" encoding="UTF-8"?>\n{DOCTYPE}\n'
_CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles>'
    '<rootfile full-path="score.musicxml" media-type="application/vnd.recordare.musicxml+xml"/>'
    "</rootfiles></container>\n"
)
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)
"""The earliest date that a zip file can bear: the same sheet is the same bytes on every day."""
_ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_CLEFS = {
    Clef.TREBLE: ("G", 2, 0),
    Clef.GUITAR: ("G", 2, -1),
    Clef.BASS: ("F", 4, 0),
    Clef.DOUBLE_BASS: ("F", 4, -1),
    Clef.TAB: ("TAB", 5, 0),
}
_OPEN_STRINGS = [Key.from_pitch_class(pitch, Mode.MINOR).tonic for pitch in range(12)]


def music_xml(sheet: Sheet, diagrams: Iterable[tuple[int, Diagram]] = (), *, headed: bool = True) -> bytes:
    """The file's bytes.

    Args:
        sheet: what to write.
        diagrams: chord diagrams at the ticks of the grips; the first in a chord becomes its frame.
        headed: whether feel and tempo stand over the first bar, and fingers at the notes of a grip; a page
            has them elsewhere.
    """
    return (_HEADER + tostring(_score(sheet, list(diagrams), headed), encoding="unicode") + "\n").encode()


def compressed(data: bytes) -> bytes:
    """A MusicXML file as an `.mxl` archive."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in (("META-INF/container.xml", _CONTAINER.encode()), ("score.musicxml", data)):
            archive.writestr(zipfile.ZipInfo(name, _FIRST_DAY), content, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def _score(sheet: Sheet, diagrams: list[tuple[int, Diagram]], headed: bool) -> Element:
    root = Element("score-partwise", version="4.0")
    work = SubElement(root, "work")
    SubElement(work, "work-title").text = sheet.title
    if sheet.tune and sheet.tune != sheet.title:
        SubElement(root, "movement-title").text = f"Intro to {sheet.tune}"
    encoding = SubElement(SubElement(root, "identification"), "encoding")
    SubElement(encoding, "software").text = "Introit"
    for feature in ("accidental", "beam", "stem"):
        SubElement(encoding, "supports", element=feature, type="yes")
    parts = SubElement(root, "part-list")
    for number, part in enumerate(sheet.parts, 1):
        _listed(parts, part, number)
    for number, part in enumerate(sheet.parts, 1):
        first = number == 1
        element = SubElement(root, "part", id=f"P{number}")
        _Writer(sheet, part, element, diagrams if first else [], leads=first, headed=headed)
    indent(root, " ")
    return root


def _listed(parts: Element, part: SheetPart, number: int) -> None:
    entry = SubElement(parts, "score-part", id=f"P{number}")
    SubElement(entry, "part-name").text = part.name
    instrument = SubElement(entry, "score-instrument", id=f"P{number}-I1")
    SubElement(instrument, "instrument-name").text = part.name
    midi = SubElement(entry, "midi-instrument", id=f"P{number}-I1")
    SubElement(midi, "midi-channel").text = str(number)
    SubElement(midi, "midi-program").text = str(part.program)


class _Writer:
    """Writes the measures of one part."""

    def __init__(
        self,
        sheet: Sheet,
        part: SheetPart,
        root: Element,
        diagrams: list[tuple[int, Diagram]],
        *,
        leads: bool,
        headed: bool,
    ) -> None:
        self._sheet, self._part, self._leads, self._headed = sheet, part, leads, headed
        self._diagrams = diagrams
        for number, voices in enumerate(part.bars):
            self._measure(SubElement(root, "measure", number=str(number + 1)), number, voices)

    def _measure(self, measure: Element, number: int, voices: tuple[Voice, ...]) -> None:
        sheet = self._sheet
        if number % BARS_A_LINE == 0 and self._leads:
            SubElement(measure, "print", {"new-system": "yes"})
        if number == 0:
            self._attributes(measure)
        if sheet.vamp is not None and number == sheet.vamp[0]:
            self._barline(measure, "left", "heavy-light", repeat="forward")
        if self._leads:
            self._above(measure, number)
        for index, voice in enumerate(voices):
            if index:
                SubElement(SubElement(measure, "backup"), "duration").text = str(sheet.bar_ticks)
            for event in voice.events:
                self._event(measure, event, voice)
        if sheet.vamp is not None and number == sheet.vamp[1]:
            self._barline(measure, "right", "light-heavy", repeat="backward")
        elif number == sheet.bars - 1:
            self._barline(
                measure, "right", "light-light" if len(self._part.bars) > sheet.bars else "light-heavy"
            )
        elif number == len(self._part.bars) - 1:
            self._barline(measure, "right", "light-heavy")

    # --- at the beginning and between bars ----------------------------------------------------------

    def _attributes(self, measure: Element) -> None:
        sheet, part = self._sheet, self._part
        attributes = SubElement(measure, "attributes")
        SubElement(attributes, "divisions").text = str(TICKS_PER_QUARTER)
        key = SubElement(attributes, "key")
        SubElement(key, "fifths").text = str(sheet.key.signature)
        SubElement(key, "mode").text = sheet.key.mode.value
        time = SubElement(attributes, "time")
        SubElement(time, "beats").text = str(sheet.meter.beats)
        SubElement(time, "beat-type").text = "4"
        if len(part.clefs) > 1:
            SubElement(attributes, "staves").text = str(len(part.clefs))
        for number, clef in enumerate(part.clefs, 1):
            sign, line, octave = _CLEFS[clef]
            element = SubElement(attributes, "clef", {"number": str(number)} if len(part.clefs) > 1 else {})
            SubElement(element, "sign").text = sign
            SubElement(element, "line").text = str(line)
            if octave:
                SubElement(element, "clef-octave-change").text = str(octave)
        if part.tuning:
            self._tuning(attributes)

    def _tuning(self, attributes: Element) -> None:
        part = self._part
        details = SubElement(attributes, "staff-details", number=str(part.clefs.index(Clef.TAB) + 1))
        SubElement(details, "staff-lines").text = str(len(part.tuning))
        for line, pitch in enumerate(part.tuning, 1):
            tone = _OPEN_STRINGS[pitch % 12]
            tuning = SubElement(details, "staff-tuning", line=str(line))
            SubElement(tuning, "tuning-step").text = tone.letter
            if tone.alter:
                SubElement(tuning, "tuning-alter").text = str(tone.alter)
            SubElement(tuning, "tuning-octave").text = str(pitch // 12 - 1)
        if part.capo:
            SubElement(details, "capo").text = str(part.capo)

    @staticmethod
    def _barline(measure: Element, where: str, style: str, *, repeat: str = "") -> None:
        barline = SubElement(measure, "barline", location=where)
        SubElement(barline, "bar-style").text = style
        if repeat:
            SubElement(barline, "repeat", direction=repeat)

    # --- above and below ----------------------------------------------------------------------------

    def _above(self, measure: Element, number: int) -> None:
        sheet = self._sheet
        start = number * sheet.bar_ticks
        if number == 0:
            if self._headed:
                self._tempo(measure)
            if sheet.free_until:
                _words(measure, "colla voce", italic=True)
        if 0 < sheet.free_until == start:
            _words(measure, "in time", italic=True)
        if sheet.vamp is not None and number == sheet.vamp[0]:
            _words(measure, "vamp until the nod", italic=True)
        if start in sheet.let_ring and number < sheet.bars:
            _words(measure, "let ring", italic=True)
        for chord in sheet.named:
            if start <= chord.onset < start + sheet.bar_ticks:
                symbol = symbol_of(chord)
                element = harmony(chord.chord, symbol, room="" if self._headed else _room(symbol))
                diagram = self._diagram_of(chord)
                if diagram is not None:
                    element.append(_frame(diagram))
                _offset(element, chord.onset - start)
                measure.append(element)
                numeral = _words(measure, str(chord.numeral), below=True)
                _offset(numeral, chord.onset - start)
        if number == sheet.bars:
            _words(measure, "head", bold=True)

    def _diagram_of(self, chord: PlannedChord) -> Diagram | None:
        """The first grip of a chord, which may be struck before it."""
        early, symbol = chord.onset - TICKS_PER_QUARTER, symbol_of(chord)
        own = (one for tick, one in self._diagrams if early < tick < chord.end and one.symbol == symbol)
        return next(own, None)

    def _tempo(self, measure: Element) -> None:
        sheet = self._sheet
        _words(measure, sheet.feel, bold=True)
        direction = SubElement(measure, "direction", placement="above")
        metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
        SubElement(metronome, "beat-unit").text = "quarter"
        SubElement(metronome, "per-minute").text = f"{sheet.tempo:g}"
        sound = SubElement(direction, "sound", tempo=f"{sheet.tempo:g}")
        swing = SubElement(sound, "swing")
        if sheet.swing == 1:
            SubElement(swing, "straight")
        else:
            SubElement(swing, "first").text = str(sheet.swing.numerator)
            SubElement(swing, "second").text = str(sheet.swing.denominator)
            SubElement(swing, "swing-type").text = "eighth"

    # --- notes --------------------------------------------------------------------------------------

    def _event(self, measure: Element, event: Event, voice: Voice) -> None:
        on_tab = self._part.clefs[voice.staff - 1] is Clef.TAB
        if not event.heads:
            self._rest(measure, event, voice, hidden=on_tab or event.hidden)
            return
        heads = [head for head in event.heads if not (on_tab and head.tied_from)]
        if not heads:
            self._rest(measure, event, voice, hidden=True)
            return
        for index, head in enumerate(event.grace):
            self._note(measure, event, head, voice, chord=index > 0, grace=True)
        for index, head in enumerate(heads):
            self._note(measure, event, head, voice, chord=index > 0)

    def _rest(self, measure: Element, event: Event, voice: Voice, *, hidden: bool) -> None:
        note = SubElement(measure, "note", {"print-object": "no"} if hidden else {})
        SubElement(note, "rest", {"measure": "yes"} if event.whole_bar else {})
        SubElement(note, "duration").text = str(event.value.ticks)
        SubElement(note, "voice").text = str(voice.number)
        if not event.whole_bar:
            _value(note, event)
        if len(self._part.clefs) > 1:
            SubElement(note, "staff").text = str(voice.staff)
        if event.group:
            _tuplet(SubElement(note, "notations"), event, hidden=hidden)

    def _note(
        self,
        measure: Element,
        event: Event,
        head: Head,
        voice: Voice,
        *,
        chord: bool,
        grace: bool = False,
    ) -> None:
        on_tab = self._part.clefs[voice.staff - 1] is Clef.TAB
        note = SubElement(measure, "note")
        if grace:
            SubElement(note, "grace", slash="yes")
        if chord:
            SubElement(note, "chord")
        pitch = SubElement(note, "pitch")
        SubElement(pitch, "step").text = head.tone.letter
        if head.tone.alter:
            SubElement(pitch, "alter").text = str(head.tone.alter)
        SubElement(pitch, "octave").text = str(head.octave)
        if not grace:
            SubElement(note, "duration").text = str(event.value.ticks)
            if not on_tab:
                _ties(note, "tie", head)
        SubElement(note, "voice").text = str(voice.number)
        if grace:
            SubElement(note, "type").text = "eighth"
        else:
            _value(note, event)
        if head.shown:
            _accidental(note, head)
        stem = "none" if on_tab else "up" if grace else voice.stem
        if stem:
            SubElement(note, "stem").text = stem
        if len(self._part.clefs) > 1:
            SubElement(note, "staff").text = str(voice.staff)
        if event.beam and not chord and not grace and not on_tab:
            SubElement(note, "beam", number="1").text = event.beam
        self._notations(note, event, head, on_tab=on_tab, chord=chord, grace=grace)

    def _notations(
        self, note: Element, event: Event, head: Head, *, on_tab: bool, chord: bool, grace: bool
    ) -> None:
        notations = Element("notations")
        if not grace and not on_tab:
            _ties(notations, "tied", head)
        if event.group and not chord and not grace:
            _tuplet(notations, event, hidden=on_tab)
        if head.string is not None and head.fret is not None:
            technical = Element("technical")
            in_a_grip = len(event.heads) > 1 and not self._headed
            if head.finger and not on_tab and not head.tied_from and not in_a_grip:
                SubElement(technical, "fingering").text = "T" if head.finger == THUMB else str(head.finger)
            SubElement(technical, "string").text = str(head.string)
            SubElement(technical, "fret").text = str(head.fret)
            notations.append(technical)
        if not on_tab and not grace and not chord:
            if event.accent:
                SubElement(SubElement(notations, "articulations"), "accent")
            if event.fermata:
                SubElement(notations, "fermata", type="upright")
        if event.rolled and not on_tab and not grace:
            SubElement(notations, "arpeggiate")
        if len(notations):
            note.append(notations)


def _room(symbol: str) -> str:
    """Room behind a chord name for an engraver whose letters, flats above all, are narrower than a page's."""
    return "m" * (2 + symbol.count("b") + symbol.count("#"))


def _value(note: Element, event: Event) -> None:
    SubElement(note, "type").text = event.value.kind
    for _ in range(event.value.dots):
        SubElement(note, "dot")
    if event.value.triplet:
        change = SubElement(note, "time-modification")
        SubElement(change, "actual-notes").text = "3"
        SubElement(change, "normal-notes").text = "2"
        SubElement(change, "normal-type").text = "eighth"


def _accidental(note: Element, head: Head) -> None:
    accidental = Element("accidental")
    accidental.text = _ACCIDENTALS[head.tone.alter]
    after = [child for child in note if child.tag in {"type", "dot"}]
    note.insert(list(note).index(after[-1]) + 1, accidental)


def _ties(parent: Element, name: str, head: Head) -> None:
    if head.tied_from:
        SubElement(parent, name, type="stop")
    if head.tied_to:
        SubElement(parent, name, type="start")


def _tuplet(notations: Element, event: Event, *, hidden: bool) -> None:
    signs = {"bracket": "no", "show-number": "none"} if hidden else {"bracket": "yes"}
    SubElement(notations, "tuplet", {"type": event.group, **signs})


def _words(
    measure: Element, text: str, *, below: bool = False, italic: bool = False, bold: bool = False
) -> Element:
    direction = SubElement(measure, "direction", placement="below" if below else "above")
    style = {"font-style": "italic"} if italic else {"font-weight": "bold"} if bold else {}
    SubElement(SubElement(direction, "direction-type"), "words", style).text = text
    return direction


def _offset(element: Element, ticks: int) -> None:
    if ticks:
        SubElement(element, "offset").text = str(ticks)


def _frame(diagram: Diagram) -> Element:
    frame = Element("frame")
    SubElement(frame, "frame-strings").text = str(diagram.strings)
    SubElement(frame, "frame-frets").text = str(diagram.rows)
    if diagram.first_fret > 1:
        SubElement(frame, "first-fret").text = str(diagram.first_fret)
    barre = diagram.barre
    notes = [*diagram.dots, *((string, 0, None) for string in diagram.open_strings)]
    for string, fret, finger in sorted(notes, key=lambda dot: -dot[0]):
        note = SubElement(frame, "frame-note")
        SubElement(note, "string").text = str(string)
        SubElement(note, "fret").text = str(fret)
        if finger:
            SubElement(note, "fingering").text = str(finger)
        if barre is not None and fret == barre[0] and string in barre[1:]:
            SubElement(note, "barre", type="start" if string == barre[1] else "stop")
    return frame
