"""What of a tune that is played through goes into the practice log."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from introit.cli.through import Through
from introit.library.model import Tune
from introit.live.events import Shown
from introit.practice.log import Played
from introit.theory.key import Key
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.units import NS_PER_SECOND

EVENING = datetime(2026, 12, 1, 19, 30, tzinfo=UTC)
TUNE = Tune(
    id="copper-gate",
    title="Copper Gate",
    key=Key.from_text("Bb"),
    meter=Meter.from_text("4/4"),
    tempo=200,
    feel="medium-swing",
    first_chord=Numeral.from_text("I"),
)


class Place:
    """A clock that is set by hand: seconds."""

    def __init__(self) -> None:
        self.now = 0.0
        self.kept: list[Played] = []
        self.through = Through(
            [TUNE],
            self.kept.append,
            wall=lambda: EVENING + timedelta(seconds=self.now),
            clock=lambda: self.now,
        )

    def shows(self, second: float, state: str, key: str = "Eb minor", what: str = "state") -> None:
        self.now = second
        ns = round((second + 7e7) * NS_PER_SECOND)  # the player's clock is another one
        self.through.show(Shown(ns, state, what, title=TUNE.title, intro="dominant-vamp", key=key, tempo=211))


def test_a_tune_that_is_played_to_its_end_is_kept_with_the_key_that_was_called() -> None:
    place = Place()
    for second, state in (
        (1, "ready"),
        (2, "counting off"),
        (4, "vamping"),
        (30, "playing"),
        (41.5, "in the tune"),
    ):
        place.shows(second, state)
    (played,) = place.kept
    assert (played.tune, played.intro, str(played.key), played.tempo) == (
        "copper-gate", "dominant-vamp", "Eb minor", 211
    )  # fmt: skip
    assert played.seconds == 37.5
    assert played.began == EVENING + timedelta(seconds=4)
    assert (played.clean, played.mode) == (None, "tune")


def test_what_is_stopped_is_not_kept_and_the_next_is_kept_alone() -> None:
    place = Place()
    place.shows(4, "vamping")
    place.shows(9, "ready")
    place.shows(10, "vamping")
    place.shows(20, "vamping", what="beat")
    place.shows(50, "in the tune")
    assert [played.seconds for played in place.kept] == [40]


def test_what_has_not_begun_does_not_end() -> None:
    place = Place()
    place.shows(50, "in the tune")
    place.shows(51, "ready")
    assert place.kept == []
