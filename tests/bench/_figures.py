"""What every benchmark has in common: its options, its percentiles, its table, its JSON file."""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

SHARES = (("p50", 0.5), ("p99", 0.99), ("p99.9", 0.999))


def options(about: str, *, short: str) -> argparse.Namespace:
    """The two options that `run.py` passes on.

    Args:
        about: the script's docstring; its first line is told.
        short: what the short form leaves out.
    """
    parser = argparse.ArgumentParser(description=about.splitlines()[0])
    parser.add_argument("--short", action="store_true", help=short)
    parser.add_argument("--json", type=Path, help="also write the figures here")
    # Ended from outside, it still ends what it has started, as on Ctrl-C.
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda number, _: sys.exit(128 + number))
    return parser.parse_args()


def percentile(ordered: Sequence[float], share: float) -> float:
    """The value below which `share` of the sorted values lie (nearest rank); of none, not a number."""
    if not ordered:
        return float("nan")
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def spread(values: Iterable[float], unit: str, digits: int = 3) -> dict[str, float]:
    """Percentiles and the worst, each with its unit in its name."""
    ordered = sorted(values)
    found = {f"{name} {unit}": round(percentile(ordered, share), digits) for name, share in SHARES}
    return {**found, f"worst {unit}": round(percentile(ordered, 1), digits)}


class Table:
    """Rows that are printed as they come, and written at the end.

    Args:
        bench: the benchmark's name.
    """

    def __init__(self, bench: str) -> None:
        self.bench = bench
        self.rows: list[dict[str, object]] = []
        self._began = os.getloadavg()[0]
        print(f"load {self._began:.1f} on {os.cpu_count()} cores, before it began", flush=True)

    def add(self, what: str, **facts: object) -> None:
        """One row: what was measured, and figures or a sentence that says why there are none."""
        self.rows.append({"what": what, **facts})
        told = "  ".join(f"{value:>8} {name}" for name, value in facts.items() if name != "note")
        print(f"{what:58} {told} {facts.get('note', '')}".rstrip(), flush=True)

    def missing(self, what: str, why: object) -> None:
        """A row that could not be measured here."""
        self.add(what, note=f"not measured: {why}")

    def write(self, path: Path | None) -> None:
        """Writes the figures, if a file was asked for."""
        if path is not None:
            figures = {"bench": self.bench, "load": self._began, "cores": os.cpu_count(), "rows": self.rows}
            path.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")
