"""Makes counties.geojson and counties-wells.csv: python3 make_counties.py COUNTIES.json (needs numpy and shapely).

COUNTIES.json is counties-10m.json of us-atlas 3.0.1 (ISC licence, copyright 2013-2019 Michael Bostock; from the cartographic boundary files of the
U.S. Census Bureau): the counties of Maryland, for their islands, a county in many parts and a city between two counties. The points are
random, named by shapely in longitude and latitude, and none lies within 0.001 degrees of a border, where a straight edge depends on
the projection.
"""
import json
import sys

import numpy as np
import shapely
from shapely.geometry import mapping, shape

topology = json.load(open(sys.argv[1]))
scale, move = (np.array(topology["transform"][key]) for key in ("scale", "translate"))
arcs = [np.cumsum(arc, axis=0) * scale + move for arc in topology["arcs"]]


def ring(numbers):
    points = []
    for number in numbers:
        arc = arcs[number] if number >= 0 else arcs[~number][::-1]
        points.extend(np.round(arc, 6).tolist()[len(points) > 0:])
    return points


def polygons(geometry):
    parts = [geometry["arcs"]] if geometry["type"] == "Polygon" else geometry["arcs"]
    return [[ring(numbers) for numbers in part] for part in parts]


counties = [g for g in topology["objects"]["counties"]["geometries"] if str(g["id"]).startswith("24")]
features = [
    {"type": "Feature", "properties": {"code": g["id"], "label": g["properties"]["name"]},
     "geometry": {"type": "MultiPolygon", "coordinates": polygons(g)}}
    for g in sorted(counties, key=lambda g: g["id"])
]
json.dump({"type": "FeatureCollection", "features": features}, open("counties.geojson", "w"), separators=(",", ":"))

shapes = {f["properties"]["code"]: shape(f["geometry"]) for f in features}
borders = shapely.union_all([s.boundary for s in shapes.values()])
low, high = np.array(borders.bounds[:2]), np.array(borders.bounds[2:])
rng = np.random.default_rng(24)
with open("counties-wells.csv", "w") as out:
    out.write("well,x,y,crs,county\n")
    made = 0
    while made < 500:
        x, y = np.round(low + rng.random(2) * (high - low), 6)
        if borders.distance(shapely.Point(x, y)) < 0.001:
            continue
        held = [code for code, s in shapes.items() if s.contains(shapely.Point(x, y))]
        made += 1
        out.write(f"W{made:03},{x},{y},EPSG:4326,{''.join(held)}\n")
