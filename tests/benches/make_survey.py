"""Makes an invented survey to measure size and speed: python3 make_survey.py FOLDER --rows 10000000 --wells 500000 --areas 200

Two laboratories with names, units and layouts of their own, three land uses, and about one fault in thirty lines (`--faults 0` for none,
`--faults 3` for three times as many). Lines are made in pieces, in date order, so that nothing but a few arrays a well is held; the same
arguments give the same bytes. Needs numpy and polars.
"""

import argparse
import json
from pathlib import Path

import numpy as np
import polars as pl

PIECE = 500_000
WEST, SOUTH, STEP = -98.0, 40.0, 0.1
FARM = [("row crop", 0.4), ("meadow", 0.4), ("wood", 0.2)]
# name, unit and factor at each laboratory; middle, spread of the logarithm, limit in the first unit
SUBSTANCES = [
    ("Nitrate", "mg/L as N", 1, "NO3", "mg/L as NO3", 4.4268, 3.0, 0.9, 0.2),
    ("Arsenic", "ug/L", 1, "As", "mg/L", 0.001, 3.0, 1.0, 1.0),
    ("Lead", "ug/L", 1, "Pb", "ug/L", 1, 2.0, 1.1, 1.0),
    ("Uranium", "ug/L", 1, "U", "ug/L", 1, 5.0, 1.0, 0.5),
    ("Fluoride", "mg/L", 1, "F", "mg/L", 1, 0.6, 0.6, 0.1),
    ("Chloride", "mg/L", 1, "Cl", "mg/L", 1, 40.0, 0.8, 2.0),
    ("Sulfate", "mg/L", 1, "SO4", "mg/L", 1, 60.0, 0.8, 2.0),
    ("Iron", "ug/L", 1, "Fe", "mg/L", 0.001, 200.0, 1.3, 30.0),
    ("Manganese", "ug/L", 1, "Mn", "mg/L", 0.001, 40.0, 1.2, 5.0),
    ("Copper", "ug/L", 1, "Cu", "mg/L", 0.001, 60.0, 1.1, 5.0),
]
PLAN = """[survey]
title = "Survey for measuring"
period = { from = 2010-01-01, to = 2024-12-31 }

[[results]]
files = ["north/*.csv"]
layout = "long"
columns = { well = "Site", analyte = "Parameter", value = "Result", unit = "Units", date = "Collected", sample = "Sample" }

[[results]]
files = ["vale/*.csv"]
layout = "long"
columns = { well = "Well", analyte = "Determinand", value = "Finding", unit = "Unit", limit = "Limit", date = "Sampled" }
non_detect_words = ["BDL"]

[[wells]]
files = ["wells.csv"]
columns = { well = "well", x = "lon", y = "lat" }
crs = "EPSG:4326"

[areas]
files = ["areas.geojson"]
id = "code"
name = "label"

[[land_use]]
name = "farming"
measure = "share"
files = ["cover.geojson"]
class = "cover"
classes = ["row crop"]
radius_m = 500
bands = [0.1, 0.4]

[[land_use]]
name = "fuel"
measure = "nearest"
files = ["fuel.csv"]
columns = { x = "lon", y = "lat" }
crs = "EPSG:4326"
bands = [500, 2000]

[[land_use]]
name = "septic"
measure = "density"
files = ["septic.csv"]
columns = { x = "lon", y = "lat" }
crs = "EPSG:4326"
radius_m = 500
bands = [5, 20]

[benchmarks]
sets = ["us-mcl", "us-action-level"]

[summary]
resamples = 2000
"""


def square(x, y, side):
    return [[[x, y], [x + side, y], [x + side, y + side], [x, y + side], [x, y]]]


def collection(features):
    feature = lambda properties, ring: {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": "Polygon", "coordinates": [[[round(c, 6) for c in p] for p in r] for r in ring]},
    }
    return json.dumps({"type": "FeatureCollection", "features": [feature(*f) for f in features]})


def ground(out, areas, across, rng):
    """Areas in a grid, land cover a hundredth of their size, fuel sites and septic systems."""
    place = lambda n: (WEST + STEP * (n % across), SOUTH + STEP * (n // across))
    (out / "areas.geojson").write_text(
        collection([({"code": f"A{n:05}", "label": f"Area {n}"}, square(*place(n), STEP)) for n in range(areas)])
    )
    kinds = rng.choice(len(FARM), (areas, 25), p=[share for _, share in FARM])
    fields = [
        ({"cover": FARM[kinds[n, i]][0]}, square(place(n)[0] + i % 5 * STEP / 5, place(n)[1] + i // 5 * STEP / 5, STEP / 5.01))
        for n in range(areas)
        for i in range(25)
    ]
    (out / "cover.geojson").write_text(collection(fields))
    for name, each in (("fuel", 5), ("septic", 300)):
        n = np.repeat(np.arange(areas), each)
        spot = rng.random((len(n), 2)) * STEP
        frame = pl.DataFrame({"lon": WEST + STEP * (n % across) + spot[:, 0], "lat": SOUTH + STEP * (n // across) + spot[:, 1]})
        frame.write_csv(out / f"{name}.csv", float_precision=6)


def piece(rng, size, done, total, area, level, faults):
    """The next lines, one dict of arrays."""
    well = rng.integers(0, len(area), size)
    k = rng.integers(0, len(SUBSTANCES), size)
    middle, spread, limit = (np.array([s[i] for s in SUBSTANCES]) for i in (6, 7, 8))
    value = middle[k] * np.exp(level[well] + spread[k] * rng.standard_normal(size))
    days = np.datetime64("2010-01-01") + ((done + np.sort(rng.random(size)) * size) / total * 5470).astype(int)
    fault = np.searchsorted(np.cumsum([0.01, 0.005, 0.005, 0.01]) * faults, rng.random(size), side="right")
    return {"well": well, "k": k, "value": value, "limit": limit[k], "day": days, "fault": fault, "home": well % 5 < 3}


def text(numbers):
    return pl.Series(np.char.mod("%.4g", numbers))


def lines(p, north):
    """A laboratory's lines of a piece. Faults: 0 unreadable value, 1 unknown name, 2 unknown well, 3 no unit."""
    own = p["home"] == north
    p = {name: column[own] for name, column in p.items()}
    names = pl.Series([s[0 if north else 3] for s in SUBSTANCES])
    units = pl.Series([s[1 if north else 4] for s in SUBSTANCES])
    factor = np.array([s[2 if north else 5] for s in SUBSTANCES])[p["k"]]
    value, limit = text(p["value"] * factor), text(p["limit"] * factor)
    below, fault = pl.Series(p["value"] < p["limit"]), pl.Series(p["fault"])
    frame = pl.DataFrame({"well": p["well"], "k": p["k"], "value": value, "limit": limit, "below": below, "fault": fault, "day": p["day"]})
    is_, out = (lambda n: pl.col("fault") == n), pl.lit
    columns = [
        pl.when(is_(2)).then(out("X")).otherwise(out("W")) + pl.col("well").cast(pl.String).str.zfill(8),
        pl.when(is_(1)).then(out("Unobtainium")).otherwise(out(names).gather("k")),
        pl.when(is_(0)).then(out("see note")).when("below").then(out("<") + pl.col("limit") if north else out("BDL")).otherwise("value"),
        pl.when(is_(3)).then(None).otherwise(out(units).gather("k")),
    ]
    if not north:
        columns.append(pl.col("limit"))
    columns.append(pl.col("day").cast(pl.Date))
    if north:
        columns.append(out("N-") + pl.int_range(pl.len()).cast(pl.String))
    heads = ["Site", "Parameter", "Result", "Units", "Collected", "Sample"]
    heads = heads if north else ["Well", "Determinand", "Finding", "Unit", "Limit", "Sampled"]
    return frame.select([column.alias(head) for column, head in zip(columns, heads)])


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    for name, usual in (("rows", 1_000_000), ("wells", 100_000), ("areas", 100), ("seed", 1), ("faults", 1)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    args = parser.parse_args()
    out, rng = args.folder, np.random.default_rng([args.seed, 0])
    for folder in ("north", "vale"):
        (out / folder).mkdir(parents=True, exist_ok=True)
    across = int(np.ceil(np.sqrt(args.areas)))
    ground(out, args.areas, across, rng)
    (out / "plan.toml").write_text(PLAN)
    area = rng.integers(0, args.areas, args.wells)
    spot = rng.random((args.wells, 2)) * STEP
    pl.DataFrame(
        {
            "well": pl.Series(np.char.mod("W%08d", np.arange(args.wells))),
            "lon": WEST + STEP * (area % across) + spot[:, 0],
            "lat": SOUTH + STEP * (area // across) + spot[:, 1],
        }
    ).write_csv(out / "wells.csv", float_precision=6)
    level = 0.5 * rng.standard_normal(args.areas)[area] + 0.5 * rng.standard_normal(args.wells)
    files = {north: (out / ("north" if north else "vale") / "results.csv").open("wb") for north in (True, False)}
    for number, done in enumerate(range(0, args.rows, PIECE)):
        size = min(PIECE, args.rows - done)
        made = piece(np.random.default_rng([args.seed, 1, number]), size, done, args.rows, area, level, args.faults)
        for north, file in files.items():
            lines(made, north).write_csv(file, include_header=done == 0)
    for file in files.values():
        file.close()


if __name__ == "__main__":
    main()
