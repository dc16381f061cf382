"""A lesson: the foot steps through the chords and starts nothing; bars go round until the nod.

The README's words are the promise; no source outside.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from introit.live.events import Event, Ordered, Taught
from introit.live.looping import bars_of, looped
from introit.live.setup import FootSwitch, KeyZone
from introit.live.states import STEPS, Ask
from introit.performance import PlayedNote, Wait
from introit.testing import Rehearsal, SketchFront, sketch, sketch_setup
from introit.testing.outcome import ends_in_silence, notes, states
from introit.testing.script import Script, feet, key
from introit.testing.sketch import BASS, COMP, MELODY
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

MS = NS_PER_MS
BAR = 4 * TICKS_PER_QUARTER
OPEN, CLOSE, ON, BACK, START = map(Taught, (Ask.OPEN, Ask.CLOSE, Ask.ON, Ask.BACK, Ask.START))
README = Path(__file__).parents[2] / "README.md"


def taught(
    script: Script,
    *events: tuple[int, Event],
    until: int = 40,
    setup: dict[str, Any] | None = None,
    **front: Any,
) -> Rehearsal:
    """Four bars of four at 120, a chord a bar; an open lesson is one of the events, in milliseconds."""
    options = {"key_zone": KeyZone(minor="tune", starts=True), **(setup or {})}
    rehearsal = Rehearsal(sketch_setup(**options), SketchFront(**{"bars": 4, **front}), lookaheads=(30 * MS,))
    rehearsal.play(script)
    for ms, event in events:
        rehearsal.say(ms * MS, event)
    rehearsal.run(until * NS_PER_SECOND)
    return rehearsal


def steps(rehearsal: Rehearsal) -> list[int]:
    """Where one stood after each step."""
    return [shown.step for shown in rehearsal.shown if shown.what == "step"]


def begun(rehearsal: Rehearsal) -> list[str]:
    return [state for _, state in states(rehearsal)]


def sounded(rehearsal: Rehearsal) -> list[tuple[int, bytes]]:
    return [(sent.ideal // MS, sent.data) for sent in rehearsal.receivers[0].ons()]


# --- the foot steps -------------------------------------------------------------------------------------


def test_a_press_steps_on_and_starts_nothing() -> None:
    lesson = taught(feet(1000, 2000, 3000, 4000, 5000), (500, OPEN))
    assert steps(lesson) == [0, 1, 2, 3, 3, 3]  # four chords, and there it stays
    assert sounded(lesson) == []
    assert "playing" not in begun(lesson)


def test_a_hold_and_a_double_press_go_to_the_chord_before() -> None:
    held = taught(sorted([*feet(1000, 2000), *feet(3000, down_ms=700)]), (500, OPEN))
    assert steps(held) == [0, 1, 2, 3, 1]
    twice = taught(feet(1000, 2000, 3000, 3200), (500, OPEN))
    assert steps(twice) == [0, 1, 2, 3, 3, 1]


def test_at_either_end_it_goes_no_further_and_back_is_the_chord_before_all_the_same() -> None:
    first = taught(feet(1000, down_ms=700), (500, OPEN))
    assert steps(first) == [0, 1, 0]
    last = taught(sorted([*feet(1000, 2000, 3000), *feet(4000, down_ms=700)]), (500, OPEN))
    assert steps(last) == [0, 1, 2, 3, 3, 2]


@pytest.mark.parametrize("action", ["latching", "press-only"])
def test_a_switch_that_cannot_be_held_goes_back_by_two_presses(action: str) -> None:
    switch = FootSwitch(action=action)
    values = (127, 0, 127, 0) if action == "latching" else (127, 127, 127, 127)
    script = [
        (ms * MS, bytes((0xB0, 64, value)))
        for ms, value in zip((1000, 2000, 3000, 3200), values, strict=True)
    ]
    assert steps(taught(script, (500, OPEN), setup={"foot_switch": switch}))[-1] == 1


def test_the_page_steps_too() -> None:
    lesson = taught([], (500, OPEN), (600, ON), (700, ON), (800, BACK), (900, BACK), (1000, BACK))
    assert steps(lesson) == [0, 1, 2, 1, 0]


def test_closed_the_foot_starts_again_and_the_page_steps_no_more() -> None:
    lesson = taught(feet(1000, 2000), (500, OPEN), (1500, CLOSE), (1600, ON))
    assert steps(lesson) == [0, 1, -1]
    assert (2.0, "playing") in states(lesson)


def test_the_page_starts_while_the_foot_steps_and_in_the_intro_the_table_holds() -> None:
    lesson = taught(sorted([*feet(1000), *feet(3000, down_ms=700)]), (500, OPEN), (2000, START))
    assert states(lesson) == [(2.0, "playing"), (3.5, "ready")]
    assert lesson.shown[-1].step == 1, "it steps on from where it stood"
    assert ends_in_silence(lesson)


def test_a_key_note_moves_the_lesson_and_starts_nothing() -> None:
    lesson = taught(sorted([*feet(1000), *key(2000, 24 + 3)]), (500, OPEN))
    assert begun(lesson) == begun(taught([]))
    told = [shown for shown in lesson.shown if shown.what == "key"][-1]
    assert (told.key, told.step) == ("Eb", 1)


def test_another_tune_begins_at_its_first_chord() -> None:
    lesson = taught(feet(1000, 2000), (500, OPEN), (3000, Ordered("next")))
    assert lesson.shown[-1].tune == 1
    assert lesson.shown[-1].step == 0


def test_a_lesson_that_opens_while_an_intro_plays_touches_nothing_of_it() -> None:
    plain = taught(feet(1000))
    opened = taught(feet(1000), (2000, OPEN))
    assert sounded(opened) == sounded(plain)
    assert states(opened) == states(plain)


def test_the_readme_says_what_the_foot_does_in_a_lesson() -> None:
    section = (
        README.read_text(encoding="utf-8").split("\n## The page on the stand", 1)[1].split("\n## ", 1)[0]
    )
    for gesture, word in STEPS.items():
        assert f"| {gesture} | {word} |" in section


# --- bars that go round -----------------------------------------------------------------------------------


def loop(first: int, last: int) -> Taught:
    return Taught(Ask.LOOP, first, last)


def bass_of(rehearsal: Rehearsal) -> list[int]:
    """Milliseconds at which the bass strikes."""
    return [ms for ms, data in sounded(rehearsal) if data[0] == 0x92]


def test_a_bar_goes_round_without_a_gap_until_a_hold() -> None:
    """A bar of four at 120 lasts two seconds; what is shown are its own beats, over and over."""
    lesson = taught(feet(14_800, down_ms=700), (1000, loop(2, 2)))
    begins = bass_of(lesson)[0]
    assert begins == 1000
    assert bass_of(lesson) == list(range(begins, 15_300, 500))
    beats = [(shown.bar, shown.beat) for shown in lesson.beats()]
    assert beats[:9] == [(2, 1), (2, 2), (2, 3), (2, 4)] * 2 + [(2, 1)]
    assert {shown.symbol for shown in lesson.beats()} == {"C"}
    bars = {(shown.first_bar, shown.last_bar) for shown in lesson.beats() if shown.ns < 14_800 * MS}
    assert bars == {(2, 2)}  # the press of a hold nods
    assert states(lesson)[-1] == (15.3, "ready")
    assert ends_in_silence(lesson)


def test_bars_from_one_to_another_and_the_nod_goes_on_to_the_head() -> None:
    lesson = taught(feet(11_000), (1000, loop(2, 3)))
    bars = [shown.bar for shown in lesson.beats() if shown.beat == 1]
    assert bars == [2, 3, 2, 3, 2, 3, 4]
    assert states(lesson) == [(1.0, "vamping"), (11.0, "playing"), (15.0, "in the tune")]
    assert [shown.first_bar for shown in lesson.beats() if shown.beat == 1][-1] == 0
    assert ends_in_silence(lesson)


def test_all_of_it_goes_round_and_the_last_bar_too() -> None:
    whole = taught(feet(20_000), (1000, loop(0, 0)))
    assert [shown.bar for shown in whole.beats() if shown.beat == 1][:9] == [1, 2, 3, 4] * 2 + [1]
    last = taught(feet(6_000), (1000, loop(4, 4)))
    assert {shown.bar for shown in last.beats()} == {4}
    assert begun(last)[-1] == "in the tune"
    assert ends_in_silence(whole)
    assert ends_in_silence(last)


@pytest.mark.parametrize(
    "changes",
    [
        {"vamp": (0, 2 * BAR)},
        {"once_more": True},
        {"tapped": True},
        {"waits": tuple(Wait(bar * BAR + 500, (bar + 1) * BAR) for bar in range(3)), "out_of_time": True},
        {"waits": (Wait(BAR + 700, 2 * BAR, fermata=True),)},
    ],
    ids=["vamp", "once more", "tapped", "out of time", "held"],
)
def test_whatever_the_tune_lets_the_foot_do_the_bar_goes_round(changes: dict[str, Any]) -> None:
    lesson = taught(feet(8_000), (1000, loop(2, 2)), changes=changes)
    assert [shown.bar for shown in lesson.beats() if shown.beat == 1][:4] == [2, 2, 2, 2]
    assert begun(lesson)[-3:] == ["vamping", "playing", "in the tune"]
    assert ends_in_silence(lesson)


def test_nothing_is_counted_off() -> None:
    lesson = taught([], (1000, loop(1, 1)), count_off=4)
    assert bass_of(lesson)[0] == 1000


def test_what_plays_gives_way_to_the_bar_at_once() -> None:
    lesson = taught(feet(1000), (2200, loop(3, 3)), (6000, loop(1, 2)), (12_000, Ordered("silence")))
    bars = [(shown.ns // MS, shown.bar) for shown in lesson.beats() if shown.beat == 1]
    assert bars[:2] == [(1000, 1), (2230, 3)]  # once what was handed ahead has passed
    assert (6030, 1) in bars
    assert begun(lesson)[-1] == "ready"
    assert ends_in_silence(lesson)


def test_another_key_is_taken_at_the_bar_line_and_the_same_bars_go_round() -> None:
    lesson = taught(sorted([*key(2000, 24 + 2), *feet(9000)]), (1000, loop(2, 2)))
    basses = [(ms, data[1]) for ms, data in sounded(lesson) if data[0] == 0x92]
    assert {pitch for ms, pitch in basses if ms < 3000} == {36}
    assert {pitch for ms, pitch in basses if ms >= 3000} == {38}
    assert [shown.bar for shown in lesson.beats() if shown.beat == 1][:4] == [2, 2, 2, 2]
    assert begun(lesson)[-1] == "in the tune"
    assert ends_in_silence(lesson)


def test_after_a_loop_the_intro_is_whole_again() -> None:
    lesson = taught(feet(8_000, 10_000), (1000, loop(2, 2)), (4000, Ordered("silence")))
    bars = [shown.bar for shown in lesson.beats() if shown.ns >= 8 * NS_PER_SECOND and shown.beat == 1]
    assert bars == [1, 2, 3, 4]


def test_slower_and_faster_while_it_goes_round() -> None:
    lesson = taught([], (1000, loop(2, 2)), (2000, Ordered("slower")), until=12)
    assert lesson.beats()[-1].tempo == 118
    assert {shown.bar for shown in lesson.beats()} == {2}


@pytest.mark.parametrize("event", [loop(5, 5), loop(3, 2), loop(-1, 1), loop(0, 3)], ids=str)
def test_bars_that_there_are_not_are_told_and_change_nothing(event: Taught) -> None:
    lesson = taught(feet(1000), (2000, event))
    assert "the intro has no such bars" in notes(lesson)
    assert sounded(lesson) == sounded(taught(feet(1000)))


def test_while_it_counts_off_no_bar_goes_round() -> None:
    lesson = taught(feet(1000), (1500, loop(1, 1)), count_off=4)
    assert "loop: not while counting off" in notes(lesson)


def test_what_is_muted_is_told() -> None:
    lesson = taught(
        [], (500, Ordered("mute", part=COMP, value=1)), (900, Ordered("mute", part=BASS, value=1))
    )
    click = 1 << 5  # which the rig mutes
    assert [shown.muted - click for shown in lesson.shown if shown.what == "note"] == [
        1 << COMP,
        (1 << COMP) | (1 << BASS),
    ]


# --- the bars themselves ----------------------------------------------------------------------------------


def test_a_loop_is_the_intros_own_notes_those_that_last_over_its_lines_struck_again() -> None:
    """Every tick of the bars sounds as in the intro; only what lasts over a line begins there anew."""
    plain = sketch(bars=4)
    long = PlayedNote(BAR - 960, 2 * BAR + 480, 0, MELODY, 90, 70)
    rest = [note for note in plain.notes if note.part != MELODY]
    plain = replace(plain, notes=tuple(sorted([*rest, long])))
    made = looped(plain, (BAR, 2 * BAR))
    assert (made.start_tick, made.vamp) == (BAR, (BAR, 2 * BAR))
    melody = [(note.onset, note.end) for note in made.notes if note.part == MELODY]
    assert melody == [(BAR - 960, BAR), (BAR, 2 * BAR), (2 * BAR, 2 * BAR + 480)]
    for part in (COMP, BASS):
        assert [n for n in made.notes if n.part == part] == [n for n in plain.notes if n.part == part]


def test_bars_are_counted_from_one() -> None:
    plain = sketch(bars=4)
    assert bars_of(plain, 2, 3) == (BAR, 3 * BAR)
    assert bars_of(plain, 0, 0) == (0, 4 * BAR)
    assert [bars_of(plain, *wrong) for wrong in ((0, 1), (1, 5), (3, 2), (-1, -1))] == [None] * 4
