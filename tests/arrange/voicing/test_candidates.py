from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest

from introit.arrange.line_up import SEATS, LineUp
from introit.arrange.voicing.board import Board
from introit.arrange.voicing.choice import MOST_CANDIDATES, candidates_for
from introit.arrange.voicing.material import material_of
from introit.arrange.voicing.wish import Wish
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Fretboard
from introit.theory.grip import Grip
from introit.theory.hand import Hand
from introit.theory.holding import FrettingHand, hand_on
from introit.theory.limits import is_muddy
from introit.theory.plucking import Plucking, why_not_plucked
from introit.theory.quality import QUALITIES

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
DROP_D = (38, 45, 50, 55, 59, 64)
SEVEN = (35, 40, 45, 50, 55, 59, 64)
NECKS = [
    Fretboard(),
    Fretboard(tuning=DROP_D),
    Fretboard(tuning=SEVEN),
    Fretboard(capo=3),
    Fretboard(highest_fret=12),
]
SYMBOLS = ("Cmaj7", "Dm9", "G7alt", "Bm7b5", "C6/9", "D7sus4", "Am7/D", "E")


def wish_of(line_up: LineUp, **fields: Any) -> Wish:
    seats = SEATS[line_up]
    return Wish(ceiling=77, floor=seats.lowest, bass_in_grip=seats.one_pair_of_hands, **fields)


def board_of(line_up: LineUp, neck: Fretboard | None = None, plucking: Plucking = Plucking.FINGERS) -> Board:
    return Board((neck or Fretboard()) if SEATS[line_up].comp_on == "guitar" else None, plucking)


@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_BASS, LineUp.WITH_KEYS])
@pytest.mark.parametrize("quality", sorted(QUALITIES))
def test_every_quality_on_every_root_has_clean_voicings(voice: Any, quality: str, line_up: LineUp) -> None:
    """Low-interval limits: [LI-A], [LI-B]; minor ninths: [TP1]. A trio asks what `with bass` asks."""
    wish = wish_of(line_up)
    for root in ROOTS:
        planned = voice.from_symbol(root + quality)
        chord, material = planned.chord, material_of(planned)
        found = candidates_for(material, wish, board_of(line_up)).voicings
        assert 1 <= len(found) <= MOST_CANDIDATES
        offered = {tone.pitch_class for tone in (*chord.required, *chord.optional)}
        for one in found:
            assert wish.floor <= one.bottom
            assert one.top <= wish.ceiling
            assert list(one.pitches) == sorted(set(one.pitches))
            assert {pitch % 12 for pitch in one.pitches} <= offered
            assert not is_muddy(one.pitches)
            if wish.bass_in_grip:
                assert one.bottom % 12 == chord.bass.pitch_class
            for low, high in combinations(one.pitches, 2):
                own = chord.is_dominant and low % 12 == chord.root.pitch_class
                assert high - low not in (13, 25, 37) or own


@pytest.mark.parametrize("quality", sorted(QUALITIES))
def test_the_first_of_them_have_both_guide_tones(voice: Any, quality: str) -> None:
    planned = voice.from_symbol("Eb" + quality)
    guides = {tone.pitch_class for tone in planned.chord.guide_tones}
    for wish, board in (
        (voice.with_bass, voice.fingers),
        (voice.with_bass, voice.keys),
        (voice.alone, voice.fingers),
    ):
        for one in candidates_for(material_of(planned), wish, board).voicings[:3]:
            assert guides <= {pitch % 12 for pitch in one.pitches} or one.family == "quartal"


@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_BASS, LineUp.WITH_KEYS])
@pytest.mark.parametrize("quality", ["m7b5", "m9b5", "m11b5"])
def test_the_first_of_a_half_diminished_chord_have_its_flat_five(
    voice: Any, quality: str, line_up: LineUp
) -> None:
    """The tone that parts it from a minor seventh comes before any other colour. So in its plain shells."""
    for root in ROOTS:
        planned = voice.from_symbol(root + quality)
        flat_five = (planned.chord.root.pitch_class + 6) % 12
        found = candidates_for(material_of(planned), wish_of(line_up), board_of(line_up))
        told = [flat_five in {pitch % 12 for pitch in one.pitches} for one in found.voicings]
        assert all(told[:8])
        assert all(one for one, plain in zip(told, found.plain, strict=True) if plain)


@pytest.mark.parametrize("neck", NECKS)
@pytest.mark.parametrize("plucking", list(Plucking))
@pytest.mark.parametrize("line_up", [LineUp.SOLO_GUITAR, LineUp.WITH_BASS])
def test_every_candidate_is_held_and_plucked(
    voice: Any, neck: Fretboard, plucking: Plucking, line_up: LineUp
) -> None:
    """By the hand's own judgement, asked anew of the places."""
    board = Board(neck, plucking)
    hand = FrettingHand(neck, Hand(damps=plucking is Plucking.PICK))
    for symbol in SYMBOLS:
        found = candidates_for(voice.material(symbol), wish_of(line_up), board).voicings
        assert found
        for one in found:
            assert [neck.pitch(*place) for place in one.places] == list(one.pitches)
            held = hand.hold(Grip.from_places(one.places, strings=neck.strings))
            assert isinstance(held, Fingering)
            assert why_not_plucked(held, plucking) == ""
            assert one.fingers == tuple(held.fingers[neck.strings - place.string] for place in one.places)
            assert [place.string for place in one.places] == sorted(
                (p.string for p in one.places), reverse=True
            )
            if line_up is LineUp.SOLO_GUITAR:
                assert one.places[0].string > neck.strings - 3


def test_fingers_sound_four_strings_and_a_pick_needs_no_gap_undamped(voice: Any) -> None:
    wish = voice.with_bass._replace(most_voices=6)
    with_fingers = candidates_for(voice.material("G13(b9)"), wish, voice.fingers).voicings
    assert max(len(one.pitches) for one in with_fingers) == 4
    for one in candidates_for(voice.material("Cmaj7"), voice.alone, voice.pick).voicings:
        strings = [place.string for place in one.places]
        gaps = set(range(strings[-1], strings[0])) - set(strings)
        stopped = {place.string for place in one.places if place.fret > 0}
        assert all(gap + 1 in stopped or gap - 1 in stopped for gap in gaps)


def test_an_open_string_of_drop_d_carries_the_bass(voice: Any) -> None:
    """With the floor at D2 the low string's open D is a bass note."""
    board = Board(Fretboard(tuning=DROP_D), Plucking.FINGERS)
    wish = Wish(ceiling=77, floor=38, bass_in_grip=True)
    low = candidates_for(voice.material("D6/9"), wish, board).voicings
    assert min(one.bottom for one in low) >= 38
    standard = candidates_for(voice.material("D6/9"), wish, voice.fingers).voicings
    assert {one.pitches for one in low} != {one.pitches for one in standard}


def test_a_capo_moves_the_frets_and_not_the_pitches(voice: Any) -> None:
    board = Board(Fretboard(capo=3), Plucking.FINGERS)
    for one in candidates_for(voice.material("Dm9"), voice.with_bass, board).voicings:
        for place, pitch in zip(one.places, one.pitches, strict=True):
            assert voice.fingers.neck.pitch(place.string, place.fret + 3) == pitch


def test_a_low_ceiling_gets_a_smaller_voicing_and_no_refusal(voice: Any) -> None:
    for ceiling in range(77, 53, -1):
        found = candidates_for(voice.material("G13"), Wish(ceiling=ceiling, floor=48), voice.fingers).voicings
        assert found
        assert all(one.bottom >= 48 and one.top <= ceiling for one in found)
    few = candidates_for(voice.material("G13"), Wish(ceiling=55, floor=48), voice.fingers).voicings
    assert max(len(one.pitches) for one in few) <= 3


def test_no_room_at_all_gives_none(voice: Any) -> None:
    assert candidates_for(voice.material("G13"), Wish(ceiling=47, floor=48), voice.keys).voicings == ()


def test_no_voice_lies_a_minor_ninth_under_the_melody(voice: Any) -> None:
    """[TP1]; the b9 over a dominant's own root excepted (memory)."""
    for melody in range(67, 82, 2):
        wish = voice.with_bass._replace(over=frozenset({melody}), ceiling=melody - 3)
        for symbol in ("Cmaj7", "Dm9", "G7alt", "Am7/D", "C6/9"):
            for board in (voice.fingers, voice.keys):
                first = candidates_for(voice.material(symbol), wish, board).voicings[:10]
                own = voice.material(symbol)
                for pitch in (pitch for one in first for pitch in one.pitches):
                    assert melody - pitch not in (13, 25, 37) or own.may_rub(pitch)


def test_a_guide_tone_gives_way_to_a_tonic_that_sings_over_it(voice: Any) -> None:
    """B under a held C, a minor ninth lower, is worse than no B: judgement, no source."""
    wish = voice.with_bass._replace(over=frozenset({72, 71}), ceiling=68)
    for one in candidates_for(voice.material("Cmaj7"), wish, voice.fingers).voicings[:10]:
        assert 59 not in one.pitches
        assert 58 not in one.pitches


@pytest.mark.parametrize("board_name", ["fingers", "keys"])
def test_the_top_that_is_asked_for_is_on_top(voice: Any, board_name: str) -> None:
    """Common tone: the tonic over Imaj7 (as I6/9), ii, V7sus4, vi."""
    board = getattr(voice, board_name)
    for symbol in ("C6/9", "Dm7", "G7sus4", "Am7", "Fmaj7"):
        wish = voice.with_bass._replace(top=frozenset({0}))
        first = candidates_for(voice.material(symbol), wish, board).voicings[:3]
        assert all(one.top % 12 == 0 for one in first)


def test_an_impossible_top_is_given_up_last(voice: Any) -> None:
    wish = voice.with_bass._replace(top=frozenset({6}))
    assert candidates_for(voice.material("Cmaj7"), wish, voice.keys).voicings


def test_preferred_families_come_first(voice: Any) -> None:
    for family in ("shell", "drop 2", "rootless", "quartal"):
        wish = voice.with_bass._replace(families=(family,))
        assert candidates_for(voice.material("Am7"), wish, voice.fingers).voicings[0].family == family


def test_most_voices_holds(voice: Any) -> None:
    for most in (3, 4, 6):
        wish = voice.with_bass._replace(most_voices=most)
        found = candidates_for(voice.material("G13(b9)"), wish, voice.keys).voicings
        assert max(len(one.pitches) for one in found) <= most
    assert max(len(one.pitches) for one in found) == 5


def test_tones_left_out_and_put_in_their_place(voice: Any) -> None:
    wish = voice.with_bass._replace(without=frozenset({11}), with_=frozenset({9}), top=frozenset({0}))
    first = candidates_for(voice.material("Cmaj7"), wish, voice.fingers).voicings[:5]
    assert all(11 not in {pitch % 12 for pitch in one.pitches} for one in first)
    assert 9 in {pitch % 12 for pitch in first[0].pitches}


def test_bells_are_bells(voice: Any) -> None:
    for board in (voice.fingers, voice.keys):
        found = candidates_for(voice.material("Dm9"), voice.with_bass._replace(kind="bell"), board)
        assert {one.family for one in found.voicings} == {"bell"}
        assert len(found.stops) == len(found.price) == len(found.voicings)
    assert found.positions.tolist() == [0] * len(found.voicings)


def test_twelve_keys_have_the_same_forms(voice: Any) -> None:
    """What is found for one root is found for all: on keys only the register differs."""
    wish = Wish(ceiling=88, floor=40)
    sets = []
    for root in ROOTS:
        material = voice.material(root + "m9")
        found = candidates_for(material, wish, voice.keys).voicings
        sets.append({(one.family, tuple((p - material.root) % 12 for p in one.pitches)) for one in found[:6]})
    assert all(one & sets[0] for one in sets)


def test_the_same_question_has_the_same_answer(voice: Any) -> None:
    one = candidates_for(voice.material("G13"), voice.with_bass, voice.fingers)
    assert (
        candidates_for(voice.material("G13"), voice.with_bass._replace(rest_before=True), voice.fingers)
        is one
    )


def test_a_hand_is_made_once_a_neck() -> None:
    assert hand_on(Fretboard()) is hand_on(Fretboard())
    assert hand_on(Fretboard(), damps=True) is not hand_on(Fretboard())
    assert hand_on(Fretboard(capo=2)) is not hand_on(Fretboard())
