"""Bell, by what it is: neighbours two at a time from one grip with a closed second, ringing on."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, pairwise
from typing import Any

import pytest

from introit.arrange.plan import PlannedChord
from introit.arrange.score import Touch
from introit.arrange.textures.bell import last_top
from introit.arrange.voicing.bells import bell_candidates
from introit.arrange.voicing.material import material_of
from introit.arrange.voicing.wish import Wish
from introit.theory.chord import chord_of
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.grip import Grip
from introit.theory.holding import FrettingHand
from introit.theory.key import Key, Mode, keys
from introit.theory.limits import is_muddy
from introit.theory.numeral import Numeral
from introit.theory.plucking import Plucking

MAJOR = tuple(str(key) for key in keys(Mode.MAJOR))
PROGRESSIONS = (
    "Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii9 V13",
    "#ivø7 iv6 | iii7 bIII°7 | ii7 | bIImaj7",
    "Imaj9 | I6/9 | IVmaj7 bVII7 | V9sus4 V7",
)
NUMERALS = (
    "Imaj7",
    "I6/9",
    "ii7",
    "iii7",
    "V7",
    "V13",
    "V7alt",
    "V9sus4",
    "iv6",
    "iiø7",
    "bIII°7",
    "bIImaj7",
)
LINE_UPS = ("with bass", "with keys", "solo guitar")
BEAT = 960


def grips(numeral: str, key: str, neck: Fretboard | None, **wish: Any) -> list[tuple[Any, float]]:
    read = Numeral.from_text(numeral)
    planned = PlannedChord(0, BEAT, read, chord_of(read, Key.from_text(key)), None)
    asked: dict[str, Any] = {"ceiling": 77, "floor": 48, "kind": "bell", "most_voices": 5} | wish
    return bell_candidates(material_of(planned), Wish(**asked), neck)


@pytest.mark.parametrize(
    ("numeral", "key"), [(one, key) for at, one in enumerate(NUMERALS) for key in MAJOR[at % 3 :: 3]]
)
def test_each_grip_is_held_and_clear_and_has_a_second_across_neighbouring_strings(
    numeral: str, key: str
) -> None:
    """Low-interval limits: [LI-A], [LI-B]; the rest is what the word bell means here, no source."""
    neck = Fretboard()
    hand = FrettingHand(neck)
    found = grips(numeral, key, neck, open_strings=frozenset({4, 9, 11}))
    assert found
    chord = chord_of(Numeral.from_text(numeral), Key.from_text(key))
    members = {tone.pitch_class for tone in (*chord.required, *chord.optional)}
    for voicing, _ in found:
        pitches, places = voicing.pitches, voicing.places
        assert voicing.family == "bell"
        assert 4 <= len(pitches) <= 5
        assert [neck.pitch(*place) for place in places] == list(pitches) == sorted(set(pitches))
        assert 48 <= pitches[0] <= pitches[-1] <= 77
        assert {pitch % 12 for pitch in pitches} <= members
        assert {tone.pitch_class for tone in chord.guide_tones} <= {pitch % 12 for pitch in pitches}
        assert not is_muddy(pitches)
        assert all(high - low not in (13, 25, 37) for low, high in combinations(pitches, 2))
        assert isinstance(hand.hold(Grip.from_places(places)), Fingering)
        assert any(
            high - low <= 2 and abs(one.string - other.string) == 1
            for (low, one), (high, other) in pairwise(zip(pitches, places, strict=True))
        )


def test_the_higher_note_of_a_second_may_lie_on_the_lower_string() -> None:
    """Beside an open string: F#4 on the second string, at its seventh fret, over the open first, E4."""
    crossed = [
        voicing
        for voicing, _ in grips("Imaj7", "G", Fretboard(), open_strings=frozenset({4, 11}))
        for (low, one), (high, other) in pairwise(zip(voicing.pitches, voicing.places, strict=True))
        if high - low <= 2 and other.string > one.string
    ]
    assert crossed


def test_open_strings_only_where_the_wish_has_them() -> None:
    def open_pitches(wish: frozenset[int]) -> set[int]:
        found = grips("Imaj7", "C", Fretboard(), open_strings=wish)
        return {
            pitch
            for voicing, _ in found
            for pitch, place in zip(voicing.pitches, voicing.places, strict=True)
            if place.fret == 0
        }

    assert open_pitches(frozenset()) == set()
    assert open_pitches(frozenset({4})) == {64}  # the first string, E4; the sixth is under the floor


@pytest.mark.parametrize("key", MAJOR)
def test_a_wish_is_kept(key: str) -> None:
    neck = Fretboard()
    tonic = Key.from_text(key).tonic.pitch_class
    for voicing, _ in grips("Imaj7", key, neck, floor=40, bass_in_grip=True):
        assert voicing.pitches[0] % 12 == tonic
        upper = voicing.pitches[1:]
        assert any(high - low <= 2 for low, high in pairwise(upper))  # the thumb has the bass
    for voicing, _ in grips("V13", key, neck, ceiling=72, floor=52, most_voices=4):
        assert len(voicing.pitches) == 4
        assert 52 <= voicing.pitches[0] <= voicing.pitches[-1] <= 72
    over = 72 + tonic % 5
    for voicing, _ in grips("ii7", key, neck, over=frozenset({over})):
        assert all(over - pitch not in (1, 13, 25) for pitch in voicing.pitches)


@pytest.mark.parametrize("tuning", [(35, 40, 45, 50, 55, 59, 64), (38, 45, 50, 54, 57, 62)])
def test_other_tunings_have_bells_too(tuning: tuple[int, ...]) -> None:
    neck = Fretboard(tuning)
    for numeral in NUMERALS:
        found = grips(numeral, "F", neck)
        assert found
        for voicing, _ in found:
            assert [neck.pitch(*place) for place in voicing.places] == list(voicing.pitches)


def test_no_room_no_bells() -> None:
    assert grips("Imaj7", "C", Fretboard(), floor=70) == []
    assert grips("Imaj7", "C", None, floor=72) == []


def test_on_keys_a_close_position_with_a_second() -> None:
    for numeral in NUMERALS:
        for voicing, _ in grips(numeral, "Ab", None):
            assert voicing.pitches[-1] - voicing.pitches[0] < 12
            assert any(high - low <= 2 for low, high in pairwise(voicing.pitches))


@pytest.mark.parametrize("meter", ["3/4", "4/4", "5/4"])
@pytest.mark.parametrize("line_up", LINE_UPS)
@pytest.mark.parametrize("harmony", PROGRESSIONS)
def test_two_neighbours_an_onset_each_ringing_to_the_change(
    lay_out: Callable[..., Any], harmony: str, line_up: str, meter: str
) -> None:
    for number, key in enumerate(MAJOR if meter == "4/4" else MAJOR[len(line_up) % 4 :: 4]):
        laid = lay_out("bell", harmony, key=key, line_up=line_up, meter=meter, tempo=60 + 12 * number)
        onsets = laid.by_onset()
        assert {unit.start for unit in laid.scene.units} <= set(onsets)
        for onset, pair in onsets.items():
            unit = laid.scene.unit_at(onset)
            heard = laid.heard(unit)
            low, high = (note.pitch for note in pair)
            assert heard.index(high) - heard.index(low) == 1
            if line_up != "with keys":
                assert pair[0].string != pair[1].string
            assert {note.touch for note in pair} == {Touch.PLUCKED}
        for note in laid.notes:
            again = [other.onset for other in laid.notes if other.pitch == note.pitch]
            ends = {laid.chord_end(note.onset), *(onset for onset in again if onset > note.onset)}
            # A grip that a second bar of the chord changes is let go at its bar line.
            unit = laid.scene.unit_at(note.onset)
            same = laid.work.voicings[unit : unit + 2]
            if len(set(same)) == 2:
                ends.add(laid.scene.units[unit].end)
            assert note.end == min(ends)


@pytest.mark.parametrize("line_up", LINE_UPS)
def test_every_grip_of_a_bell_passage_has_a_second(lay_out: Callable[..., Any], line_up: str) -> None:
    for harmony in PROGRESSIONS:
        for key in MAJOR:
            laid = lay_out("bell", harmony, key=key, line_up=line_up)
            for unit in range(len(laid.scene.units)):
                assert laid.work.voicings[unit].family == "bell"
                assert any(high - low <= 2 for low, high in pairwise(laid.heard(unit)))


def test_open_strings_ring_only_in_what_both_chords_have(lay_out: Callable[..., Any]) -> None:
    rung = 0
    for harmony in PROGRESSIONS:
        for key in MAJOR:
            laid = lay_out("bell", harmony, key=key)
            chords = [laid.scene.chord_of(unit).chord for unit in range(len(laid.scene.units))]
            for unit, following in enumerate([*chords[1:], laid.scene.plan.head]):
                voicing = laid.work.voicings[unit]
                for pitch, place in zip(voicing.pitches, voicing.places, strict=True):
                    if place.fret == 0:
                        rung += 1
                        for chord in (chords[unit], following):
                            tones = (*chord.required, *chord.optional)
                            assert pitch % 12 in {tone.pitch_class for tone in tones}
    assert rung


def test_a_pick_finds_its_pairs_on_neighbouring_strings(lay_out: Callable[..., Any]) -> None:
    """A pick sweeps: what lies between two strings would sound with them (theory.plucking)."""
    for harmony in PROGRESSIONS:
        for key in MAJOR[::3]:
            laid = lay_out("bell", harmony, key=key, plucking=Plucking.PICK)
            for low, high in laid.by_onset().values():
                assert abs(low.string - high.string) == 1


def test_waves_turn_and_a_passage_ends_on_its_highest_pair(lay_out: Callable[..., Any]) -> None:
    for key in MAJOR:
        laid = lay_out("bell", PROGRESSIONS[0], key=key)
        onsets = laid.by_onset()
        first = [onsets[unit.start][1].pitch for unit in laid.scene.units]
        then = [onsets[unit.start + BEAT][1].pitch for unit in laid.scene.units]
        directions = [after > before for before, after in zip(first, then, strict=True)]
        assert directions[-1]
        assert all(one != other for one, other in pairwise(directions[:-1]))
        assert onsets[max(onsets)][1].pitch == laid.heard(len(first) - 1)[-1]


def test_the_last_wave_comes_to_rest_where_there_is_room(lay_out: Callable[..., Any]) -> None:
    """It is half as fast as the others, in time for a peak late in the passage (judgement, no source)."""
    slow = lay_out("bell", "ii9 | V13 | Imaj9", tempo=60.0)
    first, *_, last = slow.scene.units
    within = {
        unit: sorted(at for at in slow.by_onset() if unit.start <= at < unit.end) for unit in (first, last)
    }
    assert within[first][1] - within[first][0] == BEAT // 2
    assert {later - earlier for earlier, later in pairwise(within[last])} == {BEAT}
    voices = len(slow.heard(len(slow.scene.units) - 1))
    assert last_top(slow.scene, len(slow.scene.units) - 1, voices) == within[last][-1]
    short = lay_out("bell", "Imaj9 | Imaj7 vi7 ii7 V13", tempo=60.0)  # a beat has no room for it
    start = short.scene.units[-1].start
    onsets = sorted(at for at in short.by_onset() if at >= start)
    assert onsets == [start, start + BEAT // 2]
    assert last_top(short.scene, len(short.scene.units) - 1, len(short.heard(-1))) == onsets[-1]


@pytest.mark.parametrize("key", MAJOR)
def test_a_grip_reaches_the_top_that_a_peak_asks_for(key: str) -> None:
    neck = Fretboard()
    for lowest in (69, 72):
        (best, _), *_ = grips("ii9", key, neck, floor=52, lowest_top=lowest)
        assert best.pitches[-1] >= lowest - 1


def test_quarters_at_a_medium_tempo_and_eighths_where_it_is_slow(lay_out: Callable[..., Any]) -> None:
    medium, slow = (lay_out("bell", "ii7 V7 | Imaj7", tempo=tempo).by_onset() for tempo in (132.0, 60.0))
    assert min(later - earlier for earlier, later in pairwise(sorted(medium))) == BEAT
    assert min(later - earlier for earlier, later in pairwise(sorted(slow))) == BEAT // 2


def test_the_pickup_is_clear(lay_out: Callable[..., Any]) -> None:
    laid = lay_out("bell", "ii7 V7 | Imaj7 | ii7 | V7", pickup="3/2")
    clear_from = laid.scene.plan.head_tick - 3 * BEAT // 2
    assert max(note.end for note in laid.notes) == clear_from
    inside = lay_out("bell", "ii7 V7 | ii7 V7", pickup="2")  # a chord that begins in the pickup is told once
    last = [note for note in inside.notes if note.onset >= inside.scene.plan.head_tick - 2 * BEAT]
    assert len(last) == 2


def test_a_seed_brings_the_same_bells_back_and_another_one_others(lay_out: Callable[..., Any]) -> None:
    def notes(seed: int) -> list[Any]:
        made: list[Any] = lay_out("bell", PROGRESSIONS[2], key="D", seed=seed).notes
        return made

    assert notes(3) == notes(3)
    assert len({tuple(notes(seed)) for seed in range(8)}) > 2
