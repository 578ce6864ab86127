"""Writes the same invented areas as GeoJSON, shapefile and GeoPackage, and their true areas.

Run with geopandas 1.2, pyshp 3 and pyogrio; what it writes is committed. Areas come from shapely and pyproj: borders are
cut into steps of a thousandth of a degree, taken into EPSG:26915 and measured there.
"""
import pathlib

import geopandas
import shapefile
from shapely.geometry import MultiPolygon, Polygon, box

here = pathlib.Path(__file__).parent
hole = [(-93.48, 44.52), (-93.46, 44.52), (-93.46, 44.54), (-93.48, 44.54)]
rows = [
    ("A1", "Ash Hollow", 120, Polygon(box(-93.5, 44.5, -93.4, 44.6).exterior.coords, [hole])),
    ("A2", "Björkdal", 45, MultiPolygon([box(-93.4, 44.5, -93.3, 44.6), Polygon(hole), box(-93.25, 44.5, -93.24, 44.51)])),
    ("A3", "Cold Spring", 0, Polygon([(-93.5, 44.6), (-93.3, 44.6), (-93.35, 44.7), (-93.45, 44.69)])),
]
frame = geopandas.GeoDataFrame(
    {"code": [r[0] for r in rows], "label": [r[1] for r in rows], "wells": [r[2] for r in rows]},
    geometry=[r[3] for r in rows], crs="EPSG:4326",
)
frame.to_file(here / "areas.geojson", driver="GeoJSON", RFC7946="NO", COORDINATE_PRECISION=15)
frame.to_file(here / "areas.shp", encoding="UTF-8")
frame.to_file(here / "areas.gpkg", layer="areas", driver="GPKG")
frame.head(1).to_file(here / "areas.gpkg", layer="first", driver="GPKG")
metres = frame.geometry.segmentize(0.001).to_crs("EPSG:26915").area
(here / "areas.csv").write_text("code,square_metres\n" + "".join(f"{c},{a:.6f}\n" for c, a in zip(frame.code, metres)))

with shapefile.Writer(str(here / "latin1.shp"), encoding="latin1") as out:
    out.field("code", "C", 10)
    out.field("label", "C", 30)
    out.field("wells", "N", 10)
    for code, label, wells, shape in rows:
        out.shape(shape.__geo_interface__)
        out.record(code, label, wells)
(here / "latin1.prj").write_bytes((here / "areas.prj").read_bytes())
