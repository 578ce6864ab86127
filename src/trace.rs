//! One well's every line with its fate, read from a run's own results.parquet. Nothing is decided again here.
//!
//! Row groups that do not hold the well are passed over after reading their well column only.

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
    Ok(format!("{well}: {} of {} results\n{told}", shown.len(), frame.height()))
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
    let wanted = "name the folder that a run wrote, with its internal part";
    let damaged = |e: PolarsError| Problem::file(path, "trace-unreadable", e.to_string(), wanted);
    let open = || std::fs::File::open(path).map_err(|e| crate::files::unreadable(path, &e));
    let ids = ParquetReader::new(open()?).with_columns(Some(vec!["well".to_owned()])).finish().map_err(damaged)?;
    let column = ids.column("well").and_then(|c| c.str().cloned()).map_err(damaged)?;
    let places: Vec<usize> =
        column.iter().enumerate().filter(|(_, id)| *id == Some(well)).map(|(place, _)| place).collect();
    let (Some(first), Some(last)) = (places.first(), places.last()) else {
        let found = format!("no line names the well \"{well}\"");
        let wanted = "write the id as the well list has it; wells.csv lists them";
        return Err(Problem::file(path, "trace-no-well", found, wanted).into());
    };
    let columns = COLUMNS.iter().map(|name| (*name).to_owned()).collect();
    let slice = ParquetReader::new(open()?)
        .with_columns(Some(columns))
        .with_slice(Some((*first, last - first + 1)))
        .finish()
        .map_err(damaged)?;
    let within = places.iter().filter_map(|place| IdxSize::try_from(place - first).ok());
    let picked = IdxCa::from_vec("place".into(), within.collect());
    slice.take(&picked).map_err(|e| damaged(e).into())
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
