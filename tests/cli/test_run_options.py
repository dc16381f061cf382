"""What `introit run` refuses before anything is opened."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from introit.cli.commands.run import run
from introit.errors import UsageError


@pytest.mark.parametrize("option", [("--listen", "192.0.2.7"), ("--tls",)])
def test_how_a_page_is_served_is_said_of_a_page(option: tuple[str, ...]) -> None:
    with pytest.raises(UsageError, match=f"{option[0]} says how a page is served; --stand serves one"):
        CliRunner().invoke(run, ["no-such-set", *option], catch_exceptions=False, standalone_mode=False)
