"""Lamps of foot-switches and pads: what is lit while the session is where it is. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Final, NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.events import Hand
from introit.live.messages import Kind, control, program
from introit.live.setup import Lamp
from introit.live.states import State

READY: Final = "ready"
COUNTING_OFF: Final = "counting off"
PLAYING: Final = "playing"
LAST_BAR: Final = "last bar"
IN_THE_TUNE: Final = "in the tune"
WHEN: Final = (READY, COUNTING_OFF, PLAYING, LAST_BAR, IN_THE_TUNE)
"""What a lamp can tell, in the order of an intro."""

_IN_STATE: Final = {
    State.READY: READY,
    State.TAPPING: COUNTING_OFF,
    State.COUNTING_OFF: COUNTING_OFF,
    State.RESTING: COUNTING_OFF,
    State.IN_THE_TUNE: IN_THE_TUNE,
}


def told_in(state: State, *, last_bar: bool = False) -> str:
    """The word in `WHEN` for a state of the session.

    Args:
        state: where the session is.
        last_bar: whether the bar before the head has come, and that it is the one is certain.
    """
    word = _IN_STATE.get(state, PLAYING)
    return LAST_BAR if last_bar and word == PLAYING else word


class _Light(NamedTuple):
    """One light of a device: what a message changes. A program change selects one for all of its channel."""

    port: int
    channel: int
    message: str
    number: int


class Lamps:
    """What is lit, told only when it changes: first what goes out, then what lights.

    Several lamps may share a light and give it different colours. In the last bar a lamp that tells `playing`
    stays lit; where one that tells `last bar` shares its light, that one has it.

    No lamp is a sound, so its cues have a rank of their own: they are not owed in the ledger, and no silence
    takes them back or puts them out.

    Args:
        lamps: as the rig has them.
        sequence: gives the next cue's number.
    """

    def __init__(self, lamps: Sequence[Lamp], sequence: Callable[[], int]) -> None:
        self._lamps = tuple(lamps)
        self._sequence = sequence
        self._out: dict[_Light, bytes | None] = {}
        for lamp in self._lamps:
            self._out.setdefault(_light(lamp), None)
            if lamp.off is not None and self._out[_light(lamp)] is None:
                self._out[_light(lamp)] = _message(lamp, lamp.off)
        self._wanted: dict[_Light, bytes] = {}
        self._told: dict[_Light, bytes | None] = {}

    def show(self, what: str, now: int) -> list[Hand]:
        """What tells `what`, a word in `WHEN`; the first time, all that is not lit is put out as well."""
        words = (PLAYING, LAST_BAR) if what == LAST_BAR else (what,)
        self._wanted = {
            _light(lamp): _message(lamp, lamp.on)
            for word in words
            for lamp in self._lamps
            if lamp.when == word
        }
        return self._tell(now)

    def again(self, port: int, now: int) -> list[Hand]:
        """Everything of a port that is there again and knows nothing of what it was told."""
        self._told = {light: message for light, message in self._told.items() if light.port != port}
        return self._tell(now, only=port)

    def out(self, now: int) -> list[Hand]:
        """Puts all out, whatever was lit."""
        self._wanted, self._told = {}, {}
        return self._tell(now)

    def _tell(self, now: int, *, only: int | None = None) -> list[Hand]:
        changes: list[tuple[int, bytes]] = []
        for lit in (False, True):
            for light, out in self._out.items():
                message = self._wanted.get(light, out)
                in_turn = (light in self._wanted) is lit and only in (None, light.port)
                if not in_turn or message == self._told.get(light):
                    continue
                self._told[light] = message
                if message is not None:
                    changes.append((light.port, message))
        return [
            Hand(port, tuple(self._cues((message for at, message in changes if at == port), now)))
            for port in sorted({port for port, _ in changes})
        ]

    def _cues(self, messages: Iterable[bytes], now: int) -> Iterable[Cue]:
        return (Cue(now, Rank.LAMP, self._sequence(), message) for message in messages)


def _light(lamp: Lamp) -> _Light:
    number = 0 if lamp.message == "program" else lamp.number
    return _Light(lamp.port, lamp.channel, lamp.message, number)


def _message(lamp: Lamp, value: int) -> bytes:
    if lamp.message == "program":
        return program(lamp.channel, value)
    if lamp.message == "control":
        return control(lamp.channel, lamp.number, value)
    # Not by `note_on`: a lamp may be put out by velocity 0, which to a synth is a note-off.
    return bytes((Kind.NOTE_ON | lamp.channel, lamp.number, value))
