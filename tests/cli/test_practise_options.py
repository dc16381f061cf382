"""What `introit practise` refuses before anything is opened, each in a line that says what was meant."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from introit.cli.commands.practise import practise
from introit.errors import IntroitError

PLAIN = """\
title: Copper Gate
key: Bb
tempo: 200
feel: medium-swing
first_chord: I
intro: three-six-two-five
"""


def refused(*arguments: str) -> str:
    with pytest.raises(IntroitError) as caught:
        CliRunner().invoke(practise, [*arguments], catch_exceptions=False, standalone_mode=False)
    return str(caught.value)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("dominant-vamp", "clmb 96 to 160"), "'clmb' says nothing here. Did you mean 'climb'?"),
        (("dominant-vamp", "climb", "160", "to", "96"), "Did you mean 'climb 96 to 160'?"),
        (("dominant-vamp", "bars 3 to 12"), "there is no bar 12"),
        (("dominant-vamp", "build, listen"), "practise one of them"),
        (("dominant-vmp",), "no intro, tune, set or file 'dominant-vmp'. Did you mean 'dominant-vamp'?"),
        (("dominant-vamp", "--count-off", "1"), "is said in words here: `count 1`"),
        (("demo", "--key", "C"), "--key is for an intro on its own; 'demo' is none"),
        (("demo", "climb 90 to 120"), "climb takes one intro or tune"),
        (("dominant-vamp", "--with-tune"), "'dominant-vamp' is an intro and has no tune behind it"),
        (("demo", "keys", "--with-tune"), "'keys' and --with-tune do not go together"),
        (("demo", "--tempo", "100", "--with-tune"), "'--tempo' and --with-tune do not go together"),
    ],
)
def test_a_wrong_use_is_refused_in_a_line(arguments: tuple[str, ...], words: str) -> None:
    told = refused(*arguments)
    assert words in told
    assert "\n" not in told


def test_a_tune_without_a_chart_has_nothing_behind_its_intro(tmp_path: Path) -> None:
    file = tmp_path / "tune.yaml"
    file.write_text(PLAIN)
    assert "tune 'Copper Gate' has no `chart:`" in refused(str(file), "--with-tune")
