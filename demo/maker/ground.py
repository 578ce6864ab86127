"""The invented ground of Sallowfork County: townships, land cover, settlements, fuel sites, septic systems, the river.

Everything is in UTM metres here; `files.py` turns it into longitude and latitude. The story is laid down in this file:
rock in the north-west, crops in the south, lake shores full of septic systems, fuel sites where roads meet.
"""

from math import exp, hypot, pi, sin

from .mesh import Mesh, blob, distance, inside

SIDE = 9_650.0  # about six miles, a township's side
CORNER = (432_000.0, 4_791_000.0)  # of the county, in UTM zone 15 north
WIDE, HIGH = 4 * SIDE, 3 * SIDE
PATCH = 1_000.0  # mean width of a patch of land cover
RADIUS = 500.0  # of the circle around a well

# Township: its cells of the grid, wells listed there, private wells on record. Pocketwell fills a hole of Kestrelby.
TOWNSHIPS = {
    "Alderkeep": ([(0, 2)], 62, 410),
    "Brackenmoot": ([(1, 2)], 55, 388),
    "Hobbinrise": ([(2, 2), (3, 2)], 4, 76),
    "Cinderlow": ([(0, 1)], 52, 296),
    "Elverfen": ([(1, 1)], 84, 1_140),
    "Kestrelby": ([(2, 1)], 66, 742),
    "Mothmarsh": ([(3, 1)], 13, 231),
    "Flaxholt": ([(0, 0)], 60, 335),
    "Dunnockfield": ([(1, 0)], 62, 301),
    "Gorsefold": ([(2, 0)], 54, 352),
    "Lintcroft": ([(3, 0)], 50, 274),
    "Pocketwell": ([], 38, 505),
}
# Settlements: place in sides of a township, septic systems there, fuel sites there.
SETTLEMENTS = [
    ((1.30, 1.62), 170, 1),
    ((1.55, 1.74), 210, 1),
    ((1.72, 1.50), 160, 2),  # shores of Elver Lake
    ((2.50, 1.50), 190, 5),
    ((2.36, 1.42), 90, 3),  # Pocketwell
    ((0.45, 0.50), 45, 3),
    ((1.50, 0.42), 50, 3),
    ((2.60, 0.55), 60, 3),
    ((3.55, 0.40), 40, 2),
    ((0.50, 1.45), 50, 2),
    ((0.62, 2.45), 60, 2),
    ((1.48, 2.40), 70, 2),
    ((3.40, 1.45), 35, 1),
    ((2.85, 1.80), 80, 2),
    ((1.10, 1.05), 55, 2),
    ((2.20, 0.80), 45, 1),
    ((0.72, 1.08), 40, 1),
]
LAKE, TOWN = (1.52, 1.60), (2.46, 1.47)


def at(place):
    """A place given in sides of a township, in metres."""
    return CORNER[0] + place[0] * SIDE, CORNER[1] + place[1] * SIDE


class Ground:
    """Everything that lies still; `rng` decides the details."""

    def __init__(self, rng):
        grid = Mesh(rng, 4, 3, SIDE, CORNER)
        self.hole = blob(rng, at((2.46, 1.48)), 1_900)
        self.townships = {name: grid.outline(cells) for name, (cells, _, _) in TOWNSHIPS.items() if cells}
        self.townships["Pocketwell"] = self.hole
        self.patches = Mesh(rng, 42, 33, PATCH, (CORNER[0] - 1_700, CORNER[1] - 1_700))
        cells = [(i, j) for j in range(self.patches.rows) for i in range(self.patches.columns)]
        self.rings = {cell: self.patches.outline([cell]) for cell in cells}
        self.cover = {cell: cover(rng, centre(ring)) for cell, ring in self.rings.items()}
        self.fuel = [spread(rng, at(p), 260) for p, _, n in SETTLEMENTS for _ in range(n)]
        self.septic = [
            (spread(rng, at(p), 330), rng.choice((1, 1, 2, 3))) for p, n, _ in SETTLEMENTS for _ in range(n * 3 // 5)
        ]
        self.septic += [(self.anywhere(rng), rng.choice((1, 1, 2))) for _ in range(300)]

    def anywhere(self, rng):
        return CORNER[0] + rng.random() * WIDE, CORNER[1] + rng.random() * HIGH

    def township(self, point):
        """Name of the township around a point, or None."""
        if inside(*point, self.hole):
            return "Pocketwell"
        return next((name for name, ring in self.townships.items() if inside(*point, ring)), None)

    def farmed(self, point):
        """Roughly, the share of the circle around a point under crops or orchard."""
        spots = [
            (point[0] + i * RADIUS / 3, point[1] + j * RADIUS / 3)
            for i in range(-3, 4)
            for j in range(-3, 4)
            if hypot(i, j) <= 3
        ]
        classes = [self.cover.get(self.patches.cell_at(x, y, self.rings)) for x, y in spots]
        return sum(c in ("row crop", "orchard") for c in classes) / len(spots)

    def to_fuel(self, point):
        return min(distance(point, site) for site in self.fuel)

    def septic_density(self, point):
        """Septic systems per square kilometre of the circle around a point."""
        return sum(n for site, n in self.septic if distance(point, site) <= RADIUS) / (pi * (RADIUS / 1000) ** 2)


def river(x):
    """Northing of the Sallow River, and half the width it flooded, at an easting."""
    along = (x - CORNER[0]) / SIDE
    return CORNER[1] + SIDE * (0.98 + 0.16 * sin(1.9 * along) + 0.07 * sin(4.3 * along + 1)), 620 + 180 * sin(
        2.7 * along
    )


def flooded(point):
    north, half = river(point[0])
    return abs(point[1] - north) < half


def flood_outline():
    xs = [CORNER[0] - 1_500 + k * 600 for k in range(int((WIDE + 3_000) / 600) + 1)]
    banks = [(x, *river(x)) for x in xs]
    return [(x, y - half) for x, y, half in banks] + [(x, y + half) for x, y, half in banks[::-1]]


def rock(point):
    """How far the arsenic-bearing rock reaches a well: 1 in the north-west corner, 0 elsewhere."""
    away = hypot(point[0] - CORNER[0], point[1] - (CORNER[1] + HIGH)) / SIDE
    return 1 / (1 + exp((away - 1.7) / 0.2))


def cover(rng, point):
    """Land cover of a patch: water and town where they lie, otherwise by the chance of crops around it."""
    east, north = (point[0] - CORNER[0]) / SIDE, (point[1] - CORNER[1]) / SIDE
    if hypot(east - LAKE[0], (north - LAKE[1]) * 1.4) < 0.17 or abs(point[1] - river(point[0])[0]) < 110:
        return "water"
    if hypot(east - TOWN[0], north - TOWN[1]) < 0.15:
        return "town"
    crops = min(0.88, max(0.03, 1.02 - 0.62 * north)) * (0.5 if flooded(point) else 1)
    if rng.random() < crops:
        return "orchard" if east > 2.4 and rng.random() < 0.3 else "row crop"
    return "forest" if rng.random() < 0.2 + 0.22 * north else "pasture"


def centre(ring):
    return sum(x for x, _ in ring) / len(ring), sum(y for _, y in ring) / len(ring)


def spread(rng, point, metres):
    return rng.gauss(point[0], metres), rng.gauss(point[1], metres)
