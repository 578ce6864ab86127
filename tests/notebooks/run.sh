#!/usr/bin/env bash
# Runs the demo and holds its research files against the published schema and the notebooks' own figures.
# The Python packages go into a folder of their own in the user's cache folder, made once for each list of them.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
. demo/needs.sh
. tests/demo.sh

list=tests/notebooks/requirements.txt
home="${XDG_CACHE_HOME:-$HOME/.cache}/wellreeve/notebooks-$(sha256sum <"$list" | cut -c1-12)"

# A folder that was left half made has no mark and is made anew.
if [ ! -e "$home/ready" ]; then
  install_needs python3:python3
  python3 -c 'import ensurepip, venv' 2>/dev/null || install_packages python3-venv
  say "Installing Jupyter and the notebooks' libraries into $home."
  python3 -m venv --clear "$home"
  "$home/bin/pip" install --quiet --disable-pip-version-check --requirement "$list"
  touch "$home/ready"
fi

work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
cargo build --quiet --release --locked
make_demo_out "$work"
"$home/bin/python" tests/notebooks/check.py "$DEMO_OUT"
