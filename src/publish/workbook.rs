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
    first(book.add_worksheet(), tables, dictionary, about, &bold)?;
    for table in tables.iter().filter(|table| table.rows.len() <= MOST_ROWS) {
        sheet(book.add_worksheet(), table, dictionary, &bold)?;
    }
    book.save_to_buffer()
}

/// What the workbook is, which sheet holds what, and what each column means.
fn first(
    sheet: &mut Worksheet,
    tables: &[&Table],
    dictionary: &Dictionary,
    about: &str,
    bold: &Format,
) -> Result<(), XlsxError> {
    sheet.set_name("about")?;
    for (column, width) in (0_u16..).zip([20.0, 26.0, 16.0, 110.0]) {
        sheet.set_column_width(column, width)?;
    }
    let head = [
        "Tables of a private-well survey",
        "",
        "The same numbers as tables/*.csv. Units stand in the headers where a column has one; shares are shares of 1 (0.25 is 25 %).",
    ];
    let mut at = 0;
    for line in head.iter().copied().chain(about.lines()) {
        match at {
            0 => sheet.write_string_with_format(at, 0, line, bold)?,
            _ => sheet.write_string(at, 0, line)?,
        };
        at += 1;
    }
    at = rows(sheet, at + 1, ["Sheet", "What it is", "Rows", "What a row is"], listed(tables, dictionary), bold)?;
    rows(sheet, at + 1, ["Sheet", "Column", "Unit", "Meaning"], explained(tables, dictionary), bold).map(drop)
}

/// Writes a heading and rows of four texts from a line on; gives the line below them.
fn rows(
    sheet: &mut Worksheet,
    mut at: u32,
    head: [&str; 4],
    rows: Vec<[String; 4]>,
    bold: &Format,
) -> Result<u32, XlsxError> {
    for (column, words) in (0_u16..).zip(head) {
        sheet.write_string_with_format(at, column, words, bold)?;
    }
    for row in rows {
        at += 1;
        for (column, words) in (0_u16..).zip(row) {
            sheet.write_string(at, column, words)?;
        }
    }
    Ok(at + 1)
}

fn listed(tables: &[&Table], dictionary: &Dictionary) -> Vec<[String; 4]> {
    let one = |table: &&Table| {
        let known = dictionary.tables().find(table.name);
        let rows = match table.rows.len() {
            rows if rows > MOST_ROWS => format!("{rows}, only in tables/{}.csv", table.name),
            rows => rows.to_string(),
        };
        let words = known.map(|text| (text.title.clone(), text.meaning.clone())).unwrap_or_default();
        [table.name.to_owned(), words.0, rows, words.1]
    };
    tables.iter().map(one).collect()
}

fn explained(tables: &[&Table], dictionary: &Dictionary) -> Vec<[String; 4]> {
    let columns = tables.iter().flat_map(|table| dictionary.columns().of(table.name));
    columns.map(|c| [c.table.clone(), c.name.clone(), c.unit.clone(), c.meaning.clone()]).collect()
}

fn sheet(sheet: &mut Worksheet, table: &Table, dictionary: &Dictionary, bold: &Format) -> Result<(), XlsxError> {
    sheet.set_name(table.name)?.set_freeze_panes(1, 0)?;
    let count = Format::new().set_num_format("0");
    let formats: Vec<Format> =
        table.columns.iter().map(|column| number_format(table.name, column, dictionary)).collect();
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
                Cell::Number(x) => {
                    let plain = Format::default();
                    let format = formats.get(usize::from(at)).unwrap_or(&plain);
                    sheet.write_number_with_format(line, at, number::rounded(*x), format)?
                }
            };
        }
    }
    let last = u16::try_from(table.columns.len().saturating_sub(1)).unwrap_or(u16::MAX);
    sheet.autofilter(0, 0, u32::try_from(table.rows.len()).unwrap_or(u32::MAX), last)?;
    Ok(())
}

/// How a column's figures are shown: shares with three decimals, p values with four, all else as it comes. The cell holds all digits.
fn number_format(table: &str, column: &str, dictionary: &Dictionary) -> Format {
    let unit = dictionary.columns().of(table).find(|known| known.name == column).map(|known| known.unit.as_str());
    match unit {
        Some("share" | "chance") => Format::new().set_num_format("0.000"),
        Some("probability") => Format::new().set_num_format("0.0000"),
        _ => Format::new(),
    }
}

/// The column's name with its unit where that is the same in every row.
fn heading(table: &str, column: &str, dictionary: &Dictionary) -> String {
    let unit = dictionary.columns().of(table).find(|known| known.name == column).map(|known| known.unit.as_str());
    match unit {
        Some(unit) if !matches!(unit, "" | "unit" | "count") => format!("{column} ({unit})"),
        _ => column.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use calamine::{Data, Reader, Xlsx};
    use std::io::Cursor;

    fn table(name: &'static str, rows: Vec<Vec<Cell>>) -> Table {
        Table { name, columns: vec!["note".to_owned()], rows }
    }

    /// What a run of a large survey leaves to the CSV, and what a long text becomes.
    #[test]
    fn what_a_sheet_cannot_hold_is_told_or_cut() {
        let dictionary = Dictionary::built_in().unwrap();
        let many = table("exceedance", vec![vec![Cell::Count(1)]; MOST_ROWS + 1]);
        let fits = table("quality", vec![vec![Cell::Count(1)]; MOST_ROWS]);
        let long = table("summary", vec![vec![Cell::text("é".repeat(40_000))]]);
        let bytes = bytes(&[&many, &fits, &long], &dictionary, "about").unwrap();
        let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).unwrap();
        assert_eq!(book.sheet_names(), ["about", "quality", "summary"]);
        let about = book.worksheet_range("about").unwrap();
        let told = |text: &str| about.used_cells().any(|(_, _, cell)| *cell == Data::String(text.to_owned()));
        assert!(told("100001, only in tables/exceedance.csv") && told("100000"));
        let Some(Data::String(text)) = book.worksheet_range("summary").unwrap().get_value((1, 0)).cloned() else {
            panic!("there is no text")
        };
        assert_eq!(text.chars().count(), MOST_TEXT);
    }
}
