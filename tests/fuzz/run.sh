#!/bin/sh
# Fuzzes one target, or all of them, each for a number of seconds, on the stable toolchain; needs a C++ compiler for libFuzzer.
#   tests/fuzz/run.sh SECONDS [TARGET...]
# With cargo-fuzz and a nightly toolchain: cargo +nightly fuzz run --fuzz-dir tests/fuzz TARGET
# Here coverage marks go into our own crates alone (sancov.sh), so that the dependencies are not built anew.
set -eu
cd "$(dirname "$0")"
seconds=${1:?seconds for each target}
shift
all='value unit date csv workbook parquet plan geojson shapefile geopackage wkb geotiff draft'
[ $# -gt 0 ] || set -- $all
target_dir=${CARGO_TARGET_DIR:-../../target}
CARGO_TARGET_DIR=$target_dir RUSTC_WRAPPER="$PWD/sancov.sh" cargo build --release --locked --bin any
place=$(mktemp -d "${TMPDIR:-/dev/shm}/wellreeve-fuzz.XXXXXX")
trap 'rm -rf "$place"' EXIT
for target in "$@"; do
    mkdir -p "corpus/$target" "artifacts/$target"
    echo "== $target"
    FUZZ_TARGET=$target TMPDIR=$place RAYON_NUM_THREADS=1 \
        nice -n 19 "$target_dir/release/any" "corpus/$target" "cases/$target" -artifact_prefix="artifacts/$target/" \
        -rss_limit_mb=2048 -timeout=10 -max_total_time="$seconds" -print_final_stats=1 2>&1 | tail -n 25
done
