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

/// A table with the columns that were asked for.
#[derive(Debug, Default)]
pub struct TableFile {
    /// Records, each with the wanted cells in the order they were asked for.
    pub records: Vec<Record>,
}

/// One record.
#[derive(Debug)]
pub struct Record {
    /// Line, counted from 1.
    pub line: u64,
    /// The wanted cells, trimmed.
    pub cells: Vec<String>,
}

impl Record {
    /// A cell by the order in which columns were asked for; empty if the line is short.
    pub fn cell(&self, at: usize) -> &str {
        self.cells.get(at).map_or("", String::as_str)
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
    let records = records(opened.rows, opened.header.line, opened.header.delimiter, &at)?;
    inputs.count_rows(path, records.len() as u64);
    Ok(TableFile { records })
}

fn records(mut rows: Rows, header_line: u64, delimiter: u8, at: &[usize]) -> Result<Vec<Record>, Problems> {
    let mut list = Vec::new();
    while let Some(part) = rows.next_text()? {
        let (mut records, mut record) = (Records::new(&part.text, delimiter, part.first_line), Split::default());
        while records.next(&mut record) {
            if record.line > header_line && record.cells().any(|cell| !cell.is_empty()) {
                let cells = at.iter().map(|at| record.get(*at).to_owned()).collect();
                list.push(Record { line: record.line, cells });
            }
        }
    }
    Ok(list)
}
