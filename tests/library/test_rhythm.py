"""Comping and bass against what is published, and how their files are read."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

import pytest

from introit.errors import Problem
from introit.library.model import BassManner, BassStep, CompingRhythm, Hit, Library

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
    # moderndrummer.com, The Charleston: it can begin on every eighth of the bar (four of the eight places)
    ("charleston-round-the-bar", ["1 &2", "&1 3", "2 &3", "3 &4"]),
    # jazztrumpet.com, Comping (2004): one and three anticipated, short, or the same held long
    ("looking-ahead", ["&2 &4", "&2", "&2 &4", "&2"]),
    # the same: two and four anticipated
    ("before-two-and-four", ["&1 &3", "&1"]),
    # lp.jazz-library.com, The 2 Upbeats: after one or after two, mixed; two or three now and then
    ("waltz-mixed", ["&1", "&2", "&1 3", "2"]),
    # eighths grouped 3-3-4-3-3 over two bars: from memory
    ("bossa-clave", ["1 &2 4", "2 &3"]),
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

    jazztrumpet.com: &2 and &4 anticipate three and one. `anticipated` is ours, with the same &4; a Charleston
    that begins on &3 or ends on &4 goes over the bar line.
    """
    pushed = {
        (name, counted(hit.position))
        for name, rhythm in library.comping.items()
        for bar in rhythm.bars
        for hit in bar
        if hit.push
    }
    ours = {
        ("anticipated", "&4"),
        ("charleston-over-the-line", "&3"),
        ("charleston-round-the-bar", "&4"),
    }
    assert pushed == ours | {
        ("charleston-with-push", "&2"),
        ("off-beats", "&4"),
        ("one-and-the-push", "&4"),
        ("looking-ahead", "&2"),
        ("looking-ahead", "&4"),
    }


def test_patterns_are_steady_and_figures_are_not(library: Library) -> None:
    """jazzresources.org calls four to the bar steady; no figure is kept unchanged (thejazzchameleon.com).

    That a bossa's pattern and a waltz's pulse come back as they are is common practice, no source.
    """
    steady = {name for name, rhythm in library.comping.items() if rhythm.steady}
    assert {
        "four-to-the-bar",
        "bossa-one-bar",
        "bossa-two-bars",
        "bossa-clave",
        "held",
        "jazz-waltz",
    } <= steady
    assert not {name for name in library.comping if name.startswith("charleston")} & steady


def test_steady_is_read_and_left_out_means_no(read: Read) -> None:
    text = "name: x\nmeter: 4/4\nrhythm: |\n  1 held\n"
    plain, _ = read("comping", text)
    steady, _ = read("comping", text + "steady: true\n")
    assert isinstance(plain, CompingRhythm)
    assert isinstance(steady, CompingRhythm)
    assert (plain.steady, steady.steady) == (False, True)
    _, problems = read("comping", text + "steady: yes\n")
    assert [problem.code for problem in problems] == ["yaml-word"]


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
    assert manner.walks
    assert [step.position for step in manner.steps] == list(range(manner.bars * beats))
    assert {step.tone for step in manner.steps[::beats]} == {"root"}
    assert {step.tone for step in manner.steps[beats - 1 :: beats]} == {"approach"}


def test_bossa_bass_has_root_on_one_and_fifth_on_three(library: Library) -> None:
    """jazznightschool.org, Guitar Comping 2, Basic Bossa Nova; the pick-ups between are common practice."""
    tones = {counted(step.position): step.tone for step in library.bass["bossa"].steps}
    assert (tones["1"], tones["3"]) == ("root", "fifth")


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


def test_bass_over_two_bars_with_skips_and_pushes(read: Read) -> None:
    """A skip takes no room from the note before it; a push rings on until the manner begins again."""
    thing, problems = read(
        "bass",
        "name: x\nmeter: 3/4\nsteps: |\n  1 root, &2 skip, 3 fifth\n  2 scale sometimes 1, &3 root push\n",
    )
    assert problems == []
    assert isinstance(thing, BassManner)
    assert (thing.bars, thing.answering, thing.walks) == (2, False, False)
    assert thing.steps == (
        BassStep(Fraction(0), "root", Fraction(2)),
        BassStep(3 * HALF, "skip", HALF, sometimes=True),
        BassStep(Fraction(2), "fifth", Fraction(1)),
        BassStep(Fraction(4), "scale", Fraction(1), sometimes=True),
        BassStep(11 * HALF, "root", HALF, push=True),
    )


def test_an_answering_bass_is_read(read: Read) -> None:
    thing, problems = read("bass", "name: x\nmeter: 4/4\nfill: answering\nsteps: |\n  1 root 1.5\n")
    assert problems == []
    assert isinstance(thing, BassManner)
    assert thing.answering


@pytest.mark.parametrize(
    ("steps", "walks"),
    [
        ("1 root, 2 chord, &2 skip, 3 approach", True),
        ("1 root, 2 chord", False),
        ("1 root, &1 root, 2 chord, 3 approach", False),
    ],
)
def test_a_manner_walks_that_has_one_note_a_beat(read: Read, steps: str, walks: bool) -> None:
    thing, problems = read("bass", f"name: x\nmeter: 3/4\nsteps: |\n  {steps}\n")
    assert problems == []
    assert isinstance(thing, BassManner)
    assert thing.walks is walks


def test_bass_steps_are_read_in_exact_fractions(read: Read) -> None:
    thing, problems = read("bass", "name: x\nmeter: 5/4\nsteps: |\n  1 root, &3 fifth 1/2, 4 approach\n")
    assert problems == []
    assert isinstance(thing, BassManner)
    assert thing.steps == (
        BassStep(Fraction(0), "root", 5 * HALF),
        BassStep(5 * HALF, "fifth", HALF),
        BassStep(Fraction(3), "approach", Fraction(2)),
    )
