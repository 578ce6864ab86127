#!/usr/bin/env bash
# Builds wellreeve and runs it on the invented county beside this file. Works from any folder; the second run takes seconds.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. demo/needs.sh

install_needs
say "Building wellreeve; the first time this takes some minutes."
cargo build --release --locked
say "Running the plan demo/plan.toml."
"${CARGO_TARGET_DIR:-target}/release/wellreeve" run demo/plan.toml --out demo/out

say ""
say "Done. Open demo/out/public/report.html in a browser."
say "The tables behind it are in demo/out/public/tables, the maps in demo/out/public/maps."
say "Lists with well numbers and places, not for publication, are in demo/out/internal:"
say "follow-up.csv (act now), retest.csv (due again), sample-next.csv (where to sample), letters (one a household),"
say "set-aside.csv (results not used, and why)."
say "demo/README.md says what to look for."
