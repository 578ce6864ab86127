"""Measures wellreeve beside the bare reading of the same files: python3 scale.py [--rows 10000000] [--wells 500000] [--areas 200]

Makes the survey (make_survey.py, beside this file) in --folder if it is not there, then, one after another and --times over: polars reads the
needed columns and does nothing else; `wellreeve check`; `wellreeve run`; `wellreeve trace` of one well. Prints a Markdown table of medians, times the bare
read of the same round, and peak memory as the kernel counts it. `--instructions` adds instructions a row, which do not hang on the machine's
load: callgrind on surveys of 20,000 and of 60,000 rows of the same wells, so that what a run costs whatever its rows drops out. Needs
numpy and polars (both in tests/notebooks/requirements.txt or from PyPI), for --instructions valgrind, and a program built with
`cargo build --release --locked`.
"""

import argparse
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
READ = """
import sys, polars as pl
for folder, columns in (("north", ["Site", "Parameter", "Result", "Units", "Collected"]), ("vale", ["Well", "Determinand", "Finding", "Unit", "Limit", "Sampled"])):
    for file in sorted(__import__("pathlib").Path(sys.argv[1]).glob(folder + "/*.csv")):
        pl.scan_csv(file, infer_schema=False).select(columns).collect(engine="streaming")
"""


def environment(threads):
    """What `check`, which has no option for it, takes its number of threads from."""
    return os.environ | {"RAYON_NUM_THREADS": str(threads)}


def measured(command, threads):
    """Seconds and peak memory in GiB of a command that must succeed (3: too much set aside, which is no failure)."""
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment(threads))
    said = child.stderr.read()
    _, status, usage = os.wait4(child.pid, 0)
    if os.waitstatus_to_exitcode(status) not in (0, 3):
        sys.exit(f"{command} failed:\n{said.decode()}")
    return time.perf_counter() - start, usage.ru_maxrss / 1024**2


def make(folder, rows, wells, areas, seed):
    if not (folder / "plan.toml").exists():
        numbers = {"rows": rows, "wells": wells, "areas": areas, "seed": seed}
        options = [f"--{name}={number}" for name, number in numbers.items()]
        subprocess.run([sys.executable, HERE / "make_survey.py", folder, *options], check=True)


def instructions(program, threads):
    """Instructions a row, in `check` and in `run`."""
    found = {}
    with tempfile.TemporaryDirectory() as home:
        for rows in (20_000, 60_000):
            folder = Path(home) / str(rows)
            make(folder, rows, 2_000, 12, 1)
            plan = (folder / "plan.toml").read_text()
            (folder / "plan.toml").write_text(plan.replace("resamples = 2000", "resamples = 100"))
            for job in ("check", "run"):
                out = ["--out", folder / "out", f"--threads={threads}"] if job == "run" else []
                # The program starts itself anew in an environment of its own, and valgrind has to go along.
                tool = ["valgrind", "--tool=callgrind", "--trace-children=yes", f"--callgrind-out-file={home}/{job}-{rows}-%p"]
                command = [*tool, program, job, folder / "plan.toml", *out]
                done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment(threads))
                found[job, rows] = int(re.search(r"Collected : (\d+)", done.stderr).group(1))
    return {job: (found[job, 60_000] - found[job, 20_000]) / 40_000 for job in ("check", "run")}


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    for name, usual in (("rows", 10_000_000), ("wells", 500_000), ("areas", 200), ("seed", 1), ("times", 3)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    parser.add_argument("--threads", type=int, default=os.cpu_count())
    parser.add_argument("--folder", type=Path, help="of the survey; kept (default: a temporary one, removed)")
    target = os.environ.get("CARGO_TARGET_DIR", HERE.parent.parent / "target")
    parser.add_argument("--program", default=Path(target) / "release" / "wellreeve")
    parser.add_argument("--instructions", action="store_true")
    args = parser.parse_args()
    home = args.folder or Path(tempfile.mkdtemp())
    make(home, args.rows, args.wells, args.areas, args.seed)
    out, threads = home / "out", f"--threads={args.threads}"
    jobs = {
        "reading the needed columns with polars, nothing else": [sys.executable, "-c", READ, home],
        "`check`": [args.program, "check", home / "plan.toml"],
        "`run`": [args.program, "run", home / "plan.toml", "--out", out, threads, "--quiet"],
        "`trace` of one well": [args.program, "trace", out, "--well", "W00000007"],
    }
    rounds = [{name: measured(command, args.threads) for name, command in jobs.items()} for _ in range(args.times)]
    first = next(iter(jobs))
    print(f"{args.rows:,} results, {args.wells:,} wells, {args.areas} areas, {args.threads} threads; median of {args.times}\n")
    print("| | seconds | times the bare read | peak memory, GiB |\n| --- | --- | --- | --- |")
    for name in jobs:
        middle = lambda of: statistics.median(of(one) for one in rounds)
        seconds, ratio = middle(lambda one: one[name][0]), middle(lambda one: one[name][0] / one[first][0])
        print(f"| {name} | {seconds:.1f} | {ratio:.1f} | {middle(lambda one: one[name][1]):.2f} |")
    if args.instructions:
        for job, count in instructions(args.program, 1).items():
            print(f"\n`{job}`: {count:,.0f} instructions a row")
    if not args.folder:
        shutil.rmtree(home)


if __name__ == "__main__":
    main()
