"""The words of a practice sentence: each phrase with what it sets. The manual stands in `sentence`."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

NUMBERS = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty",
)  # fmt: skip
_TIMES = {"once": 1, "twice": 2, "thrice": 3}
_NUM = rf"(?:\d+(?:\.\d+)?|\b(?:{'|'.join(NUMBERS)})\b)"
_N = rf"({_NUM})"
_TIMES_N = rf"(once|twice|thrice|{_NUM} times)"
_BAR = r"bars?"
_TO = r"\s*(?:to|up to|through|-|–)\s*"
_BARS = rf"(?: {_BAR}(?!\s*{_NUM}))?"
"""After a number; but not where `bars` begins a passage."""
_THE = r"(?:the )?"
_PART = r"(?:melody|comping|comp|bass)"
_EACH = r"(?: each| at each(?: tempo| step)?| per (?:tempo|step))"
_SIGN = r"(?:b|#|♭|♯)?(?: ?(?:major|minor)|m)?(?![a-z#])"
_KEY = rf"[A-G]{_SIGN}"
"""A key's name begins with a capital letter, so that the word `a` is none."""
_SMALL_KEY = rf"(?<![A-Za-z])(?!a (?:minor thirds?|(?!and\b|major\b|minor\b)[a-z]{{2,}}))[A-Ga-g]{_SIGN}"
"""Behind `keys` a small one will do; `a` is one where no other word of the sentence follows it."""

Set = tuple[tuple[str, Any], ...]
"""Names of settings with their values."""


class Phrase(NamedTuple):
    """A way to say something.

    Attributes:
        pattern: what it looks like.
        sets: from the match to what is set; a setting that comes twice with two values is a mistake.
    """

    pattern: re.Pattern[str]
    sets: Callable[[re.Match[str]], Set]


class Found(NamedTuple):
    """A phrase in a text: where it stands, and what it sets."""

    start: int
    end: int
    sets: Set


def number(text: str) -> float:
    """A number as digits or as a word; `two times` and `twice` are 2."""
    word = text.removesuffix(" times").strip()
    if word in _TIMES:
        return _TIMES[word]
    return float(NUMBERS.index(word)) if word in NUMBERS else float(word)


def _whole(text: str) -> int | float:
    """As an integer where it is one; else as it is, for the goal to refuse."""
    value = number(text)
    return int(value) if value == int(value) else value


def _phrase(pattern: str, sets: Callable[[re.Match[str]], Set], *, case: bool = False) -> Phrase:
    spaced = pattern.replace(" ", r"\s+")
    return Phrase(re.compile(rf"(?<![\w#])(?:{spaced})(?!\w)", 0 if case else re.IGNORECASE), sets)


def _one(name: str) -> Callable[[re.Match[str]], Set]:
    """A setting whose number is the one that was matched."""

    def sets(match: re.Match[str]) -> Set:
        return ((name, _whole(next(group for group in match.groups() if group).lower())),)

    return sets


def _fixed(*pairs: tuple[str, Any]) -> Callable[[re.Match[str]], Set]:
    return lambda match: pairs


def _parts(match: re.Match[str]) -> Set:
    names = (name.lower() for name in re.findall(_PART, match[0], re.IGNORECASE))
    return tuple(("part", "comp" if name == "comping" else name) for name in names)


def _bars(match: re.Match[str]) -> Set:
    first = _whole(match[1].lower())
    return (("bars", (first, _whole(match[2].lower()) if match[2] else first)),)


def _span(match: re.Match[str]) -> Set:
    low, high = number(match[1].lower()), number(match[2].lower())
    return (("span", (low, high)),)


def _key_names(match: re.Match[str]) -> Set:
    names = tuple(re.sub(r"\s+", " ", name) for name in re.findall(_SMALL_KEY, match[1]))
    return (("names", tuple(name[0].upper() + name[1:] for name in names)), ("keys", True))


def _climbed(match: re.Match[str]) -> Set:
    return (("climb", True), *_span(match))


def _others(match: re.Match[str]) -> Set:
    """One part alone: the others are out."""
    name = next(group for group in match.groups() if group).lower()
    kept = "comp" if name == "comping" else name
    return tuple(("part", part) for part in ("melody", "comp", "bass") if part != kept)


def _traded(match: re.Match[str]) -> Set:
    return (("answer", {"ones": 1, "twos": 2, "fours": 4, "eights": 8}[match[1].lower()]),)


def _order(word: str) -> Callable[[re.Match[str]], Set]:
    return _fixed(("order", word), ("keys", True))


_LIST = r"(?:\s*,\s*(?:and )?|\s+and\s+|\s+)"
_LEAD_TO_ORDER = r"(?:(?:by|in|round|through|the) )*"
_DOWN = r"(?:down(?:wards?)?|descending)"
_HALF, _WHOLE = r"(?:half[\s-]steps?|semitones?)", r"(?:whole[\s-](?:steps?|tones?))"

PHRASES: tuple[Phrase, ...] = (
    # tempo that climbs
    _phrase(rf"climb(?:ing)?(?: from)? {_N}(?:\s*,\s*|\s+){_N}"
            rf"(?!{_TO}{_NUM}|\s*(?:{_BAR}|rounds?|passes|clean|each|at)\b)", _climbed),
    _phrase(r"slow[\s,-]*fast[\s,-]*slow", _fixed(("back", True), ("climb", True))),
    _phrase(rf"(?:up(?: by)?|by) {_N} (?:each|every) time", _one("step")),
    _phrase(r"(?:there )?and back(?: again)?|up and down", _fixed(("back", True))),
    _phrase(rf"(?:after )?{_N} clean(?: passes| ones| times)?(?: in a row)?{_EACH}?", _one("clean")),
    _phrase(rf"clean {_TIMES_N}{_EACH}?", _one("clean")),
    _phrase(r"(?:when|if|once|only) (?:it is |it was )?clean", _fixed(("clean", 1))),
    _phrase(rf"(?:each|every) key {_TIMES_N}", _one("key_each")),
    _phrase(rf"{_TIMES_N} (?:in )?(?:each|every) key", _one("key_each")),
    _phrase(rf"{_N}(?: passes)? (?:in (?:each|every) key|a key|per key)", _one("key_each")),
    _phrase(rf"(?:{_TIMES_N}|{_N}(?: passes)?){_EACH}", _one("each")),
    # what lies between passes; before the bars of a passage, for both say `bars`
    _phrase(r"(?:no|without(?: a)?) rests?", _fixed(("rest", 0))),
    _phrase(rf"rests?(?: of| for)? {_N}{_BARS}", _one("rest")),
    _phrase(rf"{_N} {_BAR}(?: of)? (?:rest|between)", _one("rest")),
    _phrase(r"no count(?:[\s-]?(?:off|in))?", _fixed(("count", 0))),
    _phrase(rf"count(?:[\s-]?(?:off|in))?(?: of)? {_N}{_BARS}", _one("count")),
    _phrase(rf"{_N} {_BAR}(?: of)? count(?:[\s-]?(?:off|in))?", _one("count")),
    _phrase(r"count(?:[\s-]?(?:off|in))?", _fixed(("count", 1))),
    # two bars each
    _phrase(rf"{_N} {_BAR} {_THE}tool\s*,? (?:and )?{_N} {_BAR} {_THE}(?:player|me|you)",
            lambda match: tuple(("answer", _whole(group.lower())) for group in match.groups())),
    _phrase(rf"answer(?:ing)?(?: every)? {_N}{_BARS}", _one("answer")),
    _phrase(r"trad(?:e|ing) (ones|twos|fours|eights)", _traded),
    _phrase(r"answer(?:ing)?|call and response", _fixed(("answer", 2))),
    # a melody that fades; before the passes of a practice, for both say `passes`
    _phrase(rf"fad(?:e|ing)(?: {_THE}melody)?(?: out| away)?(?: (?:over|in|within))? {_N}(?: passes)?",
            _one("fade")),
    _phrase(rf"fad(?:e|ing)(?: {_THE}melody)?(?: out| away)?", _fixed(("fade", 5))),
    # what is played
    _phrase(rf"{_BAR} {_N}(?:(?:{_TO}| and ){_N})?", _bars),
    _phrase(rf"{_N} rounds?", _one("rounds")),
    _phrase(rf"(?:round|through) {_TIMES_N}|{_TIMES_N} (?:round|through)", _one("rounds")),
    _phrase(rf"(?:stop )?after {_N} passes|{_N} passes(?: in all)?", _one("passes")),
    _phrase(rf"(?:at|tempo) {_N}(?: bpm)?(?!{_TO}{_NUM})", _one("tempo")),
    # keys
    _phrase(rf"[Kk]eys?(?: of)?[\s:]+({_SMALL_KEY}(?:{_LIST}{_SMALL_KEY})*)", _key_names, case=True),
    _phrase(rf"[Ii]n[\s:]+({_KEY}(?:{_LIST}{_KEY})*)", _key_names, case=True),
    _phrase(r"(?:only )?(?:the )?(?:keys )?of (?:the|my)(?: own)? set|my(?: own)? keys",
            _fixed(("of_set", True), ("keys", True))),
    _phrase(rf"{_LEAD_TO_ORDER}(?:cycle of |circle of )?fourths", _order("fourths")),
    _phrase(rf"{_LEAD_TO_ORDER}(?:cycle of |circle of )?fifths", _order("fifths")),
    _phrase(rf"(?:going )?{_DOWN} {_LEAD_TO_ORDER}(?:a )?{_HALF}|{_LEAD_TO_ORDER}{_HALF} {_DOWN}"
            rf"|chromatic(?:ally)? {_DOWN}|{_DOWN} chromatic(?:ally)?", _order("half steps down")),
    _phrase(rf"(?:going )?{_DOWN} {_LEAD_TO_ORDER}(?:a )?{_WHOLE}|{_LEAD_TO_ORDER}{_WHOLE} {_DOWN}",
            _order("whole steps down")),
    _phrase(rf"{_LEAD_TO_ORDER}{_HALF}|chromatic(?:ally)?", _order("half steps")),
    _phrase(rf"{_LEAD_TO_ORDER}{_WHOLE}", _order("whole steps")),
    _phrase(rf"{_LEAD_TO_ORDER}minor[\s-]thirds?", _order("minor thirds")),
    _phrase(r"(?:at )?random(?:ly)?(?: order)?(?: without repeats)?", _order("random")),
    _phrase(r"as (?:given|written|they stand)", _order("as given")),
    _phrase(r"(?:in )?(?:major and minor|both modes)", _fixed(("modes", ("major", "minor")), ("keys", True))),
    _phrase(r"(?:in )?minor and major", _fixed(("modes", ("minor", "major")), ("keys", True))),
    _phrase(r"(?:in )?major(?: keys)?", _fixed(("modes", ("major",)), ("keys", True))),
    _phrase(r"(?:in )?minor(?: keys)?", _fixed(("modes", ("minor",)), ("keys", True))),
    _phrase(r"(?:in |through )?(?:all |every |the )*(?:twelve |12 )?keys?", _fixed(("keys", True))),
    _phrase(r"(?:with )?(?:a )?cue(?: chord)?", _fixed(("cue", True))),
    # what is left out
    _phrase(rf"(?:only {_THE}({_PART})|{_THE}({_PART}) (?:only|alone))", _others),
    _phrase(rf"(?:hide|mute|without|leave out|turn off|no) {_THE}{_PART}(?:{_LIST}{_THE}{_PART})*", _parts),
    _phrase(rf"{_THE}{_PART} (?:out|off|muted)", _parts),
    _phrase(r"in turn|by turns|one after the other", _fixed(("in_turn", True))),
    _phrase(r"hide", _fixed(("hide", True))),
    # lessons
    _phrase(r"(?:build )?(?:(?:the )?same voicings? )?(?:on )?(?:the )?(?:next )?(?:strings|string sets?)",
            _fixed(("build", "strings"))),
    _phrase(rf"build(?:ing)?(?: {_THE}(?:chords|intro))?", _fixed(("build", "chords"))),
    _phrase(r"(?:listen(?:ing)?|mistakes?)(?: for| to)?(?: mistakes?)?(?: (?:what is|chords|a chord))?"
            r" (?:left out|out|missing)", _fixed(("ear", "out"))),
    _phrase(r"(?:listen(?:ing)?|mistakes?)(?: for| to)?(?: mistakes?)?(?: (?:what is|chords|a chord))?"
            r" (?:swapped|wrong(?: chords?)?)", _fixed(("ear", "swapped"))),
    _phrase(r"listen(?:ing)?(?: for)?(?: mistakes?)?|mistakes?(?: on purpose)?", _fixed(("ear", "both"))),
    # a climb's bare numbers, when nobody else has claimed them
    _phrase(rf"(?:from |between )?{_N}(?: bpm)?(?:{_TO}| and ){_N}(?: bpm)?", _span),
    _phrase(rf"{_N} bpm", _one("tempo")),
    _phrase(rf"up(?: by)? {_N}|\+\s*{_N}", _one("step")),
    _phrase(rf"(?:by|in steps of|steps? of|step) {_N}(?: at a time)?|{_N} at a time", _one("step")),
    _phrase(r"climb(?:ing)?", _fixed(("climb", True))),
    _phrase(_TIMES_N, _one("passes")),
)  # fmt: skip
"""In the order in which they are looked for: each takes its characters out of the text."""

FILLERS = frozenset(
    {
        *("a", "again", "an", "and", "at", "bpm", "for", "go", "in", "intro", "it", "loop", "looping", "of"),
        *("on", "only", "pass", "passes", "play", "please", "practise", "repeat", "repeated", "so", "the"),
        *("then", "through", "to", "up", "whole", "with"),
    }
)
"""Words that may stand anywhere and say nothing."""

WORDS = (
    *("answer", "bar", "bars", "bass", "build", "chord", "clean", "climb", "comp", "count", "cue", "each"),
    *(
        "fade",
        "fifths",
        "fourths",
        "half steps",
        "hide",
        "key",
        "keys",
        "listen",
        "loop",
        "major",
        "melody",
        "minor",
    ),
    *("minor thirds", "mistakes", "out", "passes", "random", "rest", "rounds", "set", "slow fast slow"),
    *("step", "strings", "swapped", "thirds", "turn", "whole steps", "without"),
    *NUMBERS[1:],
)
"""What a word was probably meant to be."""


def phrases_in(text: str) -> tuple[list[Found], str]:
    """The phrases of a text in their order, and the text with blanks in their places."""
    rest, found = text, []
    for phrase in PHRASES:
        for match in _taken(phrase, rest):
            found.append(Found(match.start(), match.end(), phrase.sets(match)))
            rest = rest[: match.start()] + "\0" * (match.end() - match.start()) + rest[match.end() :]
    return sorted(found), rest


def _taken(phrase: Phrase, text: str) -> Iterator[re.Match[str]]:
    return phrase.pattern.finditer(text)
