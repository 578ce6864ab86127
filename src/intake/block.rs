//! A few megabytes of whole lines of one file, and how to walk their results.
//!
//! Splitting into cells is left to whoever walks the block, so that it happens on that thread.

use super::columns::{Columns, More, Shape, Source};
use super::ragged::{Lines, Ragged};
use super::split::{Record, Records};
use crate::problem::Problem;
use std::path::PathBuf;
use std::sync::Arc;

/// One results file of the run.
#[derive(Debug)]
pub struct SourceFile {
    /// Its number in the run, in reading order.
    pub number: u16,
    /// Its path.
    pub path: PathBuf,
    /// The `[[results]]` it belongs to, counted from 0.
    pub part: usize,
    /// Where its columns stand.
    pub columns: Columns,
    /// Lines met so far that have more cells than the header.
    pub(super) ragged: Ragged,
    /// Records met so far in which others seem to stand.
    pub(super) buried: Ragged,
}

/// Whole lines of one file.
#[derive(Debug)]
pub struct RawBlock {
    /// The file.
    pub file: Arc<SourceFile>,
    /// The lines' text.
    pub text: String,
    /// Line number of the first line, counted from 1.
    pub first_line: u64,
}

/// What a line's results have in common.
#[derive(Clone, Copy, Debug, Default)]
pub struct RawLine<'a> {
    /// Line number, counted from 1.
    pub line: u64,
    /// Digest of the line as it stands, and of its file's header: equal lines have equal digests.
    pub digest: u64,
    /// Well id, trimmed; so are all texts here.
    pub well: &'a str,
    /// Day of sampling.
    pub date: &'a str,
    /// When received.
    pub received: &'a str,
    /// Sample number.
    pub sample: &'a str,
    /// Kind of sample.
    pub sample_kind: &'a str,
    /// Method.
    pub method: &'a str,
}

/// One result as written.
#[derive(Clone, Copy, Debug, Default)]
pub struct RawCell<'a> {
    /// Which analyte column of a wide file; 0 for a long one.
    pub column: u16,
    /// Analyte's name.
    pub analyte: &'a str,
    /// Value.
    pub value: &'a str,
    /// Unit.
    pub unit: &'a str,
    /// Qualifier.
    pub qualifier: &'a str,
    /// Limit.
    pub limit: &'a str,
    /// Second column of qualifiers.
    pub second_qualifier: &'a str,
    /// Status of the result.
    pub status: &'a str,
    /// Fraction of the sample.
    pub fraction: &'a str,
    /// Basis.
    pub basis: &'a str,
    /// Unit of the limit.
    pub limit_unit: &'a str,
}

impl RawBlock {
    /// Calls `take` for every result of the block, in line order and then column order.
    ///
    /// A line without any text is no result; nor is an empty cell of a wide file.
    ///
    /// # Errors
    /// A block that ends inside a quoted cell, which no block of `Intake` does: its last lines may be one cell.
    pub fn each_result(&self, mut take: impl FnMut(&RawLine<'_>, &RawCell<'_>)) -> Result<(), Problem> {
        let columns = &self.file.columns;
        let seed = self.seed();
        let (mut records, mut record) =
            (Records::new(&self.text, columns.delimiter, self.first_line), Record::default());
        let (mut ragged, mut buried) = (Lines::default(), Lines::default());
        while records.next(&mut record) {
            if record.line <= columns.header_line || record.cells().all(str::is_empty) {
                continue;
            }
            if record.open {
                let found = "a quote opens here and is not closed";
                return Err(Problem::file(&self.file.path, "quote-open", found, "close the quote").at(record.line));
            }
            let long = (columns.names.len()..record.len()).any(|at| !record.get(at).is_empty());
            if long {
                ragged.note(record.line);
            }
            if (long || records.line() > record.line + 1) && buries(columns, &record) {
                buried.note(record.line);
            }
            let digest = xxhash_rust::xxh3::xxh3_64_with_seed(record.raw().as_bytes(), seed);
            walk(columns, &record, &common(columns, &record, digest), &mut take);
        }
        self.file.ragged.add(&ragged);
        self.file.buried.add(&buried);
        Ok(())
    }

    fn seed(&self) -> u64 {
        let names = self.file.columns.names.join("\u{1f}");
        xxhash_rust::xxh3::xxh3_64_with_seed(names.as_bytes(), self.file.part as u64)
    }
}

/// Whether something with as many cells as the header stands behind a line end inside a record.
fn buries(columns: &Columns, record: &Record<'_>) -> bool {
    let cells = |line: &str| memchr::memchr_iter(columns.delimiter, line.as_bytes()).count() + 1;
    columns.names.len() > 1 && record.raw().split(['\n', '\r']).skip(1).any(|line| cells(line) >= columns.names.len())
}

fn common<'a>(columns: &Columns, record: &'a Record<'_>, digest: u64) -> RawLine<'a> {
    let maybe = |at: Option<usize>| at.map_or("", |at| record.get(at));
    RawLine {
        line: record.line,
        digest,
        well: record.get(columns.well),
        date: maybe(columns.date),
        received: maybe(columns.received),
        sample: maybe(columns.sample),
        sample_kind: maybe(columns.sample_kind),
        method: maybe(columns.method),
    }
}

fn walk(columns: &Columns, record: &Record<'_>, line: &RawLine<'_>, take: &mut impl FnMut(&RawLine<'_>, &RawCell<'_>)) {
    for (column, place) in (0u16..).zip(&columns.cells) {
        let value = record.get(place.value);
        let qualifier = place.qualifier.map_or("", |at| record.get(at));
        if columns.shape == Shape::Wide && value.is_empty() && qualifier.is_empty() {
            continue;
        }
        let analyte = text(record, &place.analyte);
        let unit = text(record, &place.unit);
        let limit = place.limit.map_or("", |at| record.get(at));
        let mut cell = RawCell { column, analyte, value, unit, qualifier, limit, ..RawCell::default() };
        if let Some(more) = &place.more {
            add_more(&mut cell, more, record);
        }
        take(line, &cell);
    }
}

fn add_more<'a>(cell: &mut RawCell<'a>, more: &More, record: &'a Record<'_>) {
    let maybe = |at: Option<usize>| at.map_or("", |at| record.get(at));
    cell.second_qualifier = maybe(more.second_qualifier);
    cell.status = maybe(more.status);
    cell.fraction = maybe(more.fraction);
    cell.basis = maybe(more.basis);
    cell.limit_unit = maybe(more.limit_unit);
}

fn text<'a>(record: &'a Record<'_>, source: &'a Source) -> &'a str {
    match source {
        Source::Column(at) => record.get(*at),
        Source::Fixed(text) => text,
    }
}
