//! Small tables beside the results: wells, aliases, points of land use, prices.
//!
//! Read whole, since they are one row a well or a site; each record keeps its line.

use super::header::Wanted;
use super::open::{Extent, Rows, look, open};
use super::split::{Record as Split, Records};
use crate::files::Inputs;
use crate::plan::TextOptions;
use crate::problem::Problems;
use std::path::Path;

/// A table with the columns that were asked for. All its cells lie in one text: a list of wells has millions of them.
#[derive(Debug, Default)]
pub struct TableFile {
    /// Cells of a record.
    width: usize,
    text: String,
    /// Where each cell ends in the text, record by record.
    ends: Vec<usize>,
    lines: Vec<u64>,
}

/// One record.
#[derive(Clone, Copy, Debug)]
pub struct Record<'t> {
    /// Line, counted from 1.
    pub line: u64,
    table: &'t TableFile,
    first: usize,
}

impl TableFile {
    /// The records, in file order.
    pub fn records(&self) -> impl Iterator<Item = Record<'_>> {
        let firsts = (0..self.ends.len()).step_by(self.width.max(1));
        self.lines.iter().zip(firsts).map(|(line, first)| Record { line: *line, table: self, first })
    }

    fn push(&mut self, cell: &str) {
        self.text.push_str(cell);
        self.ends.push(self.text.len());
    }

    fn cell(&self, at: usize) -> Option<&str> {
        let start = at.checked_sub(1).map_or(Some(0), |before| self.ends.get(before).copied())?;
        self.text.get(start..*self.ends.get(at)?)
    }
}

impl<'t> Record<'t> {
    /// A cell, trimmed, by the order in which columns were asked for; empty if the line is short.
    pub fn cell(&self, at: usize) -> &'t str {
        let cell = (at < self.table.width).then(|| self.table.cell(self.first + at));
        cell.flatten().unwrap_or_default()
    }
}

/// Reads the wanted columns, each given as (column, plan key).
///
/// # Errors
/// A file that cannot be read or is empty, and every column that does not exist.
pub fn read_table(
    inputs: &Inputs,
    path: &Path,
    options: &TextOptions,
    columns: &[(String, String)],
) -> Result<TableFile, Problems> {
    let wanted: Vec<Wanted> =
        columns.iter().map(|(column, key)| Wanted { column: column.clone(), key: key.clone() }).collect();
    look(inputs, path, options, &wanted).map_err(Problems)?;
    let opened = open(inputs, path, options, &wanted, Extent::Whole).map_err(Problems)?;
    let at: Vec<usize> = wanted.iter().map(|w| opened.header.position(&w.column)).collect();
    let table = table(opened.rows, opened.header.line, opened.header.delimiter, &at)?;
    inputs.count_rows(path, table.lines.len() as u64);
    Ok(table)
}

fn table(mut rows: Rows, header_line: u64, delimiter: u8, at: &[usize]) -> Result<TableFile, Problems> {
    let mut table = TableFile { width: at.len(), ..TableFile::default() };
    while let Some(part) = rows.next_text()? {
        let (mut records, mut record) = (Records::new(&part.text, delimiter, part.first_line), Split::default());
        while records.next(&mut record) {
            if record.line > header_line && record.cells().any(|cell| !cell.is_empty()) {
                table.lines.push(record.line);
                at.iter().for_each(|at| table.push(record.get(*at)));
            }
        }
    }
    Ok(table)
}
