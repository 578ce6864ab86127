"""When each well was sampled, by whom, and for what."""

from dataclasses import dataclass
from datetime import date, timedelta

from .water import FLOOD_DAY
from .wells import LABORATORIES

FIRST_YEAR, LAST_YEAR = 2015, 2025
TIMES = ((1, 2, 3, 4, 5, 6, 8), (38, 23, 16, 10, 7, 4, 2))  # visits to a well, and how often that many
BASIC = ("total_coliform", "e_coli", "nitrate_as_n")
HOUSEHOLD = (
    "nitrite_as_n",
    "arsenic",
    "fluoride",
    "manganese",
    "iron",
    "hardness_as_caco3",
    "total_dissolved_solids",
    "chloride",
    "sodium",
    "sulfate",
    "ph",
)
METALS = ("arsenic", "lead", "copper", "manganese", "uranium")
FUEL = ("benzene", "toluene", "mtbe")
KIT = ("nitrate_as_n", "hardness_as_caco3", "iron", "arsenic")


@dataclass
class Sample:
    well: object
    day: date
    laboratory: str
    analytes: tuple
    number: int
    kind: str = "routine"  # or blank, duplicate, treated, spike, first-draw, after-repair
    kit: bool = False
    wait: int = 0  # days until the laboratory had it


def all_samples(rng, wells):
    """Every sample in order of day."""
    samples = [s for w in wells if w.sampled for day in days(rng, w) for s in visit(rng, w, day)]
    samples.sort(key=lambda s: (s.day, s.well.id))
    for number, sample in enumerate(samples, 1):
        sample.number = number
    return samples


def days(rng, w):
    """Days of a well's visits; after the flood, two flooded wells in three were not sampled again."""
    count = rng.choices(*TIMES)[0]
    years = sorted(rng.sample(range(FIRST_YEAR, LAST_YEAR + 1), count))
    visits = [date(year, 1, 6) + timedelta(rng.randrange(345)) for year in years]
    if w.flooded:
        visits = [d for d in visits if d <= FLOOD_DAY] or [date(2022, 6, 14)]
        if rng.random() < 0.35:
            visits.append(date(2025, 5, 5) + timedelta(rng.randrange(90)))
    return visits


def visit(rng, w, day):
    """The routine sample of a visit and whatever was taken beside it."""
    laboratory = w.laboratory if rng.random() < 0.88 else rng.choice(LABORATORIES)
    late = rng.random() < 0.02
    main = Sample(w, day, laboratory, order(rng, w), 0, wait=rng.randrange(3, 6) if late else rng.randrange(2))
    return [main] + extras(rng, main)


def order(rng, w):
    """What is asked of the laboratory: more metals on the rock, fuel compounds mostly near fuel sites."""
    wanted = list(BASIC)
    wanted += HOUSEHOLD if rng.random() < 0.22 else ()
    wanted += METALS if rng.random() < 0.2 + 0.2 * w.rock else ()
    wanted += FUEL if rng.random() < (0.6 if w.to_fuel < 1000 else 0.16) else ()
    wanted += ("atrazine",) if rng.random() < 0.1 + 0.2 * w.farmed else ()
    wanted += ("gross_alpha", "uranium") if rng.random() < 0.06 + 0.25 * w.rock else ()
    wanted += ("pfoa",) if rng.random() < 0.08 else ()
    return tuple(dict.fromkeys(wanted))


def extras(rng, main):
    """Samples of the same visit and laboratory that are not routine."""
    like = lambda kind, analytes, **more: Sample(
        main.well, main.day, main.laboratory, analytes, 0, kind, wait=main.wait, **more
    )
    few = main.analytes[:6]
    found = []
    if rng.random() < 0.13:
        found.append(like("first-draw", ("lead", "copper") + (("ph",) if rng.random() < 0.15 else ())))
    if rng.random() < 0.03:
        found.append(like("duplicate", few))
    if rng.random() < 0.02:
        found.append(like("blank", few))
    if rng.random() < 0.03:
        found.append(like("treated", ("hardness_as_caco3", "iron", "manganese", "sodium")))
    if rng.random() < 0.004:
        found.append(like("spike", few))
    if rng.random() < 0.02:
        repaired = like("after-repair", ("total_coliform", "e_coli"))
        repaired.day = min(main.day + timedelta(21), date(LAST_YEAR, 12, 31))
        found.append(repaired)
    if main.laboratory == "oxbow" and rng.random() < 0.06:
        found.append(like("routine", KIT, kit=True))
    return found
