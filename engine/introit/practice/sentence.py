"""How a player says what is practised: one sentence, its phrases in any order, numbers as digits or words.

    loop                       the whole intro, again and again; what is practised where nothing is said
    bars 5 to 8, bar 3         a passage
    2 rounds                   so often without a gap
    rest 2, count 1            bars between passes; bars of click before each
    at 120                     quarter notes a minute
    12 passes                  then it is over; else when the player ends it
    keys                       round the cycle of fourths; or: keys in fifths, by half steps, by whole steps,
                               `down` too, by minor thirds, random keys
    keys of the set            only those of the tunes that are practised; or by name: keys C, F and Bb minor
    in minor, major and minor  modes, where the intro has forms for them
    twice in each key          before the next one comes
    cue                        a short chord of the next key, a bar ahead
    climb 96 to 160 by 4       a step a pass; `two each`: two passes at each tempo
    two clean each             a press says clean: up after two in a row, down after two that were not
    and back, slow fast slow   down again from the top, and so on; from 96 to 160 where no tempi are said
    hide melody and bass       out in every pass, as `bass alone` has the others; `hide`, or `hide melody,
                               comp in turn`: one a pass
    fade, fade over 8          the melody, pass by pass, until the player is alone
    answer, answer 4           two bars the tool, two bars the player; four; `trade fours`
    build, build strings       a turnaround in five steps; the same voicings on the next string set: a press
                               goes on to the next step
    listen                     for a chord left out or swapped: a press where it is heard; `listen for
                               swapped`, `listen for chords left out`

Commas, `and`, `then` may stand between them, and small words such as `the`. `climb by 4 from 96 up to 160,
after two clean` is the same as `climb 96 to 160 by 4, two clean each`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from introit.errors import NotationError, did_you_mean
from introit.library.leading import Bars
from introit.practice.goal import HIDEABLE, Climb, Ear, Goal, Hide, Keys, Lesson, Order
from introit.practice.phrases import FILLERS, NUMBERS, WORDS, Found, phrases_in
from introit.theory.key import Key, Mode

LONGEST = 400
SLOW_FAST = (96.0, 160.0)
"""The tempi of `slow fast slow`, where none are said."""
STEP = 4
_WORD = re.compile(r"[^\s,;.:\0]+")
_KNOWN = frozenset(word for phrase in (*WORDS, "by") for word in phrase.split())
_BAR_AT_MOST = 30
"""A span of numbers below the slowest tempo is a passage."""


class Sayings:
    """What the phrases of a sentence have set, each with where it was said."""

    def __init__(self, text: str, found: Sequence[Found]) -> None:
        self._text = text
        self._values: dict[str, Any] = {}
        self._places: dict[str, int] = {}
        self.parts: list[str] = []
        for phrase in found:
            for name, value in phrase.sets:
                self._set(name, value, phrase.start)

    def _set(self, name: str, value: Any, place: int) -> None:
        if name == "part":
            if value in self.parts:
                raise NotationError(self._text, place, f"{value} is said twice")
            self.parts.append(value)
            self._places.setdefault(name, place)
            return
        if self._values.get(name, value) != value:
            said = _words_of(name)
            raise NotationError(self._text, place, f"{said} has been said already, in another way")
        self._values[name] = value
        self._places.setdefault(name, place)

    def get(self, name: str, default: Any = None) -> Any:
        """What was set; the default where it was not."""
        return self._values.get(name, default)

    def wrong(self, name: str, reason: str) -> NotationError:
        """A mistake at the place where something was said."""
        return NotationError(self._text, self._places.get(name, 0), reason)


_NAMES = {
    "span": "from where to where",
    "clean": "how many clean",
    "each": "how many each",
    "key_each": "how often each key",
    "ear": "what to listen for",
    "names": "which keys",
    "order": "the order of the keys",
    "modes": "major or minor",
}


_FOR_INSTANCE = {"answer": "'answer 2'", "fade": "'fade over 5'", "passes": "'12 passes'"}
_TEMPO = "a tempo is a number, as in 'at 96', 'climb 96 to 160 by 4', 'slow fast slow'"
_PASSES = "a practice goes by passes, as in '12 passes', or until a hold stops it"
_BY_NUMBER = "bars are called by their numbers, as in 'bars 3 to 4'"
_OTHERWISE = {
    **dict.fromkeys(("slow", "slower", "slowly", "fast", "faster", "half", "double", "tempo"), _TEMPO),
    **dict.fromkeys(("minute", "minutes", "min", "hour", "seconds"), _PASSES),
    **dict.fromkeys(("first", "last", "beginning", "ending", "end", "middle"), _BY_NUMBER),
}
"""What a player may well say, and how it is said here."""


def _words_of(name: str) -> str:
    return _NAMES.get(name, name)


def goal_from(text: str) -> Goal:
    """Reads a sentence.

    Raises:
        NotationError: for a word that says nothing here, or something said twice: the character, what is
            allowed, and what was probably meant.
        UsageError: for a number out of range, or two things that cannot be practised at once.
    """
    if len(text) > LONGEST:
        raise NotationError(text[:LONGEST], LONGEST - 1, f"a sentence has at most {LONGEST} characters")
    plain = text.replace("\0", " ")
    found, rest = phrases_in(plain)
    left = [word for word in _WORD.finditer(rest) if word[0].lower() not in FILLERS]
    if left:  # a word that is strange is sooner the mistake than those around it
        word = next((word for word in left if word[0].lower() not in _KNOWN), left[0])
        raise NotationError(text, word.start(), _unknown(word[0]))
    said = Sayings(text, found)
    for name in ("answer", "fade", "passes"):
        if said.get(name) == 0:
            raise said.wrong(
                name, f"{name} 0 is none: leave it out, or say for instance {_FOR_INSTANCE[name]}"
            )
    span = said.get("span")
    bars = said.get("bars")
    if span and bars is None and max(span) < _BAR_AT_MOST and not (said.get("climb") or said.get("step")):
        bars, span = span, None
    return Goal(
        bars=_passage(said, bars),
        rounds=_whole(said, "rounds", 1),
        rest=_whole(said, "rest", 1),
        count=_whole(said, "count", 0),
        tempo=said.get("tempo"),
        passes=_whole(said, "passes", None),
        keys=_keys(said, climbing=span is not None or bool(said.get("climb"))),
        climb=_climb(said, span),
        hide=_hide(said),
        fade=_whole(said, "fade", 0),
        answer=_whole(said, "answer", 0),
        build=Lesson(said.get("build")) if said.get("build") else None,
        ear=Ear(said.get("ear")) if said.get("ear") else None,
    )


def _unknown(word: str) -> str:
    """What is said of a word that belongs to no phrase."""
    if word.lower() in NUMBERS or word.replace(".", "", 1).isdecimal():
        ways = ("bar {0}", "rest {0}", "by {0}", "at {0}", "{0} rounds", "{0} clean each")
        return f"what is {word} for? Say it: {', '.join(repr(way.format(word)) for way in ways)}"
    if word.lower() in _OTHERWISE:
        return f"{word!r} says nothing here: {_OTHERWISE[word.lower()]}"
    hint = "" if word.lower() in _KNOWN else did_you_mean(word, WORDS)
    allowed = "Say for instance 'bars 5 to 8, rest 1', 'keys', 'climb 96 to 160 by 4, two clean each', 'hide'"
    return f"{word!r} says nothing here. {hint or allowed}"


def _whole(said: Sayings, name: str, default: Any) -> Any:
    value = said.get(name, default)
    if isinstance(value, float):
        raise said.wrong(name, f"{_words_of(name)} is a whole number, not {value:g}")
    return value


def _passage(said: Sayings, bars: tuple[float, float] | None) -> Bars | None:
    if bars is None:
        return None
    first, last = bars
    if first != int(first) or last != int(last):
        raise said.wrong("bars", "bars are whole numbers, from 1")
    return Bars(int(first), int(last))


def _climb(said: Sayings, span: tuple[float, float] | None) -> Climb | None:
    back = bool(said.get("back"))
    if span is None and not said.get("climb"):
        for name in ("clean", "step", "back"):
            if said.get(name) is not None:
                raise said.wrong(
                    name, "that is said of a climb, as in 'climb 96 to 160 by 4, two clean each'"
                )
        return None
    if span is None and not back:
        raise said.wrong("climb", "climb needs two tempi, as in 'climb 96 to 160'")
    clean, each = _whole(said, "clean", None), _whole(said, "each", None)
    if clean is not None and each is not None:
        raise said.wrong("each", "how many each has been said: so many clean")
    low, high = span or SLOW_FAST
    step = said.get("step", min(STEP, abs(high - low)) or STEP)
    passes = next((given for given in (clean, each) if given is not None), 1)
    return Climb(low, high, step, each=passes, pressed=clean is not None, back=back)


def _keys(said: Sayings, *, climbing: bool) -> Keys | None:
    if not said.get("keys"):
        for name in ("cue", "key_each"):
            if said.get(name) is not None:
                raise said.wrong(
                    name, "that is said of keys, as in 'keys by half steps, twice in each key, cue'"
                )
        if said.get("each") is not None and not climbing:
            raise said.wrong("each", "each what? Say it of a climb or of keys: 'twice in each key'")
        return None
    each = said.get("key_each")
    if each is None and not climbing:
        each = said.get("each")
    if isinstance(each, float):
        raise said.wrong("key_each", f"how often each key is played is a whole number, not {each:g}")
    own = tuple(_key(said, name) for name in said.get("names", ()))
    order = said.get("order") or ("as given" if own or said.get("of_set") else "fourths")
    return Keys(
        order=Order(order),
        own=own,
        of_set=bool(said.get("of_set")),
        modes=tuple(Mode(mode) for mode in said.get("modes", ())),
        each=1 if each is None else each,
        cue=bool(said.get("cue")),
    )


def _key(said: Sayings, name: str) -> Key:
    try:
        return Key.from_text(name)
    except NotationError as error:
        raise said.wrong("names", error.reason) from error


def _hide(said: Sayings) -> Hide | None:
    in_turn = bool(said.get("in_turn"))
    if said.parts:
        return Hide(tuple(said.parts), in_turn=in_turn)
    if said.get("hide"):
        return Hide(HIDEABLE, in_turn=True)
    if in_turn:
        raise said.wrong("in_turn", "what in turn? Say it: 'hide melody, comp, bass in turn'")
    return None
