//! Tables and listings as CSV: UTF-8, comma, header, `.` decimal, empty for what is not known; quoted where it must be (RFC 4180).
//!
//! Text that a spreadsheet would take for a formula gets an apostrophe in front. Every cell is written straight into one
//! buffer: the lists of a large survey have a hundred million cells.

use super::{Stage, number};
use crate::in_order::in_order;
use crate::problem::Problem;
use crate::table::{Cells, Listing, Table};
use std::io::Write as _;

/// Things of a listing whose rows are made together: some hundred kilobytes.
const TOGETHER: usize = 1024;

/// The table's bytes.
pub fn bytes(table: &Table) -> Vec<u8> {
    let mut lines = Lines::headed(&table.columns);
    for row in &table.rows {
        row.iter().for_each(|cell| lines.cell(cell));
        lines.end();
    }
    lines.bytes
}

/// Writes a listing to a file of this name: its rows are made on all threads.
///
/// # Errors
/// A folder that cannot be written.
pub fn write(stage: &Stage, name: &str, listing: &Listing<'_>) -> Result<(), Problem> {
    let mut out = stage.create(name)?;
    let mut put = |lines: &Lines| out.write_all(&lines.bytes).map_err(|e| stage.unwritable(name, &e));
    put(&Lines::headed(&listing.columns))?;
    let mut rows = 0;
    let starts: Vec<usize> = (0..listing.things).step_by(TOGETHER).collect();
    let made = |start: &usize| {
        let mut lines = Lines::default();
        (*start..listing.things.min(start + TOGETHER)).for_each(|thing| (listing.rows)(thing, &mut lines));
        Ok(lines)
    };
    in_order(&starts, made, |lines| {
        rows += lines.rows;
        put(&lines)
    })?;
    stage.keep(name, out, Some(rows))
}

/// Rows as text.
#[derive(Debug, Default)]
pub struct Lines {
    /// The text.
    pub bytes: Vec<u8>,
    /// How many rows were ended.
    pub rows: u64,
    /// Where the row begins, and how many cells it has so far.
    start: usize,
    cells: usize,
}

impl Lines {
    /// A row of column names, which is not counted.
    pub fn headed(columns: &[impl AsRef<str>]) -> Lines {
        let mut lines = Lines::default();
        columns.iter().for_each(|column| lines.text(column.as_ref())); // a land use names a column
        lines.end();
        Lines { rows: 0, ..lines }
    }

    fn begin(&mut self) {
        if self.cells > 0 {
            self.bytes.push(b',');
        }
        self.cells += 1;
    }
}

impl Cells for Lines {
    fn text(&mut self, text: &str) {
        self.begin();
        push_text(&mut self.bytes, text);
    }

    fn words(&mut self, words: std::fmt::Arguments<'_>) {
        self.begin();
        let start = self.bytes.len();
        let _ = self.bytes.write_fmt(words); // memory does not fail
        let written = self.bytes.get(start..).and_then(|written| std::str::from_utf8(written).ok()).unwrap_or_default();
        if is_formula(written) || is_quoted(written) {
            let text = written.to_owned();
            self.bytes.truncate(start);
            push_text(&mut self.bytes, &text);
        }
    }

    fn count(&mut self, count: u64) {
        self.begin();
        number::push_whole(&mut self.bytes, count, 1);
    }

    fn figure(&mut self, figure: f64) {
        self.begin();
        number::push(&mut self.bytes, figure);
    }

    fn end(&mut self) {
        if self.bytes.len() == self.start {
            self.bytes.extend_from_slice(b"\"\""); // an empty line would be no row
        }
        self.bytes.push(b'\n');
        self.rows += 1;
        self.start = self.bytes.len();
        self.cells = 0;
    }
}

/// Between quotes where it needs them.
fn push_text(bytes: &mut Vec<u8>, text: &str) {
    let mark = if is_formula(text) { "'" } else { "" };
    if !is_quoted(text) {
        bytes.extend_from_slice(mark.as_bytes());
        bytes.extend_from_slice(text.as_bytes());
        return;
    }
    bytes.push(b'"');
    bytes.extend_from_slice(mark.as_bytes());
    for byte in text.bytes() {
        if byte == b'"' {
            bytes.push(b'"');
        }
        bytes.push(byte);
    }
    bytes.push(b'"');
}

/// Whether a spreadsheet would take it for one; text from outside never is.
fn is_formula(text: &str) -> bool {
    let first = text.as_bytes().first();
    first.is_some_and(|byte| matches!(byte, b'=' | b'+' | b'-' | b'@' | b'\t' | b'\r')) && text.parse::<f64>().is_err()
}

/// Every byte is looked at, since that goes many at a time.
fn is_quoted(text: &str) -> bool {
    text.bytes().fold(false, |found, byte| found | matches!(byte, b',' | b'"' | b'\n' | b'\r'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Cell;
    use proptest::prelude::*;

    fn cells() -> impl Strategy<Value = Vec<Vec<Cell>>> {
        let words = "[-=+@\t\r\n,\"' a-z0-9.é]{0,9}";
        let cell = prop_oneof![
            Just(Cell::Empty),
            words.prop_map(Cell::Text),
            any::<u64>().prop_map(Cell::Count),
            (-1e6..1e6f64).prop_map(Cell::Number),
        ];
        prop::collection::vec(prop::collection::vec(cell, 1..4), 0..6)
    }

    /// As the library `csv` writes it, which knows nothing of formulas.
    fn by_the_library(rows: &[Vec<Cell>]) -> Vec<u8> {
        let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
        for row in rows {
            let texts = row.iter().map(|cell| match cell {
                Cell::Empty => String::new(),
                Cell::Text(text) if is_formula(text) => format!("'{text}"),
                Cell::Text(text) => text.clone(),
                Cell::Count(n) => n.to_string(),
                Cell::Number(x) => number::text(*x),
            });
            writer.write_record(texts).unwrap();
        }
        writer.into_inner().unwrap()
    }

    proptest! {
        #[test]
        fn bytes_are_those_of_the_library(rows in cells()) {
            let (mut whole, mut words) = (Lines::default(), Lines::default());
            for row in &rows {
                for cell in row {
                    whole.cell(cell);
                    match cell {
                        Cell::Text(text) => words.words(format_args!("{text}")),
                        other => words.cell(other),
                    }
                }
                whole.end();
                words.end();
            }
            prop_assert_eq!(&whole.bytes, &by_the_library(&rows));
            prop_assert_eq!(words.bytes, whole.bytes);
        }
    }

    #[test]
    fn formulas_are_disarmed_and_numbers_are_not() {
        let mut lines = Lines::headed(&["=a", "b"]);
        ["=1+1", "-5", "@x", "-a,b"].iter().for_each(|text| lines.text(text));
        lines.end();
        assert_eq!(String::from_utf8(lines.bytes).unwrap(), "'=a,b\n'=1+1,-5,'@x,\"'-a,b\"\n");
    }
}
