"""Makes the generated surveys that known_truth.py takes through the program.

    python make_truth_surveys.py GENERATOR SURVEYS [FIRST [LAST]]

GENERATOR is the path of a generator of surveys, a Python program that takes --rows, --wells, --areas, --seed, --mess and --out and
writes plan.toml, its files and truth.json (known_truth.py says what is read of it). It is run by the Python that runs this script and
stands outside this repository. SURVEYS is the folder to fill: SURVEYS/001 to SURVEYS/200, or FIRST to LAST of them.

The number of a survey is its seed: it settles the areas (8 to 50), the wells an area (16 to 158), the results a well (4 to 12) and
the level of mess (0, 1, 2 in turn). Surveys that stand already are left alone. Bootstrap resamples are set to 0 in each plan: no rate
depends on them, and a run takes a fraction of the time.
"""

import random
import re
import shutil
import subprocess
import sys
from pathlib import Path

SURVEYS = 200


def shape(number):
    """What a survey is like: evenly on a logarithmic scale, so that small ones are as common as large ones."""
    chance = random.Random(number)
    between = lambda low, high: low * (high / low) ** chance.random()
    areas = round(between(8, 50))
    wells = round(areas * between(16, 158))
    rows = round(wells * chance.uniform(4, 12))
    return {"rows": rows, "wells": wells, "areas": areas, "seed": number, "mess": number % 3}


def make(generator, survey, number):
    unfinished = survey.with_name(survey.name + ".part")
    shutil.rmtree(unfinished, ignore_errors=True)
    arguments = [text for key, value in shape(number).items() for text in (f"--{key}", str(value))]
    subprocess.run([sys.executable, generator, *arguments, "--out", unfinished], check=True)
    plan = unfinished / "plan.toml"
    text, changed = re.subn(r"(?m)^resamples = \d+$", "resamples = 0", plan.read_text())
    if changed != 1:
        sys.exit(f"{plan}: one line 'resamples = ...' was expected, {changed} found")
    plan.write_text(text)
    unfinished.rename(survey)


def main(generator, surveys, first=1, last=SURVEYS):
    Path(surveys).mkdir(parents=True, exist_ok=True)
    for number in range(int(first), int(last) + 1):
        survey = Path(surveys) / f"{number:03}"
        if not survey.exists():
            make(generator, survey, number)


if __name__ == "__main__":
    main(*sys.argv[1:])
