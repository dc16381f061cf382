"""One port's account: what was handed to it, and which offs are still to pay for it in the ledger."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterable, Sequence
from typing import Final, NamedTuple

from introit.live.cue import Cue, Rank
from introit.live.events import Lost, Sent
from introit.live.ledger import Ledger
from introit.live.messages import CONTINUE, START, STOP, all_notes_off, note_off
from introit.units import NS_PER_SECOND

MEMORY_NS: Final = 5 * NS_PER_SECOND
"""Offs handed longer ago than this are not repeated."""
_TRANSPORT: Final = (START, CONTINUE, STOP)


class _Missing(NamedTuple):
    """A lost off that is to be repeated, and whether it pays."""

    data: bytes
    pays: bool


class Account:
    """Keeps one row of the ledger so that it may say more than sounds, never less. Pure but for the ledger.

    An off pays for the on that it was handed for. One that was handed without (its on was dropped, or was
    released by a silence already) pays for nothing when it goes out.

    A lamp is owed nothing, whatever its message: no silence puts it out.

    Who was told Start or Continue is told Stop, as a note is told its off: by a release, and again where the
    Stop was lost.

    Args:
        ledger: where it is written.
        port: the row.
        sequence: gives the next number for a cue of its own.
    """

    def __init__(self, ledger: Ledger, port: int, sequence: Callable[[], int]) -> None:
        self._ledger = ledger
        self._port = port
        self._sequence = sequence
        self._channels: set[int] = set()
        self._history: deque[Cue] = deque()
        self._begun: Counter[bytes] = Counter()  # notes whose off has not been handed
        self._paying: Counter[tuple[int, bytes]] = Counter()  # offs handed, not yet told as sent
        self._missing: dict[bytes, list[_Missing]] = {}  # lost offs that go with the note's next off
        self._unheard: Counter[bytes] = Counter()  # offs that may have gone out to nobody
        self._lamps: dict[bytes, Cue] = {}  # what each light was told last
        self._transport: deque[Cue] = deque(maxlen=16)  # more than fit into a lookahead
        self._unsure = False  # whether the last of them went out
        self._stopped: int | None = None  # when the Stop that went out last was due

    def hand(self, cues: Sequence[Cue]) -> list[Cue]:
        """Writes down what is about to be handed; returns it with what is to go along."""
        handed: list[Cue] = []
        for cue in cues:
            handed.append(cue)
            if cue.rank == Rank.LAMP:
                self._lamps[_light(cue.data)] = cue
                continue
            self._ledger.owe(self._port, cue.data)
            if cue.rank in (Rank.ON, Rank.OFF):
                handed += self._hand_note(cue)
            elif cue.data in _TRANSPORT:
                self._transport.append(cue)
        if self._history:
            self._trim(self._history[-1].ns - MEMORY_NS)
        return handed

    def _hand_note(self, cue: Cue) -> list[Cue]:
        note = _note(cue.data)
        self._history.append(cue)
        self._channels.add(note[0])
        if cue.rank == Rank.ON:
            self._begun[note] += 1
            return []
        if self._begun[note]:
            self._begun[note] -= 1
            self._paying[cue.ns, cue.data] += 1
        return [self._again(missing, cue.ns) for missing in self._missing.pop(note, ())]

    def went_out(self, sent: Sent) -> None:
        """Writes into the ledger what an off pays, and a Stop."""
        if sent.data == STOP:
            self._stopped = sent.ideal
            self._settle_lead()
        off = (sent.ideal, sent.data)
        if self._stop_paying(off):
            self._ledger.paid(self._port, sent.data)

    def lose(self, lost: Lost, *, lookahead: int, now: int) -> list[Cue]:
        """The offs, and what lamps were told, that are to be handed again after a lost cycle.

        An off that came late was placed up to a lookahead behind its time, so the span is widened by as much.
        If the note has been struck again since, the off goes out with its next off: now it would cut the
        note.
        """
        self._trim(now - MEMORY_NS)
        missing: dict[bytes, list[_Missing]] = {}
        places: dict[bytes, int] = {}
        for cue in self._history:
            note = _note(cue.data)
            if cue.rank == Rank.ON:
                places.pop(note, None)
            elif lost.start - lookahead <= cue.ns <= lost.end:
                pays = self._stop_paying((cue.ns, cue.data))  # it may never be told as sent
                missing.setdefault(note, []).append(_Missing(cue.data, pays))
                places[note] = max(cue.ns, now)
            elif note in missing:
                places.setdefault(note, max(cue.ns, now))
        again = []
        for note, offs in missing.items():
            if note in places:
                again += [self._again(off, places[note]) for off in offs]
            else:
                self._missing.setdefault(note, []).extend(offs)
        return sorted(
            [*again, *self._stop_again(lost, lookahead, now), *self._lamps_again(lost, lookahead, now)]
        )

    def again_unasked(self, now: int) -> list[Cue]:
        """An off for each note that ended lately, in case its own was lost in a cycle that nobody told of.

        One that has been struck since its last off, or whose off is still to come, is left alone: it may
        sound. One off a note: a lost cycle holds no more of it.
        """
        self._trim(now - MEMORY_NS)
        last: dict[bytes, Cue] = {}
        for cue in self._history:
            last[_note(cue.data)] = cue
        again = []
        for note, cue in last.items():
            if cue.rank == Rank.OFF and cue.ns <= now and not self._begun[note]:
                pays = self._stop_paying((cue.ns, cue.data))  # never told as sent
                again.append(self._again(_Missing(cue.data, pays), now))
        return sorted(again)

    def _lamps_again(self, lost: Lost, lookahead: int, now: int) -> list[Cue]:
        again: list[Cue] = []
        for light, cue in self._lamps.items():
            if lost.start - lookahead <= cue.ns <= lost.end:
                self._lamps[light] = Cue(max(now, cue.ns), Rank.LAMP, self._sequence(), cue.data)
                again.append(self._lamps[light])
        return again

    def _stop_again(self, lost: Lost, lookahead: int, now: int) -> list[Cue]:
        last = self._transport[-1] if self._transport else None
        if last is None or last.data != STOP or not lost.start - lookahead <= last.ns <= lost.end:
            return []
        return [Cue(max(now, last.ns), Rank.REAL_TIME, self._sequence(), STOP)]

    def release(self, withdrawn: Iterable[Cue], now: int) -> list[Cue]:
        """What ends everything that was handed and not withdrawn: Stop, its offs, then All Notes Off."""
        taken = set(withdrawn)
        for cue in taken:
            self._ledger.withdrawn(self._port, cue.data)
        passed = [cue for cue in self._history if cue not in taken]
        self._forget()
        owed = self._ledger.owed(self._port)
        messages = [note_off(channel, pitch) for channel, pitch, number in owed for _ in range(number)]
        offs = [self._again(_Missing(off, pays=True), now) for off in messages]
        unheard, self._unheard = [note_off(*note) for note in self._unheard.elements()], Counter()
        offs += [self._again(_Missing(off, pays=False), now) for off in unheard]
        self._history.extend([*passed, *offs])  # the cycle that they fall in may be lost as well
        ends = [all_notes_off(channel) for channel in sorted(self._channels)]
        controls = [Cue(now, Rank.CONTROL, self._sequence(), end) for end in ends]
        return sorted([*self._stop(taken, now), *offs, *controls])

    def _stop(self, withdrawn: set[Cue], now: int) -> list[Cue]:
        """Stop, after the last Start or Continue that was handed and not withdrawn."""
        told = [cue for cue in self._transport if cue not in withdrawn]
        self._transport = deque(told, maxlen=self._transport.maxlen)
        if not self._unsure and (not told or told[-1].data == STOP):
            self._settle_lead()
            return []
        self._unsure = False
        stop = Cue(max([now, *(cue.ns for cue in told[-1:])]), Rank.REAL_TIME, self._sequence(), STOP)
        self._transport.append(stop)
        return [stop]

    def _settle_lead(self) -> None:
        """No Stop is owed where nothing was told, or the last that was told is a Stop that has gone out."""
        last = self._transport[-1] if self._transport else None
        if self._unsure or (last is not None and last.data != STOP):
            return
        if last is None or (self._stopped is not None and last.ns <= self._stopped):
            self._ledger.stopped(self._port)

    def lose_sight(self) -> None:
        """The port cannot be reached: what was handed may never go out; what is owed stays in the ledger.

        Nor is that told at once, and what went out meanwhile has reached nobody: so what has ended lately is
        ended again by the next release.
        """
        self._unheard |= _ended(self._history)
        self._unsure = self._unsure or bool(self._transport)
        self._lamps.clear()
        self._forget()

    def _forget(self) -> None:
        """No off handed so far pays any more."""
        for kept in (self._history, self._begun, self._paying, self._missing):
            kept.clear()

    def _again(self, off: _Missing, ns: int) -> Cue:
        if off.pays:
            self._paying[ns, off.data] += 1
        return Cue(ns, Rank.OFF, self._sequence(), off.data)

    def _stop_paying(self, off: tuple[int, bytes]) -> bool:
        paid = self._paying[off] > 0
        self._paying[off] -= paid
        if not self._paying[off]:
            del self._paying[off]
        return paid

    def _trim(self, oldest: int) -> None:
        while self._history and self._history[0].ns < oldest:
            self._history.popleft()


def _ended(history: Iterable[Cue]) -> Counter[bytes]:
    """How many offs end each note that an off has ended: as many as it had voices at once."""
    offs: Counter[bytes] = Counter()
    running: Counter[bytes] = Counter()
    most: Counter[bytes] = Counter()
    least: Counter[bytes] = Counter()  # below 0 for those that began before
    for cue in history:
        note = _note(cue.data)
        offs[note] += cue.rank == Rank.OFF
        running[note] += 1 if cue.rank == Rank.ON else -1
        most[note] = max(most[note], running[note])
        least[note] = min(least[note], running[note])
    return Counter({note: min(number, most[note] - least[note]) for note, number in offs.items()})


def _light(data: bytes) -> bytes:
    """What of a lamp's message says which light it is: all but the value, which a program change is."""
    return data[:-1]


def _note(data: bytes) -> bytes:
    """Channel and pitch of a note-on or note-off."""
    return bytes((data[0] & 0x0F, data[1]))
