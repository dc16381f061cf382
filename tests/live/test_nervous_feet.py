"""What late, early, nervous and accidental presses may not do to the music."""

from __future__ import annotations

from typing import Any

import pytest

from introit.live.events import Ordered
from introit.live.messages import CLOCK, START, control, note_on
from introit.live.setup import FootSwitch, KeyZone, Lamp
from introit.performance import PlayedNote, Wait
from introit.testing import Rehearsal, SketchFront, rehearse, sketch_setup
from introit.testing.outcome import notes, states
from introit.testing.script import Script, feet
from introit.testing.sketch import COMP
from introit.units import NS_PER_MS, NS_PER_SECOND, TICKS_PER_QUARTER

MS = NS_PER_MS
BAR = 4 * TICKS_PER_QUARTER
VAMP = {"vamp": (0, 4 * BAR)}


def pressed_only(*presses: int) -> Script:
    return [(press * MS, control(0, 64, 127)) for press in presses]


def played(script: Script, *, bars: int = 4, tempo: float = 120, **changes: Any) -> Rehearsal:
    """Bars of four; at 120 a bar lasts 2 s. `setup` holds fields of the setup."""
    setup = sketch_setup(**changes.pop("setup", {}))
    front = SketchFront(bars=bars, tempo=tempo, changes=changes)
    return rehearse(setup, front, script, until=40 * NS_PER_SECOND)


def offs(rehearsal: Rehearsal, channel: int) -> list[float]:
    sent = rehearsal.receivers[0].offs()
    return [one.actual / NS_PER_SECOND for one in sent if one.data[0] & 15 == channel]


@pytest.mark.parametrize("ms", [3000, 4000, 6000, 11_000])
def test_a_hold_in_a_vamp_is_silence_although_its_press_is_the_nod(ms: int) -> None:
    done = played(feet(1000) + feet(ms, down_ms=1500), **VAMP)
    assert states(done)[-1] == (ms / 1000 + 0.5, "ready")


@pytest.mark.parametrize("ms", [5600, 6100, 7200])
def test_a_double_press_too_late_to_finish_early_asks_for_no_round(ms: int) -> None:
    done = played(feet(1000, ms, ms + 200), once_more=True)
    assert states(done)[-1] == (9.0, "in the tune")
    assert notes(done)[-1] == "no more rounds"


@pytest.mark.parametrize("action", ["press-only", "latching"])
def test_where_a_double_press_is_a_hold_nervous_presses_do_not_silence(action: str) -> None:
    setup = {"foot_switch": FootSwitch(action=action)}
    values = [127, 0, 127, 0] if action == "latching" else [127] * 4

    def script(*presses: int) -> Script:
        return [(ms * MS, control(0, 64, value)) for ms, value in zip(presses, values, strict=False)]

    after_the_nod = played(script(1000, 6000, 6300, 6600), tempo=60, setup=setup, **VAMP)
    assert "ready" not in [state for _, state in states(after_the_nod)]
    at_the_start = played(script(1000, 1200, 1400), setup=setup)
    assert states(at_the_start) == [(1.0, "playing"), (9.0, "in the tune")]


def test_where_a_double_press_is_a_hold_it_silences_a_beat_after_the_nod() -> None:
    setup = {"foot_switch": FootSwitch(action="press-only")}
    done = played(pressed_only(1000, 4000, 5000, 5250), setup=setup, **VAMP)
    assert states(done)[-1] == (5.25, "ready")


def test_a_kept_press_does_not_skip_the_held_chord() -> None:
    """Pressed while the free chord still speaks, and kept down to go back in time."""
    waits = (Wait(BAR // 2, BAR), Wait(3 * BAR + 1, 4 * BAR, fermata=True))
    done = played(feet(1000) + feet(1800, down_ms=700) + feet(15_000), waits=waits, out_of_time=True)
    assert states(done)[-1] == (15.0, "in the tune")


def test_a_guard_lasts_a_beat_of_what_is_played() -> None:
    # The tune's own beat is 0.4 s; tapped at 100 it lasts 0.6 s, and the downbeat is at 3.4 s.
    done = played(feet(1000, 1600, 2200, 2800, 3900), tempo=150, tapped=True, **VAMP)
    assert [state for _, state in states(done)] == ["tapping", "vamping"]


@pytest.mark.parametrize("extra", [1, 2, 3])
def test_taps_that_go_on_after_the_downbeat_are_no_nod(extra: int) -> None:
    taps = [1000 + 500 * tap for tap in range(4 + extra)]
    done = played(feet(*taps), tapped=True, **VAMP)
    assert [state for _, state in states(done)] == ["tapping", "vamping"]


def test_a_breath_taken_as_the_held_chord_begins_is_not_lost() -> None:
    wait = Wait(3 * BAR + BAR // 2, 4 * BAR, fermata=True)  # the chord begins at 7 s, time waits at 8 s
    done = played(feet(1000, 7500), waits=(wait,))
    assert states(done)[-1] == (8.0, "in the tune")


def test_a_nervous_second_press_out_of_time_plays_one_chord() -> None:
    waits = tuple(Wait(bar * BAR + 1, (bar + 1) * BAR) for bar in range(4))
    done = played(feet(1000, 3000, 3150), waits=waits, out_of_time=True)
    assert len([beat for beat in done.beats() if beat.beat == 1]) == 2


@pytest.mark.parametrize("waits", [(Wait(3 * BAR + 1, 4 * BAR, fermata=True),), (Wait(500, BAR),)])
def test_a_part_is_muted_at_once_though_time_stands_still(waits: tuple[Wait, ...]) -> None:
    rehearsal = Rehearsal(
        sketch_setup(),
        SketchFront(bars=4, changes={"waits": waits, "out_of_time": not waits[0].fermata}),
    )
    rehearsal.play(feet(1000, 20_000))
    rehearsal.say(12_000 * MS, Ordered("mute", COMP))
    rehearsal.run(40 * NS_PER_SECOND)
    assert 12.0 in offs(rehearsal, 1)
    assert not rehearsal.receivers[0].sounding


def test_presses_while_a_key_is_being_arranged_count_as_the_taps_that_they_are() -> None:
    for answer_after in (50, 200, 450, 900):
        setup = sketch_setup(key_zone=KeyZone(minor="tune"))
        front = SketchFront(changes={"tapped": True})
        rehearsal = Rehearsal(setup, front, answer_after=answer_after * MS)
        rehearsal.play([(1950 * MS, note_on(0, 27, 70)), *feet(2000, 2500, 3000, 3500)])
        rehearsal.run(12 * NS_PER_SECOND)
        began = [second for second, state in states(rehearsal) if state == "playing"]
        assert began == [pytest.approx(4.0, abs=0.03)]


def test_taps_while_a_leaders_downbeat_is_awaited_cancel_nothing() -> None:
    setup = sketch_setup(follow=0)
    rehearsal = Rehearsal(setup, SketchFront(changes={"tapped": True}))
    clocks = [(round(NS_PER_SECOND + number * 500 * MS / 24), CLOCK) for number in range(24 * 20)]
    rehearsal.play(sorted([(NS_PER_SECOND - 5 * MS, START), *clocks, *feet(3200, 3700, 4200, 4700)]))
    rehearsal.run(20 * NS_PER_SECOND)
    assert [state for _, state in states(rehearsal)][:2] == ["counting off", "playing"]


def test_beats_to_the_head_count_the_round_that_was_granted() -> None:
    done = played(feet(1000, 2000), bars=2, once_more=True)
    told = {round(beat.ns / NS_PER_SECOND, 2): beat.beats_to_head for beat in done.beats()}
    assert told[4.5] == 1 + 8


@pytest.mark.parametrize(("changes", "presses"), [(VAMP, (1000, 5500)), ({"once_more": True}, (1000,))])
def test_the_last_bar_is_lit_although_more_might_be_asked_for(
    changes: dict[str, Any], presses: tuple[int, ...]
) -> None:
    lamp = Lamp(when="last bar", port=0, message="control", number=20, channel=15, on=127, off=0)
    done = played(feet(*presses), setup={"lamps": (lamp,)}, **changes)
    lit = [
        sent.actual / NS_PER_SECOND
        for sent in done.receivers[0].messages
        if sent.data == control(15, 20, 127)
    ]
    assert lit == [7.0]


def test_a_note_rung_into_the_wait_is_released_by_its_mute_and_never_twice() -> None:
    note = PlayedNote(3 * BAR, 4 * BAR, 3 * BAR, COMP, 60, 64)
    wait = Wait(3 * BAR + 1, 4 * BAR, fermata=True)
    rehearsal = Rehearsal(sketch_setup(), SketchFront(bars=4, changes={"notes": (note,), "waits": (wait,)}))
    rehearsal.play(feet(1000, 20_000))
    rehearsal.say(12_000 * MS, Ordered("mute", COMP))
    rehearsal.run(40 * NS_PER_SECOND)
    assert offs(rehearsal, 1) == [12.0]


@pytest.mark.parametrize("count_off", [0, 4])
def test_nervous_presses_before_anything_is_ready_start_it_once(count_off: int) -> None:
    """They are remembered, and are no cancel and no wish for more once it has begun."""
    front = SketchFront(bars=4, count_off=count_off, changes={"once_more": True})
    rehearsal = Rehearsal(sketch_setup(), front, answer_after=2300 * MS)
    rehearsal.play(feet(2000, 2200))
    rehearsal.run(20 * NS_PER_SECOND)
    assert [state for _, state in states(rehearsal) if state != "ready"] == [
        *(["counting off"] if count_off else []),
        "playing",
        "in the tune",
    ]
    assert notes(rehearsal) == []


def test_a_double_press_says_nothing_of_rounds_where_there_are_none() -> None:
    assert notes(played(feet(1000, 4000, 4200))) == []
