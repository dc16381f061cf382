"""An evening on the fake clock with the true desk: what is ordered, and what the screen then says."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import pytest

from introit.arrange.legal import own_channel
from introit.cli.desk import Desk
from introit.cli.hints import FootLanguage
from introit.cli.screen import Screen
from introit.cli.slots import Slots
from introit.library.leading import Leading
from introit.library.model import Library, Tune
from introit.live.events import Ordered, Ready, Refused, Reordered, Wanted
from introit.live.messages import control, note_on
from introit.live.setup import KeyZone
from introit.testing import Rehearsal, sketch_setup
from introit.units import NS_PER_MS, NS_PER_SECOND

NEXT, BACK, FASTER, ANOTHER = (Ordered(order) for order in ("next", "back", "faster", "another intro"))
SETUP = sketch_setup(tunes=2, key_zone=KeyZone(low=24, high=47, minor="tune"))


@pytest.fixture(scope="module")
def bus(library: Library) -> Tune:
    """In Ab at 120, so that a bar lasts two seconds; four bars before the head."""
    tune = library.tunes["late-bus-to-orrin"]
    plain = replace(tune, tempo=120.0, count_off=0, notes="", first_note=None, leading=Leading())
    return replace(plain, intro="three-six-two-five", more_intros=())


@pytest.fixture(scope="module")
def lantern(library: Library) -> Tune:
    return replace(library.tunes["lantern-for-edda"], notes="Slow.\nThe singer breathes.")


class Evening:
    """Tunes, a desk, a rehearsal and what the screen shows of it."""

    def __init__(self, library: Library, *tunes: Tune) -> None:
        self.library = library
        self.slots = Slots.of(tunes)
        self.desk = Desk(tunes, library, own_channel)
        self.rehearsal = Rehearsal(replace(SETUP, tunes=len(tunes)), self._answer)

    @property
    def tunes(self) -> Sequence[Tune | None]:
        return self.slots.tunes

    def _answer(self, wanted: Wanted) -> list[Ready | Refused]:
        return [next(self.desk.answer(wanted.request, afresh=wanted.afresh))]

    def press(self, *at: int) -> None:
        for press in at:
            for ms, value in ((press, 127), (press + 60, 0)):
                self.rehearsal.play([(ms * NS_PER_MS, control(0, 64, value))])

    def name_key(self, ms: int, note: int) -> None:
        self.rehearsal.play([(ms * NS_PER_MS, note_on(15, note, 90))])

    def order(self, *orders: tuple[int, Ordered]) -> None:
        for ms, order in orders:
            self.rehearsal.say(ms * NS_PER_MS, order)

    def save(self, ms: int, tunes: Sequence[Tune]) -> None:
        """The set is saved with these tunes."""
        self.rehearsal.advance(ms * NS_PER_MS)
        self.slots = self.slots.filled(tunes)
        told: list[Ready | Reordered] = [Reordered(self.slots.order)]
        told += self.desk.take(self.tunes, self.library, say=pytest.fail)
        for answer in told:
            self.rehearsal.say(ms * NS_PER_MS, answer)
        self.rehearsal.advance((ms + 1) * NS_PER_MS)

    def until(self, seconds: float) -> Evening:
        self.rehearsal.advance(round(seconds * NS_PER_SECOND))
        return self

    def screen(self, *, live: bool = True) -> list[str]:
        output = io.StringIO()
        screen = Screen(
            output,
            live=live,
            hints=FootLanguage(SETUP, lambda: self.tunes).now,
            notes=lambda shown: "" if (tune := self.tunes[shown.tune]) is None else tune.notes,
        )
        for shown in self.rehearsal.shown:
            screen.show(shown)
        lines = output.getvalue().splitlines()
        assert not live or max(map(len, lines)) < 80
        return lines

    def ready(self) -> list[str]:
        """The lines that name what is ready, without what the foot does."""
        return [line.removeprefix("ready: ") for line in self.screen() if line.startswith("ready: ")]


@pytest.fixture
def evening(library: Library) -> Iterator[Callable[..., Evening]]:
    made: list[Evening] = []

    def begin(*tunes: Tune) -> Evening:
        made.append(Evening(library, *tunes))
        return made[-1]

    yield begin
    for one in made:
        one.rehearsal.inbox.close()


# --- the printed screen -----------------------------------------------------------------------------


def test_a_key_that_is_named_while_it_goes_round(bus: Tune, evening: Callable[..., Evening]) -> None:
    """Bar 1 is three and six of Ab, bar 2 two and five of F: by the numerals in the intro's file."""
    one = evening(replace(bus, leading=Leading(vamp=True)))
    one.press(1000, 5500)
    one.name_key(2200, 29)
    lines = one.until(11).screen()
    assert lines[0] == "ready: Late Bus to Orrin, Ab, 120, intro three-six-two-five"
    assert lines[1] == "       press: start; key note: re-key; it goes round until the nod"
    assert lines[2] == "vamping (press: nod; hold: silence; key note: re-key at the next bar line)"
    told = lines.index("in F from the next bar")
    assert lines[told - 1].split() == ["bar", "1", "Cm11", ".", "F7"]
    assert lines[told + 1].split() == ["bar", "1", "."]  # what was begun goes on in its key
    assert lines[told + 2].split() == ["bar", "2", "Gm9", ".", "C13(b9)", "."]
    assert "vamping" not in " ".join(lines[told:])
    assert lines[-2].split()[:5] == ["bar", "4", "head", "in", "4"]
    assert lines[-1] == "in the tune (double press: same tune; hold: next tune)"


def test_next_shows_the_next_tune_with_its_notes(
    bus: Tune, lantern: Tune, evening: Callable[..., Evening]
) -> None:
    one = evening(bus, lantern)
    one.order((1000, NEXT), (2000, NEXT))
    assert one.until(3).screen() == [
        "ready: Late Bus to Orrin, Ab, 120, intro three-six-two-five",
        "       press: start; key note: re-key",
        "getting ready",
        "ready: Lantern for Edda, Eb, 60, intro sharp-four-descent",
        "       notes: Slow. The singer breathes.",
        "       press: start; key note: re-key",
        "ready: Late Bus to Orrin, Ab, 120, intro three-six-two-five",
        "       press: start; key note: re-key",
        "the end of the set; it begins again",
    ]
    assert one.screen(live=False)[2] == (
        "ready: Lantern for Edda, Eb, 60, intro sharp-four-descent (press: start; key note: re-key) "
        "- notes: Slow. The singer breathes."
    )


def test_another_intro_is_shown_by_its_name(bus: Tune, evening: Callable[..., Evening]) -> None:
    one = evening(replace(bus, more_intros=("dominant-vamp",)))
    one.order((1000, ANOTHER), (2000, ANOTHER))
    *named, suits = one.until(3).ready()
    assert named == [
        "Late Bus to Orrin, Ab, 120, intro three-six-two-five",
        "Late Bus to Orrin, Ab, 120, intro dominant-vamp",
    ]
    assert suits.rpartition(" ")[2] not in {"three-six-two-five", "dominant-vamp"}


def test_a_tempo_that_is_refused_says_which_would_do(
    bus: Tune, library: Library, evening: Callable[..., Evening]
) -> None:
    low, high = library.intros["three-six-two-five"].tempo
    one = evening(replace(bus, tempo=high - 1))
    one.order((1000, FASTER))
    lines = one.until(2).screen()
    assert f"intro 'three-six-two-five' suits {low:g} to {high:g} a minute, not {high + 1:g}" in lines
    assert all(f"Ab, {high - 1:g}, intro" in line for line in one.ready())


# --- what is ordered --------------------------------------------------------------------------------


def test_an_ordered_tempo_is_played_and_stays(
    bus: Tune, lantern: Tune, evening: Callable[..., Evening]
) -> None:
    one = evening(bus, lantern)
    one.order((500, FASTER), (600, FASTER))
    one.press(1000)
    one.order((12_000, NEXT), (13_000, BACK))
    one.name_key(14_000, 29)
    one.until(15)
    states = {state: ns for ns, state in one.rehearsal.states()}
    assert states["in the tune"] - states["playing"] == pytest.approx(16 * 60 / 124 * NS_PER_SECOND, abs=1)
    assert [line.rpartition(", intro")[0] for line in one.ready()[-3:]] == [
        "Lantern for Edda, Eb, 60",
        "Late Bus to Orrin, Ab, 124",
        "Late Bus to Orrin, F, 124",
    ]


def test_the_named_intros_take_turns_from_playing_to_playing(
    bus: Tune, evening: Callable[..., Evening]
) -> None:
    one = evening(replace(bus, more_intros=("dominant-vamp", "one-bar")))
    for start in range(1000, 60_000, 15_000):  # a playing of at most eight seconds, then the same tune again
        one.press(start, start + 11_000, start + 11_200)
    one.until(61)
    played = [shown.intro for shown in one.rehearsal.shown if (shown.what, shown.bar) == ("beat", 1)]
    assert list(dict.fromkeys(played)) == ["three-six-two-five", "dominant-vamp", "one-bar"]
    assert played[0] == played[-1]


def test_a_tempo_that_was_tapped_on_while_it_played_is_ready_the_next_time(
    bus: Tune, evening: Callable[..., Evening]
) -> None:
    one = evening(bus)
    one.press(1000, 12_000, 12_200)
    one.order((2000, FASTER), (3000, FASTER))
    assert one.until(13).ready()[-1] == "Late Bus to Orrin, Ab, 124, intro three-six-two-five"


# --- a set that is saved while it runs --------------------------------------------------------------


def test_a_tune_that_was_added_is_played_the_same_evening(
    bus: Tune, lantern: Tune, library: Library, evening: Callable[..., Evening]
) -> None:
    one = evening(bus, lantern)
    added = replace(library.tunes["two-left-umbrellas"], count_off=0, leading=Leading())
    one.save(1000, [bus, lantern, added])
    one.order((2000, NEXT), (3000, NEXT))
    one.press(4000)
    one.until(60)
    assert one.ready()[2].startswith("Two Left Umbrellas, ")
    assert [state for _, state in one.rehearsal.states()][-2:] == ["playing", "in the tune"]
    assert one.rehearsal.beats()[-1].tune == 2


def test_a_tune_that_was_taken_out_is_passed_over(
    bus: Tune, lantern: Tune, library: Library, evening: Callable[..., Evening]
) -> None:
    umbrellas = library.tunes["two-left-umbrellas"]
    one = evening(bus, lantern, umbrellas)
    one.save(1000, [bus, umbrellas])
    one.order((2000, NEXT), (3000, BACK), (4000, Ordered("tune", value=1)))
    titles = [line.partition(",")[0] for line in one.until(5).ready()]
    assert titles == ["Late Bus to Orrin", "Two Left Umbrellas", "Late Bus to Orrin", "Two Left Umbrellas"]
    assert "refused" not in {shown.what for shown in one.rehearsal.shown}


def test_tunes_may_change_places_under_what_plays(
    bus: Tune, lantern: Tune, library: Library, evening: Callable[..., Evening]
) -> None:
    umbrellas = library.tunes["two-left-umbrellas"]
    one = evening(bus, lantern)
    one.press(1000)
    one.save(3000, [umbrellas, bus, lantern])
    one.press(12_000, 12_200)  # the same tune again: still the bus, in its key
    one.order((13_000, BACK), (14_000, BACK), (15_000, NEXT), (16_000, NEXT))
    one.until(17)
    titles = [line.partition(",")[0] for line in one.ready()]
    lantern_and = ["Lantern for Edda", "Two Left Umbrellas", "Late Bus to Orrin"]
    assert titles == ["Late Bus to Orrin"] * 2 + ["Two Left Umbrellas", *lantern_and]
    assert one.ready()[1].startswith("Late Bus to Orrin, Ab, 120")


def test_what_is_saved_counts_for_more_than_what_was_ordered(
    bus: Tune, evening: Callable[..., Evening]
) -> None:
    one = evening(bus)
    one.order((500, FASTER))
    one.save(1000, [replace(bus, tempo=100.0)])
    one.name_key(2000, 29)
    one.order((3000, FASTER))
    tempi = [line.split(", ")[1:3] for line in one.until(4).ready()]
    assert tempi == [["Ab", "120"], ["Ab", "122"], ["Ab", "100"], ["F", "100"], ["F", "102"]]
