//! Small tables beside the results: wells, aliases, points of land use, prices.
//!
//! Read whole, since they are one row a well or a site; each record keeps its line.

use super::header::{self, Wanted};
use super::lines::Lines;
use crate::files::Inputs;
use crate::plan::TextOptions;
use crate::problem::{Problem, Problems};
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
pub fn read_table(inputs: &Inputs, path: &Path, options: &TextOptions, columns: &[(String, String)]) -> Result<TableFile, Problems> {
    let lines = Lines::new(inputs.open(path)?, path, options.encoding.as_deref())?;
    let wanted: Vec<Wanted> = columns.iter().map(|(column, key)| Wanted { column: column.clone(), key: key.clone() }).collect();
    let header = header::find(&lines, path, options, &wanted).map_err(Problems)?;
    let at: Vec<usize> = wanted
        .iter()
        .map(|w| header.names.iter().position(|name| *name == w.column.trim()).unwrap_or(usize::MAX))
        .collect();
    let table = records(lines, path, &header, &at)?;
    inputs.count_rows(path, table.records.len() as u64);
    Ok(table)
}

fn records(mut lines: Lines, path: &Path, header: &header::Header, at: &[usize]) -> Result<TableFile, Problems> {
    lines.set_delimiter(header.delimiter);
    let mut table = TableFile::default();
    while let Some(part) = lines.next_text()? {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(header.delimiter)
            .from_reader(part.text.as_bytes());
        for record in reader.records() {
            let record = record.map_err(|e| Problem::file(path, "table-damaged", e.to_string(), "mend the line"))?;
            let line = record.position().map_or(0, |p| p.line()) + part.first_line - 1;
            if line > header.line && !record.iter().all(|cell| cell.trim().is_empty()) {
                let cells = at.iter().map(|at| record.get(*at).unwrap_or_default().trim().to_owned()).collect();
                table.records.push(Record { line, cells });
            }
        }
    }
    Ok(table)
}
