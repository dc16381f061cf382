"""Intros led by foot, over real JACK: tapped in, left at a nod, held, out of time, played again, ended early.

Times are the server's frames, as an independent client recorded them: at 240 a beat is 12000 frames. What
belongs in the intro's bars is taken from its MIDI file, as mido reads it.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import mido
import pytest

RATE = 48000
BEAT = RATE // 4
BAR = 4 * BEAT
FEW_MS = 5 * RATE // 1000
CLICK = 9
"""Channel of the click, from 0."""
SHORT, LONG = "one-bar", "three-six-two-five"
BARS = {SHORT: 2, LONG: 8}
"""Bars to the head at 240; the files are held to it."""


class Note(NamedTuple):
    """A note message at a frame."""

    frame: int
    on: bool
    channel: int
    pitch: int

    def later(self, frames: int) -> Note:
        """The same, so many frames later."""
        return self._replace(frame=self.frame + frames)


class Led(NamedTuple):
    """An evening with one tune, and what was heard of it."""

    evening: Any
    kit: Any

    def notes(self, *, click: bool = False) -> list[Note]:
        """Every note message so far: of the click, or of all others."""
        heard = self.kit.messages(self.evening.notes())
        return [Note(*message) for message in heard if (message.channel == CLICK) is click]

    def struck(self) -> list[int]:
        """Frames of the note-ons so far, without the click."""
        return [note.frame for note in self.notes() if note.on]

    def ons_from(self, frame: int) -> list[Note]:
        """Note-ons, counted from a frame."""
        return [note.later(-frame) for note in self.notes() if note.on]

    def downbeat(self) -> int:
        """Where the intro begins, from four clicks."""
        clicks = [note.frame for note in self.notes(click=True) if note.on]
        return int(self.evening.skips().first_click(clicks, BEAT)) + BAR

    def press(self) -> int:
        """A press; returns its frame."""
        return int(self.evening.press())

    def over(self) -> int:
        """The frame of the last off, once the head has come."""
        self.evening.wait_for("in the tune")
        time.sleep(0.2)
        return max(note.frame for note in self.notes() if not note.on)

    def lands(self, at: int, *, by: int = 0) -> int:
        """Checks the frame of the last off, once the head has come, and returns it."""
        over = int(self.over())
        assert abs(over - at) <= by or self.evening.skips().excuse(at), over - at
        return over

    def agrees(self, heard: Sequence[Note], written: Sequence[Note], at: int, *, by: int = 2) -> None:
        """Checks that the messages, counted from a frame, are the same, each within so many frames."""
        self.evening.skips().agree(
            [note.later(at) for note in heard], [note.later(at) for note in written], by=by
        )


@pytest.fixture
def led(
    kit: Any,
    jack_server: Any,
    make_recorder: Callable[[str], Any],
    tmp_path: Path,
    owed: Callable[[Any], dict[Any, int]],
) -> Iterator[Callable[[str, str], Led]]:
    """Begins an evening with one tune at 240; at its end nothing may be owed."""
    begun: list[Led] = []

    def begin(intro: str, leading: str) -> Led:
        tune = "title: Led, key: Bb, meter: 4/4, tempo: 240, feel: up-tempo-swing, first_chord: I"
        evening = kit.Evening(
            tmp_path,
            stage=make_recorder("stage"),
            listen=make_recorder("listen"),
            environ=jack_server.environ,
            rig=kit.CLICKING,
            tunes=f"title: Led by foot\ntunes:\n  - {{{tune}, intro: {intro}, {leading}}}\n",
        )
        begun.append(Led(evening, kit))
        evening.wait_for("ready: Led")
        time.sleep(0.1)
        return begun[-1]

    yield begin
    for one in begun:
        sounding = owed(one.evening.listen.events())
        one.evening.close()
        jack_server.killed_a_client()
        assert sounding == {}


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Any, str], mido.MidiFile]:
    """The file that `introit write` makes of an intro, with one bar of count-off; made once."""
    made: dict[str, mido.MidiFile] = {}

    def write(kit: Any, intro: str) -> mido.MidiFile:
        if intro not in made:
            how = ("--tempo", "240", "--feel", "up-tempo-swing", "--key", "Bb", "--count-off", "1")
            path = kit.write_file(tmp_path_factory.mktemp("written"), dict(os.environ), intro, *how)
            made[intro] = mido.MidiFile(path)
            assert head_of(made[intro]) == BARS[intro] * BAR
        return made[intro]

    return write


def frame_of(file: mido.MidiFile, tick: int) -> int:
    """The frame of a file's tick, from the intro's first downbeat."""
    beats: float = tick / file.ticks_per_beat
    return round(beats * BEAT) - BAR


def head_of(file: mido.MidiFile) -> int:
    """The frame of the head's downbeat in a file."""
    return next(frame for frame, text in markers(file) if text == "head")


def markers(file: mido.MidiFile) -> list[tuple[int, str]]:
    """The markers of a file at their frames."""
    found = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "marker":
                found.append((frame_of(file, tick), message.text))
    return found


def notes_in(kit: Any, file: mido.MidiFile) -> list[Note]:
    """Note messages of a file, from the intro's first downbeat."""
    found = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type in {"note_on", "note_off"} and track.name in kit.PARTS:
                on = message.type == "note_on" and message.velocity > 0
                found.append(Note(frame_of(file, tick), on, kit.PARTS[track.name], message.note))
    return found


def ons_in(kit: Any, file: mido.MidiFile) -> list[Note]:
    """The note-ons among them."""
    return [note for note in notes_in(kit, file) if note.on]


def tap(one: Led, *places: float) -> int:
    """Taps at so many beats from the first, whose frame is returned."""
    stage = one.evening.stage
    first = int(stage.frame()) + BEAT // 2
    downs = [first + round(place * BEAT) for place in places]
    messages = [(frame, one.kit.FOOT_DOWN) for frame in downs]
    messages += [(frame + BEAT // 4, one.kit.FOOT_UP) for frame in downs]
    stage.play(sorted(messages))
    return first


def wait_for_more(one: Led, known: int) -> int:
    """Waits for a note-on beyond those known; returns its frame."""
    one.evening.listen.wait_until(lambda _: len(one.struck()) > known)
    return one.struck()[known]


def rounds_with(pressed: int, downbeat: int) -> int:
    """How many rounds the short intro makes where the nod comes at a frame: that one is the last."""
    return 1 + (pressed - downbeat) // (BARS[SHORT] * BAR)


@pytest.mark.parametrize("fifth", [(), (3.9,)], ids=["four", "early fifth"])
def test_a_tapped_bar_sets_the_downbeat(
    led: Callable[[str, str], Led], kit: Any, written: Callable[[Any, str], Any], fifth: tuple[float, ...]
) -> None:
    one = led(SHORT, "count_off: tapped")
    first = tap(one, 0, 1, 2, 3, *fifth)
    one.over()
    heard = [note.later(-first - BAR) for note in one.notes()]
    in_file = notes_in(kit, written(kit, SHORT))
    begins = min(note.frame for note in in_file)
    late = min(note.frame for note in heard) - begins
    assert abs(late) <= FEW_MS or one.evening.skips().excuse(first + BAR + begins), late
    one.agrees(heard, in_file, first + BAR, by=BEAT // 8)  # the tempo is as exact as the server's clock was


def test_a_fifth_tap_is_no_nod(led: Callable[[str, str], Led]) -> None:
    one = led(SHORT, "count_off: tapped, vamp: true")
    first = tap(one, 0, 1, 2, 3, 4.05)
    one.evening.wait_for("vamping")
    time.sleep((BARS[SHORT] + 0.5) * BAR / RATE)  # it goes round, into the second round
    rounds = rounds_with(one.press(), first + BAR)
    assert rounds >= 2
    one.lands(first + BAR + rounds * BARS[SHORT] * BAR, by=BEAT // 8)


def test_a_vamp_goes_round_until_the_nod_and_lands_on_its_bar_line(
    led: Callable[[str, str], Led], kit: Any, written: Callable[[Any, str], Any]
) -> None:
    one = led(SHORT, "count_off: 1, vamp: true")
    one.press()
    one.evening.wait_for("vamping")
    time.sleep((BARS[SHORT] + 0.5) * BAR / RATE)  # into the second round
    rounds = rounds_with(one.press(), one.downbeat())
    assert rounds >= 2
    whole = BARS[SHORT] * BAR
    one.lands(one.downbeat() + rounds * whole)
    once = ons_in(kit, written(kit, SHORT))
    expected = [note.later(turn * whole) for turn in range(rounds) for note in once]
    one.agrees(one.ons_from(one.downbeat()), expected, one.downbeat())


def test_a_held_dominant_rings_until_the_press(led: Callable[[str, str], Led]) -> None:
    one = led(SHORT, "hold: true")
    one.press()
    one.evening.wait_for("waiting")
    time.sleep(0.2)
    before = one.notes()
    time.sleep(1.0)
    assert one.notes() == before
    ons = [note for note in before if note.on]
    assert 2 * len(ons) > len(before)  # it rings
    pressed = one.press()
    late = one.over() - pressed
    print(f"press to the last off: {late} frames")
    assert 0 <= late <= 2 * one.evening.listen.period
    assert len(one.struck()) == len(ons)


def test_out_of_time_each_press_plays_a_chord(
    led: Callable[[str, str], Led], kit: Any, written: Callable[[Any, str], Any]
) -> None:
    one = led(LONG, "colla_voce: true")
    file = written(kit, LONG)
    chords = [text for _, text in markers(file) if text != "head"]
    one.press()
    one.evening.wait_for("out of time")
    for number in range(1, len(chords) + 1):
        time.sleep(BAR / RATE + 0.02)  # all that belongs to the chord has been said
        before = one.struck()
        time.sleep(0.05)
        assert one.struck() == before, "nothing comes while the foot is still"
        pressed = one.press()
        if number < len(chords):
            assert pressed <= wait_for_more(one, len(before))
    assert 0 <= one.over() - pressed <= 2 * one.evening.listen.period


def test_time_is_kept_by_itself_from_the_place_named(
    led: Callable[[str, str], Led], kit: Any, written: Callable[[Any, str], Any]
) -> None:
    """The press that plays the first chord from there starts the clock; the head comes with no other."""
    one = led(LONG, "colla_voce: true, in_time: bar 3")
    chords = [frame for frame, text in markers(written(kit, LONG)) if text != "head"]
    free = [frame for frame in chords if frame < 2 * BAR]
    assert 0 < len(free) < len(chords)
    one.press()
    one.evening.wait_for("out of time")
    for _ in free:
        time.sleep(BAR / RATE + 0.02)  # all that belongs to the chord has been said
        before = one.struck()
        pressed = one.press()
        assert pressed <= wait_for_more(one, len(before))
    one.evening.wait_for("playing")
    whole = (BARS[LONG] - 2) * BAR
    one.lands(pressed + whole, by=2 * one.evening.listen.period + FEW_MS)


def test_once_more_is_another_round(
    led: Callable[[str, str], Led], kit: Any, written: Callable[[Any, str], Any]
) -> None:
    one = led(SHORT, "count_off: 1, once_more: true")
    one.press()
    one.evening.wait_for("playing")
    time.sleep(0.5)
    one.press()
    one.evening.wait_for("once more")
    whole = BARS[SHORT] * BAR
    begun = one.downbeat()
    one.lands(begun + 2 * whole)
    once = ons_in(kit, written(kit, SHORT))
    one.agrees(one.ons_from(begun), once + [note.later(whole) for note in once], begun)


def test_finishing_early_leaves_for_the_last_bar(
    led: Callable[[str, str], Led], kit: Any, written: Callable[[Any, str], Any]
) -> None:
    one = led(LONG, "count_off: 1, once_more: true")
    one.press()
    one.evening.wait_for("playing")
    time.sleep(0.4)
    one.press()
    time.sleep(0.1)
    one.press()
    one.evening.wait_for("to the last bar")
    begun = one.downbeat()
    one.lands(begun + 2 * BAR)  # the bar it was in, and the last
    left_out = (BARS[LONG] - 2) * BAR
    last_bar = [note.later(-left_out) for note in ons_in(kit, written(kit, LONG))]
    in_second = [note for note in one.ons_from(begun) if note.frame >= BAR]
    one.agrees(in_second, [note for note in last_bar if note.frame >= BAR], begun)
