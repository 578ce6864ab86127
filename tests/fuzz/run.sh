#!/bin/sh
# Fuzzes one target, or all of them, until each has had so many seconds of processor time or ten million executions, on the stable
# toolchain; needs a C++ compiler for libFuzzer.
#   tests/fuzz/run.sh SECONDS [TARGET...]
# What is found to be new ground is kept in FUZZ_CORPUS (otherwise in the temporary folder, which goes), findings in FUZZ_FINDINGS.
# FUZZ_TIMEOUT is the longest that one input may take, in seconds of the clock (10): more on a machine that is busy with other work.
# With cargo-fuzz and a nightly toolchain: cargo +nightly fuzz run --fuzz-dir tests/fuzz TARGET
# Here coverage marks go into our own crates alone (sancov.sh), so that the dependencies are not built anew.
set -eu
cd "$(dirname "$0")"
seconds=${1:?seconds of processor time for each target}
shift
all='csv plan geopackage geotiff unit shapefile geojson value date wkb draft workbook parquet'
[ $# -gt 0 ] || set -- $all
target_dir=${CARGO_TARGET_DIR:-../../target}
CARGO_TARGET_DIR=$target_dir RUSTC_WRAPPER="$PWD/sancov.sh" cargo build --release --locked --bin any
place=$(mktemp -d "${TMPDIR:-/dev/shm}/wellreeve-fuzz.XXXXXX")
trap 'rm -rf "$place"' EXIT
corpus=${FUZZ_CORPUS:-$place/corpus}
findings=${FUZZ_FINDINGS:-$PWD/artifacts}
ticks=$(getconf CLK_TCK)

# Processor seconds that a process has used, system calls too.
used() {
    awk -v ticks="$ticks" '{ sub(/.*\) /, ""); if ($1 != "Z") print int(($12 + $13) / ticks) }' "/proc/$1/stat" 2>/dev/null
}

for target in "$@"; do
    mkdir -p "$corpus/$target" "$findings/$target"
    words=''
    [ ! -f "words/$target" ] || words="-dict=words/$target"
    log="$findings/$target.log"
    echo "== $target"
    FUZZ_TARGET=$target TMPDIR=$place RAYON_NUM_THREADS=1 POLARS_MAX_THREADS=1 \
        nice -n 19 "$target_dir/release/any" "$corpus/$target" "cases/$target" -artifact_prefix="$findings/$target/" $words \
        -rss_limit_mb=2048 -timeout="${FUZZ_TIMEOUT:-10}" -runs=10000000 -print_final_stats=1 >"$log" 2>&1 &
    fuzzer=$!
    spent=0
    while now=$(used "$fuzzer") && [ -n "$now" ]; do
        spent=$now
        # libFuzzer ends at this signal as it ends by itself, with its counts.
        [ "$spent" -lt "$seconds" ] || kill -TERM "$fuzzer" 2>/dev/null || true
        sleep 1
    done
    wait "$fuzzer" || true
    tail -n 25 "$log"
    echo "processor seconds: $spent"
done
