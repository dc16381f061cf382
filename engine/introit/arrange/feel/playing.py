"""A score as it is played: every note at its own tick, with its own level.

The head's downbeat is never moved, and nothing that the score does not sound over it crosses it.
"""

from __future__ import annotations

from collections.abc import Sequence

from introit.arrange.feel.clock import Clock
from introit.arrange.feel.drift import walk
from introit.arrange.feel.lateness import late_line_ticks
from introit.arrange.feel.levels import levels
from introit.arrange.feel.players import SOLO, players_of
from introit.arrange.feel.swing import SWING_OF_PART, swing_ratio
from introit.arrange.feel.touch import plucked, rolled, strummed
from introit.arrange.scene import Scene
from introit.arrange.score import BASS, COMP, MELODY, PEDAL, RIDE, Score, ScoreNote, Touch
from introit.library.model import Feel
from introit.performance import PlayedNote
from introit.theory.plucking import Plucking
from introit.units import TICKS_PER_QUARTER, ticks_from_ms

SHORTEST = 30
"""Ticks that any note sounds at least (a 128th)."""
RHYTHM_DRIFT = 0.5
"""Share of the drift that bass and light time have; they drift as one. A judgement: they keep the time."""

_TRIPLETS = frozenset({TICKS_PER_QUARTER // 3, 2 * TICKS_PER_QUARTER // 3})
_OFF_BEAT = TICKS_PER_QUARTER // 2

Grips = dict[tuple[int, int], list[int]]
"""(onset, player) to the indices of the notes that begin there together, lowest pitch first."""


def played(score: Score, feel: Feel) -> list[PlayedNote]:
    """The score's notes as they will sound, in the score's order; not yet legal (see `arrange.legal`)."""
    notes, scene = score.notes, score.scene
    players = players_of(notes, scene)
    clocks = _clocks(notes, players, scene, feel)
    starts, begun = _starts(notes, players, clocks, scene=scene, feel=feel)
    swings = swing_ratio(feel, "comp", scene.plan.tempo) > 1
    alone = scene.seats.one_pair_of_hands
    velocities = levels(notes, scene.plan, feel, swings=swings, players=players, alone=alone)
    head, cut = scene.plan.head_tick, scene.plan.tune.landing == "cut"
    sounding = []
    for note, player, start, velocity in zip(notes, players, starts, velocities, strict=True):
        end = note.onset + note.length
        released = begun.get((end, player))
        if note.touch is Touch.ORNAMENT:
            released = start + note.length
        elif released is None:
            released = clocks[player].at(end) - (clocks[player].late if end < head else 0)
        last = head if cut or end <= head else end
        released = min(last, max(released, start + SHORTEST))
        began = max(0, min(start, released - SHORTEST))
        if began < released and not (cut and note.onset >= head):
            sounding.append(PlayedNote(began, released, note.harmony_tick, note.part, note.pitch, velocity))
    return sounding


def _clocks(notes: Sequence[ScoreNote], players: Sequence[int], scene: Scene, feel: Feel) -> dict[int, Clock]:
    """A clock for each player; bass, pedal point and light time share one drift."""
    plan = scene.plan
    beats, deviation = plan.head_tick // TICKS_PER_QUARTER, ticks_from_ms(feel.drift_ms, plan.tempo)
    dice = scene.dice("feel", "drift")
    comp, line, rhythm = (walk(dice, beats, deviation * share) for share in (1, 1, RHYTHM_DRIFT))
    drifts = {MELODY: line, COMP: comp, BASS: rhythm, PEDAL: rhythm, RIDE: rhythm, SOLO: comp}
    ratios = {kind: swing_ratio(feel, kind, plan.tempo) for kind in ("ride", "comp", "line")}
    late = late_line_ticks(feel, plan.tempo)
    even: dict[int, set[int]] = {}
    for note, player in zip(notes, players, strict=True):
        if note.onset % TICKS_PER_QUARTER in _TRIPLETS:
            even.setdefault(player, set()).add(note.onset // TICKS_PER_QUARTER)
    return {
        player: Clock(
            ratios[SWING_OF_PART.get(player, "comp")],
            drift,
            late=late if player == MELODY else 0,
            even=frozenset(even.get(player, ())),
        )
        for player, drift in drifts.items()
    }


def _starts(
    notes: Sequence[ScoreNote],
    players: Sequence[int],
    clocks: dict[int, Clock],
    *,
    scene: Scene,
    feel: Feel,
) -> tuple[list[int], dict[tuple[int, int], int]]:
    """Where each note begins, and, by (onset, player), where the first of each grip does."""
    starts = [0] * len(notes)
    begun: dict[tuple[int, int], int] = {}
    last: dict[int, int] = {}
    grips, ornaments = _grips(notes, players)
    for (onset, player), members in grips.items():
        beat = first = clocks[player].at(onset)
        if len(members) == 1 or player not in {COMP, SOLO}:
            for index in members:
                starts[index] = beat
        else:
            room = (beat - last.get(player, 0)) // 2 if 0 < onset < scene.plan.head_tick else 0
            delays = _delays([notes[index] for index in members], scene, feel, room=room)
            for index, delay in zip(members, delays, strict=True):
                starts[index] = beat + delay
            first += min(delays)
        begun[onset, player] = first
        last[player] = beat
    _lead_in(notes, starts, begun, grips=grips, ornaments=ornaments)
    return starts, begun


def _grips(notes: Sequence[ScoreNote], players: Sequence[int]) -> tuple[Grips, Grips]:
    """The grips, in order of onset, and the ornaments, by where they lead."""
    grips: Grips = {}
    ornaments: Grips = {}
    for index, (note, player) in enumerate(zip(notes, players, strict=True)):
        if note.touch is Touch.ORNAMENT:
            ornaments.setdefault((note.end, player), []).append(index)
        else:
            grips.setdefault((note.onset, player), []).append(index)
    for members in (*grips.values(), *ornaments.values()):
        if len(members) > 1:
            members.sort(key=lambda index: notes[index].pitch)
    return grips, ornaments


def _lead_in(
    notes: Sequence[ScoreNote],
    starts: list[int],
    begun: dict[tuple[int, int], int],
    *,
    grips: Grips,
    ornaments: Grips,
) -> None:
    """Puts each ornament right before the note that it leads to: string by string, as that grip is struck."""
    for (end, player), members in ornaments.items():
        led_to = [starts[index] for index in grips.get((end, player), ())]
        for rank, index in enumerate(members):
            note = notes[index]
            target = led_to[rank] if len(led_to) == len(members) else max(led_to, default=end)
            starts[index] = max(0, target - note.length)
            begun.setdefault((note.onset, player), starts[index])


def _delays(grip: Sequence[ScoreNote], scene: Scene, feel: Feel, *, room: int) -> tuple[int, ...]:
    """Ticks from the beat of each note of a grip, lowest first."""
    tempo, strings = scene.plan.tempo, len(grip)
    touches = {note.touch for note in grip}
    if Touch.ROLLED in touches:
        return rolled(strings, tempo, feel.roll_ms, room=room)
    fingers = scene.stage.plucking is Plucking.FINGERS
    together = scene.seats.comp_on == "keys" or (scene.seats.one_pair_of_hands and fingers)
    if Touch.PLUCKED in touches or together or not feel.strum_ms:
        return plucked(strings, tempo)
    # With a pick, an accent between the beats falls on the way up.
    up = not fingers and grip[0].accent and grip[0].onset % TICKS_PER_QUARTER == _OFF_BEAT
    return strummed(strings, tempo, feel.strum_ms, length=min(note.length for note in grip), up=up)
