#!/usr/bin/env bash
# Installs what the tests need, then runs them all. Works from any folder and stops at the first failure.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. demo/needs.sh

install_needs
say "Running the tests of the program."
cargo test --release --locked
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
export DEMO_OUT="$work/out"
say "Opening the report in a browser."
tests/browser.sh
say "Running the notebooks."
tests/notebooks/run.sh
say "All tests passed."
