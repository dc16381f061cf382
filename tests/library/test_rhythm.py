"""Comping, bass and feels against what is published, and how their files are read."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

import pytest

from introit.errors import Problem
from introit.library.model import BassManner, BassStep, CompingRhythm, Feel, Hit, Library
from introit.performance import PARTS

Read = Callable[[str, str], tuple[object | None, list[Problem]]]


def counted(position: Fraction) -> str:
    beat, rest = divmod(position, 1)
    return f"&{beat + 1}" if rest else str(beat + 1)


def onsets(rhythm: CompingRhythm) -> list[list[str]]:
    return [[counted(hit.position) for hit in bar] for bar in rhythm.bars]


# Figure, its onsets bar by bar, and where they are published.
FIGURES = [
    # jazzresources.org, First 5 Comping Patterns, item 1
    ("four-to-the-bar", ["1 2 3 4"]),
    # the same, item 2; thejazzchameleon.com, The Charleston
    ("charleston", ["1 &2"]),
    # thejazzchameleon.com, The Charleston: where a new chord comes on 3, the second hit takes it early
    ("charleston-with-push", ["1 &2"]),
    # muzician.com lesson 12781205: Charleston, then the same an eighth later
    ("charleston-displaced", ["1 &2", "&1 3"]),
    # jazzresources.org, First 5 Comping Patterns, item 5
    ("off-beats", ["&2 &4"]),
    # attache.stropus.dev, Charleston Rhythm ("one and the push")
    ("one-and-the-push", ["1 &4"]),
    # the same: whole notes
    ("held", ["1"]),
    # jazznightschool.org, Guitar Comping 2, Basic Bossa Nova
    ("bossa-one-bar", ["1 2 &3"]),
    # truefire.com lesson v11183: eighths grouped 2-3-2-2-3-2-2 over two bars; onsets follow from the groups
    ("bossa-two-bars", ["1 2 &3 &4", "&1 3 4"]),
    # lp.jazz-library.com, The 2 Upbeats: chord after one or after two, over the bass on one
    ("waltz-off-beats", ["&1", "&2"]),
    # cruiseshipdrummer.com 2018/07: strong dotted-quarter pulse; onsets follow from it
    ("jazz-waltz", ["1 &2"]),
    # jazzresources.org names the placement 3, &4 among the Charleston's eight (derived)
    ("gaps-after-riff", ["3 &4"]),
]


@pytest.mark.parametrize(("name", "bars"), FIGURES, ids=[name for name, _ in FIGURES])
def test_comping_figure_as_published(name: str, bars: list[str], library: Library) -> None:
    assert onsets(library.comping[name]) == [bar.split() for bar in bars]


def test_the_second_hit_of_the_charleston_is_short(library: Library) -> None:
    """jazzresources.org, First 5 Comping Patterns, item 2."""
    first, second = library.comping["charleston"].bars[0]
    assert second.length < first.length


def test_pushes_are_where_the_next_chord_is_anticipated(library: Library) -> None:
    """thejazzchameleon.com: &2 takes a chord on 3 early; jazzresources.org, item 5: &4 anticipates.

    Nowhere else; `anticipated` is ours, with the same &4.
    """
    pushed = {
        (name, counted(hit.position))
        for name, rhythm in library.comping.items()
        for bar in rhythm.bars
        for hit in bar
        if hit.push
    }
    ours = {("anticipated", "&4")}
    assert pushed == ours | {
        ("charleston-with-push", "&2"),
        ("off-beats", "&4"),
        ("one-and-the-push", "&4"),
    }


def test_two_bar_bossa_groups_add_up(library: Library) -> None:
    """truefire.com lesson v11183: 2-3-2-2-3-2-2 eighths."""
    rhythm = library.comping["bossa-two-bars"]
    starts = [int((bar * 4 + hit.position) * 2) for bar, hits in enumerate(rhythm.bars) for hit in hits] + [
        16
    ]
    assert [after - before for before, after in pairwise(starts)] == [2, 3, 2, 2, 3, 2, 2]


def test_two_feel_as_published(library: Library) -> None:
    """community.pianogroove.com 7831: root on 1, fifth on 3."""
    steps = library.bass["two-feel"].steps
    assert [(counted(step.position), step.tone) for step in steps] == [("1", "root"), ("3", "fifth")]


@pytest.mark.parametrize("name", ["walking", "walking-in-three", "walking-in-five"])
def test_walking_targets_on_one_and_approaches_on_the_last_beat(name: str, library: Library) -> None:
    """Fitzgerald, Walking Bass Line Theory Basics 1: target on 1, usually the root; approach before it."""
    manner = library.bass[name]
    beats = manner.meters[0].beats
    assert [step.position for step in manner.steps] == list(range(beats))
    assert manner.steps[0].tone == "root"
    assert manner.steps[-1].tone == "approach"


def test_bossa_bass_has_root_on_one_and_fifth_on_three(library: Library) -> None:
    """jazznightschool.org, Guitar Comping 2, Basic Bossa Nova; the pick-ups between are common practice."""
    tones = {counted(step.position): step.tone for step in library.bass["bossa"].steps}
    assert (tones["1"], tones["3"]) == ("root", "fifth")


def ratio(feel: Feel, who: str, tempo: float) -> float:
    """Straight lines between the points; the ends hold."""
    points = feel.swing[who]
    if tempo <= points[0][0]:
        return points[0][1]
    for (low, first), (high, second) in pairwise(points):
        if tempo <= high:
            return first + (second - first) * (tempo - low) / (high - low)
    return points[-1][1]


def highest_published(tempo: float) -> float:
    """Friberg & Sundstroem 1997: up to 3.5 : 1 near 120; the short note stays about 100 ms (1997, 2002)."""
    return max(1.0, min(3.5, (60_000 / tempo - 100) / 100))


SWUNG = ["medium-swing", "up-tempo-swing", "jazz-waltz", "five-four-swing"]


@pytest.mark.parametrize("name", SWUNG)
def test_swing_stays_below_the_highest_published_ratio(name: str, library: Library) -> None:
    feel = library.feels[name]
    low, high = feel.tempo
    for tempo in range(int(max(low, 120)), int(min(high, 300)) + 1, 5):
        for who in ("ride", "comp", "line"):
            assert 1 <= ratio(feel, who, tempo) <= highest_published(tempo) + 1e-9, (who, tempo)


@pytest.mark.parametrize("name", SWUNG)
def test_swing_falls_as_the_tempo_rises(name: str, library: Library) -> None:
    """Friberg & Sundstroem 1997, abstract: the ratio falls, about linearly, with the tempo."""
    for points in library.feels[name].swing.values():
        assert all(first > second for (_, first), (_, second) in pairwise(points))


@pytest.mark.parametrize("name", ["medium-swing", "jazz-waltz", "five-four-swing"])
@pytest.mark.parametrize("tempo", [120, 140, 160, 180])
def test_at_medium_tempi_drummers_lie_above_two_and_soloists_below(
    name: str, tempo: float, library: Library
) -> None:
    """Friberg & Sundstroem 2002, figure 1: drummers always above 2, soloists always below 2."""
    feel = library.feels[name]
    assert ratio(feel, "ride", tempo) > 2
    assert 1.3 <= ratio(feel, "line", tempo) < 2  # typical soloist 1.3: Corcoran & Frieler 2021
    assert ratio(feel, "line", tempo) <= ratio(feel, "comp", tempo) <= ratio(feel, "ride", tempo)


@pytest.mark.parametrize("name", ["bossa", "straight-eighths"])
def test_even_feels_are_even(name: str, library: Library) -> None:
    assert {value for points in library.feels[name].swing.values() for _, value in points} == {1.0}


def test_the_late_line_is_as_measured(library: Library) -> None:
    """Nelias et al. 2022: soloists' on-beats about 30 ms late near 150 to the minute."""
    assert library.feels["medium-swing"].late_line_ms == 30


def test_ballads_are_slow(library: Library) -> None:
    """quixoteconsulting.com 2017: ballads 50 to 90 to the minute."""
    assert library.feels["ballad"].tempo == (50, 90)


def test_every_feel_has_what_it_needs(library: Library) -> None:
    for feel in library.feels.values():
        assert set(feel.velocity) == set(PARTS)
        for meter in feel.meters:
            assert any(meter in library.comping[name].meters for name in feel.comping)
            assert any(meter in library.bass[name].meters for name in feel.bass)


def test_every_meter_has_a_feel(library: Library) -> None:
    assert {str(meter) for feel in library.feels.values() for meter in feel.meters} == {"3/4", "4/4", "5/4"}


def hits(read: Read, text: str, *, meter: str = "4/4") -> tuple[tuple[Hit, ...], ...]:
    thing, problems = read("comping", f"name: x\nmeter: {meter}\nrhythm: |\n  {text}\n")
    assert problems == []
    assert isinstance(thing, CompingRhythm)
    return thing.bars


HALF = Fraction(1, 2)


def test_held_lasts_until_the_next_hit_or_the_bar_line(read: Read) -> None:
    assert hits(read, "1 held, &2 held") == ((Hit(Fraction(0), 3 * HALF), Hit(3 * HALF, 5 * HALF)),)


def test_a_held_push_lasts_into_the_next_bar(read: Read) -> None:
    assert hits(read, "&1 held, &4 push")[0][1] == Hit(7 * HALF, Fraction(1), push=True)


def test_words_come_in_any_order_and_short_never_overlaps(read: Read) -> None:
    assert hits(read, "1 accent short, &1 push 1.5 accent\n  rest\n  2 1/4") == (
        (Hit(Fraction(0), HALF, accent=True), Hit(HALF, 3 * HALF, push=True, accent=True)),
        (),
        (Hit(Fraction(1), Fraction(1, 4)),),
    )


def test_bass_steps_are_read_in_exact_fractions(read: Read) -> None:
    thing, problems = read("bass", "name: x\nmeter: 5/4\nsteps: |\n  1 root, &3 fifth 1/2, 4 approach\n")
    assert problems == []
    assert isinstance(thing, BassManner)
    assert thing.steps == (
        BassStep(Fraction(0), "root", 5 * HALF),
        BassStep(5 * HALF, "fifth", HALF),
        BassStep(Fraction(3), "approach", Fraction(2)),
    )


def test_swing_points_are_sorted_and_one_ratio_is_for_every_tempo(read: Read) -> None:
    text = (
        "name: x\nmeters: 4/4\ntempo: [60, 200]\ntypical_tempo: 100\ncomping: held\nbass: roots\n"
        "swing:\n  ride: {200: 1.5, 100: 2.5}\n  line: 1.25\n"
    )
    thing, problems = read("feel", text)
    assert problems == []
    assert isinstance(thing, Feel)
    assert thing.swing == {"ride": ((100, 2.5), (200, 1.5)), "comp": ((30, 1),), "line": ((30, 1.25),)}
