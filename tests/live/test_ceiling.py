"""Nothing that is handed to a port is harder or louder than the rig allows, whoever wished for it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from introit.live.ceiling import Ceiling
from introit.live.cue import Cue, Rank
from introit.live.events import Back, Gone, Ordered
from introit.live.messages import (
    CHANNEL_VOLUME,
    EXPRESSION,
    Kind,
    control,
    note_off,
    note_on,
    parse,
    program,
)
from introit.live.setup import Lamp, Route, Setup
from introit.performance import PARTS, PlayedNote, Sound
from introit.testing import Rehearsal, SketchFront, sketch, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

MS, SECOND = NS_PER_MS, NS_PER_SECOND
HARD, LOUD = 127, 127
LOUDEST = tuple(note._replace(velocity=HARD) for note in sketch().notes)
CUE = PARTS.index("cue")
FOR_ONE_EAR = (PlayedNote(0, 480, 0, CUE, 67, HARD),)


def held(route: Route, data: bytes, rank: int = Rank.ON) -> bytes:
    (cue,) = Ceiling([route]).held(route.port, [Cue(0, rank, 1, data)])
    return cue.data


LIMITED = Route(0, 0, 3, velocity_at_most=90, level_at_most=70)


@pytest.mark.parametrize(
    ("data", "becomes"),
    [
        (note_on(3, 60, 127), note_on(3, 60, 90)),
        (note_on(3, 60, 90), note_on(3, 60, 90)),
        (note_on(3, 60, 12), note_on(3, 60, 12)),
        (control(3, CHANNEL_VOLUME, 127), control(3, CHANNEL_VOLUME, 70)),
        (control(3, CHANNEL_VOLUME, 30), control(3, CHANNEL_VOLUME, 30)),
        # Expression is a part of the volume that is there, so 127 is no more than that.
        (control(3, EXPRESSION, 127), control(3, EXPRESSION, 127)),
        (note_off(3, 60, 127), note_off(3, 60, 127)),
        (program(3, 127), program(3, 127)),
        (note_on(4, 60, 127), note_on(4, 60, 127)),  # nobody's channel
        (b"\xfe", b"\xfe"),
    ],
)
def test_what_is_beyond_comes_down_to_the_ceiling_and_all_else_passes(data: bytes, becomes: bytes) -> None:
    assert held(LIMITED, data) == becomes
    assert held(replace(LIMITED, port=1), data) == becomes
    assert held(Route(0, 0, 3), data) == data


def test_a_lamp_is_no_sound() -> None:
    assert held(LIMITED, note_on(3, 60, 127), Rank.LAMP) == note_on(3, 60, 127)


def test_of_parts_that_share_a_channel_the_lowest_counts() -> None:
    ceiling = Ceiling([LIMITED, replace(LIMITED, part=1, velocity_at_most=50, level_at_most=127)])
    cues = [Cue(0, Rank.ON, 1, note_on(3, 60, 100)), Cue(0, Rank.CONTROL, 2, control(3, 7, 100))]
    assert [cue.data for cue in ceiling.held(0, cues)] == [note_on(3, 60, 50), control(3, 7, 70)]


# --- whole evenings ------------------------------------------------------------------------------------

limits = st.tuples(st.integers(1, 127), st.integers(0, 127))
moments = st.integers(0, 12_000)
orders = st.sampled_from(
    [Ordered("sound check"), Ordered("first note"), Ordered("silence"), Ordered("next"), Ordered("faster")]
    + [Ordered("level", part, LOUD) for part in range(len(PARTS))]
    + [Ordered("mute", part, value) for part in (1, 5, 6) for value in (0, 1)]
)


def loud_setup(ceilings: list[tuple[int, int]], *, reset: bool, gentle: bool) -> Setup:
    """Every part on a channel of its own over two ports, as loud as can be asked for."""
    routes = tuple(
        Route(
            part,
            part % 2,
            part,
            program=part,
            level=LOUD,
            muted=PARTS[part] in ("click", "cue"),
            reset=reset,
            velocity_at_most=velocity,
            level_at_most=level,
        )
        for part, (velocity, level) in enumerate(ceilings)
    )
    lamp = Lamp("ready", 0, "control", CHANNEL_VOLUME, channel=15, on=127)
    return sketch_setup(ports=2, routes=routes, gentle_start=gentle, lamps=(lamp,))


@settings(max_examples=120, suppress_health_check=[HealthCheck.too_slow])
@given(
    ceilings=st.lists(limits, min_size=len(PARTS), max_size=len(PARTS)),
    presses=st.lists(moments, max_size=3),
    ordered=st.lists(st.tuples(moments, orders), max_size=6),
    away=st.none() | moments,
    ahead=st.sampled_from([0, 30 * MS]),
    reset=st.booleans(),
    gentle=st.booleans(),
)
def test_nothing_passes_it_in_an_evening_as_loud_as_can_be(
    ceilings: list[tuple[int, int]],
    presses: list[int],
    ordered: list[tuple[int, Ordered]],
    away: int | None,
    ahead: int,
    reset: bool,
    gentle: bool,
) -> None:
    front = SketchFront(
        changes={
            "notes": LOUDEST,
            "cue": FOR_ONE_EAR,
            "first_note": FOR_ONE_EAR,
            "sounds": tuple(Sound(part, 100 + part, LOUD) for part in (0, 1, 6)),
        }
    )
    rehearsal = Rehearsal(loud_setup(ceilings, reset=reset, gentle=gentle), front, lookaheads=[ahead, ahead])
    for ms in presses:
        rehearsal.play([(ms * MS, control(0, 64, 127)), ((ms + 20) * MS, control(0, 64, 0))])
    for ms, order in ordered:
        rehearsal.say(ms * MS, order)
    if away is not None:
        rehearsal.put(away * MS, Gone(0, "unplugged"))
        rehearsal.put((away + 300) * MS, Back(0))
    rehearsal.run(14 * SECOND)
    told: set[int] = set()
    for sent in rehearsal.sent:
        message = parse(sent.data)
        if message is None or sent.data[0] >= 0xF0 or message.channel >= len(ceilings):
            continue
        velocity, level = ceilings[message.channel]
        if message.kind is Kind.CONTROL and message.first == CHANNEL_VOLUME:
            assert message.second <= level
            told.add(message.channel)
        elif message.kind is Kind.NOTE_ON:
            assert message.second <= velocity
            assert message.channel in told, "its level comes before its first note"


def test_level_then_program_then_notes_so_a_program_that_is_refused_or_unknown_is_under_the_ceiling() -> None:
    """A synth answers no program change: whatever it makes of one, its volume has been told by then."""
    setup = sketch_setup()
    routes = tuple(replace(route, program=127, level=LOUD, level_at_most=60) for route in setup.routes)
    rehearsal = Rehearsal(replace(setup, routes=routes), SketchFront(changes={"notes": LOUDEST}))
    rehearsal.play([(SECOND, control(0, 64, 127))])
    rehearsal.run(8 * SECOND)
    for channel in (0, 1, 2):
        here = [s.data for s in rehearsal.sent if s.data[0] < 0xF0 and s.data[0] & 15 == channel]
        assert here[:2] == [control(channel, CHANNEL_VOLUME, 60), program(channel, 127)]
        assert here[2][0] & 0xF0 == 0x90
        assert [data for data in here if data[:2] == here[0][:2]] == here[:1], "the level is left alone"
