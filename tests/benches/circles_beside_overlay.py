"""Times circle shares beside overlaying buffered circles with a general geometry library on the same data.

    python3 circles_beside_overlay.py PROGRAM FOLDER [WELLS]

FOLDER is what make_places.py wrote (needs shapely 2 and numpy). The program's time is the difference between `check` with the
share alone and `check` without any land use, both on one thread, over all wells; the library's is that of WELLS wells (500) on one
thread, its index made beforehand: circles of 256 corners, cut with each field that the index names, fields that overlap joined first.
"""
import json
import re
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import shapely

RADIUS = 500.0


def plan_without(text, keep):
    """The plan with only the first `keep` land uses."""
    head, *parts = re.split(r"(?m)^\[\[land_use\]\]\n", text)
    tail = parts[-1][parts[-1].index("[benchmarks]"):]
    parts[-1] = parts[-1][: parts[-1].index("[benchmarks]")]
    return head + "".join("[[land_use]]\n" + part for part in parts[:keep]) + tail


def program(executable, folder, keep):
    plan = folder / f"plan-{keep}.toml"
    plan.write_text(plan_without((folder / "plan.toml").read_text(), keep))
    times = []
    for _ in range(2):
        start = time.perf_counter()
        subprocess.run([executable, "check", plan], env={"RAYON_NUM_THREADS": "1"}, capture_output=True)
        times.append(time.perf_counter() - start)
    plan.unlink()
    return min(times)


def library(folder, wells):
    fields = [f for f in json.loads((folder / "cover.geojson").read_text())["features"] if f["properties"]["cover"] == "crop"]
    shapes = shapely.from_geojson([json.dumps(f["geometry"]) for f in fields])
    tree = shapely.STRtree(shapes)
    start = time.perf_counter()
    shares = []
    for x, y in wells:
        circle = shapely.Point(x, y).buffer(RADIUS, quad_segs=64)
        near = shapes[tree.query(circle, predicate="intersects")]
        cut = shapely.intersection(circle, shapely.union_all(near)) if len(near) else shapely.Point()
        shares.append(shapely.area(cut) / circle.area)
    return time.perf_counter() - start, np.array(shares)


def main():
    executable, folder = Path(sys.argv[1]).resolve(), Path(sys.argv[2])
    count = int(sys.argv[3]) if len(sys.argv) > 3 else 500
    lines = (folder / "wells.csv").read_text().splitlines()
    wells = [tuple(map(float, line.split(",")[1:3])) for line in lines[1 : count + 1]]
    seconds, shares = library(folder, wells)
    with_share, without = program(executable, folder, 1), program(executable, folder, 0)
    ours, theirs = (with_share - without) / (len(lines) - 1), seconds / count
    print(f"program: {with_share:.2f} s with the share, {without:.2f} s without: {ours * 1e6:.1f} us a well, reading the fields included")
    print(f"library: {theirs * 1e6:.0f} us a well (mean share {shares.mean():.4f}), reading left out; ratio {theirs / ours:.0f}")


main()
