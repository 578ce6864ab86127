//! The header of a text table: where it stands, how it is delimited, what its columns are called.
//!
//! The plan's columns decide: the header is the first line that has all of them, with the delimiter that makes it
//! so. Only when no line has them all is the best line shown in the problem.

use super::lines::Lines;
use crate::plan::TextOptions;
use crate::problem::{Problem, nearest};
use std::path::Path;

/// Lines that are searched for a header.
const SEARCHED: usize = 40;
/// Delimiters that are tried, in this order.
const DELIMITERS: [u8; 4] = [b',', b'\t', b';', b'|'];

/// A header that was found.
#[derive(Clone, Debug)]
pub struct Header {
    /// Column names, trimmed.
    pub names: Vec<String>,
    /// Its line, counted from 1.
    pub line: u64,
    /// Delimiter.
    pub delimiter: u8,
}

/// A column that the plan names, and the key that names it.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// Column name.
    pub column: String,
    /// Plan key, such as `results[1].columns.well`.
    pub key: String,
}

/// Finds the header of a file.
///
/// # Errors
/// An empty file, or one problem for each column that does not exist, with the ones that do and the nearest.
pub fn find(lines: &Lines, path: &Path, options: &TextOptions, wanted: &[Wanted]) -> Result<Header, Vec<Problem>> {
    let start = lines.peek();
    if start.trim().is_empty() {
        return Err(vec![Problem::file(path, "file-empty", "the file is empty", "a results file needs a header and rows")]);
    }
    let delimiters: Vec<u8> = options.delimiter.map_or(DELIMITERS.to_vec(), |d| vec![d]);
    let best = candidates(&start, options.header_line)
        .flat_map(|(line, text)| delimiters.iter().map(move |d| (line, *d, split(text, *d))))
        .map(|(line, delimiter, names)| (missing(&names, wanted).len(), Header { names, line, delimiter }))
        .min_by_key(|(missing, header)| (*missing, std::cmp::Reverse(header.names.len().min(2)), header.line));
    match best {
        Some((0, header)) => no_doubles(header, path, wanted),
        Some((_, header)) => Err(absent(&header, path, wanted)),
        None => Err(vec![Problem::file(
            path,
            "header-missing",
            format!("there is no line {}", options.header_line.unwrap_or(1)),
            "header_line counts from 1",
        )]),
    }
}

fn candidates(start: &str, fixed: Option<u64>) -> impl Iterator<Item = (u64, &str)> {
    (1u64..)
        .zip(start.lines())
        .filter(move |(line, text)| fixed.map_or(!text.trim().is_empty(), |f| f == *line))
        .take(SEARCHED)
}

/// One line's cells, trimmed.
fn split(line: &str, delimiter: u8) -> Vec<String> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).delimiter(delimiter).from_reader(line.as_bytes());
    let mut record = csv::StringRecord::new();
    match reader.read_record(&mut record) {
        Ok(true) => record.iter().map(|name| name.trim().trim_start_matches('\u{feff}').to_owned()).collect(),
        _ => Vec::new(),
    }
}

fn missing<'w>(names: &[String], wanted: &'w [Wanted]) -> Vec<&'w Wanted> {
    wanted.iter().filter(|w| !names.iter().any(|name| *name == w.column.trim())).collect()
}

fn absent(header: &Header, path: &Path, wanted: &[Wanted]) -> Vec<Problem> {
    let listed = header.names.iter().map(|n| format!("\"{n}\"")).collect::<Vec<_>>().join(", ");
    missing(&header.names, wanted)
        .into_iter()
        .map(|w| {
            let near = nearest(&w.column, header.names.iter().map(String::as_str))
                .map(|n| format!("perhaps \"{n}\"; "))
                .unwrap_or_default();
            Problem::file(
                path,
                "column-missing",
                format!("there is no column \"{}\"", w.column),
                format!("{near}the columns are: {listed}"),
            )
            .at(header.line)
            .under(w.key.clone())
        })
        .collect()
}

fn no_doubles(header: Header, path: &Path, wanted: &[Wanted]) -> Result<Header, Vec<Problem>> {
    let doubled: Vec<Problem> = wanted
        .iter()
        .filter(|w| header.names.iter().filter(|name| **name == w.column.trim()).count() > 1)
        .map(|w| {
            let found = format!("the column \"{}\" stands more than once", w.column);
            Problem::file(path, "column-doubled", found, "give the columns different names").at(header.line).under(w.key.clone())
        })
        .collect();
    if doubled.is_empty() { Ok(header) } else { Err(doubled) }
}
