//! A table as Parquet, its units and sources in the file's metadata.
//!
//! Columns have the types of the dictionary. Numbers are rounded as in the CSV, so that both hold the same figures; text
//! is left as it is, since nothing here is opened as a formula.

use super::super::{Results, Stage, number};
use super::Edition;
use super::edition::CAUTIONS;
use super::fields::{Field, Resource};
use crate::plan::shown_path;
use crate::problem::Problem;
use crate::table::{Cells, Listing, Table};
use polars::prelude::*;
use serde_json::{Map, Value, json};

/// Writes one table of an edition.
///
/// # Errors
/// A folder that cannot be written.
pub(super) fn write(
    stage: &Stage,
    results: &Results<'_>,
    edition: Edition,
    table: &Table,
) -> Result<Resource, Problem> {
    let give = |columns: &mut Columns| {
        for row in &table.rows {
            row.iter().for_each(|cell| columns.cell(cell));
            columns.end();
        }
    };
    write_rows(stage, results, edition, (table.name, &table.columns), give)
}

/// Writes a table too long to be held.
///
/// # Errors
/// A folder that cannot be written.
pub(super) fn write_listing(
    stage: &Stage,
    results: &Results<'_>,
    edition: Edition,
    table: &Listing<'_>,
) -> Result<Resource, Problem> {
    let give = |columns: &mut Columns| (0..table.things).for_each(|thing| (table.rows)(thing, columns));
    write_rows(stage, results, edition, (table.name, &table.columns), give)
}

fn write_rows(
    stage: &Stage,
    results: &Results<'_>,
    edition: Edition,
    (table, columns): (&str, &[String]),
    give: impl FnOnce(&mut Columns),
) -> Result<Resource, Problem> {
    let resource = Resource::new(results, table, columns);
    let name = edition.path(&format!("{table}.parquet"));
    let mut out = stage.create(&name)?;
    // The Parquet writer wraps what the disk says in words of its own.
    let failed = out.failed();
    let fault = |error: PolarsError| stage.unwritable(&name, &failed.or(error));
    let mut growing = Columns::new(&resource);
    give(&mut growing);
    let mut frame = growing.finish(&resource).map_err(fault)?;
    ParquetWriter::new(&mut out)
        .with_compression(ParquetCompression::Snappy)
        .with_key_value_metadata(Some(metadata(results, edition, table)))
        .finish(&mut frame)
        .map_err(fault)?;
    stage.keep(&name, out, Some(frame.height() as u64))?;
    Ok(resource)
}

/// Columns that grow row by row.
struct Columns {
    columns: Vec<Growing>,
    /// The column of the next cell.
    at: usize,
}

impl Columns {
    fn new(resource: &Resource) -> Columns {
        Columns { columns: resource.fields.iter().map(Growing::new).collect(), at: 0 }
    }

    fn next(&mut self) -> Option<&mut Growing> {
        self.at += 1;
        self.columns.get_mut(self.at - 1)
    }

    fn finish(self, resource: &Resource) -> PolarsResult<DataFrame> {
        let named = self.columns.into_iter().zip(&resource.fields);
        DataFrame::new_infer_height(named.map(|(column, field)| column.finish(field)).collect())
    }
}

impl Cells for Columns {
    fn text(&mut self, text: &str) {
        match self.next() {
            Some(Growing::Whole(list)) => list.push(text.parse().ok()),
            Some(Growing::Figure(list)) => list.push(text.parse().ok()),
            Some(Growing::Text(list)) => list.append_option((!text.is_empty()).then_some(text)),
            None => {}
        }
    }

    fn words(&mut self, words: std::fmt::Arguments<'_>) {
        self.text(&words.to_string());
    }

    fn count(&mut self, count: u64) {
        match self.next() {
            Some(Growing::Whole(list)) => list.push(i64::try_from(count).ok()),
            Some(Growing::Figure(list)) => list.push(Some(count as f64)),
            Some(Growing::Text(list)) => list.append_value(count.to_string()),
            None => {}
        }
    }

    fn figure(&mut self, figure: f64) {
        match self.next() {
            Some(Growing::Whole(list)) => list.push(Some(figure as i64)),
            Some(Growing::Figure(list)) => list.push(Some(number::rounded(figure))),
            Some(Growing::Text(list)) => list.append_value(number::text(figure)),
            None => {}
        }
    }

    fn end(&mut self) {
        while self.at < self.columns.len() {
            self.text("");
        }
        self.at = 0;
    }
}

/// A column that grows cell by cell.
enum Growing {
    Whole(Vec<Option<i64>>),
    Figure(Vec<Option<f64>>),
    Text(StringChunkedBuilder),
}

impl Growing {
    fn new(field: &Field) -> Growing {
        match field.kind.as_str() {
            "integer" => Growing::Whole(Vec::new()),
            "number" => Growing::Figure(Vec::new()),
            _ => Growing::Text(StringChunkedBuilder::new(PlSmallStr::from_str(&field.name), 0)),
        }
    }

    fn finish(self, field: &Field) -> Column {
        let name = PlSmallStr::from_str(&field.name);
        match self {
            Growing::Whole(list) => Column::new(name, list),
            Growing::Figure(list) => Column::new(name, list),
            Growing::Text(list) => list.finish().into_column(),
        }
    }
}

/// Key and value pairs of a Parquet file: title, columns with units, each analyte's unit, sources, cautions.
pub(in super::super) fn metadata(results: &Results<'_>, edition: Edition, table: &str) -> KeyValueMetadata {
    let dictionary = &results.job.dictionary;
    let resource = Resource::of_dictionary(results, table);
    let columns: Map<String, Value> = resource
        .fields
        .iter()
        .map(|f| (f.name.clone(), json!({ "type": f.kind, "unit": f.unit, "meaning": f.meaning })))
        .collect();
    let units: Map<String, Value> = results
        .findings
        .summaries
        .iter()
        .map(|row| (dictionary.analytes().id(row.analyte).to_owned(), json!(dictionary.unit_text(row.analyte))))
        .collect();
    let pairs = [
        ("title", json!(resource.title)),
        ("description", json!(resource.meaning)),
        ("survey", json!(results.job.plan.survey.title)),
        ("edition", json!(edition.about())),
        ("columns", Value::Object(columns)),
        ("analyte_units", Value::Object(units)),
        ("sources", json!(sources(results, edition))),
        ("cautions", json!(CAUTIONS.join(" "))),
        ("made_by", json!(concat!("wellreeve ", env!("CARGO_PKG_VERSION")))),
    ];
    let text = |value: Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    KeyValueMetadata::from_static(pairs.into_iter().map(|(key, value)| (key.to_owned(), text(value))).collect())
}

/// Who issued the limits; of the internal edition, the results files too (a file name may carry a well's id).
pub(super) fn sources(results: &Results<'_>, edition: Edition) -> Vec<Value> {
    let plan = &results.job.plan;
    let sets = results.job.dictionary.benchmarks().sets().iter();
    let used = sets.filter(|set| plan.benchmarks.sets.contains(&set.id));
    let mut sources: Vec<Value> =
        used.map(|set| json!({ "title": format!("{}: {} ({})", set.id, set.name, set.issued_by) })).collect();
    if edition == Edition::Internal {
        let files = plan.results.iter().flat_map(|part| &part.files);
        sources.extend(files.map(|path| json!({ "title": format!("results file {}", shown_path(&plan.base, path)) })));
    }
    sources
}
