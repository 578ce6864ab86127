"""What three laboratories print for a sample: Oxbow and Quillfeather a line a result, Threeways a line a sample."""

from datetime import timedelta

from .files import table
from .mess import RAISED, WITHOUT_LIMIT, count_text, plain, spoil
from .tests_offered import OXBOW, QUILLFEATHER, THREEWAYS

BACTERIA = ("total_coliform", "e_coli")
KEYS = ("well", "analyte", "value", "unit", "flag", "limit", "date", "received", "sample", "kind", "method")
OXBOW_HEADER = (
    "Well ID",
    "Test",
    "Result",
    "Unit",
    "Qual",
    "Report limit",
    "Collected",
    "Received",
    "Sample",
    "Sample type",
    "Method",
    "Collector",
)
QUILLFEATHER_HEADER = (
    "WELL NO",
    "ANALYSIS",
    "FOUND",
    "UNITS",
    "REMARK",
    "DETECTION LIMIT",
    "DATE TAKEN",
    "DATE IN",
    "LAB NO",
    "KIND",
)
OXBOW_KINDS = {
    "blank": "Field blank",
    "duplicate": "Field duplicate",
    "treated": "After softener",
    "spike": "Matrix spike",
    "first-draw": "First draw",
    "after-repair": "After disinfection",
}
QUILLFEATHER_KINDS = {
    "blank": "TRIP BLANK",
    "duplicate": "REPLICATE",
    "treated": "TREATED TAP",
    "spike": "SPIKED",
    "first-draw": "FIRST FLUSH",
    "after-repair": "RESAMPLE",
}
THREEWAYS_KINDS = {"blank": "B", "duplicate": "D", "treated": "T", "spike": "S", "first-draw": "1", "after-repair": "R"}
COLLECTORS = ("Hask, Ina", "Ottersby, Mae", "Quenlow, Bram", "owner")
FLAGGED_COLUMNS = ("arsenic", "manganese")  # Threeways gives a flag and a limit beside these


def measured(rng, sample, analyte, water, offer):
    """(value, limit, detected) in the laboratory's own unit."""
    _, _, per_base, limits = offer[analyte]
    value, limit = water.value(sample.well, analyte, sample), limits[sample.day.year >= 2019]
    if analyte not in BACTERIA and value < limit and rng.random() < RAISED:
        limit *= 10
    return value * per_base, limit * per_base, value >= limit or analyte == "ph"


def oxbow(rng, samples, water):
    """Lines with times of day; `<`, U, J, UJ and ND in turn for what was not found."""
    for sample in samples:
        hour, minute, person = rng.randrange(8, 15), rng.randrange(0, 60, 5), rng.choice(COLLECTORS)
        for analyte in sample.analytes:
            value, limit, found = measured(rng, sample, analyte, water, OXBOW)
            text, flag = oxbow_value(rng, analyte, value, limit, found)
            line = {
                "well": sample.well.id,
                "analyte": OXBOW[analyte][0],
                "value": text,
                "unit": OXBOW[analyte][1],
                "flag": flag,
                "limit": "" if text == "ND" and rng.random() < 3 * WITHOUT_LIMIT or not limit else plain(limit),
                "date": f"{sample.day:%Y-%m-%d} {hour:02d}:{minute:02d}",
                "received": f"{later(sample):%Y-%m-%d} {hour + (2 if sample.wait else 4):02d}:30",
                "sample": f"OX{sample.day:%y}-{sample.number:05d}",
                "kind": OXBOW_KINDS.get(sample.kind, ""),
                "method": kit_name(analyte) if sample.kit else "bench",
            }
            if sample.kind == "routine" and not sample.kit:
                line = spoil(rng, line, analyte)
            yield sample.day.year, tuple(line[k] for k in KEYS) + (person,)


def oxbow_value(rng, analyte, value, limit, found):
    if analyte in BACTERIA:
        return count_text(value), ""
    if found or analyte == "gross_alpha" and rng.random() < 0.6:
        return plain(value), ""  # a count of decays is printed even below zero
    if value > 0.5 * limit and rng.random() < 0.4:
        return plain(value), "J"
    return rng.choices(
        (("<" + plain(limit), ""), (plain(limit), "U"), (plain(limit), "UJ"), ("ND", "")), (60, 20, 4, 16)
    )[0]


def kit_name(analyte):
    return {"arsenic": "Dipcard 9", "hardness_as_caco3": "Drop count kit"}.get(analyte, "Home strip kit")


def quillfeather(rng, samples, water):
    """Lines in capitals with month/day/year dates; ND or BDL with the limit in its own column; present or absent."""
    for sample in samples:
        for analyte in sample.analytes:
            value, limit, found = measured(rng, sample, analyte, water, QUILLFEATHER)
            line = {
                "well": sample.well.alias or sample.well.id,
                "analyte": QUILLFEATHER[analyte][0],
                "value": quillfeather_value(rng, analyte, value, found),
                "unit": QUILLFEATHER[analyte][1],
                "flag": "HT" if sample.wait > 2 else "",
                "limit": "" if analyte in BACTERIA or not limit or rng.random() < WITHOUT_LIMIT else plain(limit),
                "date": f"{sample.day:%m/%d/%Y}",
                "received": f"{later(sample):%m/%d/%Y}",
                "sample": f"{sample.number + 40_000}",
                "kind": QUILLFEATHER_KINDS.get(sample.kind, ""),
                "method": "",
            }
            if sample.kind == "routine":
                line = spoil(rng, line, analyte)
                line["flag"] = line["flag"].replace("R", "XR")
            yield sample.day.year, tuple(line[k] for k in KEYS[:-1])


def quillfeather_value(rng, analyte, value, found):
    if analyte in BACTERIA:
        return "Present" if value else "Absent"
    return plain(value) if found else rng.choice(("ND", "ND", "BDL"))


def threeways(rng, samples, water):
    """One line a sample, one column a test, empty where a test was not asked for."""
    for sample in samples:
        cells = {}
        for analyte in sample.analytes:
            value, limit, found = measured(rng, sample, analyte, water, THREEWAYS)
            text, flag, beside = threeways_value(rng, analyte, value, limit, found)
            cells[THREEWAYS[analyte][0]] = text
            if analyte in FLAGGED_COLUMNS:
                cells[THREEWAYS[analyte][0] + " flag"] = flag
                cells[THREEWAYS[analyte][0] + " RL"] = beside
        head = (
            sample.well.id,
            f"{sample.day:%d-%b-%Y}",
            f"{later(sample):%d-%b-%Y}",
            f"T{sample.number}",
            THREEWAYS_KINDS.get(sample.kind, ""),
        )
        yield sample.day.year, head + tuple(cells.get(column, "") for column in threeways_columns())


def threeways_value(rng, analyte, value, limit, found):
    """Text, flag and limit of one cell (the last two only printed for some tests)."""
    if rng.random() < 0.002:
        return "bottle broken", "", ""
    if analyte in BACTERIA:
        return (str(value) if value else rng.choice(("<1", "0"))), "", ""
    if found or analyte == "gross_alpha":
        return plain(value), "", plain(limit)
    if analyte in FLAGGED_COLUMNS and rng.random() < 0.6:
        return rng.choice((plain(limit), "n/d")), "U", plain(limit)
    return ("BDL" if rng.random() < WITHOUT_LIMIT else "<" + plain(limit)), "", ""


def threeways_columns():
    columns = []
    for analyte, (name, *_) in THREEWAYS.items():
        columns += [name, name + " flag", name + " RL"] if analyte in FLAGGED_COLUMNS else [name]
    return columns


def later(sample):
    return sample.day + timedelta(sample.wait)


def write_all(rng, folder, samples, water):
    """Every laboratory's files: one with byte order mark and Windows line ends, one in Latin-1, one sent again."""
    by = {name: [s for s in samples if s.laboratory == name] for name in ("oxbow", "quillfeather", "threeways")}
    lines = list(oxbow(rng, by["oxbow"], water))
    years = lambda rows, first, last: [row for year, row in rows if first <= year <= last]
    table(folder / "oxbow/2015-2018.csv", OXBOW_HEADER, years(lines, 2015, 2018))
    table(folder / "oxbow/2019-2021.csv", OXBOW_HEADER, years(lines, 2019, 2021), encoding="utf-8-sig", newline="\r\n")
    table(folder / "oxbow/2022-2025.csv", OXBOW_HEADER, years(lines, 2022, 2025))
    table(folder / "oxbow/sent-again-2021.csv", OXBOW_HEADER, years(lines, 2021, 2021)[:70])
    lines = list(quillfeather(rng, by["quillfeather"], water))
    table(folder / "quillfeather/to-2019.csv", QUILLFEATHER_HEADER, years(lines, 2015, 2019), encoding="latin-1")
    table(folder / "quillfeather/from-2020.csv", QUILLFEATHER_HEADER, years(lines, 2020, 2025))
    header = ("Well", "Taken", "Arrived", "Bottle", "Kind", *threeways_columns())
    above = ("Threeways Water Laboratory", "Results for Sallowfork County; an empty cell was not asked for")
    lines = list(threeways(rng, by["threeways"], water))
    table(folder / "threeways/all-years.tsv", header, years(lines, 2015, 2025), delimiter="\t", above=above)
