"""Holds the research files of a finished run against outsiders.

For both editions: datapackage.json by the JSON schema of the Data Package standard 2.0 (datapackage.org, as packed in dplib-py), every
Parquet file against its description, survey.xlsx against the CSV, and the notebook run with Jupyter; it stops where a figure differs from the tables. Then the
notebooks' code is run on spoilt tables, and must stop: a check that cannot fail is none.

    python check.py OUT
"""

import csv
import json
import os
import shutil
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from contextlib import redirect_stdout
from importlib.util import find_spec
from pathlib import Path

import jsonschema
import nbformat
import openpyxl
import polars as pl
from nbclient import NotebookClient

EDITIONS = {"internal/research": "internal/tables", "research": "public/tables"}
KINDS = {"string": pl.String, "integer": pl.Int64, "number": pl.Float64, "date": pl.Date, "boolean": pl.Boolean}
# A check of the land use for the one who runs the survey; no research file.
ONLY_CSV = {"coarse-locations"}
# What the notebook must have printed: that it found the CSV and compared it, and that summaries were compared.
PRINTED = {
    "internal/research": ["exceedance.csv: ", "summary.csv, kaplan-meier: ", "summary.csv, all-detected: "],
    "research": ["exceedance.csv: ", "summary.parquet: "],
}


def schema():
    folder = Path(find_spec("dplib").submodule_search_locations[0])
    return json.loads((folder / "profiles/2.0/datapackage.json").read_text(encoding="utf-8"))


def check_package(folder):
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    jsonschema.Draft7Validator(schema()).validate(package)
    for resource in package["resources"]:
        if resource.get("type") != "table":
            continue
        path = folder / resource["path"]
        fields = resource["schema"]["fields"]
        found = pl.read_parquet_schema(path)
        assert found.names() == [field["name"] for field in fields], path
        for field in fields:
            wanted = KINDS[field["type"]]
            small = wanted == pl.Int64 and found[field["name"]].is_integer()
            assert found[field["name"]] == wanted or small, f"{path}: {field} is {found[field['name']]}"
            assert field["description"], f"{path}: {field['name']} is not explained"
        about = pl.read_parquet_metadata(path)
        assert about["title"] == resource["title"] and json.loads(about["sources"]), path
        # A name in brackets stands for as many columns as the plan asks for.
        told = {name for name in json.loads(about["columns"]) if not name.startswith("(")}
        assert told <= {field["name"] for field in fields}, f"{path}: {told}"
        frame = pl.read_parquet(path)
        key = resource["wellreeve"]["rows_are_named_by"]
        assert key and set(key) <= set(frame.columns), f"{path}: {key}"
    return len(package["resources"])


def check_same_as_csv(folder, tables):
    """Parquet and CSV hold the same figures."""
    for csv in sorted(path for path in tables.glob("*.csv") if path.stem not in ONLY_CSV):
        frame = pl.read_parquet(folder / f"{csv.stem}.parquet")
        text = pl.read_csv(csv, schema_overrides=dict(zip(frame.columns, frame.dtypes)))
        numbers = [name for name, kind in frame.schema.items() if kind.is_numeric()]
        assert text.select(numbers).equals(frame.select(numbers)), csv


def check_workbook(book, tables):
    """survey.xlsx read back by openpyxl: every number is that of the CSV to the last digit, every text the same, nothing a formula."""
    sheets = openpyxl.load_workbook(book)
    assert sheets.sheetnames[0] == "about"
    compared = 0
    for path in sorted(tables.glob("*.csv")):
        if path.stem in ONLY_CSV:
            continue
        sheet = sheets[path.stem]
        with path.open(encoding="utf-8", newline="") as text:
            told = list(csv.reader(text))
        assert sheet.freeze_panes == "A2" and sheet.auto_filter.ref, f"{book}: {path.stem} has no frozen header or filter"
        assert sheet.max_row == len(told), f"{book}: {path.stem}"
        for row, line in zip(sheet.iter_rows(min_row=2), told[1:]):
            for cell, words in zip(row, line):
                assert cell.data_type != "f", f"{book}: {path.stem}!{cell.coordinate} is a formula"
                if cell.data_type == "n" and cell.value is not None:
                    assert float(cell.value) == float(words), f"{book}: {path.stem}!{cell.coordinate} is {cell.value}, not {words}"
                    compared += 1
                else:
                    assert (cell.value or "") == words.removeprefix("'"), f"{book}: {path.stem}!{cell.coordinate}"
    assert compared > 1000, book
    return compared


def run_notebook(folder):
    notebook = nbformat.read(folder / "analysis.ipynb", as_version=4)
    nbformat.validate(notebook)
    place = {"metadata": {"path": str(folder)}}
    quiet = ["--log-level=40"]
    NotebookClient(notebook, timeout=300, kernel_name="python3", resources=place, extra_arguments=quiet).execute()
    keep = os.environ.get("NOTEBOOKS_KEPT")
    if keep:
        nbformat.write(notebook, Path(keep) / f"{folder.parent.name}-{folder.name}.ipynb")
    outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    printed = "".join(output.get("text", "") for output in outputs)
    pictures = sum("image/png" in output.get("data", {}) for output in outputs)
    return printed, pictures


def spoil(out, edition):
    """The notebook's code on a table with one figure changed must stop with an assertion about that figure."""
    with tempfile.TemporaryDirectory() as home:
        for part in {edition, EDITIONS[edition]}:
            shutil.copytree(out / part, Path(home) / part)
        table = Path(home) / EDITIONS[edition] / "exceedance.csv"
        frame = pl.read_csv(table, infer_schema_length=None)
        at = frame.with_row_index().filter(pl.col("exceeding") > 0)["index"][0]
        frame[int(at), "exceeding"] = frame[int(at), "exceeding"] + 1
        frame.write_csv(table)
        notebook = nbformat.read(Path(home) / edition / "analysis.ipynb", as_version=4)
        code = [cell.source for cell in notebook.cells if cell.cell_type == "code" and "plt.subplots" not in cell.source]
        before = os.getcwd()
        os.chdir(Path(home) / edition)
        try:
            with redirect_stdout(None):
                exec("\n".join(code), {"__name__": "__main__"})
        except AssertionError as told:
            assert "exceedance.csv" in str(told), told
        else:
            raise SystemExit(f"{edition}: the notebook did not notice a changed figure")
        finally:
            os.chdir(before)


def main(out):
    with ThreadPoolExecutor() as pool:
        running = {edition: pool.submit(run_notebook, out / edition) for edition in EDITIONS}
        for edition, tables in EDITIONS.items():
            resources = check_package(out / edition)
            check_same_as_csv(out / edition, out / tables)
            print(f"{edition}: {resources} resources, valid by the Data Package schema 2.0")
            book = (out / tables).parent / "survey.xlsx"
            print(f"{book.parent.name}/survey.xlsx: {check_workbook(book, out / tables)} numbers as in the CSV")
        for edition, run in running.items():
            printed, pictures = run.result()
            for words in PRINTED[edition]:
                assert words in printed, f"{edition}: the notebook did not print {words!r}:\n{printed}"
            assert pictures == 1, f"{edition}: {pictures} pictures"
            print("\n".join(f"{edition}: {line}" for line in printed.splitlines() if "agree" in line))
    for edition in EDITIONS:
        spoil(out, edition)
        print(f"{edition}: a changed figure is noticed")


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
