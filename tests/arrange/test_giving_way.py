"""Who lets go for whom: the comp for an early bass note, that for the comp, the hand before a jump."""

from __future__ import annotations

from itertools import pairwise

from introit.arrange.giving_way import breathed, cleared
from introit.arrange.line_up import LineUp, Stage
from introit.arrange.score import BASS, COMP, PEDAL, ScoreNote
from introit.arrange.shifting import FREE_SHIFT, position_of
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Place
from introit.theory.grip import Grip
from introit.theory.holding import hand_on

BEAT = 960
BAR = 4 * BEAT
FIFTH = 7
STAGE = Stage(LineUp.WITH_BASS)


def note(beat: float, beats: float, part: int, pitch: int, *, chord: float = 0) -> ScoreNote:
    return ScoreNote(round(beat * BEAT), round(beats * BEAT), round(chord * BEAT), part, pitch)


def on_neck(beat: float, beats: float, pitch: int, place: tuple[int, int, int]) -> ScoreNote:
    string, fret, finger = place
    made = note(beat, beats, COMP, pitch)
    return made._replace(string=string, fret=fret, finger=finger)


def test_the_comp_lets_go_where_the_next_chord_s_bass_comes_too_near_under_it() -> None:
    """D3 under E3 is below the limit of a whole step, Eb3 ([LI-A], [LI-B]), and nearer than a fifth."""
    comp, bass = note(0, 4, COMP, 52), note(3.5, 1, BASS, 50, chord=4)
    assert cleared([comp, bass], distance=FIFTH) == [comp._replace(length=round(3.5 * BEAT)), bass]


def test_a_bass_note_far_enough_below_changes_nothing() -> None:
    notes = [note(0, 4, COMP, 60), note(3.5, 1, BASS, 38, chord=4)]
    assert cleared(notes, distance=FIFTH) == notes


def test_the_bass_of_the_same_chord_changes_nothing() -> None:
    notes = [note(0, 4, COMP, 52), note(2, 1, BASS, 50)]
    assert cleared(notes, distance=FIFTH) == notes


def test_an_early_bass_note_waits_where_the_comp_strikes_the_old_chord_over_it() -> None:
    comp, bass = note(3.5, 0.5, COMP, 52), note(3.5, 1.5, BASS, 50, chord=4)
    waiting = cleared([comp, bass], distance=FIFTH)
    assert waiting == [comp, bass._replace(onset=4 * BEAT, length=BEAT)]
    assert waiting[1].end == bass.end


def test_an_early_bass_note_that_comes_again_with_its_chord_is_left_out_there() -> None:
    comp = note(3, 1, COMP, 52)
    early, root = note(3, 1, BASS, 38, chord=4), note(4, 1, BASS, 38, chord=4)
    assert cleared([comp, early, root], distance=FIFTH) == [comp, root]
    assert cleared([comp, early], distance=FIFTH) == [comp, early]  # the only one that the chord has


def test_an_old_bass_note_ends_where_the_comp_strikes_the_coming_chord_early_and_it_would_be_mud() -> None:
    """Db2 under Eb3: a major ninth's lower note is Eb2 at the lowest ([LI-A], [LI-B])."""
    pedal, early = note(0, 2, PEDAL, 37), note(1.5, 1, COMP, 51, chord=2)
    assert cleared([pedal, early], distance=FIFTH) == [note(0, 1.5, PEDAL, 37), early]
    ninth = note(1.5, 1, COMP, 62, chord=2)  # D4 over Db2: a minor ninth and an octave
    assert cleared([pedal, ninth], distance=FIFTH) == [note(0, 1.5, PEDAL, 37), ninth]
    clear = note(1.5, 1, COMP, 61, chord=2)
    assert cleared([pedal, clear], distance=FIFTH) == [pedal, clear]


def test_an_old_bass_note_that_begins_with_it_is_left_out_where_the_chord_has_its_own() -> None:
    late, early = note(1.5, 0.5, BASS, 33), note(1.5, 1, COMP, 48, chord=2)
    own = note(2, 1, BASS, 28, chord=2)
    assert cleared([late, early, own], distance=FIFTH) == [early, own]


def test_what_rings_is_let_go_an_eighth_before_a_jump() -> None:
    low, high = on_neck(0, 2, 60, (2, 1, 1)), on_neck(2, 2, 72, (2, 13, 1))
    first, second = sorted(breathed([low, high], STAGE, bar_ticks=BAR))
    assert first == low._replace(length=round(1.5 * BEAT))
    assert second == high


def test_a_short_shift_needs_no_rest() -> None:
    notes = [on_neck(0, 2, 60, (2, 1, 1)), on_neck(2, 2, 64, (2, 1 + FREE_SHIFT, 1))]
    assert sorted(breathed(notes, STAGE, bar_ticks=BAR)) == notes


def test_where_there_is_no_time_the_same_note_is_taken_near_the_hand() -> None:
    """C5 lies at the thirteenth fret of string 2, and at the eighth of string 1."""
    before, after = on_neck(0, 0.5, 67, (2, 8, 1)), on_neck(0.5, 1, 72, (2, 13, 1))
    first, second = sorted(breathed([before, after], STAGE, bar_ticks=BAR))
    assert first == before
    assert (second.string, second.fret) == (1, 8)
    assert abs(position_of([second]) - position_of([before])) <= FREE_SHIFT


def test_where_one_note_taken_near_leads_into_a_leap_all_are_put_anew() -> None:
    """F5 lies at the thirteenth fret at the lowest: the two before it have to go up the neck by degrees."""
    line = [(65, 2, 6), (69, 1, 5), (73, 1, 9), (77, 2, 18)]
    notes = [on_neck(at / 2, 0.5, pitch, (string, fret, 1)) for at, (pitch, string, fret) in enumerate(line)]
    played = sorted(breathed(notes, STAGE, bar_ticks=BAR))
    assert [one.pitch for one in played] == [pitch for pitch, *_ in line]
    positions = [position_of([one]) for one in played]
    assert all(abs(after - before) <= FREE_SHIFT for before, after in pairwise(positions))


def test_a_note_taken_near_must_be_held_with_what_rings_on() -> None:
    """E4 and G#4 fit the hand at the fourth fret, but not with F#3 at the fourteenth, which joins them."""
    before = [on_neck(0, 4, 66, (2, 7, 1)), on_neck(3.5, 0.5, 61, (4, 11, 4))]
    pair = [on_neck(4, 4, 64, (4, 14, 4)), on_neck(4, 4, 68, (3, 13, 2))]
    after = [on_neck(4.5, 3.5, 54, (6, 14, 3)), on_neck(4.5, 3.5, 56, (5, 11, 1))]
    played = sorted(breathed([*before, *pair, *after], STAGE, bar_ticks=BAR))
    sounding = [one for one in played if one.onset <= 4.5 * BEAT < one.end]
    grip = Grip.from_places([Place(one.string or 0, one.fret or 0) for one in sounding])
    assert isinstance(hand_on(STAGE.fretboard).hold(grip), Fingering)


def test_a_string_never_has_two_notes_at_once() -> None:
    notes = [on_neck(0, 2, 57, (3, 2, 1)), on_neck(1, 1, 62, (3, 7, 4))]
    low, high = sorted(breathed(notes, STAGE, bar_ticks=BAR))
    assert low.string != high.string or low.end <= high.onset


def test_notes_without_a_place_are_left_alone() -> None:
    notes = [note(0, 2, COMP, 60), note(2, 2, COMP, 84)]
    assert breathed(notes, STAGE, bar_ticks=BAR) == notes


def test_the_position_is_told_by_the_lowest_finger() -> None:
    assert position_of([]) == 0
    assert position_of([on_neck(0, 1, 64, (1, 0, 0))]) == 0
    assert position_of([on_neck(0, 1, 69, (1, 5, 4)), on_neck(0, 1, 62, (2, 3, 2))]) == 2
