"""A performance as a pass wants it: what sounds, from where to where."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from introit.arrange.arranger import perform
from introit.arrange.score import BASS, CLICK, COMP, CUE, MELODY, PEDAL, RIDE
from introit.library.leading import Bars
from introit.performance import PARTS, ChordMark, Performance, PlayedNote, Wait
from introit.practice.cut import cue_chord, cut
from introit.practice.passes import Pass, Planted
from introit.practice.subject import Subject
from introit.theory.key import Key
from introit.theory.numeral import Numeral

Q = 960
BAR = 4 * Q
C = Key.from_text("C")
NAMES = ("melody", "comp", "bass")


def note(onset: float, end: float, part: int, pitch: int, *, harmony: float | None = None) -> PlayedNote:
    """Onset, end and the chord's onset in bars."""
    ticks = [round(bars * BAR) for bars in (onset, end, onset if harmony is None else harmony)]
    return PlayedNote(ticks[0], ticks[1], ticks[2], part, pitch, 80)


def performance(*notes: PlayedNote, bars: int = 4, end: int | None = None) -> Performance:
    head = bars * BAR
    chords = tuple(ChordMark(bar * BAR, f"chord {bar + 1}", str(bar + 1)) for bar in range(bars))
    return Performance(
        intro="i", title="t", key="C", tonic=0, minor=False, tempo=120.0, beats=4, start_tick=-BAR,
        head_tick=head, end_tick=end or head, notes=tuple(sorted(notes)), chords=chords, once_more=True,
    )  # fmt: skip


def one(**fields: object) -> Pass:
    plain: dict[str, object] = {"number": 1, "tune": 0, "intro": "i", "key": C, "tempo": 120.0}
    return Pass(**(plain | fields))  # type: ignore[arg-type]


def sounding(made: Performance, part: int) -> list[tuple[float, float, int]]:
    """Onset and end in bars, and pitch, of a part."""
    return [(note.onset / BAR, note.end / BAR, note.pitch) for note in made.notes if note.part == part]


WHOLE = performance(
    note(-1, -0.9, CLICK, 37),
    note(0, 1, COMP, 60), note(1, 2, COMP, 62), note(1.875, 3, COMP, 64, harmony=2), note(3, 4, COMP, 65),
    note(0, 2, BASS, 40), note(2, 4, BASS, 41),
    note(0.5, 1.5, MELODY, 72), note(2.5, 3.5, MELODY, 74),
    *(note(bar, bar + 0.05, RIDE, 51) for bar in range(4)),
)  # fmt: skip


def test_a_whole_intro_once_is_what_it_was_but_for_its_count_off() -> None:
    made = cut(WHOLE, one())
    kept = [note for note in WHOLE.notes if note.part != CLICK]
    assert made.notes == tuple(sorted(kept, key=lambda note: (note.onset, note.part, note.pitch)))
    assert (made.start_tick, made.head_tick, made.end_tick, made.chords) == (
        0,
        4 * BAR,
        4 * BAR,
        WHOLE.chords,
    )
    assert not made.once_more


def test_a_passage_is_a_performance_of_its_own() -> None:
    made = cut(WHOLE, one(bars=Bars(2, 3)))
    assert made.head_tick == made.end_tick == 2 * BAR
    assert sounding(made, COMP) == [(0, 1, 62), (0.875, 2, 64)]
    assert sounding(made, BASS) == [(0, 1, 40), (1, 2, 41)]  # the first goes on over the bar line
    assert sounding(made, MELODY) == [(0, 0.5, 72), (1.5, 2, 74)]
    assert [chord.symbol for chord in made.chords] == ["chord 2", "chord 3"]
    assert [chord.tick for chord in made.chords] == [0, BAR]


def test_a_chord_that_is_pushed_into_a_passage_begins_with_it_and_one_pushed_out_of_it_is_left_out() -> None:
    assert sounding(cut(WHOLE, one(bars=Bars(3, 3))), COMP) == [(0, 1, 64)]
    assert sounding(cut(WHOLE, one(bars=Bars(2, 2))), COMP) == [(0, 1, 62)]


def test_what_rings_over_the_first_bar_line_gives_way_to_its_own_part() -> None:
    ringing = performance(note(0, 1.5, COMP, 60), note(1, 2, COMP, 62))
    assert sounding(cut(ringing, one(bars=Bars(2, 2))), COMP) == [(0, 1, 62)]
    resting = performance(note(0, 1.5, COMP, 60), note(1.5, 2, COMP, 62))
    assert sounding(cut(resting, one(bars=Bars(2, 2))), COMP) == [(0, 0.5, 60), (0.5, 1, 62)]


def test_a_cymbal_that_rings_into_a_passage_is_not_struck_again() -> None:
    ringing = performance(note(0.5, 1.5, RIDE, 51), note(1.5, 1.6, RIDE, 51))
    assert sounding(cut(ringing, one(bars=Bars(2, 2))), RIDE) == [(0.5, pytest.approx(0.6), 51)]


def test_a_chord_that_is_held_into_the_second_round_is_not_the_one_left_out_before_it() -> None:
    held = performance(note(0, 2, COMP, 60), note(2, 3, COMP, 62))
    made = cut(held, one(bars=Bars(2, 3), rounds=2, planted=Planted(2, BAR, 2 * BAR)))
    assert sounding(made, COMP) == [(0, 1, 60), (2, 3, 60), (3, 4, 62)]


def test_a_stroke_a_little_before_the_bar_line_is_that_bars() -> None:
    drifting = performance(PlayedNote(BAR - 9, BAR + 90, 0, RIDE, 51, 80), PlayedNote(9, 99, 0, RIDE, 51, 80))
    assert [n.onset for n in cut(drifting, one(bars=Bars(2, 2))).notes] == [0]
    assert [n.onset for n in cut(drifting, one(bars=Bars(1, 1))).notes] == [9]


def test_rounds_follow_each_other_without_a_gap() -> None:
    made = cut(WHOLE, one(rounds=3, bars=Bars(2, 3)))
    once = cut(WHOLE, one(bars=Bars(2, 3)))
    assert made.head_tick == 3 * once.head_tick
    assert sounding(made, COMP) == [
        (onset + 2 * number, end + 2 * number, pitch)
        for number in range(3)
        for onset, end, pitch in sounding(once, COMP)
    ]
    assert [chord.tick // BAR for chord in made.chords] == [0, 1, 2, 3, 4, 5]


def test_a_landing_sounds_behind_the_last_round_alone_and_not_behind_a_passage() -> None:
    landing = performance(note(0, 1, COMP, 60), note(4, 6.5, COMP, 67), end=round(6.5 * BAR))
    assert sounding(cut(landing, one(rounds=2, rest=4)), COMP) == [(0, 1, 60), (4, 5, 60), (8, 10.5, 67)]
    assert cut(landing, one(rest=4)).end_tick == round(6.5 * BAR)
    assert sounding(cut(landing, one(bars=Bars(1, 4), rest=1)), COMP) == [(0, 1, 60), (4, 5, 67)]
    assert sounding(cut(landing, one(bars=Bars(1, 3))), COMP) == [(0, 1, 60)]


def test_hidden_parts_send_nothing() -> None:
    made = cut(WHOLE, one(hidden=frozenset({"comp", "bass"})))
    assert {note.part for note in made.notes} == {MELODY, RIDE}


@pytest.mark.parametrize(("percent", "velocity"), [(100, 80), (67, 54), (50, 40), (1, 1)])
def test_the_melody_fades(percent: int, velocity: int) -> None:
    made = cut(WHOLE, one(melody=percent))
    assert {note.velocity for note in made.notes if note.part == MELODY} == {velocity}
    assert {note.velocity for note in made.notes if note.part != MELODY} == {80}


def test_a_melody_that_has_faded_away_sends_nothing() -> None:
    assert not sounding(cut(WHOLE, one(melody=0)), MELODY)


def test_two_bars_the_tool_two_bars_the_player_while_light_time_goes_on() -> None:
    made = cut(WHOLE, one(answer=2))
    assert sounding(made, COMP) == [(0, 1, 60), (1, 2, 62)]
    assert sounding(made, BASS) == [(0, 2, 40)]
    assert sounding(made, MELODY) == [(0.5, 1.5, 72)]
    assert [onset for onset, *_ in sounding(made, RIDE)] == [0, 1, 2, 3]
    assert not sounding(made, CLICK)


def test_one_bar_each_cuts_what_is_held_and_takes_it_up_again() -> None:
    made = cut(WHOLE, one(answer=1))
    assert sounding(made, COMP) == [(0, 1, 60), (2, 3, 64)]
    assert sounding(made, BASS) == [(0, 1, 40), (2, 3, 41)]


def test_a_click_keeps_time_for_the_player_where_nobody_plays_light_time() -> None:
    silent = replace(WHOLE, notes=tuple(note for note in WHOLE.notes if note.part != RIDE))
    made = cut(silent, one(answer=2))
    assert [onset for onset, *_ in sounding(made, CLICK)] == [2, 2.25, 2.5, 2.75, 3, 3.25, 3.5, 3.75]


def test_turns_go_on_over_the_rounds() -> None:
    made = cut(WHOLE, one(answer=3, rounds=2))
    assert [onset for onset, *_ in sounding(made, COMP)] == [0, 1, 1.875, 6, 7]
    assert not [onset for onset, *_ in sounding(made, BASS) if 3 <= onset < 6]


def test_the_count_is_heard_before_the_first_downbeat() -> None:
    made = cut(WHOLE, one(count=2))
    assert made.start_tick == -2 * BAR
    # "1 - 2 - | 1 2 3 4", as `arrange.count_off` has it
    assert [onset for onset, *_ in sounding(made, CLICK)] == [-2, -1.5, -1, -0.75, -0.5, -0.25]


def test_the_cue_is_a_chord_of_the_key_a_bar_ahead() -> None:
    made = cut(WHOLE, one(cue=True, count=2, key=Key.from_text("Eb minor")))
    cue = [note for note in made.notes if note.onset < 0 and note.part == COMP]
    assert {note.onset for note in cue} == {-BAR}
    assert {note.pitch % 12 for note in cue} == {3, 6, 10}  # Eb Gb Bb
    assert all(note.end <= 0 for note in cue)
    alone = cut(WHOLE, one(cue=True))
    assert alone.start_tick == -BAR
    assert {note.part for note in alone.notes if note.onset < 0} == {COMP}


def test_the_cue_goes_elsewhere_where_the_comp_is_hidden() -> None:
    made = cut(WHOLE, one(cue=True, hidden=frozenset({"comp"})))
    assert {note.part for note in made.notes if note.onset < 0} == {CUE}
    assert not sounding(made, COMP)


def test_a_chord_is_left_out_in_one_round() -> None:
    planted = Planted(1, 5 * BAR, 6 * BAR)
    made = cut(WHOLE, one(rounds=2, planted=planted))
    assert [onset for onset, *_ in sounding(made, COMP)] == [0, 1, 1.875, 3, 4, 5.875, 7]
    assert sounding(made, BASS) == sounding(cut(WHOLE, one(rounds=2)), BASS)


def test_a_pushed_chord_is_left_out_by_its_harmony() -> None:
    made = cut(WHOLE, one(planted=Planted(2, 2 * BAR, 3 * BAR)))
    assert [onset for onset, *_ in sounding(made, COMP)] == [0, 1, 3]


def test_a_chord_is_swapped_for_that_of_the_mistaken_performance() -> None:
    mistaken = performance(*(note(bar, bar + 1, COMP, 90 + bar) for bar in range(4)), note(1, 2, BASS, 30))
    planted = Planted(1, BAR, 2 * BAR, Numeral.from_text("bVImaj7"))
    made = cut(WHOLE, one(planted=planted), mistaken=mistaken)
    assert [pitch for *_, pitch in sounding(made, COMP)] == [60, 91, 64, 65]
    assert [pitch for *_, pitch in sounding(made, BASS)] == [40, 41]
    with pytest.raises(ValueError, match="what is played in its place is missing"):
        cut(WHOLE, one(planted=planted))


def test_parts_on_one_channel_do_not_cut_each_other() -> None:
    shared = performance(note(0, 2, MELODY, 60), note(1, 2, COMP, 60))
    made = cut(shared, one(), channel_of=lambda part: (0, 0))
    assert [(n.onset, n.end) for n in made.notes] == [(0, BAR), (BAR, 2 * BAR)]
    alone = cut(shared, one(hidden=frozenset({"melody"})), channel_of=lambda part: (0, 0))
    assert [(n.onset, n.end) for n in alone.notes] == [(BAR, 2 * BAR)]


@pytest.mark.parametrize("bars", [Bars(0, 2), Bars(3, 2), Bars(3, 5)])
def test_a_passage_that_is_not_there_is_refused(bars: Bars) -> None:
    with pytest.raises(ValueError, match="there is no passage"):
        cut(WHOLE, one(bars=bars))


def test_where_time_waits_nothing_is_practised() -> None:
    with pytest.raises(ValueError, match="time waits"):
        cut(replace(WHOLE, waits=(Wait(0, BAR),)), one())


@pytest.mark.parametrize(("key", "tones"), [("C", "C E G"), ("F# minor", "F# A C#"), ("Bb", "Bb D F")])
def test_the_cue_chord_is_the_tonic_triad(key: str, tones: str) -> None:
    from music21.harmony import ChordSymbol  # an outside reference

    found = {pitch % 12 for pitch in cue_chord(Key.from_text(key))}
    symbol = key.replace("b", "-", 1).replace(" minor", "m")
    assert found == {pitch.pitchClass for pitch in ChordSymbol(symbol).pitches}, tones
    assert all(55 <= pitch <= 73 for pitch in cue_chord(Key.from_text(key)))


# --- what holds of every intro ---------------------------------------------------------------------


def overlaps(notes: Sequence[PlayedNote]) -> list[PlayedNote]:
    """Notes that begin while their own pitch still sounds in their part."""
    lanes: defaultdict[tuple[int, int], int] = defaultdict(lambda: -(10**9))
    found = []
    for played in sorted(notes):
        lane = (played.part, played.pitch)
        if played.onset < lanes[lane]:
            found.append(played)
        lanes[lane] = played.end
    return found


_INTROS = (
    "back-door",
    "blues-riff",
    "amen-steps",
    "dorian-vamp",
    "flat-seven-six-two-five",
    "home-note-held",
)


@pytest.fixture(scope="module")
def performances(subject: Callable[..., Subject]) -> dict[str, Performance]:
    found = {}
    for name in _INTROS:
        made = subject(name, landing="chord")
        found[name] = perform(made.score(made.tune.key, 120.0, 5), made.library)
    return found


@settings(max_examples=150)
@given(data=st.data())
def test_whatever_a_pass_wants_it_is_legal_and_hidden_parts_send_nothing(
    performances: dict[str, Performance], data: st.DataObject
) -> None:
    whole = performances[data.draw(st.sampled_from(_INTROS))]
    bars = whole.head_tick // whole.bar_ticks
    first = data.draw(st.integers(1, bars))
    passage = data.draw(st.one_of(st.none(), st.integers(first, bars).map(lambda last: Bars(first, last))))
    hidden = data.draw(st.frozensets(st.sampled_from((*NAMES, "pedal"))))
    wanted = one(
        bars=passage,
        rounds=data.draw(st.integers(1, 4)),
        rest=data.draw(st.integers(1, 3)),
        count=data.draw(st.integers(0, 2)),
        cue=data.draw(st.booleans()),
        hidden=hidden,
        melody=data.draw(st.sampled_from((0, 1, 50, 100))),
        answer=data.draw(st.integers(0, 3)),
    )
    made = cut(whole, wanted)
    length = bars if passage is None else passage.last - passage.first + 1
    assert made.head_tick == length * wanted.rounds * whole.bar_ticks
    assert made.start_tick == -max(wanted.count, int(wanted.cue)) * whole.bar_ticks
    assert not overlaps(made.notes)
    assert made.end_tick <= made.head_tick + wanted.rest * whole.bar_ticks
    assert made.end_tick == max([made.head_tick, *(played.end for played in made.notes)])
    for played in made.notes:
        assert made.start_tick <= played.onset < played.end <= made.end_tick
        assert PARTS[played.part] not in hidden
        assert played.part != MELODY or wanted.melody > 0
        if wanted.answer and played.onset >= 0 and played.part not in {RIDE, CLICK}:
            turn = played.onset // (wanted.answer * whole.bar_ticks)
            assert not turn % 2 or played.onset >= made.head_tick - 60
    ticks = [chord.tick for chord in made.chords]
    assert ticks == sorted(ticks)
    assert ticks[0] == 0
    assert ticks[-1] < made.head_tick


@given(rounds=st.integers(1, 5), name=st.sampled_from(_INTROS))
def test_every_round_of_a_passage_is_the_same(
    performances: dict[str, Performance], rounds: int, name: str
) -> None:
    whole = performances[name]
    once = cut(whole, one(bars=Bars(1, 2)))
    made = cut(whole, one(bars=Bars(1, 2), rounds=rounds))
    for number in range(rounds):
        shift = number * once.head_tick
        own = [n for n in made.notes if shift <= n.onset < shift + once.head_tick]
        assert [(n.onset - shift, n.end - shift, n.part, n.pitch) for n in own] == [
            (n.onset, n.end, n.part, n.pitch) for n in once.notes
        ]


def test_pedal_is_a_part_that_can_be_hidden(performances: dict[str, Performance]) -> None:
    held = performances["home-note-held"]
    parts = {note.part for note in held.notes}
    assert {BASS, PEDAL} & parts
    made = cut(held, one(hidden=frozenset({"bass", "pedal"})))
    assert not {BASS, PEDAL} & {note.part for note in made.notes}
