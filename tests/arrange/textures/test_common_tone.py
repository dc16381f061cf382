"""Common tone, by what it is: the same note on top of every chord that can bear it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from introit.arrange.textures import TEXTURES
from introit.arrange.textures.bearing import Change, bearing
from introit.arrange.textures.common_tone import held_pitch
from introit.theory.chord import Chord, chord_of
from introit.theory.key import Key, Mode, keys
from introit.theory.numeral import Numeral
from introit.theory.pitch import Tone

MAJOR = tuple(str(key) for key in keys(Mode.MAJOR))
MINOR = tuple(str(key) for key in keys(Mode.MINOR))
PROGRESSIONS = (
    "Imaj7 vi7 | ii7 V7 | iii7 VI7 | ii9 V13",
    "#ivø7 iv6 | iii7 bIII°7 | ii7 | bIImaj7",
    "Imaj9 | I6/9 | IVmaj7 bVII7 | V9sus4 V7",
)
IN_MINOR = "i6/9 bVImaj7 | iiø7 V7(b9) | i6/9 | iiø7 V7alt"
LINE_UPS = ("with bass", "with keys", "solo guitar")
BEAT = 960


def named(numeral: str, key: str = "C") -> Chord:
    return chord_of(Numeral.from_text(numeral), Key.from_text(key))


def classes(*names: str) -> frozenset[int]:
    return frozenset(Tone.from_text(name).pitch_class for name in names)


# In C, with C on top. Imaj7 turns into I6/9, iii7 drops its fifth; the tritone substitute, the backdoor and
# ii7 have the note; a dominant's third lies a half step under it. Common practice, no source.
@pytest.mark.parametrize(
    ("numeral", "change"),
    [
        ("Imaj7", Change(classes("B"), classes("A"))),
        ("I6/9", Change()),
        ("iii7", Change(classes("B"))),
        ("IVmaj7", Change(classes("B"))),
        ("ii7", Change()),
        ("iv6", Change()),
        ("bVII7", Change()),
        ("bIImaj7", Change()),
        ("V9sus4", Change()),
        ("V7", None),
        ("V13", None),
    ],
)
def test_what_a_chord_gives_up_to_bear_the_tonic(numeral: str, change: Change | None) -> None:
    assert bearing(named(numeral))[0] == change


def test_a_bass_note_a_half_step_under_it_forbids_a_tone_unless_it_is_a_pedal_point() -> None:
    """F over Em7 lies a minor ninth over the bass: [TP1]; a dominant's own b9 may."""
    assert bearing(named("iii7"))[5] is None
    assert bearing(named("VI7(b9)"))[10] is not None
    assert bearing(named("IVmaj7"))[4] is not None
    assert bearing(named("ii7/3"))[6] is None
    flat_six = named("bVImaj7")
    assert bearing(flat_six, Tone.from_text("G"))[8] is not None or 8 in {
        tone.pitch_class for tone in flat_six.guide_tones
    }


@pytest.mark.parametrize("line_up", LINE_UPS)
@pytest.mark.parametrize("harmony", PROGRESSIONS)
@pytest.mark.parametrize("top", [None, "1"])
def test_one_pitch_stays_on_top_of_all_chords_but_one_at_most(
    lay_out: Callable[..., Any], harmony: str, line_up: str, top: str | None
) -> None:
    meters = ("4/4", "3/4", "5/4")
    for number, key in enumerate(MAJOR if top is None else MAJOR[::2]):
        laid = lay_out(
            "common tone", harmony, key=key, line_up=line_up, top=top, meter=meters[number % 3 if top else 0]
        )
        held = held_pitch(laid.scene, laid.scene.passages[0])
        voicings = laid.work.voicings
        chords = [laid.scene.chord_of(unit) for unit in range(len(voicings))]
        bearers = [bearing(one.chord)[held % 12] is not None for one in chords]
        tops = [voicing.top == held for voicing in voicings]
        missed = [bears and not top for bears, top in zip(bearers, tops, strict=True)]
        # One hand that has the bass note too may not find every chord under the held note.
        assert sum(missed) <= (line_up == "solo guitar")
        if top is None:
            assert sum(tops) >= len(chords) - 1
        else:
            assert held % 12 == laid.scene.plan.key.tonic.pitch_class
        for voicing, bears in zip(voicings, bearers, strict=True):
            if not bears:
                assert 0 < abs(voicing.top - held) <= 2


@pytest.mark.parametrize("key", MINOR)
def test_in_minor_too(lay_out: Callable[..., Any], key: str) -> None:
    laid = lay_out("common tone", IN_MINOR, key=key)
    held = held_pitch(laid.scene, laid.scene.passages[0])
    tops = [voicing.top for voicing in laid.work.voicings]
    assert tops.count(held) >= len(tops) - 1


@pytest.mark.parametrize("key", MAJOR)
def test_the_clashing_tone_is_left_out(lay_out: Callable[..., Any], key: str) -> None:
    """Tonic on top: no major seventh in I but its sixth, no fifth in iii7 (common practice, no source)."""
    tonic = Key.from_text(key).tonic.pitch_class
    for line_up in LINE_UPS:
        laid = lay_out("common tone", "Imaj7 | iii7", key=key, line_up=line_up, top="1")
        one, three = ({(pitch - tonic) % 12 for pitch in laid.heard(unit)} for unit in (0, 1))
        assert 11 not in one
        assert {0, 9} <= one
        assert 11 not in three
        assert 0 in three


def test_the_held_note_rings_over_the_others_but_for_a_stab(lay_out: Callable[..., Any]) -> None:
    harmony = "Imaj7 | vi7 | ii7 | V9sus4"
    laid = lay_out("common tone", harmony, line_up="with keys", top="1", every="2", length="1")
    held = held_pitch(laid.scene, laid.scene.passages[0])
    tops = [note for note in laid.notes if note.pitch == held]
    others = [note for note in laid.notes if note.pitch != held]
    assert [note.onset for note in tops] == list(range(0, 16 * BEAT, 2 * BEAT))
    assert [note.length for note in tops] == [2 * BEAT] * 7 + [BEAT]
    assert {note.length for note in others} == {BEAT}
    stabs = lay_out("common tone", harmony, line_up="with keys", top="1", every="2", length="1/2")
    assert {note.length for note in stabs.notes} == {BEAT // 2}


def test_a_tone_that_gives_way_ends_with_its_chord(lay_out: Callable[..., Any]) -> None:
    """V7 follows an eighth late: over the beat before it nothing of ii7 rings on."""
    laid = lay_out("common tone", "ii7 V7 | Imaj7", top="1")
    held = held_pitch(laid.scene, laid.scene.passages[0])
    late = [
        replace(stroke, onset=stroke.onset + (stroke.unit == 1) * BEAT // 2) for stroke in laid.work.strokes
    ]
    notes = TEXTURES["common tone"].notes(replace(laid.work, strokes=tuple(late)))
    first, *_ = [note for note in notes if note.pitch == held]
    assert first.end == 2 * BEAT


def test_a_degree_of_ones_own_is_taken(lay_out: Callable[..., Any]) -> None:
    laid = lay_out("common tone", "Imaj7 | vi7 | ii7 | V7", key="F", top="5")
    assert {voicing.top % 12 for voicing in laid.work.voicings} == {0}


def test_the_tonic_comes_before_other_degrees_that_would_do_as_well(lay_out: Callable[..., Any]) -> None:
    laid = lay_out("common tone", "Imaj7 | vi7 | ii7 | I6/9")
    assert {voicing.top % 12 for voicing in laid.work.voicings} == {0}


def test_the_pickup_is_clear_of_the_held_note(lay_out: Callable[..., Any]) -> None:
    laid = lay_out("common tone", "Imaj7 | vi7 | ii7 | V9sus4", top="1", every="3", length="3", pickup="1")
    assert max(note.end for note in laid.notes if note.onset < 15 * BEAT) <= 15 * BEAT
