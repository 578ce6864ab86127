//! One well's every line with its fate, read from a run's own results.parquet. Nothing is decided again here.
//!
//! Row groups are looked through on all threads, one group's well column a thread at a time; the other columns are read only of
//! those that hold the well. So the time grows with the file, and the memory does not.

use crate::dictionary::{Dictionary, NameOutcome};
use crate::disk::machine;
use crate::parquet::{Fault, Group, ParquetFile};
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
    let told = |fault: Fault| match fault {
        Fault::Unreadable(error) if error.kind() == std::io::ErrorKind::NotFound => {
            damaged(path, "there is no such file")
        }
        Fault::Unreadable(error) => crate::files::unreadable(path, &error),
        other => damaged(path, &other.to_string()),
    };
    let open = || machine().open(path).map_err(Fault::from);
    let file = open().and_then(ParquetFile::open).map_err(told)?;
    let (names, description) = (file.names(), file.description());
    let places = |wanted: &[&str]| -> Result<Vec<usize>, Problem> {
        let place = |name: &&str| names.iter().position(|column| column == name);
        let found: Option<Vec<usize>> = wanted.iter().map(place).collect();
        found.ok_or_else(|| damaged(path, "it lacks a column that a run writes"))
    };
    let (ids, shown) = (places(&["well"])?, places(&COLUMNS)?);
    let in_group = |number: &usize| -> Result<Option<DataFrame>, Problem> {
        let mut file = open().map(|input| description.on(input)).map_err(told)?;
        let rows = file.group(*number, &ids).and_then(|group| rows_of(&group, well)).map_err(told)?;
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return Ok(None) };
        let slice = file.group(*number, &shown).and_then(|group| group.frame(*first..last + 1)).map_err(told)?;
        let within = rows.iter().filter_map(|row| IdxSize::try_from(row - first).ok());
        let slice = slice.take(&IdxCa::from_vec("place".into(), within.collect()));
        slice.map(Some).map_err(|error| told(error.into()))
    };
    let groups: Vec<usize> = (0..file.groups().len()).collect();
    let found: Result<Vec<Option<DataFrame>>, Problem> = on_threads(&groups, in_group).into_iter().collect();
    let joined = found?.into_iter().flatten().map(Ok).reduce(|one, other| one?.vstack(&other?));
    joined.transpose().map_err(|error| told(error.into()))?.ok_or_else(|| no_such_well(path, well).into())
}

fn damaged(path: &Path, found: &str) -> Problem {
    Problem::file(path, "trace-unreadable", found, "name the folder that a run wrote, with its internal part")
}

/// What `work` makes of every item, in order, on threads that take every so many'th.
///
/// Not `rayon`: a thread of its pool that waits for the Parquet reader's pool takes up the next item meanwhile, and the next in that, until its stack is
/// full: a survey of 100 million rows has that many groups.
fn on_threads<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let threads = rayon::current_num_threads().min(items.len()).max(1);
    let share = |first: usize| items.iter().skip(first).step_by(threads).map(&work).collect::<Vec<R>>();
    let shares: Vec<Vec<R>> = std::thread::scope(|scope| {
        let begin = |first: usize| (first, std::thread::Builder::new().spawn_scoped(scope, move || share(first)));
        let begun: Vec<_> = (0..threads).map(begin).collect();
        let end = |(first, thread): (usize, std::io::Result<std::thread::ScopedJoinHandle<'_, Vec<R>>>)| match thread {
            Ok(thread) => thread.join().unwrap_or_else(|fault| std::panic::resume_unwind(fault)),
            Err(_) => share(first), // the system has no further thread to give
        };
        begun.into_iter().map(end).collect()
    });
    let mut shares: Vec<_> = shares.into_iter().map(Vec::into_iter).collect();
    (0..items.len()).filter_map(|at| shares.get_mut(at % threads)?.next()).collect()
}

/// Where a group's rows of the well are; the group holds the column of wells alone.
fn rows_of(group: &Group, well: &str) -> Result<Vec<usize>, Fault> {
    let (mut rows, mut from) = (Vec::new(), 0);
    while from < group.rows() {
        let stretch = group.stretch(from);
        let ids = group.frame(stretch.clone())?;
        let column = ids.column("well")?.str()?;
        rows.extend(stretch.clone().zip(column.iter()).filter(|(_, id)| *id == Some(well)).map(|(row, _)| row));
        from = stretch.end;
    }
    Ok(rows)
}

fn no_such_well(path: &Path, well: &str) -> Problem {
    let found = format!("no line names the well \"{well}\"");
    let wanted = "write the id as internal/wells.csv has it; a well that no list holds, as the laboratory wrote it";
    Problem::file(path, "trace-no-well", found, wanted)
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
            (None, ..) if self.text("analyte").is_empty() => "(nothing: the name is not known)".to_owned(),
            (None, ..) => format!("{analyte}: (no amount)"),
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
