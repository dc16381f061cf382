"""What these textures play can be held, plucked and heard: in every key, line-up, meter and tempo.

Low-interval limits: [LI-A], [LI-B]. A minor ninth between parts is avoided but for a dominant's own
b9: [TP1]. That the head is set up by a hit and the pickup left clear is common practice (no source).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations
from typing import Any

import pytest

from introit.arrange.score import BASS, COMP, MELODY, ScoreNote
from introit.theory.fingering import Fingering
from introit.theory.fretboard import Place
from introit.theory.grip import Grip
from introit.theory.holding import FrettingHand
from introit.theory.limits import LOW_INTERVAL_LIMITS
from introit.theory.plucking import Plucking, why_not_plucked

KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
OURS = ("inner line", "two-hand", "harmonised arpeggio", "call and response")
FORMS = {
    "major": "Imaj9 VI7 | ii9 V13 | iii7 bIII°7 | ii9 | bII7 | H",
    "minor": "i6/9 viø7 | iiø7 V7alt | bVImaj7 | iiø7 | V7(b9) | H",
}
METERS = {"3/4": 3, "4/4": 4, "5/4": 5}
HAND = FrettingHand()

LayOut = Callable[..., Any]


def sounding(notes: list[ScoreNote]) -> Iterator[list[ScoreNote]]:
    """All notes that sound at each onset."""
    for tick in sorted({note.onset for note in notes}):
        yield sorted((note for note in notes if note.onset <= tick < note.end), key=lambda note: note.pitch)


def is_rub(low: ScoreNote, high: ScoreNote, laid_out: Any) -> bool:
    chord = next(one.chord for one in laid_out.scene.plan.chords if one.onset == low.harmony_tick)
    own = chord.is_dominant and low.pitch % 12 == chord.root.pitch_class
    return high.pitch - low.pitch in {13, 25, 37} and not own


def every_case() -> list[Any]:
    return [
        pytest.param(texture, key if mode == "major" else f"{key} minor", mode, id=f"{texture}-{key}-{mode}")
        for texture in OURS
        for key in KEYS
        for mode in FORMS
        if mode == "major" or key in {"C", "F#", "A", "Eb"}
    ]


@pytest.mark.parametrize(("texture", "key", "mode"), every_case())
def test_nothing_is_muddy_or_rubs(lay_out: LayOut, texture: str, key: str, mode: str) -> None:
    for line_up in ("with keys", "with bass"):
        played = lay_out(texture, FORMS[mode], key=key, line_up=line_up)
        for together in sounding(played.notes):
            for low, high in combinations(together, 2):
                assert not is_rub(low, high, played), (low, high)
                limit = LOW_INTERVAL_LIMITS.get(high.pitch - low.pitch, 0)
                assert low.pitch >= limit, (low, high)


@pytest.mark.parametrize(("texture", "key", "mode"), every_case())
def test_a_hand_can_hold_and_sound_all_of_it(lay_out: LayOut, texture: str, key: str, mode: str) -> None:
    for line_up in ("with bass", "solo guitar"):
        played = lay_out(texture, FORMS[mode], key=key, line_up=line_up)
        on_neck = [note for note in played.notes if note.part in {MELODY, COMP} or line_up == "solo guitar"]
        neck = played.scene.stage.fretboard
        for together in sounding(on_neck):
            places = [Place(note.string, note.fret) for note in together]
            assert [neck.pitch(*place) for place in places] == [note.pitch for note in together]
            held = HAND.hold(Grip.from_places(places))
            assert isinstance(held, Fingering), held
            assert why_not_plucked(held, Plucking.FINGERS) == ""
            assert all(note.finger is not None for note in together)


@pytest.mark.parametrize("texture", OURS)
@pytest.mark.parametrize("meter", METERS)
@pytest.mark.parametrize("tempo", [50.0, 140.0, 280.0])
def test_nothing_sounds_in_the_pickup_or_past_the_head(
    lay_out: LayOut, texture: str, meter: str, tempo: float
) -> None:
    for pickup in ("0", "3/2", "2"):
        form = "ii9 | V13 | Imaj9 | H"
        played = lay_out(texture, form, meter=meter, tempo=tempo, pickup=pickup, line_up="with keys")
        plan = played.scene.plan
        quiet = plan.head_tick - int(plan.tune.pickup * 960)
        for note in played.notes:
            assert 0 <= note.onset < note.end <= quiet
            assert note.part in {MELODY, COMP, BASS}
        starts = {plan.at(note.onset) for note in played.notes}
        assert len(starts) == len(plan.chords)
        last_bar = plan.head_tick - plan.bar_ticks
        ends = [note.end for note in played.notes if note.part == MELODY and note.onset >= last_bar]
        assert all(end - last_bar <= plan.bar_ticks * 0.7 for end in ends)
        if tempo > 200:
            assert all(note.onset % 960 == 0 for note in played.notes)


def test_each_is_audibly_another(lay_out: LayOut) -> None:
    rhythms = {
        texture: frozenset(
            (note.part, note.onset, note.end) for note in lay_out(texture, "ii9 | V13 | Imaj9 | H").notes
        )
        for texture in (*OURS, "block")
    }
    for one, other in combinations(rhythms.values(), 2):
        assert len(one & other) < 0.6 * len(one | other)
