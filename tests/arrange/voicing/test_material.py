from __future__ import annotations

from typing import Any

import pytest

from introit.arrange.voicing.material import material_of
from introit.theory.key import Key, Mode, keys


def on_offer(material: Any) -> set[int]:
    return {*material.guides, *material.colours, *(tone for tone, _ in material.fillers)}


@pytest.mark.parametrize("symbol", ["Dm9", "G13", "Cmaj7", "C6", "G7alt", "Cm6/9"])
def test_the_root_is_left_to_the_bass(voice: Any, symbol: str) -> None:
    """The root is omitted when a bassist plays ([RL], [Ke02])."""
    material = voice.material(symbol)
    assert material.root not in on_offer(material)


@pytest.mark.parametrize("symbol", ["C°7", "Dm7b5", "C", "Cm", "G7sus4(b9)", "Cmaj7/E", "Fm6/C"])
def test_the_root_is_on_offer_where_the_chord_needs_it_or_the_bass_plays_something_else(
    voice: Any, symbol: str
) -> None:
    """Judgement, no source: diminished chords and triads have little else; a slash bass leaves it out."""
    material = voice.material(symbol)
    open_sus = symbol == "G7sus4(b9)"
    assert (material.root in on_offer(material)) is not open_sus


def test_the_root_is_kept_over_a_pedal_point(voice: Any) -> None:
    material = material_of(voice.planned("iii7", pedal="G"))
    assert dict(material.fillers)[4] == 0.0


@pytest.mark.parametrize("key", keys(Mode.MINOR))
def test_a_plain_suspended_five_of_minor_is_not_a_sus_flat_nine(voice: Any, key: Key) -> None:
    """V7sus4 takes 1 4 5 b7 where the scale has no natural 9 or 13: in C minor no Ab and no Eb."""
    material = material_of(voice.planned("V7sus4", str(key), following="V7(b9,b13)"))
    assert {(tone - material.root) % 12 for tone in on_offer(material)} <= {0, 5, 7, 10}


@pytest.mark.parametrize("key", keys(Mode.MINOR))
def test_a_sus_flat_nine_takes_no_flat_thirteenth(voice: Any, key: Key) -> None:
    """4 b7 b9 b13 is the minor four over five, 1 4 b7 b9 the suspended one: judgement, no source."""
    material = material_of(voice.planned("V7sus4(b9)", str(key)))
    assert (material.root + 8) % 12 not in on_offer(material)
    written = material_of(voice.planned("V7sus4(b9,b13)", str(key)))
    assert (written.root + 8) % 12 in written.colours


def test_the_major_third_of_a_minor_key_is_dear_as_a_tension(voice: Any) -> None:
    """Bb7's #11 is E: in C minor the major third of the key. Judgement, no source."""
    planned = voice.planned("bVII7", "C minor")
    price = dict(material_of(planned).fillers)
    dear = dict(material_of(planned, key=Key.from_text("C minor")).fillers)
    assert dear[4] >= price[4] + 3
    assert {tone: cost for tone, cost in dear.items() if tone != 4} == {
        tone: cost for tone, cost in price.items() if tone != 4
    }
    in_major = material_of(voice.planned("bVII7"), key=Key.from_text("C"))
    assert dict(in_major.fillers)[4] < 2


def test_a_riffs_fifth_keeps_the_flat_thirteenth_out(voice: Any) -> None:
    """A7 before Dm may take F, but not beside the E of a riff."""
    assert 5 in on_offer(material_of(voice.planned("VI7")))
    assert 5 not in on_offer(material_of(voice.planned("VI7"), beside=[4]))


@pytest.mark.parametrize(
    ("symbol", "beside", "telling"),
    [
        ("Dm7b5", [], 8),
        ("F#m9b5", [], 0),
        ("Dm7b5", [8], None),
        ("Dm7b5/Ab", [], None),
        ("Dm7", [], None),
        ("G7(b5)", [], None),
        ("D°7", [], None),
    ],
)
def test_its_flat_five_tells_a_half_diminished_chord(
    voice: Any, symbol: str, beside: list[int], telling: int | None
) -> None:
    """Without it Dm7b5 is Dm7. Nobody else need sound it where bass or melody do."""
    material = material_of(voice.from_symbol(symbol), beside=beside)
    assert material.telling == telling
    assert material.is_told_by({2, 5, 0}) is (telling is None or telling == 0)


def test_no_filler_lies_a_minor_ninth_over_a_slash_bass(voice: Any) -> None:
    """Cmaj7/B: C over B is a minor ninth ([TP1])."""
    assert 0 not in on_offer(voice.material("Cmaj7/B"))


@pytest.mark.parametrize("symbol", ["Dm9", "G7alt", "Bbmaj7(#11)", "F#m7b5", "Ab13(#11)", "Eb7sus4(b9)"])
def test_relative_material_is_the_same_in_every_key(voice: Any, symbol: str) -> None:
    found = voice.material(symbol)
    relative = found.relative
    assert relative.root == 0
    for name in ("guides", "colours"):
        assert getattr(relative, name) == tuple((tone - found.root) % 12 for tone in getattr(found, name))
    assert relative.telling == (None if found.telling is None else (found.telling - found.root) % 12)
    root = "C" + symbol.lstrip("ABCDEFG#").removeprefix("b")
    assert relative == voice.material(root)
