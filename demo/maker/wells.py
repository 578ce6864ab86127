"""The wells: where they are, what lies around them, and what is wrong with the lists that name them."""

from dataclasses import dataclass
from math import exp, log

from .files import table
from .ground import SETTLEMENTS, TOWNSHIPS, at, flooded, rock, spread
from .projection import lonlat, nad27

NAD83, WGS84, NAD27 = "EPSG:4269", "EPSG:4326", "EPSG:4267"
LABORATORIES = ("oxbow", "quillfeather", "threeways")
# Faults of the location and how many wells have each; never in the two thinly sampled townships.
FAULTS = {
    "swapped": 4,
    "sign lost": 3,
    "at zero": 2,
    "no coordinates": 4,
    "not listed": 5,
    "far away": 1,
    "listed twice": 2,
    "imprecise": 24,
}
NEVER_SAMPLED = 0.04
SIZES = [systems for _, systems, _ in SETTLEMENTS]


@dataclass
class Well:
    id: str
    point: tuple  # easting, northing
    township: str
    depth: float  # metres
    farmed: float  # share of the circle around it
    to_fuel: float  # metres
    septic: float  # systems per square kilometre
    rock: float  # 0 to 1
    flooded: bool
    laboratory: str
    gridded: bool  # stands in the list in UTM metres
    fault: str = ""
    alias: str = ""
    sampled: bool = True

    def thin(self):
        return self.township in ("Hobbinrise", "Mothmarsh")


def dig(rng, ground):
    """The wells of every township, numbered in a random order."""
    places = [(t, p) for t, (_, count, _) in TOWNSHIPS.items() for p in sites(rng, ground, t, count)]
    rng.shuffle(places)
    wells = [well(rng, ground, k, *place) for k, place in enumerate(places, 1)]
    sound = [w for w in wells if not w.thin()]
    for w, fault in zip(rng.sample(sound, sum(FAULTS.values())), [f for f, n in FAULTS.items() for _ in range(n)]):
        w.fault = fault
        w.gridded = w.gridded and fault not in ("sign lost", "listed twice")
    for w in rng.sample(wells, 90):
        w.alias = f"Q-{rng.randrange(1000, 10_000)}{w.id[-2:]}"
    return wells


def sites(rng, ground, township, count):
    """Places for the wells of a township: in settlements, near fuel sites, or anywhere."""
    found = []
    while len(found) < count:
        roll = rng.random()
        if roll < 0.35:
            point = spread(rng, at(rng.choices(SETTLEMENTS, SIZES)[0][0]), 450)
        elif roll < 0.5:
            point = spread(rng, rng.choice(ground.fuel), 330)
        else:
            point = ground.anywhere(rng)
        if ground.township(point) == township:
            found.append(point)
    return found


def well(rng, ground, number, township, point):
    made = Well(
        id=f"SF-{number:04d}",
        point=point,
        township=township,
        depth=round(exp(rng.gauss(log(42), 0.5)), 1),
        farmed=ground.farmed(point),
        to_fuel=ground.to_fuel(point),
        septic=ground.septic_density(point),
        rock=rock(point),
        flooded=flooded(point),
        laboratory=rng.choices(LABORATORIES, (0.48, 0.32, 0.20))[0],
        gridded=rng.random() < 0.15,
    )
    made.sampled = made.thin() or rng.random() > NEVER_SAMPLED
    return made


def write_lists(rng, folder, wells):
    """The county's list in degrees (three datums), the well drillers' list in UTM metres, and the other ids."""
    listed = [w for w in wells if w.fault != "not listed"]
    table(
        folder / "county-wells.csv",
        ("Well ID", "Longitude", "Latitude", "Datum", "GPS error m", "Depth m", "Owner"),
        [line for w in listed if not w.gridded for line in degree_lines(rng, w)],
    )
    table(
        folder / "drillers-log.csv",
        ("WELL", "EASTING", "NORTHING", "ERR_M", "DEPTH_M"),
        [(w.id, *metres(w), error(rng, w), w.depth) for w in listed if w.gridded],
    )
    table(folder / "other-ids.csv", ("other_id", "well"), [(w.alias, w.id) for w in wells if w.alias])


def degree_lines(rng, w):
    datum = rng.choices((NAD83, WGS84, NAD27), (0.6, 0.25, 0.15))[0]
    lon, lat = lonlat(*w.point)
    if datum == NAD27:
        lon, lat = nad27(lon, lat)
    rest = (datum, error(rng, w), w.depth, rng.choice(OWNERS))
    lines = [(w.id, *broken(w.fault, f"{lon:.6f}", f"{lat:.6f}"), *rest)]
    if w.fault == "listed twice":
        lines.append((w.id, f"{lon + 0.004:.6f}", f"{lat - 0.002:.6f}", *rest))
    return lines


def broken(fault, x, y):
    """The two coordinates as the list gives them."""
    if fault == "far away":
        return f"{float(x) + 5:.6f}", y
    return {"swapped": (y, x), "sign lost": (x.lstrip("-"), y), "at zero": ("0", "0"), "no coordinates": ("", "")}.get(
        fault, (x, y)
    )


def metres(w):
    east, north = (f"{v:.1f}" for v in w.point)
    if w.fault == "far away":
        return f"{w.point[0] + 350_000:.1f}", north
    return broken(w.fault, east, north)


def error(rng, w):
    return rng.randrange(300, 900, 20) if w.fault == "imprecise" else round(rng.gammavariate(3, 2.5) + 1, 1)


OWNERS = (
    "I. Hask",
    "P. Thornfold",
    "Wren Dairy",
    "M. Ottersby",
    "J. Pelloway",
    "Orchard Lane Trust",
    "B. Quenlow",
    "T. Marrish",
    "",
)
