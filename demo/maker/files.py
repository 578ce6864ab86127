"""Writing: comma- or tab-separated tables and GeoJSON, always with the same bytes for the same content."""

import csv
import io
import json

from .projection import lonlat


def table(path, header, rows, encoding="utf-8", newline="\n", delimiter=",", above=()):
    """One table; `above` are lines that stand before its header."""
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator=newline)
    writer.writerow(header)
    writer.writerows(rows)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(("".join(line + newline for line in above) + text.getvalue()).encode(encoding))


def geojson(path, features):
    """features: (properties, rings in metres without their closing point, the outer one anticlockwise first)."""
    lines = [json.dumps({"type": "Feature", "properties": p, "geometry": polygon(rings)}) for p, rings in features]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(
        '{"type": "FeatureCollection", "features": [\n' + ",\n".join(lines) + "\n]}\n", encoding="utf-8", newline="\n"
    )


def polygon(rings):
    degrees = [[degree_pair(p) for p in ring + ring[:1]] for ring in rings]
    return {"type": "Polygon", "coordinates": degrees}


def degree_pair(point, digits=6):
    lon, lat = lonlat(*point)
    return [round(lon, digits), round(lat, digits)]
