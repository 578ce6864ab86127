//! One well's every line with its fate, read from a run's own results.parquet. Nothing is decided again here.
//!
//! Row groups are looked through on all threads, one group's well column a thread at a time; the other columns are read only of
//! those that hold the well. So the time grows with the file, and the memory does not.

use crate::dictionary::{Dictionary, NameOutcome};
use crate::problem::{Problem, Problems};
use polars::prelude::*;
use std::path::Path;

/// The columns that a trace shows, in the file's order of meaning.
const COLUMNS: [&str; 16] = [
    "file",
    "line",
    "sample",
    "date",
    "sample_kind",
    "method",
    "analyte_as_written",
    "value_as_written",
    "unit_as_written",
    "analyte",
    "low",
    "high",
    "detected",
    "unit",
    "used",
    "reason",
];

/// Every line of a well, and what became of it, as text.
///
/// # Errors
/// A folder without a run in it, an analyte that is not known, or a well that no line names.
pub fn trace(out: &Path, well: &str, analyte: Option<&str>, dictionary: &Dictionary) -> Result<String, Problems> {
    let path = out.join("internal").join("results.parquet");
    let wanted = analyte.map(|name| analyte_id(dictionary, name)).transpose()?;
    let frame = lines_of(&path, well)?;
    let lines = (0..frame.height()).map(|row| Line { frame: &frame, row });
    let shown: Vec<Line<'_>> =
        lines.filter(|line| wanted.as_deref().is_none_or(|id| line.text("analyte") == id)).collect();
    let told: String = shown.iter().map(|line| line.told(dictionary)).collect();
    let results = if frame.height() == 1 { "result" } else { "results" };
    Ok(format!("{well}: {} of {} {results}\n{told}", shown.len(), frame.height()))
}

fn analyte_id(dictionary: &Dictionary, name: &str) -> Result<String, Problems> {
    match dictionary.resolve(name) {
        NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) => {
            Ok(dictionary.analytes().id(reading.analyte).to_owned())
        }
        NameOutcome::Unknown { nearest } => {
            let found = format!("\"{name}\" is not in the dictionary");
            let wanted = format!("nearest: {}", nearest.join(", "));
            Err(Problem::file(Path::new("--analyte"), "analyte-unknown", found, wanted).into())
        }
    }
}

/// The rows of a well, in the order they were read.
fn lines_of(path: &Path, well: &str) -> Result<DataFrame, Problems> {
    let damaged = |e: PolarsError| {
        Problem::file(
            path,
            "trace-unreadable",
            e.to_string(),
            "name the folder that a run wrote, with its internal part",
        )
    };
    let metadata = ParquetReader::new(open(path)?).get_metadata().map_err(damaged)?.clone();
    let columns_of = |names: &[&str], from: usize, rows: usize| -> Result<DataFrame, Problem> {
        let mut reader = ParquetReader::new(open(path)?);
        reader.set_metadata(metadata.clone());
        let reader = reader.with_columns(Some(names.iter().map(|name| (*name).to_owned()).collect()));
        // This way of reading alone passes over groups outside the slice without unpacking them.
        let reader = reader.with_slice(Some((from, rows))).read_parallel(ParallelStrategy::RowGroups);
        reader.finish().map_err(damaged)
    };
    let sizes = metadata.row_groups.iter().map(|group| group.num_rows());
    let groups: Vec<(usize, usize)> =
        sizes.scan(0, |end, rows| Some((std::mem::replace(end, *end + rows), rows))).collect();
    let in_group = |(start, rows): &(usize, usize)| -> Result<Option<DataFrame>, Problem> {
        let ids = columns_of(&["well"], *start, *rows)?;
        let places = places(&ids, well).map_err(damaged)?;
        let (Some(first), Some(last)) = (places.first(), places.last()) else { return Ok(None) };
        let slice = columns_of(&COLUMNS, start + first, last - first + 1)?;
        let within = places.iter().filter_map(|place| IdxSize::try_from(place - first).ok());
        slice.take(&IdxCa::from_vec("place".into(), within.collect())).map(Some).map_err(damaged)
    };
    let found: Result<Vec<Option<DataFrame>>, Problem> = on_threads(&groups, in_group).into_iter().collect();
    let joined = found?.into_iter().flatten().map(Ok).reduce(|one, other| one?.vstack(&other?));
    joined.transpose().map_err(damaged)?.ok_or_else(|| no_such_well(path, well).into())
}

/// What `work` makes of every item, in order, on threads that take every so many'th.
///
/// Not `rayon`: a thread of its pool that waits for the Parquet reader's pool takes up the next item meanwhile, and the next in that, until its stack is
/// full: a survey of 100 million rows has that many groups.
fn on_threads<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let threads = rayon::current_num_threads().min(items.len()).max(1);
    let share = |first: usize| items.iter().skip(first).step_by(threads).map(&work).collect::<Vec<R>>();
    let shares: Vec<Vec<R>> = std::thread::scope(|scope| {
        let begun: Vec<_> = (0..threads).map(|first| scope.spawn(move || share(first))).collect();
        begun.into_iter().map(|thread| thread.join().unwrap_or_else(|fault| std::panic::resume_unwind(fault))).collect()
    });
    let mut shares: Vec<_> = shares.into_iter().map(Vec::into_iter).collect();
    (0..items.len()).filter_map(|at| shares.get_mut(at % threads)?.next()).collect()
}

fn open(path: &Path) -> Result<std::fs::File, Problem> {
    std::fs::File::open(path).map_err(|e| crate::files::unreadable(path, &e))
}

/// Where a group's rows of the well are.
fn places(ids: &DataFrame, well: &str) -> PolarsResult<Vec<usize>> {
    let column = ids.column("well")?.str()?;
    Ok(column.iter().enumerate().filter(|(_, id)| *id == Some(well)).map(|(place, _)| place).collect())
}

fn no_such_well(path: &Path, well: &str) -> Problem {
    let found = format!("no line names the well \"{well}\"");
    Problem::file(path, "trace-no-well", found, "write the id as the well list has it; wells.csv lists them")
}

/// One row of the frame.
struct Line<'f> {
    frame: &'f DataFrame,
    row: usize,
}

impl Line<'_> {
    fn text(&self, column: &str) -> String {
        match self.frame.column(column).and_then(|c| c.get(self.row).map(AnyValue::into_static)) {
            Ok(AnyValue::StringOwned(text)) => text.to_string(),
            Ok(AnyValue::Date(days)) => crate::ids::Day(days).to_string(),
            Ok(AnyValue::UInt32(n)) => n.to_string(),
            _ => String::new(),
        }
    }

    fn number(&self, column: &str) -> Option<f64> {
        self.frame.column(column).ok()?.f64().ok()?.get(self.row)
    }

    fn says(&self, column: &str) -> Option<bool> {
        self.frame.column(column).ok()?.bool().ok()?.get(self.row)
    }

    /// Where it stands, what was written, what that became, and why it is used or not.
    fn told(&self, dictionary: &Dictionary) -> String {
        let as_written = format!(
            "{} {} {}",
            self.text("analyte_as_written"),
            self.text("value_as_written"),
            self.text("unit_as_written")
        );
        let reason = self.text("reason");
        let fate = match (self.says("used"), dictionary.reasons().find(&reason)) {
            (Some(true), _) => "used: it stands for this well and analyte".to_owned(),
            (_, Some(meaning)) => format!("set aside, {reason}: {}", meaning.meaning),
            _ => format!("set aside, {reason}"),
        };
        format!(
            "\n{}, line {}: sample {} of {} ({}, {})\n  written  {}\n  read as  {}\n  fate     {fate}\n",
            self.text("file"),
            self.text("line"),
            or_none(&self.text("sample")),
            or_none(&self.text("date")),
            self.text("sample_kind"),
            self.text("method"),
            as_written.trim(),
            self.reading()
        )
    }

    fn reading(&self) -> String {
        let number = crate::publish::number::text;
        let (analyte, unit) = (or_none(&self.text("analyte")), self.text("unit"));
        match (self.says("detected"), self.number("low"), self.number("high")) {
            (None, ..) => format!("{analyte}: nothing"),
            (Some(true), Some(low), Some(high)) if high.is_infinite() => {
                format!("{analyte}: above {} {unit}", number(low))
            }
            (Some(true), Some(low), _) => format!("{analyte}: {} {unit}", number(low)),
            (Some(false), _, Some(high)) => format!("{analyte}: not detected, at most {} {unit}", number(high)),
            (Some(true), None, _) => format!("{analyte}: present"),
            (Some(false), _, None) => format!("{analyte}: not found"),
        }
    }
}

fn or_none(text: &str) -> String {
    if text.is_empty() { "(none)".to_owned() } else { text.to_owned() }
}
