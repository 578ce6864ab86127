"""Makes the binary fixtures beside this file: the same three results in every format that is not text.

Run once with Python 3 and openpyxl, xlwt, odfpy and pyarrow; the files are kept, so that tests need none of these.
"""

import datetime
from pathlib import Path

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

HERE = Path(__file__).parent
HEADER = ["Site", "Parameter", "Result", "Units", "Flag", "Collected", "Received"]
DAY = datetime.date
ROWS = [
    ["W-1", "Nitrate as N", 2.5, "mg/L", None, DAY(2019, 2, 3), datetime.datetime(2019, 2, 3, 14, 30)],
    ["W-1", "Arsenic", "<0.5", "ug/L", "U", DAY(2019, 2, 3), None],
    ["W-2", "Arsenic", "7.1", "ug/L", "J", DAY(2019, 12, 31), None],
]


def sheet_with_titles(sheet):
    """Two merged title rows, an empty row, the header in row 4, an empty row between results."""
    sheet["A1"] = "Results of the water laboratory"
    sheet.merge_cells("A1:G1")
    sheet["A2"] = "printed 2020-01-02"
    sheet.merge_cells("A2:G2")
    for column, name in enumerate(HEADER, 1):
        sheet.cell(4, column, name)
    for row, values in zip([5, 6, 8], ROWS):
        for column, value in enumerate(values, 1):
            sheet.cell(row, column, value)


def xlsx():
    book = openpyxl.Workbook()
    notes = book.active
    notes.title = "Notes"
    notes["A1"] = "Call the laboratory before using these."
    hidden = book.create_sheet("Old")
    for column, name in enumerate(HEADER, 1):
        hidden.cell(1, column, name)
    hidden.sheet_state = "hidden"
    sheet_with_titles(book.create_sheet("Results"))
    book.create_sheet("Blank")
    odd = book.create_sheet("Odd")
    for column, name in enumerate(HEADER, 1):
        odd.cell(1, column, name)
    odd.cell(2, 1, "W\n3")
    odd.cell(2, 3, 1234.5)
    odd.cell(2, 4, '"ug/L"')
    odd.cell(3, 1, True)
    odd.cell(3, 3, "#N/A")
    odd.cell(3, 3).data_type = "e"
    odd.cell(3, 6, datetime.time(14, 30))
    odd.cell(3, 7, datetime.datetime(2019, 2, 3, 14, 30))
    odd.cell(4, 3, 1e-7)
    odd.cell(1048576, 16384, "far out")
    book.save(HERE / "results.xlsx")


def xls():
    book = xlwt.Workbook()
    sheet = book.add_sheet("Results")
    day = xlwt.easyxf(num_format_str="yyyy-mm-dd")
    moment = xlwt.easyxf(num_format_str="yyyy-mm-dd hh:mm")
    sheet.write(0, 0, "Results of the water laboratory")
    for column, name in enumerate(HEADER):
        sheet.write(3, column, name)
    for row, values in zip([4, 5, 7], ROWS):
        for column, value in enumerate(values):
            if value is not None:
                style = {DAY: day, datetime.datetime: moment}.get(type(value))
                sheet.write(row, column, value, *([style] if style else []))
    book.save(str(HERE / "results.xls"))


def ods_cell(value):
    if value is None:
        return TableCell()
    if isinstance(value, (datetime.date, datetime.datetime)):
        return TableCell(valuetype="date", datevalue=value.isoformat())
    if isinstance(value, float):
        return TableCell(valuetype="float", value=str(value))
    cell = TableCell(valuetype="string")
    cell.addElement(P(text=value))
    return cell


def ods():
    book = OpenDocumentSpreadsheet()
    table = Table(name="Results")
    lines = [["Results of the water laboratory"], [None], [None], HEADER, *ROWS[:2], [None], ROWS[2]]
    for line in lines:
        row = TableRow()
        for value in line:
            row.addElement(ods_cell(value))
        table.addElement(row)
    book.spreadsheet.addElement(table)
    book.save(HERE / "results.ods")


def parquet():
    columns = list(zip(*ROWS))
    columns[2] = ["2.5", "<0.5", "7.1"]
    types = [pa.string()] * 5 + [pa.date32(), pa.string()]
    columns[6] = ["2019-02-03 14:30:00", None, None]
    arrays = [pa.array(list(values), type=kind) for values, kind in zip(columns, types)]
    arrays.append(pa.array([1.5, None, 2.25], type=pa.float64()))
    table = pa.Table.from_arrays(arrays, names=[*HEADER, "Depth"])
    pq.write_table(table, HERE / "results.parquet", row_group_size=2)


xlsx()
xls()
ods()
parquet()
