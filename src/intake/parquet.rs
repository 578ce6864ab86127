//! Parquet becomes delimited text, one row group after another.
//!
//! A file larger than memory can be read, since only a row group, or `MOST_ROWS` of one, is held at a time; so the
//! file itself is opened here, after `files` has vetted and hashed it. Every column is written, not only the wanted ones, so that two
//! rows that differ anywhere are not taken for the very same line. Cells of a type that has no plain text
//! are shown as the reader shows them, and are then set aside by name where a value is meant.

use super::header::{Header, Wanted, absent, no_doubles};
use super::lines::Text;
use super::made::{DELIMITER, Made};
use crate::ids::Day;
use crate::plan::TextOptions;
use crate::problem::Problem;
use polars::prelude::{AnyValue, DataFrame, ParquetReader, PolarsError, SerReader};
use std::collections::VecDeque;
use std::fs::File;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// Most rows that are held at a time.
const MOST_ROWS: usize = 1 << 18;

/// The rows of a Parquet file.
pub(super) struct Parquet {
    path: PathBuf,
    decimal: Option<char>,
    /// Stretches of rows still to be read: first row and how many.
    ahead: VecDeque<(usize, usize)>,
    /// Blocks made of the last stretch, not yet given out.
    made: VecDeque<Text>,
}

/// What a file says of itself.
struct About {
    names: Vec<String>,
    groups: Vec<usize>,
}

impl Parquet {
    /// Opens a file and finds the wanted columns.
    ///
    /// # Errors
    /// A damaged file, or every column that it lacks.
    pub(super) fn open(
        path: &Path,
        options: &TextOptions,
        wanted: &[Wanted],
    ) -> Result<(Header, Parquet), Vec<Problem>> {
        let about = guarded(path, || about(path)).map_err(|problem| vec![problem])?;
        let header = Header { names: about.names, line: 0, delimiter: DELIMITER };
        let missing = absent(&header, path, wanted);
        if !missing.is_empty() {
            return Err(missing);
        }
        let header = no_doubles(header, path, wanted)?;
        let parquet = Parquet {
            path: path.to_path_buf(),
            decimal: options.decimal,
            ahead: stretches(&about.groups),
            made: VecDeque::new(),
        };
        Ok((header, parquet))
    }

    /// The next block of text.
    ///
    /// # Errors
    /// A file that is damaged further down.
    pub(super) fn next_text(&mut self) -> Result<Option<Text>, Problem> {
        loop {
            if let Some(text) = self.made.pop_front() {
                return Ok(Some(text));
            }
            let Some((first, rows)) = self.ahead.pop_front() else { return Ok(None) };
            let (path, decimal) = (self.path.clone(), self.decimal);
            self.made = guarded(&path, || {
                let frame = ParquetReader::new(opened(&path)?).with_slice(Some((first, rows))).finish()?;
                texts(&frame, first as u64 + 1, decimal)
            })?;
        }
    }
}

/// Row groups cut into stretches that fit.
fn stretches(groups: &[usize]) -> VecDeque<(usize, usize)> {
    let mut list = VecDeque::new();
    let mut first = 0;
    for group in groups {
        let end = first + group;
        while first < end {
            let rows = (end - first).min(MOST_ROWS);
            list.push_back((first, rows));
            first += rows;
        }
    }
    list
}

fn opened(path: &Path) -> Result<File, PolarsError> {
    Ok(File::open(path)?)
}

fn about(path: &Path) -> Result<About, PolarsError> {
    let mut reader = ParquetReader::new(opened(path)?);
    let names = reader.schema()?.iter_names().map(|name| name.as_str().trim().to_owned()).collect();
    let groups = reader.get_metadata()?.row_groups.iter().map(|group| group.num_rows()).collect();
    Ok(About { names, groups })
}

/// The rows of a frame as blocks of text, the first row's number given.
fn texts(frame: &DataFrame, first: u64, decimal: Option<char>) -> Result<VecDeque<Text>, PolarsError> {
    let mut list = VecDeque::new();
    let mut made = Made::new(first, decimal);
    for row in 0..frame.height() {
        for (column, values) in (0u64..).zip(frame.columns()) {
            let text = cell(&values.get(row)?, &made);
            if !text.is_empty() {
                let order = |_| PolarsError::ComputeError("rows are out of order".into());
                made.row(first + row as u64).and_then(|()| made.cell(column, &text)).map_err(order)?;
            }
        }
        list.extend(made.block());
    }
    list.extend(made.rest());
    Ok(list)
}

fn cell(value: &AnyValue<'_>, made: &Made) -> String {
    match value {
        AnyValue::Null => String::new(),
        AnyValue::String(text) => (*text).to_owned(),
        AnyValue::StringOwned(text) => text.to_string(),
        AnyValue::Float32(number) => made.number(number.to_string()),
        AnyValue::Float64(number) => made.number(number.to_string()),
        AnyValue::Date(day) => Day(*day).to_string(),
        other => other.to_string().trim_matches('"').to_owned(),
    }
}

/// Runs a piece of work on the file; whatever goes wrong in it is the file's problem.
fn guarded<T>(path: &Path, work: impl FnOnce() -> Result<T, PolarsError>) -> Result<T, Problem> {
    let damaged = |found: String| {
        let wanted = "write it again, with plain columns of texts, numbers and dates, or save it as CSV in UTF-8";
        Problem::file(path, "parquet-damaged", format!("cannot be read as Parquet: {found}"), wanted)
    };
    // The reader stops the program on some types of columns and some damage; here that is only a bad file.
    match catch_unwind(AssertUnwindSafe(work)) {
        Ok(result) => result.map_err(|error| damaged(error.to_string())),
        Err(_) => Err(damaged("it is damaged, or has a column of a type that is not read".to_owned())),
    }
}
