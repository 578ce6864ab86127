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
use crate::table::{Cell, Table};
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
    let resource = Resource::new(results, table.name, &table.columns);
    let name = edition.path(&format!("{}.parquet", table.name));
    let bytes = bytes(&resource, table, metadata(results, edition, table.name)).map_err(|error| {
        Problem::file(std::path::Path::new(&name), "table-unwritable", error.to_string(), "report this: it is a bug")
    })?;
    stage.write(&name, &bytes, Some(table.rows.len() as u64))?;
    Ok(resource)
}

fn bytes(resource: &Resource, table: &Table, metadata: KeyValueMetadata) -> PolarsResult<Vec<u8>> {
    let columns = resource.fields.iter().enumerate().map(|(at, field)| column(field, table, at));
    let mut frame = DataFrame::new_infer_height(columns.collect::<PolarsResult<_>>()?)?;
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes)
        .with_compression(ParquetCompression::Snappy)
        .with_key_value_metadata(Some(metadata))
        .finish(&mut frame)?;
    Ok(bytes)
}

fn column(field: &Field, table: &Table, at: usize) -> PolarsResult<Column> {
    let name = PlSmallStr::from_str(&field.name);
    let cells = table.rows.iter().map(|row| row.get(at).unwrap_or(&Cell::Empty));
    Ok(match field.kind.as_str() {
        "integer" => Column::new(name, cells.map(whole).collect::<Vec<Option<i64>>>()),
        "number" => Column::new(name, cells.map(figure).collect::<Vec<Option<f64>>>()),
        _ => Column::new(name, cells.map(text).collect::<Vec<Option<String>>>()),
    })
}

fn whole(cell: &Cell) -> Option<i64> {
    match cell {
        Cell::Count(n) => i64::try_from(*n).ok(),
        Cell::Number(x) => Some(*x as i64),
        Cell::Text(text) => text.parse().ok(),
        Cell::Empty => None,
    }
}

fn figure(cell: &Cell) -> Option<f64> {
    match cell {
        Cell::Count(n) => Some(*n as f64),
        Cell::Number(x) => Some(number::rounded(*x)),
        Cell::Text(text) => text.parse().ok(),
        Cell::Empty => None,
    }
}

fn text(cell: &Cell) -> Option<String> {
    match cell {
        Cell::Text(text) => Some(text.clone()),
        Cell::Count(n) => Some(n.to_string()),
        Cell::Number(x) => Some(number::text(*x)),
        Cell::Empty => None,
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
