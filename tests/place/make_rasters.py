"""Writes one invented raster of classes in several layouts, and shares of circles as shapely measures them.

Run with rasterio 1.4, numpy and shapely 2; what it writes is committed. A circle is a polygon of 80,000 corners, whose area
is short of the circle's by 4e-9.
"""
import pathlib

import numpy
import rasterio
import shapely
from rasterio.transform import from_origin

here = pathlib.Path(__file__).parent
ROWS, COLUMNS, SIZE, X0, Y0 = 50, 70, 30.0, 500_000.0, 4_930_000.0
random = numpy.random.default_rng(20250418)
cells = random.choice([11, 21, 22, 82, 255], size=(ROWS, COLUMNS), p=[0.1, 0.3, 0.2, 0.35, 0.05]).astype("uint8")
common = dict(driver="GTiff", height=ROWS, width=COLUMNS, count=1, crs="EPSG:26915", nodata=255,
              transform=from_origin(X0, Y0, SIZE, SIZE))


def write(name, values, palette=False, tags=None, **options):
    with rasterio.open(here / name, "w", **{**common, "dtype": values.dtype, **options}) as out:
        out.write(values, 1)
        if palette:
            out.write_colormap(1, {int(c): (int(c), 40, 90, 255) for c in numpy.unique(values)})
        out.update_tags(**(tags or {}))


write("striped.tif", cells, palette=True, compress="lzw", blockysize=7)
write("tiled.tif", cells.astype("uint16"), compress="deflate", predictor=2, tiled=True, blockxsize=16, blockysize=32)
write("point.tif", cells, AREA_OR_POINT="Point", tags={"AREA_OR_POINT": "Point"}, BIGTIFF="YES")
write("plain.tif", cells.astype("int16"), endianness="BIG")
write("degrees.tif", cells, crs="EPSG:4326", transform=from_origin(-93.0, 44.5, 0.001, 0.001))
write("fractions.tif", cells.astype("float32"))
west, east = cells[:, :33], cells[:, 33:]
write("west.tif", west, width=33)
write("east.tif", east, width=37, transform=from_origin(X0 + 33 * SIZE, Y0, SIZE, SIZE))

boxes = [shapely.box(X0 + c * SIZE, Y0 - (r + 1) * SIZE, X0 + (c + 1) * SIZE, Y0 - r * SIZE)
         for r in range(ROWS) for c in range(COLUMNS)]
boxes, flat = numpy.array(boxes), cells.ravel()
lines = ["x,y,radius,share,unknown"]
for x, y, radius in [(501_000.0, 4_929_300.0, 400.0), (501_007.3, 4_929_211.9, 333.3), (500_100.0, 4_929_950.0, 250.0),
                     (500_615.0, 4_929_415.0, 10.0), (500_615.0, 4_929_415.0, 15.0), (500_630.0, 4_929_400.0, 30.0),
                     (499_900.0, 4_929_000.0, 500.0), (502_099.9, 4_928_500.1, 700.0)]:
    circle = shapely.Point(x, y).buffer(radius, quad_segs=20_000)
    near = shapely.intersects(boxes, shapely.box(*circle.bounds))
    parts = shapely.area(shapely.intersection(boxes[near], circle))
    whole = numpy.pi * radius * radius
    codes = flat[near]
    share = parts[numpy.isin(codes, [21, 22])].sum() / whole
    unknown = 1.0 - parts[codes != 255].sum() / whole
    lines.append(f"{x},{y},{radius},{share:.12f},{unknown:.12f}")
(here / "shares.csv").write_text("\n".join(lines) + "\n")
