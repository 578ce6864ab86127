//! A few megabytes of whole lines of one file, and how to walk their results.
//!
//! Splitting into cells is left to whoever walks the block, so that it happens on that thread.

use super::columns::{Columns, Shape, Source};
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
}

impl RawBlock {
    /// Calls `take` for every result of the block, in line order and then column order.
    ///
    /// A line without any text is no result; nor is an empty cell of a wide file.
    ///
    /// # Errors
    /// Only what the CSV reader cannot split at all; text that is merely odd goes to `take`.
    pub fn each_result(&self, mut take: impl FnMut(&RawLine<'_>, &RawCell<'_>)) -> Result<(), csv::Error> {
        let columns = &self.file.columns;
        let seed = self.seed();
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(columns.delimiter)
            .from_reader(self.text.as_bytes());
        let mut record = csv::StringRecord::new();
        let mut from = 0usize;
        let mut line = self.first_line;
        while reader.read_record(&mut record)? {
            let to = usize::try_from(reader.position().byte()).unwrap_or(self.text.len());
            let raw = self.text.get(from..to).unwrap_or_default();
            let start = blank_lines(raw);
            let at = line + start as u64;
            line += memchr::memchr_iter(b'\n', raw.as_bytes()).count() as u64;
            from = to;
            if at <= columns.header_line || record.iter().all(|cell| cell.trim().is_empty()) {
                continue;
            }
            let digest = xxhash_rust::xxh3::xxh3_64_with_seed(raw.trim().as_bytes(), seed);
            walk(columns, &record, &common(columns, &record, at, digest), &mut take);
        }
        Ok(())
    }

    fn seed(&self) -> u64 {
        let names = self.file.columns.names.join("\u{1f}");
        xxhash_rust::xxh3::xxh3_64_with_seed(names.as_bytes(), self.file.part as u64)
    }
}

/// How many empty lines stand before the record: the reader skips them.
fn blank_lines(raw: &str) -> usize {
    let rest = raw.trim_start_matches(['\r', '\n']);
    raw.get(..raw.len() - rest.len()).unwrap_or_default().matches('\n').count()
}

fn common<'a>(columns: &Columns, record: &'a csv::StringRecord, line: u64, digest: u64) -> RawLine<'a> {
    let maybe = |at: Option<usize>| at.map_or("", |at| cell(record, at));
    RawLine {
        line,
        digest,
        well: cell(record, columns.well),
        date: maybe(columns.date),
        received: maybe(columns.received),
        sample: maybe(columns.sample),
        sample_kind: maybe(columns.sample_kind),
        method: maybe(columns.method),
    }
}

fn walk(columns: &Columns, record: &csv::StringRecord, line: &RawLine<'_>, take: &mut impl FnMut(&RawLine<'_>, &RawCell<'_>)) {
    for (number, place) in columns.cells.iter().enumerate() {
        let value = cell(record, place.value);
        let qualifier = place.qualifier.map_or("", |at| cell(record, at));
        if columns.shape == Shape::Wide && value.is_empty() && qualifier.is_empty() {
            continue;
        }
        let text = |source: &'_ Source| match source {
            Source::Column(at) => cell(record, *at).to_owned(),
            Source::Fixed(text) => text.clone(),
        };
        // A long file's texts are borrowed; a wide file's come from the plan and are few.
        let (analyte, unit);
        let (analyte_text, unit_text) = match (&place.analyte, &place.unit) {
            (Source::Column(a), Source::Column(u)) => (cell(record, *a), cell(record, *u)),
            (Source::Fixed(a), Source::Fixed(u)) => (a.as_str(), u.as_str()),
            (a, u) => {
                (analyte, unit) = (text(a), text(u));
                (analyte.as_str(), unit.as_str())
            }
        };
        let limit = place.limit.map_or("", |at| cell(record, at));
        let column = u16::try_from(number).unwrap_or(u16::MAX);
        take(line, &RawCell { column, analyte: analyte_text, value, unit: unit_text, qualifier, limit });
    }
}

fn cell(record: &csv::StringRecord, at: usize) -> &str {
    record.get(at).unwrap_or_default().trim()
}
