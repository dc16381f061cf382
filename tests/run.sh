#!/usr/bin/env bash
# All checks, from nothing: brings what it needs, then ruff, types, tests, real MIDI and a short benchmark.
# Usage: tests/run.sh [--quick]     PYTHON=python3.13 tests/run.sh picks another interpreter (3.11 or later).
# --quick leaves out the real-MIDI suite, the built wheel and the benchmark.
set -euo pipefail
cd "$(dirname "$0")/.."

say() { printf '\n== %s\n' "$*"; }

find_python() {
  local candidate
  for candidate in "${PYTHON:-}" python3.12 python3.11 python3 python3.13 python3.14 python; do
    if [ -n "$candidate" ] && command -v "$candidate" >/dev/null 2>&1 &&
      "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      printf '%s\n' "$candidate"
      return
    fi
  done
  echo "tests/run.sh: Python 3.11 or later is needed; PYTHON=... names one" >&2
  return 1
}

bring_packages() {
  # The real-MIDI suite wants a JACK server and FluidSynth's library, the service's unit is read by systemd itself,
  # and the stand's page is looked at in a browser.
  # What cannot be had is said, and its tests are counted as skipped.
  local missing=()
  command -v jackd >/dev/null 2>&1 || missing+=(jackd2)
  ldconfig -p 2>/dev/null | grep 'libfluidsynth\.so\.3' >/dev/null || [ "$(uname)" != Linux ] || missing+=(libfluidsynth3)
  [ "$(uname)" != Linux ] || command -v systemd-analyze >/dev/null 2>&1 || missing+=(systemd)
  [ "$(uname)" != Linux ] || command -v cyclictest >/dev/null 2>&1 || missing+=(rt-tests)
  command -v chromium >/dev/null 2>&1 || [ "$(uname)" != Linux ] || missing+=(chromium)
  if [ "${#missing[@]}" = 0 ]; then return; fi
  if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    say "system packages: ${missing[*]}"
    {
      apt-get update &&
        DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "${missing[@]}"
    } >/dev/null || echo "${missing[*]} could not be installed; tests that need them will be skipped"
  else
    echo "not here, and no right to install: ${missing[*]}; tests that need them will be skipped"
  fi
}

python=$(find_python)
bring_packages

venv=.venv-tests
say "environment: $("$python" --version)"
"$python" -m venv --clear "$venv"
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --editable '.[dev]'
export PATH="$PWD/$venv/bin:$PATH"

say "ruff"
ruff check engine tests
ruff format --check engine tests
say "types"
mypy
say "content"
introit check

if [ "${1:-}" = --quick ]; then
  say "tests"
  exec python -m pytest -q -n auto --dist loadfile --no-loadscope-reorder -m "not e2e and not long"
fi

say "tests, on every core"
python -m pytest -q -n auto --dist loadfile --no-loadscope-reorder -m "not e2e and not long"
say "real MIDI in order; beside it a real browser and the built wheel, told afterwards"
beside=$(mktemp)
set -m # else what runs beside would take no Ctrl-C, and neither would what its tests start
python -m pytest -q --durations=5 -m "e2e and not jack and not long" >"$beside" 2>&1 &
pid=$!
set +m
trap 'kill "$pid" 2>/dev/null || true' EXIT
failed=
python -m pytest -q --durations=10 -m "jack and not long" || failed=1
wait "$pid" || failed=1
trap - EXIT
cat "$beside"
rm -f "$beside"
[ -z "$failed" ]
say "benchmark (short)"
python tests/bench/run.py --short
