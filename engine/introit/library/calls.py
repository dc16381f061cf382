"""Ready-made tunes: what is called on a stand without a file, as in "medium swing, Ab, starts on two, 140".

A call begins with a feel; after it, in any order, come the key, and where wanted the tempo, the meter and
what the head starts on: `starts on one` (or two, four, six), or a numeral, `starts on bVImaj7`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from introit.errors import NotationError, did_you_mean
from introit.library.lines import Piece, split, words
from introit.library.model import Feel, Library, Tune
from introit.theory.key import Key, Mode
from introit.theory.meter import Meter
from introit.theory.numeral import Numeral
from introit.units import TEMPO_MAX, TEMPO_MIN

HEADS = {Mode.MAJOR: ("I", "ii", "IV", "vi"), Mode.MINOR: ("i",)}
"""First chords of the ready-made entries."""
STARTS = {
    Mode.MAJOR: {"one": "I", "two": "ii", "three": "iii", "four": "IV", "five": "V7", "six": "vi"},
    Mode.MINOR: {"one": "i", "two": "iiø7", "three": "bIII", "four": "iv", "five": "V7", "six": "bVI"},
}
"""What a spoken degree means as a first chord."""
LONGEST_CALL = 200

_TEMPO = re.compile(r"(?:at\s+)?(\d{1,6}(?:\.\d{1,4})?)(?:\s*bpm)?", re.IGNORECASE)
_METER = re.compile(r"\d{1,3}\s*/\s*\d{1,3}")
_STARTS = re.compile(r"(?:starts|starting)\s+on\s+(?:the\s+)?(.+)", re.IGNORECASE)
_KEY = re.compile(
    r"(?:in\s+)?([a-g](?:b|#|♭|♯|[\s-]*flat\b|[\s-]*sharp\b)?(?:\s*(?:major|minor|maj|min|m))?)", re.I
)
_HOW = "after the feel come a key (Ab, C minor), a tempo (140), a meter (3/4) or `starts on two`"


@dataclass(frozen=True, slots=True)
class ReadyMade:
    """A ready-made entry: everything but the key.

    Attributes:
        id: such as `medium-swing-major-ii`.
        feel: id of its feel.
        mode: of the head.
        first_chord: the head's first chord, as a numeral.
        tempo: what it gets when the call names none, quarter notes a minute.
        call: an example that `called_tune` reads, in C.
    """

    id: str
    feel: str
    mode: Mode
    first_chord: str
    tempo: float
    call: str


def ready_made(library: Library) -> tuple[ReadyMade, ...]:
    """Every ready-made entry: feel x mode x first chord (I, ii, IV, vi; i), ordered by the feels' ids."""
    return tuple(
        _entry(feel, mode, head)
        for _, feel in sorted(library.feels.items())
        for mode, heads in HEADS.items()
        for head in heads
    )


def called_tune(text: str, library: Library) -> Tune:
    """The tune that a call describes; see the top of this module.

    Raises:
        NotationError: with the character where reading failed, what is allowed there and what was meant.
    """
    if len(text) > LONGEST_CALL:
        raise NotationError(text, LONGEST_CALL, f"a call has at most {LONGEST_CALL} characters")
    first, *others = split(Piece(text, 0), ",")
    feel = _feel(text, first, library.feels)
    given: dict[str, Piece] = {}
    for piece in others:
        kind, value = _kind(text, piece)
        if kind in given:
            raise NotationError(text, piece.offset, f"a second {kind}; the first is {given[kind].text!r}")
        given[kind] = value
    if "key" not in given:
        raise NotationError(text, len(text), "the key is missing, as in `, Ab` or `, C minor`")
    key = _key(text, given["key"])
    return _tune(text, feel, key, given)


def _tune(text: str, feel: Feel, key: Key, given: Mapping[str, Piece]) -> Tune:
    first_chord = _first_chord(text, given.get("first chord"), key.mode)
    meter = _meter(text, given["meter"], feel) if "meter" in given else feel.meters[0]
    return Tune(
        id=_id(feel, key.mode, str(first_chord)),
        title=f"{feel.name} from {first_chord}",  # no key: it may be called in another
        key=key,
        meter=meter,
        tempo=_tempo(text, given["tempo"]) if "tempo" in given else feel.typical_tempo,
        feel=feel.id,
        first_chord=first_chord,
    )


def _entry(feel: Feel, mode: Mode, head: str) -> ReadyMade:
    spoken = next(word for word, numeral in STARTS[mode].items() if numeral == head)
    key = "C" if mode is Mode.MAJOR else "C minor"
    call = f"{_spoken(feel.id)}, {key}, starts on {spoken}"
    return ReadyMade(_id(feel, mode, head), feel.id, mode, head, feel.typical_tempo, call)


def _id(feel: Feel, mode: Mode, head: str) -> str:
    return f"{feel.id}-{mode.value}-{head}"


def _spoken(name: str) -> str:
    """A feel's name as it is said and compared: small letters, spaces for hyphens."""
    return " ".join(name.casefold().replace("-", " ").split())


def _feel(text: str, piece: Piece, feels: Mapping[str, Feel]) -> Feel:
    names = {_spoken(name): feel for feel in feels.values() for name in (feel.name, feel.id)}
    found = names.get(_spoken(piece.text))
    if found is not None:
        return found
    there = ", ".join(sorted(_spoken(name) for name in feels)) or "none at all"
    hint = did_you_mean(_spoken(piece.text), names)
    raise NotationError(
        text,
        piece.offset,
        f"a call begins with a feel, not {piece.text!r}; feels are {there}. {hint}".strip(" ."),
    )


def _kind(text: str, piece: Piece) -> tuple[str, Piece]:
    """Which kind of thing a part of a call is, and the piece that says it."""
    if found := _STARTS.fullmatch(piece.text):
        return "first chord", Piece(found[1], piece.offset + found.start(1))
    for kind, pattern in (("tempo", _TEMPO), ("key", _KEY), ("meter", _METER)):
        if found := pattern.fullmatch(piece.text):
            group = 1 if pattern.groups else 0
            return kind, Piece(found[group], piece.offset + found.start(group))
    given = repr(piece.text) if piece.text else "nothing"
    raise NotationError(text, piece.offset, f"{given} cannot be read here; {_HOW}")


def _key(text: str, piece: Piece) -> Key:
    try:
        return Key.from_text(piece.text)
    except NotationError as error:
        raise NotationError(text, piece.offset + error.position, error.reason) from error


def _tempo(text: str, piece: Piece) -> float:
    tempo = float(piece.text)
    if TEMPO_MIN <= tempo <= TEMPO_MAX:
        return tempo
    reason = f"tempo is {tempo:g}; allowed is {TEMPO_MIN} to {TEMPO_MAX} beats a minute"
    raise NotationError(text, piece.offset, reason)


def _meter(text: str, piece: Piece, feel: Feel) -> Meter:
    try:
        meter = Meter.from_text(piece.text)
    except NotationError as error:
        raise NotationError(text, piece.offset, error.reason) from error
    if meter in feel.meters:
        return meter
    reason = f"{_spoken(feel.name)} is felt in {', '.join(map(str, feel.meters))}, not in {meter}"
    raise NotationError(text, piece.offset, reason)


def _first_chord(text: str, piece: Piece | None, mode: Mode) -> Numeral:
    if piece is None:
        return Numeral.from_text(HEADS[mode][0])
    spoken = STARTS[mode]
    said = words(piece)[0].text.casefold()
    if said == piece.text.casefold() and said in spoken:
        return Numeral.from_text(spoken[said])
    try:
        return Numeral.from_text(piece.text)
    except NotationError as error:
        hint = did_you_mean(piece.text, spoken)
        reason = f"{error.reason}; or one of {', '.join(spoken)}. {hint}".strip(" .")
        raise NotationError(text, piece.offset + min(error.position, len(piece.text)), reason) from error
