//! A file of any kind becomes a header and blocks of delimited text.

use super::header::{self, Header, Wanted, as_one};
use super::json_lines::JsonLines;
use super::kind::Kind;
use super::lines::{CHUNK, Lines, Text, fill};
use super::made::BLOCK;
use super::parquet::Parquet;
use super::workbook;
use crate::files::{Inputs, unreadable};
use crate::plan::TextOptions;
use crate::problem::Problem;
use std::io::Read;
use std::path::Path;

/// How far a file is read when it is opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Extent {
    /// As far as its header needs; its rows may be cut short.
    Start,
    /// To its end.
    Whole,
}

/// A file's header and its rows.
pub(super) struct Opened {
    /// What its columns are called.
    pub header: Header,
    /// What is to be read.
    pub rows: Rows,
}

/// The rows of a file, as blocks of text.
pub(super) enum Rows {
    /// Delimited text.
    Text(Box<Lines>),
    /// JSON lines.
    Json(Box<JsonLines>),
    /// A sheet of a workbook.
    Sheet(Sheet),
    /// Parquet.
    Parquet(Box<Parquet>),
}

/// Opens a file and finds its header.
///
/// # Errors
/// A file that cannot be read or is no table, or every wanted column that it lacks.
pub(super) fn open(
    inputs: &Inputs,
    path: &Path,
    options: &TextOptions,
    wanted: &[Wanted],
    extent: Extent,
) -> Result<Opened, Vec<Problem>> {
    open_as_it_is(inputs, path, options, wanted, extent).map_err(|problems| as_one(problems, path, wanted))
}

fn open_as_it_is(
    inputs: &Inputs,
    path: &Path,
    options: &TextOptions,
    wanted: &[Wanted],
    extent: Extent,
) -> Result<Opened, Vec<Problem>> {
    let one = |problem: Problem| vec![problem];
    let mut reader = inputs.open(path).map_err(one)?;
    let mut start = Vec::new();
    fill(&mut reader, &mut start, CHUNK).map_err(|e| one(unreadable(path, &e)))?;
    let kind = Kind::of(&start);
    match kind {
        Kind::Empty => Err(one(empty(path))),
        Kind::Other(name) => Err(one(no_table(path, name))),
        Kind::Text => {
            text(Lines::new(start, reader, path, options.encoding.as_deref()).map_err(one)?, path, options, wanted)
        }
        Kind::JsonLines => {
            let lines = Lines::new(start, reader, path, options.encoding.as_deref()).map_err(one)?;
            let json = JsonLines::new(lines, path, wanted, options.decimal);
            Ok(Opened { header: json.header(), rows: Rows::Json(Box::new(json)) })
        }
        Kind::ZipWorkbook | Kind::OldWorkbook => {
            reader.take(workbook::LARGEST as u64).read_to_end(&mut start).map_err(|e| one(unreadable(path, &e)))?;
            let (header, made) = workbook::read(&start, kind, path, options, wanted, extent)?;
            Ok(Opened { header, rows: Rows::Sheet(Sheet { rest: made.rest(), at: 0 }) })
        }
        Kind::Parquet => {
            // Read through once, for its digest.
            let behind = std::io::copy(&mut reader, &mut std::io::sink()).map_err(|e| one(unreadable(path, &e)))?;
            let bytes = behind.saturating_add(start.len() as u64);
            let (header, parquet) = Parquet::open(inputs, path, bytes, options, wanted)?;
            Ok(Opened { header, rows: Rows::Parquet(Box::new(parquet)) })
        }
    }
}

/// Whether a file has the wanted columns, and which it has.
///
/// # Errors
/// As `open`; of JSON lines, a key that no line has and every damaged line before that is known.
pub(super) fn look(
    inputs: &Inputs,
    path: &Path,
    options: &TextOptions,
    wanted: &[Wanted],
) -> Result<Header, Vec<Problem>> {
    let opened = open(inputs, path, options, wanted, Extent::Start)?;
    match opened.rows {
        Rows::Json(json) => json.look_for(wanted).map_err(|problems| as_one(problems, path, wanted)),
        Rows::Text(_) | Rows::Sheet(_) | Rows::Parquet(_) => Ok(opened.header),
    }
}

fn text(mut lines: Lines, path: &Path, options: &TextOptions, wanted: &[Wanted]) -> Result<Opened, Vec<Problem>> {
    let header = header::find(&lines.peek(), path, options, wanted)?;
    lines.set_delimiter(header.delimiter);
    Ok(Opened { header, rows: Rows::Text(Box::new(lines)) })
}

fn empty(path: &Path) -> Problem {
    Problem::file(path, "file-empty", "the file is empty", "a table needs a header and rows")
}

fn no_table(path: &Path, name: &str) -> Problem {
    let wanted = "text tables (csv, tsv), JSON lines, both also packed once with gzip or Zstandard, workbooks (xlsx, xls, ods) and Parquet can be read";
    Problem::file(path, "not-a-table", format!("it is {name}, not a table"), wanted)
}

impl Rows {
    /// The next block; `None` after the last.
    ///
    /// # Errors
    /// A file that is damaged further down.
    pub(super) fn next_text(&mut self) -> Result<Option<Text>, Problem> {
        match self {
            Rows::Text(lines) => lines.next_text(),
            Rows::Json(json) => json.next_text(),
            Rows::Sheet(sheet) => Ok(sheet.next_text()),
            Rows::Parquet(parquet) => parquet.next_text(),
        }
    }

    /// Lines that were not UTF-8 and were read as Windows-1252.
    pub(super) fn other_lines(&self) -> u64 {
        match self {
            Rows::Text(lines) => lines.other_lines(),
            Rows::Json(json) => json.other_lines(),
            Rows::Sheet(_) | Rows::Parquet(_) => 0,
        }
    }
}

/// The text of a sheet, given out block by block.
pub(super) struct Sheet {
    rest: Option<Text>,
    at: usize,
}

impl Sheet {
    fn next_text(&mut self) -> Option<Text> {
        let whole = self.rest.as_mut()?;
        let bytes = whole.text.as_bytes();
        let line_end = bytes.get(self.at + BLOCK..).and_then(|far| memchr::memchr(b'\n', far));
        let end = line_end.map_or(bytes.len(), |found| self.at + BLOCK + found + 1);
        let text = whole.text.get(self.at..end)?.to_owned();
        let first_line = whole.first_line;
        whole.first_line += memchr::memchr_iter(b'\n', text.as_bytes()).count() as u64;
        self.at = end;
        (!text.is_empty()).then_some(Text { text, first_line })
    }
}
