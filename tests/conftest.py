"""Shared by every test: no test is timed; skips are counted where a run wants none (INTROIT_NO_SKIPS=1)."""

from __future__ import annotations

import os

import hypothesis
import pytest

# Correctness runs on the fake clock: how long an example takes says what else the machine does.
hypothesis.settings.register_profile(
    "untimed", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
)
hypothesis.settings.load_profile("untimed")


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """A run that must skip nothing fails when something was skipped; `-ra` has printed the reasons."""
    if os.environ.get("INTROIT_NO_SKIPS") != "1" or exitstatus != 0:
        return
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter is not None and reporter.stats.get("skipped"):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
