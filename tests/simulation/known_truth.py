"""Runs the program on generated surveys of known truth and tells how honest its chances of concern are.

    python make_truth_surveys.py GENERATOR SURVEYS
    python known_truth.py WELLREEVE SURVEYS

SURVEYS is a folder of surveys, each a folder with plan.toml and truth.json: `areas` (how many), `area_ids`, and under
`true_rate` by analyte `benchmark_set`, `limit` and `areas`, the true rate of each area. That is the model's chance of passing the limit,
averaged over all wells of the area, sampled or not; it is not the share of its wells that happen to pass. An area without wells has none.
Writes known-truth-calibration.csv, known-truth-calls.csv and known-truth-ranking.csv beside itself. Surveys that
have an `out` already are not run again. The kept tables come from the 200 surveys of make_truth_surveys.py: 8 to 50 areas, 16 to 158
wells an area and 4 to 12 results a well, of every level of mess. An analyte's overall rate is the same in all of them, so that they
speak of sixteen rates, not of thousands.
"""

import csv
import json
import subprocess
import sys
from pathlib import Path

CONCERN, CONFIDENCE = 0.05, 0.8
RATES = [0.02, 0.05, 0.1, 0.2, 1.01]
WELLS = [10, 30, 100, 10**9]
IDS = {
    "nitrate": "nitrate_as_n",
    "nitrite": "nitrite_as_n",
    "lead (first draw)": "lead_first_draw",
    "copper (first draw)": "copper_first_draw",
}


def rows(program, survey):
    """One row an area and analyte: what is true, what the survey found, what the program says of it."""
    out = survey / "out"
    if not (out / "manifest.json").exists():
        subprocess.run([program, "run", survey / "plan.toml", "--out", out, "--quiet"], check=False)
    truth = json.loads((survey / "truth.json").read_text())
    true = {}
    for name, rate in truth["true_rate"].items():
        analyte = IDS.get(name, name.lower().replace(". ", "_").replace(" ", "_"))
        for area, share in zip(truth["area_ids"], rate["areas"]):
            if share is not None:
                true[area, analyte, rate["benchmark_set"]] = (share, rate["limit"])
    with open(out / "internal/tables/recommend.csv") as file:
        advice = {(r["area_id"], r["analyte"], r["limit_set"]): r["chance_of_concern"] for r in csv.DictReader(file)}
    with open(out / "internal/tables/exceedance.csv") as file:
        for row in csv.DictReader(file):
            chance = advice.get((row["area_id"], row["analyte"], row["benchmark_set"]))
            share, limit = true.get((row["area_id"], row["analyte"], row["benchmark_set"]), (None, None))
            # A limit of presence stands as 0 in the table; truth has every metal in ug/L.
            if share is None or float(row["limit"]) not in (0, limit, limit / 1000) or not chance:
                continue
            known = int(row["exceeding"]) + int(row["meeting"])
            yield {
                "survey": survey.name,
                "area": row["area_id"],
                "areas": truth["areas"],
                "analyte": row["analyte"],
                "truth": share,
                "wells": known,
                "raw": int(row["exceeding"]) / known if known else None,
                "smoothed": float(row["rate_smoothed"]),
                "chance": float(chance),
            }


def fifths(found, group):
    for fifth in range(5):
        own = [r for r in found if min(int(r["chance"] * 5), 4) == fifth]
        if own:
            stated = sum(r["chance"] for r in own) / len(own)
            true = sum(r["truth"] > CONCERN for r in own) / len(own)
            yield [group, fifth / 5, (fifth + 1) / 5, len(own), f"{stated:.3f}", f"{true:.3f}"]


def calls(found):
    low_rate = 0
    for rate in RATES:
        low_wells = 0
        for wells in WELLS:
            own = [r for r in found if low_rate <= r["truth"] < rate and low_wells <= r["wells"] < wells]
            called = sum(r["chance"] >= CONFIDENCE for r in own)
            share = f"{called / len(own):.3f}" if own else ""
            yield [min(rate, 1), "any" if wells == 10**9 else wells, len(own), called, share]
            low_wells = wells
        low_rate = rate


def ranks(values):
    order = sorted(range(len(values)), key=values.__getitem__)
    rank = [0.0] * len(values)
    at = 0
    while at < len(order):
        end = at
        while end < len(order) and values[order[end]] == values[order[at]]:
            end += 1
        for i in order[at:end]:
            rank[i] = (at + end - 1) / 2
        at = end
    return rank


def correlations(guess, truth):
    """Rank correlation with ties at their middle, and what is to be expected where ties are broken by lot: a list that is to be
    worked off has no ties. Truth has none."""
    a, b = ranks(guess), ranks(truth)
    mean = (len(a) - 1) / 2
    product = lambda x, y: sum((p - mean) * (q - mean) for p, q in zip(x, y))
    full = product(b, b)
    both = (product(a, a) * full) ** 0.5
    return (product(a, b) / both if both else None), product(a, b) / full


def mean_correlations(name, pairs):
    each = [correlations(guess, truth) for guess, truth in pairs if len(guess) > 3]
    middle = [m for m, _ in each if m is not None]
    lot = [by_lot for _, by_lot in each]
    return [name, len(each), f"{sum(middle) / len(middle):.3f}", f"{sum(lot) / len(lot):.3f}"]


FAMILY = {"e_coli": "total_coliform", "lead_first_draw": "lead", "copper_first_draw": "copper"}


def any_over(own, key):
    """Chance that a well is over any of the limits: close relatives once, by the worst."""
    worst = {}
    for row in own:
        family = FAMILY.get(row["analyte"], row["analyte"])
        worst[family] = max(worst.get(family, 0), row[key] or 0)
    none = 1
    for rate in worst.values():
        none *= 1 - rate
    return 1 - none


def ranking(found):
    """Each analyte's areas with a result, and all areas by the share of wells over any health limit."""
    groups, areas = {}, {}
    for row in found:
        if row["wells"]:
            groups.setdefault((row["survey"], row["analyte"]), []).append(row)
        areas.setdefault(row["survey"], {}).setdefault(row["area"], []).append(row)
    for name in ("smoothed", "raw"):
        pairs = [([r[name] for r in own], [r["truth"] for r in own]) for own in groups.values()]
        yield mean_correlations(f"one limit: {name} rate", pairs)
    for name in ("smoothed", "raw"):
        pairs = [
            ([any_over(own, name) for own in each.values()], [any_over(own, "truth") for own in each.values()])
            for each in areas.values()
        ]
        yield mean_correlations(f"any health limit: {name} rate", pairs)


def write(name, head, lines):
    with open(Path(__file__).parent / name, "w") as file:
        csv.writer(file, lineterminator="\n").writerows([head, *lines])


def main(program, surveys):
    each = sorted(path for path in Path(surveys).iterdir() if (path / "truth.json").exists())
    found = [row for survey in each for row in rows(program, survey)]
    groups = [("all", found)]
    groups += [(f"{low} to {high} areas", [r for r in found if low <= r["areas"] <= high]) for low, high in ((8, 12), (13, 24), (25, 50))]
    total = {}
    for r in found:
        key = (r["survey"], r["analyte"])
        total[key] = total.get(key, 0) + round((r["raw"] or 0) * r["wells"])
    for low, high in ((0, 9), (10, 24), (25, 10**9)):
        own = [r for r in found if low <= total[r["survey"], r["analyte"]] <= high]
        groups.append((f"{low} or more wells above in the region" if high > 24 else f"{low} to {high} wells above in the region", own))
    groups += [(a, [r for r in found if r["analyte"] == a]) for a in sorted({r["analyte"] for r in found})]
    calibration = [line for group, own in groups for line in fifths(own, group)]
    write("known-truth-calibration.csv", ["group", "chance_from", "chance_to", "areas", "mean_stated", "share_true"], calibration)
    write("known-truth-calls.csv", ["true_rate_below", "wells_below", "areas", "called", "share_called"], calls(found))
    write("known-truth-ranking.csv", ["ranked_by", "rankings", "ties_at_their_middle", "ties_by_lot"], ranking(found))


if __name__ == "__main__":
    main(*sys.argv[1:])
