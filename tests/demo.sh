#!/usr/bin/env bash
# Sourced by the scripts that look at the demo's output, so that the demo is run once for all of them. A township's name and the title
# carry markup, and there are few resamples for speed; everything else is as in demo/.

# Makes the demo's output in "$DEMO_OUT" unless it is there already. `tests/run.sh` names a folder for all; otherwise $1 is used.
make_demo_out() {
  DEMO_OUT=${DEMO_OUT:-$1/out}
  [ -e "$DEMO_OUT/manifest.json" ] && return 0
  local nasty='<img src=x onerror=alert(1)><script>alert(2)</script>' from
  from=$(mktemp -d)
  cp -r demo "$from/demo"
  rm -rf "$from/demo/out"
  sed -i "s|\"Kestrelby\"|\"Kestrelby $nasty\"|" "$from/demo/maps/townships.geojson"
  sed -i "s|^resamples = .*|resamples = 100|; s|^title = \"|&$nasty |" "$from/demo/plan.toml"
  grep -q 'Kestrelby <img' "$from/demo/maps/townships.geojson"
  "${CARGO_TARGET_DIR:-target}/release/wellreeve" run "$from/demo/plan.toml" --out "$DEMO_OUT" --quiet >/dev/null
  rm -rf "$from"
}
