"""Shared by every test: counts skips where a run has said that it wants none (INTROIT_NO_SKIPS=1)."""

from __future__ import annotations

import os

import pytest


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """A run that must skip nothing fails when something was skipped; `-ra` has printed the reasons."""
    if os.environ.get("INTROIT_NO_SKIPS") != "1" or exitstatus != 0:
        return
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter is not None and reporter.stats.get("skipped"):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
