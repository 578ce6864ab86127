"""Makes an invented class raster to measure speed: python3 make_raster.py FOLDER [SIDE] [WELLS]; then: time wellreeve check FOLDER/plan.toml

By default 10,000 by 10,000 cells of 30 m in strips of 16 rows, deflated, and 100,000 wells (needs numpy). The file is put together here,
after the TIFF 6.0 and GeoTIFF 1.1 specifications.
"""
import struct
import sys
import zlib
from pathlib import Path

import numpy as np

X0, Y0, CELL, ROWS = 300_000.0, 5_200_000.0, 30.0, 16


def strips(side, rng):
    blocks = rng.integers(21, 25, (side // 8 + 1, side // 8 + 1), dtype=np.uint8)
    for top in range(0, side, ROWS):
        rows = np.arange(top, min(top + ROWS, side)) // 8
        yield zlib.compress(np.repeat(blocks[rows], 8, axis=1)[:, :side].tobytes(), 6)


def tiff(path, side, rng):
    data = list(strips(side, rng))
    starts = np.cumsum([8] + [len(d) for d in data])
    pack = {3: "H", 4: "I", 12: "d"}
    tags = [
        (256, 4, [side]), (257, 4, [side]), (258, 3, [8]), (259, 3, [8]), (262, 3, [1]), (273, 4, starts[:-1]), (277, 3, [1]),
        (278, 4, [ROWS]), (279, 4, [len(d) for d in data]), (33550, 12, [CELL, CELL, 0]), (33922, 12, [0, 0, 0, X0, Y0, 0]),
        (34735, 3, [1, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 26915]),
    ]
    at = int(starts[-1]) + int(starts[-1]) % 2
    beside, directory = b"", struct.pack("<H", len(tags))
    after = at + 2 + 12 * len(tags) + 4
    for tag, kind, values in tags:
        body = struct.pack(f"<{len(values)}{pack[kind]}", *[float(v) if kind == 12 else int(v) for v in values])
        if len(body) > 4:
            body, beside = struct.pack("<I", after + len(beside)), beside + body + b"\0" * (len(body) % 2)
        directory += struct.pack("<HHI", tag, kind, len(values)) + body.ljust(4, b"\0")
    with open(path, "wb") as out:
        out.write(b"II*\0" + struct.pack("<I", at) + b"".join(data))
        out.write(b"\0" * (at - int(starts[-1])) + directory + b"\0\0\0\0" + beside)


def main():
    folder = Path(sys.argv[1])
    side, wells = ([int(word) for word in sys.argv[2:]] + [10_000, 100_000][len(sys.argv) - 2:])[:2]
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(1)
    tiff(folder / "cover.tif", side, rng)
    places = rng.uniform(1000, side * CELL - 1000, (wells, 2))
    with open(folder / "wells.csv", "w") as out:
        out.write("well,x,y\n")
        out.writelines(f"W{n},{X0 + x:.1f},{Y0 - y:.1f}\n" for n, (x, y) in enumerate(places))
    (folder / "lab.csv").write_text("well,what,value,unit\nW1,arsenic,1,ug/L\n")
    (folder / "plan.toml").write_text(PLAN)


PLAN = """[survey]
title = "Speed of rasters (invented)"
working_crs = "EPSG:26915"
[[results]]
files = ["lab.csv"]
layout = "long"
columns = { well = "well", analyte = "what", value = "value", unit = "unit" }
[[wells]]
files = ["wells.csv"]
columns = { well = "well", x = "x", y = "y" }
crs = "EPSG:26915"
[areas]
grid = { kind = "square", size_m = 20000 }
[[land_use]]
name = "farming"
measure = "share"
files = ["cover.tif"]
classes = [21, 22]
radius_m = 500
bands = [0.1, 0.4]
[benchmarks]
sets = ["us-mcl"]
"""

if __name__ == "__main__":
    main()
