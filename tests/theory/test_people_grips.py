"""Against people's fingerings: the guitar part of npm `@tombatossals/chords-db` 0.5.1 (MIT; see data/)."""

from pathlib import Path
from typing import NamedTuple

from introit.theory.fingering import Fingering, Unplayable
from introit.theory.grip import Grip
from introit.theory.hand import Hand
from introit.theory.holding import FrettingHand

DATA = Path(__file__).parent / "data" / "guitar_grips.tsv"


class Human(NamedTuple):
    grip: Grip
    fingers: tuple[int, ...]


def read(line: str) -> Human:
    _, _, frets, fingers, _, base = line.split("\t")
    lifted = [-1 if fret == "x" else int(fret) + int(base) - 1 if fret != "0" else 0 for fret in frets]
    return Human(Grip(tuple(lifted)), tuple(int(finger) for finger in fingers))


PEOPLE = [read(line) for line in DATA.read_text(encoding="utf-8").splitlines()[1:]]
GRIPS = {human.grip for human in PEOPLE}
HAND = FrettingHand()

# Judged one by one. The first cannot be held as written either: its index lies at fret 8 over a 7.
REFUSED = {"8-10-8-7-8-10"}

# Fewer fingers by people's count than by ours: in each, the fingering written down is a slip.
SLIPS = {
    "8-10-8-7-8-10": "the index flat at 8 covers a 7",
    "96689x": "two stopped strings without a finger",
    "x42542": "the ring finger flat at 4 covers a 2",
    "x97788": "the index on frets 7, 8 and 9",
    "x64764": "the ring finger flat at 6 covers a 4",
    "13-12-13-0-0-13": "the middle finger flat at 13 covers a 12",
    "322232": "the ring finger on strings 6 and 2, over the 2s between",
    "x25243": "one finger on frets 2 and 4, a string without",
    "76808x": "the ring finger flat at 8 covers an open string",
    "x-14-12-15-14-x": "the ring finger flat at 14 covers a 12",
}


def test_the_data_are_whole() -> None:
    assert len(PEOPLE) == 2069
    assert len(GRIPS) == 1984


def test_people_play_what_people_play() -> None:
    refused = {str(grip): why.reason for grip in GRIPS if isinstance(why := HAND.hold(grip), Unplayable)}
    count = len(GRIPS) - len(refused)
    playable = count / len(GRIPS)
    print(f"\n{count} of {len(GRIPS)} playable ({playable:.2%}); refused: {refused}")
    assert playable >= 0.99
    assert set(refused) == REFUSED


def test_the_check_above_can_fail() -> None:
    small = FrettingHand(hand=Hand(size=0.7))
    playable = sum(isinstance(small.hold(grip), Fingering) for grip in GRIPS) / len(GRIPS)
    assert playable < 0.99


def test_no_more_fingers_are_needed_than_people_use() -> None:
    hands = {count: FrettingHand(hand=Hand(fingers=count)) for count in range(1, 5)}
    more = set()
    for grip, fingers in PEOPLE:
        used = len(set(fingers) - {0})
        if used and isinstance(hands[used].hold(grip), Unplayable):
            more.add(str(grip))
    assert more == set(SLIPS)


def test_people_finger_most_grips_as_we_do() -> None:
    """Neither is wrong where they differ; a floor under drift of the costs."""
    alike = sum(
        tuple(max(finger, 0) for finger in held.fingers) == fingers
        for grip, fingers in PEOPLE
        if isinstance(held := HAND.hold(grip), Fingering)
    )
    print(f"\n{alike} of {len(PEOPLE)} fingered exactly alike")
    assert alike / len(PEOPLE) >= 0.8
