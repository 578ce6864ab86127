"""What is in the water: one value for a well, an analyte and a day, in one base unit for each analyte.

A value is lognormal: the analyte's level, what the surroundings add, a part that stays with the well and a small part
that differs from visit to visit. Bacteria are counts that follow the crowding of septic systems and floods.
"""

from dataclasses import dataclass
from datetime import date
from math import exp, log

FLOOD_DAY = date(2025, 4, 18)
TEST_RANGE = 2419.6  # highest count of the usual tray test


@dataclass
class Level:
    unit: str
    typical: float  # median far from any source
    spread: float  # standard deviation of the log between wells


LEVELS = {
    "total_coliform": Level("count/100mL", 0, 0),
    "e_coli": Level("count/100mL", 0, 0),
    "nitrate_as_n": Level("mg/L", 0.85, 0.95),
    "nitrite_as_n": Level("mg/L", 0.012, 0.9),
    "arsenic": Level("ug/L", 1.1, 0.85),
    "fluoride": Level("mg/L", 0.38, 0.5),
    "manganese": Level("ug/L", 78, 0.95),
    "iron": Level("ug/L", 360, 1.2),
    "hardness_as_caco3": Level("mg/L", 285, 0.33),
    "total_dissolved_solids": Level("mg/L", 410, 0.28),
    "chloride": Level("mg/L", 19, 0.8),
    "sodium": Level("mg/L", 15, 0.6),
    "sulfate": Level("mg/L", 46, 0.75),
    "ph": Level("pH", 7.4, 0.3),
    "lead": Level("ug/L", 0.8, 1.1),
    "copper": Level("ug/L", 70, 1.05),
    "uranium": Level("ug/L", 1.8, 0.95),
    "gross_alpha": Level("pCi/L", 1.9, 0.9),
    "benzene": Level("ug/L", 0.033, 1.2),
    "toluene": Level("ug/L", 0.09, 1.3),
    "mtbe": Level("ug/L", 0.12, 1.3),
    "atrazine": Level("ug/L", 0.03, 1.1),
    "pfoa": Level("ng/L", 0.9, 0.95),
}
VISIT_SPREAD = 0.22  # of the log, between visits to one well
FIRST_DRAW = 4.0  # times as much lead and copper after a night in the pipes
SOFTENED = {"hardness_as_caco3": 0.08, "iron": 0.1, "manganese": 0.12, "sodium": 6.0}


def added(analyte, w):
    """What the surroundings add to the log of the level."""
    deep = log(w.depth / 42)
    fuel = exp(-w.to_fuel / 650)
    return {
        "nitrate_as_n": 2.6 * w.farmed**0.7 + 0.002 * w.septic - 0.35 * deep,
        "nitrite_as_n": 1.2 * w.farmed,
        "atrazine": 3.2 * w.farmed - 0.3 * deep,
        "arsenic": 2.0 * w.rock + 0.25 * deep,
        "uranium": 1.3 * w.rock,
        "gross_alpha": 1.1 * w.rock,
        "fluoride": 0.5 * w.rock,
        "benzene": 5.4 * fuel,
        "toluene": 5.6 * fuel,
        "mtbe": 4.6 * fuel,
        "chloride": 0.004 * w.septic + (0.5 if w.township in ("Pocketwell", "Kestrelby") else 0),
        "sodium": 0.003 * w.septic,
        "pfoa": 0.9 if w.township == "Pocketwell" else 0,
    }.get(analyte, 0)


def drift(analyte, w, day):
    """Change of the log by that day: nitrate rises in the south-west, chloride along the salted roads."""
    years = (day - date(2020, 7, 1)).days / 365.25
    if analyte == "nitrate_as_n" and w.township in ("Flaxholt", "Dunnockfield"):
        return 0.06 * years
    if analyte == "chloride" and w.township in ("Pocketwell", "Kestrelby"):
        return 0.07 * years
    return 0


class Water:
    """Draws values; what stays with a well is drawn once and remembered."""

    def __init__(self, rng):
        self.rng, self.lasting, self.bacteria = rng, {}, {}

    def value(self, w, analyte, sample):
        """Value in the analyte's base unit, before any laboratory's rounding."""
        if analyte in ("total_coliform", "e_coli"):
            return self.count(w, analyte, sample)
        level = LEVELS[analyte]
        if (w.id, analyte) not in self.lasting:
            self.lasting[w.id, analyte] = self.rng.gauss(0, level.spread)
        stays = self.lasting[w.id, analyte]
        if analyte == "ph":
            return level.typical + stays - 0.4 * w.rock + self.rng.gauss(0, 0.1)
        total = (
            log(level.typical)
            + stays
            + added(analyte, w)
            + drift(analyte, w, sample.day)
            + self.rng.gauss(0, VISIT_SPREAD)
        )
        value = exp(total) * factor(analyte, sample.kind)
        return value + self.rng.gauss(0, 0.9) if analyte == "gross_alpha" else value

    def count(self, w, analyte, sample):
        """Bacteria in 100 mL; E. coli are a part of the coliforms of the same bottle."""
        if sample.kind == "blank":
            return 0
        if (w.id, sample.number) not in self.bacteria:
            self.bacteria[w.id, sample.number] = self.bottle(w, sample)
        return self.bacteria[w.id, sample.number][analyte == "e_coli"]

    def bottle(self, w, sample):
        if w.id not in self.lasting:
            self.lasting[w.id] = self.rng.gauss(0, 0.8)
        wet = 1.7 if w.flooded and sample.day > FLOOD_DAY else 0
        mended = -2.5 if sample.kind == "after-repair" else 0
        odds = exp(-1.8 + 0.016 * min(w.septic, 170) + self.lasting[w.id] + wet + mended)
        if self.rng.random() > odds / (1 + odds):
            return 0, 0
        coliform = max(1, round(exp(self.rng.gauss(2.6, 2.4))))
        faecal = self.rng.random() < (0.4 if wet else 0.08 + 0.0016 * min(w.septic, 170))
        return coliform, max(1, round(coliform * self.rng.uniform(0.05, 0.5))) if faecal else 0


def factor(analyte, kind):
    """What the kind of sample does to a value."""
    if kind == "first-draw":
        return FIRST_DRAW if analyte in ("lead", "copper") else 1
    if kind == "treated":
        return SOFTENED.get(analyte, 1)
    return 0.001 if kind == "blank" else 1
