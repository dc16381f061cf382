"""YAML's traps for music, found by looking at the file's own lines.

`V7 #ivø7` loses its tail, `#ivø7 iv6` is nothing but a comment, `&2 short` is an anchor: YAML says nothing of
it. The rule our files keep: a comment has a space after its `#`; a sharp has none.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from introit.library.reading import Place, Reading

if TYPE_CHECKING:
    from introit.library.nodes import Scalar

_CUT = re.compile(r"(?:^|(?<=\s))#(?=[^\s#])")
_SHARP_NUMERAL = re.compile(r"(?:^|(?<=[\s\[,|]))#(?=(?:[iv]+|[IV]+)(?![A-Za-z]))")
_BLOCK_HINT = "Write the music as block text: `harmony: |` with the chords on the lines below it."
_QUOTE_HINT = "Put quotes round the whole value, or a space after a # that begins a comment."


def cut_off(reading: Reading, scalar: Scalar) -> int | None:
    """Where a `#` without a space after it has cut a value off, as an index in the text; None if none has.

    Looks at the rest of a plain value's last line, at the header line of block text, and, for an empty value,
    also at the indented lines below it.
    """
    if scalar.style == "quoted":
        return None
    start = scalar.start if scalar.style == "block" else scalar.end
    end = reading.line_end(start)
    if scalar.is_null and not scalar.text:
        end = _end_of_comments(reading, end)
    found = _CUT.search(reading.text, start, end)
    return None if found is None else found.start()


def _end_of_comments(reading: Reading, end: int) -> int:
    """Index of the end of the indented comment lines that follow a line's end."""
    while end < len(reading.text):
        after = reading.line_end(end + 1)
        line = reading.text[end + 1 : after]
        if not line.startswith((" ", "\t")) or not line.strip().startswith("#"):
            return end
        end = after
    return end


def report_cut(reading: Reading, scalar: Scalar, *, music: bool) -> bool:
    """Reports a value cut off by `#`, if it is one; True if it was.

    Args:
        reading: the file.
        scalar: the value.
        music: True for harmony and figures, whose remedy is block text; False for a word, whose is quotes.
    """
    offset = cut_off(reading, scalar)
    if offset is None:
        return False
    lost = reading.text[offset : reading.line_end(offset)].strip()
    left = f"only {scalar.text.strip()!r} was left" if scalar.text.strip() else "nothing was left"
    message = f"YAML reads {lost!r} as a comment, because of the # after a space; {left}"
    reading.report(reading.place(offset), "yaml-comment", message, _BLOCK_HINT if music else _QUOTE_HINT)
    return True


def report_anchor(reading: Reading, scalar: Scalar) -> bool:
    """Reports a figure whose first off-beat became an anchor, as in `rhythm: &2 short`; True if it was."""
    if scalar.anchor is None or scalar.style != "plain":
        return False
    message = f"YAML reads '&{scalar.anchor}' as an anchor, not as an off-beat"
    reading.report(scalar.place, "yaml-anchor", message, "Write the figure as block text: `rhythm: |`.")
    return True


def explain_syntax_error(reading: Reading, error: Any) -> None:
    """Reports what PyYAML stumbled over, in words that say what to do."""
    mark = error.problem_mark or error.context_mark
    if "simple key" in (error.context or "") and error.context_mark:
        mark = error.context_mark  # the line itself; the problem shows only after it
    # By index: at the very end, libyaml counts a line too many.
    at = min(mark.index, len(reading.text)) if mark else 0
    place = reading.place(at)
    char = reading.text[at : at + 1]
    comment = _sharp_above(reading, error)
    if comment is not None:
        message = "YAML cannot go on here, because a sharp above was read as a comment"
        hint = f"Line {comment.line}, column {comment.column}: {_BLOCK_HINT}"
        reading.report(place, "syntax", message, hint)
        return
    message, hint = _plain_words(char, error, reading)
    reading.report(place, "syntax", message, hint)


def _plain_words(char: str, error: Any, reading: Reading) -> tuple[str, str]:
    problem = error.problem or "YAML cannot be read here"
    context = error.context or ""
    if char == "\t":
        return "a tab cannot indent YAML", "Use spaces."
    if "cannot start any token" in problem:
        return (
            f"a value cannot begin with {char!r}",
            "Put quotes round it, or write music as block text (`|`).",
        )
    if "mapping values are not allowed" in problem:
        return "a second ': ' in one line", "Put quotes round a text that holds a colon and a space."
    if "simple key" in context:
        return "neither `key: value` nor an entry of a list", "A colon needs a space after it."
    if "block scalar" in context:
        return (
            "text beside the `|` of a block",
            "After `harmony: |` the music begins on the next line, indented.",
        )
    if "quoted scalar" in context:
        return "a quote is opened and never closed", ""
    if "flow" in context:
        opened = reading.place(_beginning(reading, error))
        hint = f"It opens in line {opened.line}, column {opened.column}."
        return "a list in brackets is not closed, or lacks a comma", hint
    return (
        f"YAML cannot be read here ({problem})",
        "Check the indentation: keys of one block stand under each other.",
    )


def _sharp_above(reading: Reading, error: Any) -> Place | None:
    """The last `#numeral` that YAML took for a comment, from where the trouble began to where it showed."""
    begin = _beginning(reading, error)
    end = error.problem_mark.index if error.problem_mark else len(reading.text)
    found = [match.start() for match in _SHARP_NUMERAL.finditer(reading.text, begin, end)]
    return reading.place(found[-1]) if found else None


def _beginning(reading: Reading, error: Any) -> int:
    """Index of the character where the block or the list that cannot be read begins."""
    if error.context_mark is None:
        return 0
    begin: int = error.context_mark.index
    if "flow" not in (error.context or "") or reading.text[begin : begin + 1] in {"[", "{"}:
        return begin
    return max(reading.text.rfind("[", 0, begin), reading.text.rfind("{", 0, begin), 0)
