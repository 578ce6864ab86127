"""The mess of real life: single results spoiled on their way to the county.

A line of a long file is a dict of texts under the laboratories' common keys: well, analyte, value, unit, flag, limit,
date, received, sample, kind, method. Each fault is planted in routine laboratory results only, at most one a result.
"""

import re

from .water import TEST_RANGE

# Share of results with each fault, and what it writes over the line.
FAULTS = [
    (0.0020, {"analyte": "Odour panel", "value": "earthy", "unit": "", "flag": "", "limit": ""}),
    (0.0010, {"value": "see note", "flag": ""}),
    (0.0006, {"value": "1.2.3", "flag": ""}),
    (0.0012, {"value": "", "flag": ""}),
    (0.0006, {"value": "N/A", "flag": ""}),
    (0.0012, {"unit": ""}),
    (0.0012, {"unit": "NTU"}),
    (0.0012, {"well": ""}),
    (0.0012, {"well": "SF-9417"}),
    (0.0008, {"date": ""}),
    (0.0006, {"date": "soon after rain"}),
    (0.0010, {"flag": "R"}),
    (0.0008, {"value": ">5", "flag": "U"}),
    (0.0008, {"value": "trace", "limit": "", "flag": ""}),
]
RAISED = 0.015  # share of non-detects whose bottle had to be diluted tenfold
WITHOUT_LIMIT = 0.02  # share of non-detects printed with no limit at all
DROPPED_BASIS = 0.02  # share of nitrate results printed without "as N" or "as NO3"
WRONG_YEAR = 0.0015


def spoil(rng, line, analyte):
    """The line as it arrives."""
    if analyte == "nitrate_as_n" and rng.random() < DROPPED_BASIS:
        return line | {"analyte": "Nitrate"}
    if rng.random() < WRONG_YEAR:
        return line | {"date": re.sub(r"20\d(\d)", r"200\1", line["date"])}
    roll = rng.random()
    for share, change in FAULTS:
        if roll < share:
            return line | change
        roll -= share
    return line


def plain(value):
    """Three significant figures, without an exponent or trailing zeros."""
    text = f"{float(f'{value:.3g}'):.8f}".rstrip("0").rstrip(".")
    return text or "0"


def count_text(count):
    """Bacteria as a tray test prints them."""
    if count == 0:
        return "<1"
    return f">{TEST_RANGE}" if count > TEST_RANGE else str(count)
