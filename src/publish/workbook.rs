//! The tables once more as one workbook: a sheet a table and a first sheet that explains.
//!
//! Numbers are those of the CSV to the digit; text is always a text cell, so that nothing from outside is ever a formula. The
//! creation time is fixed, so that the same tables give the same bytes. Tables above `MOST_ROWS` stay CSV only: few programs open
//! such sheets with ease.

use super::number;
use crate::dictionary::Dictionary;
use crate::table::{Cell, Table};
use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, Worksheet, XlsxError};

/// More rows than this are left to the CSV.
const MOST_ROWS: usize = 100_000;
/// Longest text a cell of this format holds.
const MOST_TEXT: usize = 32_000;

/// The workbook's bytes.
///
/// # Errors
/// A table that the format cannot hold.
pub fn bytes(tables: &[&Table], dictionary: &Dictionary, about: &str) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let day = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_creation_datetime(&day));
    let bold = Format::new().set_bold().set_text_wrap();
    first(book.add_worksheet(), tables, about, &bold)?;
    for table in tables.iter().filter(|table| table.rows.len() <= MOST_ROWS) {
        sheet(book.add_worksheet(), table, dictionary, &bold)?;
    }
    book.save_to_buffer()
}

/// What the workbook is, and which sheet holds what.
fn first(sheet: &mut Worksheet, tables: &[&Table], about: &str, bold: &Format) -> Result<(), XlsxError> {
    sheet.set_name("about")?.set_column_width(0, 110)?;
    let listed = tables.iter().map(|table| match table.rows.len() {
        rows if rows > MOST_ROWS => format!("{}: {rows} rows; only in tables/{}.csv", table.name, table.name),
        rows => format!("{}: {rows} rows", table.name),
    });
    let head = [
        "Tables of a private-well survey",
        "",
        "The same numbers as tables/*.csv. Units stand in the headers where a column has one.",
    ];
    let lines = head.iter().map(|line| (*line).to_owned()).chain(about.lines().map(str::to_owned));
    let lines = lines.chain([String::new(), "Sheets".to_owned()]).chain(listed);
    for (at, line) in (0_u32..).zip(lines) {
        if at == 0 {
            sheet.write_string_with_format(at, 0, line, bold)?
        } else {
            sheet.write_string(at, 0, line)?
        };
    }
    Ok(())
}

fn sheet(sheet: &mut Worksheet, table: &Table, dictionary: &Dictionary, bold: &Format) -> Result<(), XlsxError> {
    sheet.set_name(table.name)?.set_freeze_panes(1, 0)?;
    let count = Format::new().set_num_format("0");
    for (at, column) in (0_u16..).zip(&table.columns) {
        sheet.write_string_with_format(0, at, heading(table.name, column, dictionary), bold)?;
        sheet.set_column_width(at, (column.len() + 4).clamp(10, 40) as f64)?;
    }
    for (line, row) in (1_u32..).zip(&table.rows) {
        for (at, cell) in (0_u16..).zip(row) {
            match cell {
                Cell::Empty => continue,
                Cell::Text(text) => sheet.write_string(line, at, text.chars().take(MOST_TEXT).collect::<String>())?,
                Cell::Count(n) => sheet.write_number_with_format(line, at, *n as f64, &count)?,
                Cell::Number(x) => sheet.write_number(line, at, number::rounded(*x))?,
            };
        }
    }
    let last = u16::try_from(table.columns.len().saturating_sub(1)).unwrap_or(u16::MAX);
    sheet.autofilter(0, 0, u32::try_from(table.rows.len()).unwrap_or(u32::MAX), last)?;
    Ok(())
}

/// The column's name with its unit where that is the same in every row.
fn heading(table: &str, column: &str, dictionary: &Dictionary) -> String {
    let unit = dictionary.columns().of(table).find(|known| known.name == column).map(|known| known.unit.as_str());
    match unit {
        Some(unit) if !matches!(unit, "" | "unit" | "count") => format!("{column} ({unit})"),
        _ => column.to_owned(),
    }
}
