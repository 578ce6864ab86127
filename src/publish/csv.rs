//! A table as CSV: UTF-8, comma, header, `.` decimal, empty for what is not known.
//!
//! Text that a spreadsheet would take for a formula gets an apostrophe in front.

use super::number;
use crate::table::{Cell, Table};
use std::borrow::Cow;
use std::io::Write;

/// The table's bytes.
///
/// # Errors
/// Only if the writer fails, which memory does not.
pub fn bytes(table: &Table) -> Result<Vec<u8>, csv::Error> {
    let mut bytes = Vec::new();
    write(&mut bytes, &table.columns, table.rows.iter().map(Vec::as_slice))?;
    Ok(bytes)
}

/// Writes header and rows as they come, and says how many rows there were.
///
/// # Errors
/// What the writer says.
pub fn write(
    out: impl Write,
    columns: &[String],
    rows: impl Iterator<Item = impl AsRef<[Cell]>>,
) -> Result<u64, csv::Error> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(out);
    writer.write_record(columns.iter().map(|column| harmless(column).into_owned()))?; // a land use names a column
    let mut count = 0;
    for row in rows {
        writer.write_record(row.as_ref().iter().map(cell))?;
        count += 1;
    }
    writer.flush()?;
    Ok(count)
}

fn cell(cell: &Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Text(text) => harmless(text).into_owned(),
        Cell::Count(n) => n.to_string(),
        Cell::Number(x) => number::text(*x),
    }
}

/// Text from outside is never a formula.
pub fn harmless(text: &str) -> Cow<'_, str> {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']) && text.parse::<f64>().is_err();
    if formula { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}
