"""What the foot can do in each state, in a few words, from the very table that the session executes."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from introit.library.leading import Leading
from introit.library.model import Tune
from introit.live.events import Shown
from introit.live.foot import can_be_held
from introit.live.setup import Setup
from introit.live.states import STEPS, TABLE, Action, Gesture, Order, Row, State

_WORDS = {
    (State.OUT_OF_TIME, Action.GO_ON): "next chord",
    (State.TAPPING, Action.TAP): "next tap",
}
"""Where the action's own name would tell less."""
_STARTS = {False: Action.START.value, True: "first tap"}
"""By whether the tune's count-off is tapped."""
_MEANS = {
    Action.TAP: "a bar of beats",
    Action.ONCE_MORE: "another round",
    Action.NOD: "land after this round",
}
_BY_PRESSES = (Gesture.PRESS, Gesture.DOUBLE_PRESS)
_BY_NAME = {state.value: state for state in State}
_COLUMNS = {Gesture.PRESS: 28, Gesture.DOUBLE_PRESS: 14, Gesture.HOLD: 11, Gesture.KEY_NOTE: 8}
"""Gestures, with how wide each is printed; the states' names before them take `_STATES`."""
_STATES = 14

TuneOf = Callable[[int], Tune | None]


class FootLanguage:
    """What a press, a double press and a hold do: in a state now, and in all that can be reached.

    Args:
        setup: the foot-switch and the key zone.
        tunes: gives the set's tunes as they now are; left out, everything that a tune may allow is told.
        orders: what can be ordered beside the foot; a state that only an order leads to is told of then.
    """

    def __init__(
        self,
        setup: Setup,
        tunes: Callable[[], Sequence[Tune | None]] | None = None,
        *,
        orders: Collection[Order] = (),
    ) -> None:
        self._setup = setup
        self._tunes = tunes
        self._orders = orders

    def now(self, shown: Shown) -> str:
        """What the foot can do in the state that is shown, with the tune that is; a few words."""
        if shown.state not in _BY_NAME:
            return ""
        texts = [f"{gesture}: {text}" for gesture, text in self.gestures(shown).items()]
        return "; ".join([*texts, *self.course(shown)])

    def gestures(self, shown: Shown) -> dict[Gesture, str]:
        """What the gestures that do something do in the state that is shown, with the tune that is."""
        if shown.state not in _BY_NAME:
            return {}
        if shown.step >= 0 and self._setup.foot_switch is not None:
            return dict(STEPS) if self._held else {gesture: STEPS[gesture] for gesture in _BY_PRESSES}
        tune, state = self._tune(shown.tune), _BY_NAME[shown.state]
        return {row.gesture: f"{_word(row, [tune])}{_when(row)}" for row in self._rows(state, [tune])}

    def course(self, shown: Shown) -> list[str]:
        """While ready: what the intro will do that is led by foot, a phrase each."""
        if shown.state not in _BY_NAME:
            return []
        return self._course(_BY_NAME[shown.state], self._tune(shown.tune))

    def lines(self) -> list[str]:
        """A table of the states that the tunes can reach, under 80 columns."""
        if self._setup.foot_switch is None:
            return [self.line()]
        tunes = self._all()
        head = "foot".ljust(_STATES) + "".join(
            gesture.value.ljust(columns) for gesture, columns in self._columns.items()
        )
        body = [self._line(state, tunes) for state in State if self._reached(state, tunes)]
        foot = "what is left blank does nothing"
        if self._setup.key_zone:
            foot += "; once begun, the key changes at a bar line"
        return [line.rstrip() for line in (head, *body)] + [f"({foot})"]

    def line(self) -> str:
        """The same in one line, however long."""
        tunes = self._all()
        told = {
            state: "; ".join(f"{row.gesture}: {_word(row, tunes)}" for row in self._rows(state, tunes))
            for state in State
            if self._reached(state, tunes)
        }
        texts = [f"{state} ({text})" for state, text in told.items() if text]
        return f"foot: {', '.join(texts)}" if texts else "foot: the rig has no foot-switch"

    # --- the table ----------------------------------------------------------------------------------

    def _line(self, state: State, tunes: Sequence[Tune | None]) -> str:
        rows = {row.gesture: row for row in self._rows(state, tunes)}
        cells = {gesture: _explained(row, tunes) for gesture, row in rows.items()}
        texts = (cells.get(gesture, "").ljust(columns) for gesture, columns in self._columns.items())
        return state.ljust(_STATES) + "".join(texts)

    @property
    def _held(self) -> bool:
        return self._setup.foot_switch is not None and can_be_held(self._setup.foot_switch)

    @property
    def _columns(self) -> dict[Gesture, int]:
        there = {Gesture.HOLD: self._held, Gesture.KEY_NOTE: self._setup.key_zone is not None}
        return {gesture: width for gesture, width in _COLUMNS.items() if there.get(gesture, True)}

    def _rows(self, state: State, tunes: Sequence[Tune | None]) -> list[Row]:
        """What does something in a state, as the foot-switch at hand tells it, with any of these tunes."""
        rows = [row for row in TABLE if row.state is state and _allowed(row.action, tunes)]
        return [told for row in rows if (told := self._told(row)) is not None]

    def _told(self, row: Row) -> Row | None:
        if row.gesture is Gesture.KEY_NOTE:
            return row if self._setup.key_zone else None
        if self._setup.foot_switch is None:
            return None
        if self._held or row.gesture is Gesture.PRESS:
            return row
        if row.gesture is Gesture.HOLD and row.state is State.VAMPING:
            return None  # its first press is the nod; silence is a double press after that
        # A switch that cannot be held spends its double press on what a hold does.
        return row._replace(gesture=Gesture.DOUBLE_PRESS) if row.gesture is Gesture.HOLD else None

    def _reached(self, state: State, tunes: Sequence[Tune | None]) -> bool:
        """Whether an order or any of the tunes leads through a state."""
        if state is State.SOUND_CHECK:
            return Order.SOUND_CHECK in self._orders
        if state in (State.PRACTISING, State.RESTING):
            return False  # the practice room has words of its own
        return any(tune is None or _leads_through(state, tune) for tune in tunes)

    # --- the tunes ----------------------------------------------------------------------------------

    def _all(self) -> Sequence[Tune | None]:
        return [None] if self._tunes is None else [tune for tune in self._tunes() if tune is not None]

    def _tune(self, number: int) -> Tune | None:
        tunes = () if self._tunes is None else self._tunes()
        return tunes[number] if 0 <= number < len(tunes) else None

    @staticmethod
    def _course(state: State, tune: Tune | None) -> list[str]:
        """While ready: what the intro will do that is led by foot."""
        leading = Leading() if tune is None or state is not State.READY else tune.leading
        course = {
            _goes_round(leading): leading.vamp,
            _a_chord_a_press(leading): leading.colla_voce,
            f"the {_held(leading)} waits": leading.hold,
        }
        return [text for text, is_so in course.items() if is_so]


def _allowed(action: Action, tunes: Sequence[Tune | None]) -> bool:
    """Whether any of the tunes (None: any that there may be) lets the foot do it."""
    if action is Action.NONE:
        return False
    if action is Action.ONCE_MORE:
        return any(tune is None or tune.leading.once_more for tune in tunes)
    if action is Action.FINISH:
        return any(tune is None or tune.leading.once_more or tune.leading.vamp for tune in tunes)
    return True


def _leads_through(state: State, tune: Tune) -> bool:
    leading = tune.leading
    ways = {
        State.TAPPING: leading.tapped or leading.tapped_on,
        State.COUNTING_OFF: tune.count_off > 0 and not leading.tapped,
        State.VAMPING: leading.vamp,
        State.OUT_OF_TIME: leading.colla_voce > 0,
        State.WAITING: leading.hold,
    }
    return ways.get(state, True)


def _goes_round(leading: Leading) -> str:
    bars = leading.vamp_bars
    if bars is None:
        return "it goes round until the nod"
    return f"{bars} {'goes' if bars.first == bars.last else 'go'} round until the nod"


def _a_chord_a_press(leading: Leading) -> str:
    until = "" if leading.in_time is None else f" until {leading.in_time}"
    return f"out of time, a chord a press{until}"


def _held(leading: Leading) -> str:
    return "last dominant" if leading.held is None else f"chord in {leading.held}"


def _word(row: Row, tunes: Sequence[Tune | None]) -> str:
    if row.action is Action.START:
        tapped = {tune is not None and tune.leading.tapped for tune in tunes}
        return " or ".join(word for is_tapped, word in _STARTS.items() if is_tapped in tapped)
    if row.state is State.WAITING and row.action is Action.GO_ON and all(map(_tapped_on, tunes)):
        return _STARTS[True]
    return _WORDS.get((row.state, row.action), row.action.value)


def _tapped_on(tune: Tune | None) -> bool:
    """Whether its waits, where it has any, are left by tapping a bar."""
    return tune is not None and (tune.leading.tapped_on or not tune.leading.hold)


def _when(row: Row) -> str:
    """What a glance must not miss of when it acts."""
    return f" {row.guard}" if row.guard.at_bar else ""


def _explained(row: Row, tunes: Sequence[Tune | None]) -> str:
    word, means = _word(row, tunes), _MEANS.get(row.action)
    return f"{word} ({means})" if means else word
