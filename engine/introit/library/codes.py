"""The kinds of mistake a content file can hold: one stable word each, with what it means.

`patterns/README.md` explains the same words to musicians; a test keeps the two lists equal.
"""

from __future__ import annotations

CODES: dict[str, str] = {
    "unreadable": "the file cannot be opened",
    "too-big": "the file is larger than any content file need be",
    "not-text": "the file is not UTF-8 text, or holds control characters",
    "syntax": "YAML cannot be read here",
    "nested": "lists and blocks lie too deep in each other, or aliases repeat too much",
    "yaml-comment": "a # made the rest of the line a comment, and music was lost",
    "yaml-word": "on, off, yes or no stands where true, false or a number is needed",
    "yaml-clock": "a value such as 4:30 stands where a number is needed",
    "yaml-anchor": "an & outside block text became a YAML anchor, and an off-beat was lost",
    "duplicate-key": "the same key twice in one block",
    "unknown-key": "a key that means nothing here",
    "missing-key": "a key that must be there is not",
    "wrong-type": "a list where a word is needed, a word where a number is needed, and so on",
    "not-allowed": "a word that is not among those allowed here",
    "out-of-range": "a number too low or too high",
    "bad-numeral": "a Roman numeral that cannot be read",
    "bad-chord": "a chord name that cannot be read",
    "bad-key": "a musical key that cannot be read",
    "bad-meter": "a meter other than 3/4, 4/4 and 5/4",
    "bad-date": "a day that cannot be read, or is in no calendar",
    "bad-bar": "a bar that does not add up",
    "bad-chart": "repeats, endings or a coda that nobody could follow",
    "bad-figure": "a rhythm, bass or motif line that cannot be read",
    "bad-call": "a called tune that cannot be read",
    "not-there": "a name of something that is not in the library",
    "left-out": "a name of something that has mistakes of its own and was left out",
    "does-not-fit": "two things that cannot go together",
    "bad-name": "a file name with characters that cannot be shown",
    "same-name": "two files in one folder with the same name",
    "unknown-kind": "nobody can tell what the file describes",
}
