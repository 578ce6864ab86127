"""Makes an invented survey to measure the speed of places: python3 make_places.py FOLDER [WELLS] [AREAS] [COVER]

By default 1,000,000 wells, 5,000 areas with 1,000,000 vertices, 200,000 land-cover polygons. Then: time wellreeve check FOLDER/plan.toml
(needs numpy).
"""
import json
import sys
from pathlib import Path

import numpy as np

SIDE = 200_000.0
X0, Y0 = 400_000.0, 4_800_000.0


def areas(count, steps):
    """Cells of a grid whose borders are waves, the same from both sides."""
    across = int(np.ceil(np.sqrt(count)))
    size = SIDE / across
    t = np.linspace(0, 1, steps, endpoint=False)
    wave = 0.1 * size * np.sin(2 * np.pi * t)
    for n in range(count):
        i, j = n % across, n // across
        x, y = X0 + i * size, Y0 + j * size
        ring = np.concatenate([
            np.c_[x + size * t, y + wave], np.c_[x + size + wave, y + size * t],
            np.c_[x + size * (1 - t), y + size - wave], np.c_[x - wave, y + size * (1 - t)],
        ])
        yield f"A{n:04}", ring


def cover(count, rng):
    """Fields of 12 corners, one in each cell of a grid."""
    across = int(np.ceil(np.sqrt(count)))
    size = SIDE / across
    angle = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    for n in range(count):
        i, j = n % across, n // across
        radius = size * rng.uniform(0.2, 0.5, 12)
        centre = [X0 + (i + 0.5) * size, Y0 + (j + 0.5) * size]
        yield ["crop", "wood", "town"][n % 3], np.c_[centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)]


def write(path, key, shapes):
    with open(path, "w") as out:
        out.write('{"type":"FeatureCollection","features":[\n')
        for n, (value, ring) in enumerate(shapes):
            ring = np.round(np.vstack([ring, ring[:1]]), 2).tolist()
            shape = {"type": "Polygon", "coordinates": [ring]}
            out.write(",\n" * (n > 0) + json.dumps({"type": "Feature", "properties": {key: value}, "geometry": shape}))
        out.write("\n]}\n")


def main():
    folder = Path(sys.argv[1])
    numbers = [int(word) for word in sys.argv[2:]]
    wells, count, fields = (numbers + [1_000_000, 5_000, 200_000][len(numbers):])[:3]
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(1)
    places = rng.uniform(0, SIDE, (wells, 2)) + [X0, Y0]
    with open(folder / "wells.csv", "w") as out:
        out.write("well,x,y\n")
        out.writelines(f"W{n},{x:.1f},{y:.1f}\n" for n, (x, y) in enumerate(places))
    (folder / "lab.csv").write_text("well,what,value,unit\nW1,arsenic,1,ug/L\n")
    write(folder / "areas.geojson", "code", areas(count, 50))
    write(folder / "cover.geojson", "cover", cover(fields, rng))
    with open(folder / "fuel.csv", "w") as out:
        out.write("x,y\n")
        out.writelines(f"{x:.1f},{y:.1f}\n" for x, y in rng.uniform(0, SIDE, (20_000, 2)) + [X0, Y0])
    (folder / "plan.toml").write_text(PLAN)


PLAN = """[survey]
title = "Speed of places (invented)"
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
files = ["areas.geojson"]
id = "code"
crs = "EPSG:26915"
[[land_use]]
name = "farming"
measure = "share"
files = ["cover.geojson"]
crs = "EPSG:26915"
class = "cover"
classes = ["crop"]
radius_m = 500
bands = [0.1, 0.4]
[[land_use]]
name = "fuel"
measure = "nearest"
files = ["fuel.csv"]
columns = { x = "x", y = "y" }
crs = "EPSG:26915"
bands = [250, 1000]
[[land_use]]
name = "systems"
measure = "density"
files = ["fuel.csv"]
columns = { x = "x", y = "y" }
crs = "EPSG:26915"
radius_m = 500
bands = [1, 4]
[benchmarks]
sets = ["us-mcl"]
"""

if __name__ == "__main__":
    main()
