"""Runs every benchmark, prints their tables and writes their figures.

    python tests/bench/run.py [--short] [--json FOLDER]

Nothing here passes or fails on speed; a benchmark that cannot run at all is an error.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).parent


def main() -> None:
    """Runs each script beside this one in a process of its own."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--short", action="store_true")
    parser.add_argument("--json", type=Path, help="folder for the figures")
    options = parser.parse_args()
    began = time.monotonic()
    for script in sorted(HERE.glob("*.py")):
        if script.name == Path(__file__).name or script.name.startswith("_"):
            continue
        print(f"-- {script.stem}", flush=True)
        command = [sys.executable, str(script)]
        if options.short:
            command.append("--short")
        if options.json:
            options.json.mkdir(parents=True, exist_ok=True)
            command += ["--json", str(options.json / f"{script.stem}.json")]
        subprocess.run(command, check=True)
    print(f"-- all of it in {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
