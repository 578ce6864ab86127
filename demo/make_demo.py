#!/usr/bin/env python3
"""Writes the demo's invented county: laboratories/, wells/ and maps/ beside this file.

    python3 demo/make_demo.py [FOLDER]

Needs nothing but Python 3.9. Every run gives the same bytes; no place, person or number in it is real. plan.toml,
prices.csv and county-benchmarks.csv are kept by hand.
"""

import random
import sys
from pathlib import Path

sys.dont_write_bytecode = True

from maker import files, ground, laboratories, visits, water, wells  # noqa: E402

SEED = 20_250_421


def main():
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent
    rng = random.Random(SEED)
    land = ground.Ground(rng)
    dug = wells.dig(rng, land)
    write_maps(folder / "maps", land)
    wells.write_lists(rng, folder / "wells", dug)
    samples = visits.all_samples(rng, dug)
    laboratories.write_all(rng, folder / "laboratories", samples, water.Water(rng))


def write_maps(folder, land):
    files.geojson(
        folder / "townships.geojson", [township(land, *item) for item in enumerate(ground.TOWNSHIPS.items(), 1)]
    )
    files.geojson(
        folder / "land-cover.geojson", [({"cover": land.cover[cell]}, [ring]) for cell, ring in land.rings.items()]
    )
    files.geojson(folder / "april-flood.geojson", [({"event": "Sallow River flood"}, [ground.flood_outline()])])
    points = [(f"FS-{k:02d}", *files.degree_pair(site)) for k, site in enumerate(land.fuel, 1)]
    files.table(folder / "fuel-sites.csv", ("site", "lon", "lat"), points)
    points = [(*files.degree_pair(site), systems) for site, systems in land.septic]
    files.table(folder / "septic-systems.csv", ("lon", "lat", "systems"), points)


def township(land, number, named):
    name, (_, _, on_record) = named
    hole = [land.hole[::-1]] if name == "Kestrelby" else []
    return {"code": f"SF{number:02d}", "label": name, "private_wells": on_record}, [land.townships[name]] + hole


if __name__ == "__main__":
    main()
