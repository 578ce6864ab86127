//! A table as Parquet, its units and sources in the file's metadata.
//!
//! Columns have the types of the dictionary. Numbers are rounded as in the CSV, so that both hold the same figures; text
//! is left as it is, since nothing here is opened as a formula.

use super::super::columns::{Column, ColumnFile, Figures, GROUP, Group, Kind, Layout, Texts};
use super::super::{Results, Stage, number};
use super::Edition;
use super::edition::CAUTIONS;
use super::fields::{Field, Resource};
use crate::in_order::in_order;
use crate::plan::shown_path;
use crate::problem::Problem;
use crate::table::{Cells, Listing, Table};
use polars::prelude::PolarsResult;
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
    write_rows(stage, results, edition, (table.name, &table.columns), |layout, resource, file| {
        table.rows.chunks(GROUP).try_for_each(|part| {
            let mut rows = Rows::new(resource);
            for row in part {
                row.iter().for_each(|cell| rows.cell(cell));
                rows.end();
            }
            file.put(rows.pack(layout))
        })
    })
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
    let starts: Vec<usize> = (0..table.things).step_by(GROUP).collect();
    write_rows(stage, results, edition, (table.name, &table.columns), |layout, resource, file| {
        let made = |start: &usize| -> Result<PolarsResult<Group>, Problem> {
            let mut rows = Rows::new(resource);
            (*start..table.things.min(start + GROUP)).for_each(|thing| (table.rows)(thing, &mut rows));
            Ok(rows.pack(layout))
        };
        in_order(&starts, made, |group| file.put(group))
    })
}

fn write_rows(
    stage: &Stage,
    results: &Results<'_>,
    edition: Edition,
    (table, columns): (&str, &[String]),
    groups: impl FnOnce(&Layout, &Resource, &mut ColumnFile<'_>) -> Result<(), Problem>,
) -> Result<Resource, Problem> {
    let resource = Resource::new(results, table, columns);
    let name = edition.path(&format!("{table}.parquet"));
    let layout = Layout::new(resource.fields.iter().map(|field| (field.name.as_str(), kind(field))))
        .map_err(|error| stage.unwritable(&name, &std::io::Error::other(error.to_string())))?;
    let mut file = ColumnFile::new(stage, &name, &layout, metadata(results, edition, table))?;
    groups(&layout, &resource, &mut file)?;
    file.keep()?;
    Ok(resource)
}

fn kind(field: &Field) -> Kind {
    match field.kind.as_str() {
        "integer" => Kind::Whole,
        "number" => Kind::Figure,
        _ => Kind::Text,
    }
}

/// Columns that grow row by row.
struct Rows {
    columns: Vec<Growing>,
    /// The column of the next cell.
    at: usize,
}

impl Rows {
    fn new(resource: &Resource) -> Rows {
        Rows { columns: resource.fields.iter().map(|field| Growing::new(kind(field))).collect(), at: 0 }
    }

    fn next(&mut self) -> Option<&mut Growing> {
        self.at += 1;
        self.columns.get_mut(self.at - 1)
    }

    fn pack(self, layout: &Layout) -> PolarsResult<Group> {
        let columns: Vec<Column> = self.columns.into_iter().map(Growing::finish).collect::<PolarsResult<_>>()?;
        layout.pack(&columns)
    }
}

impl Cells for Rows {
    fn text(&mut self, text: &str) {
        match self.next() {
            Some(Growing::Whole(list)) => list.push(text.parse().ok()),
            Some(Growing::Figure(list)) => list.push(text.parse().ok()),
            Some(Growing::Text(list)) => list.push((!text.is_empty()).then_some(text)),
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
            Some(Growing::Text(list)) => list.push(Some(&count.to_string())),
            None => {}
        }
    }

    fn figure(&mut self, figure: f64) {
        match self.next() {
            Some(Growing::Whole(list)) => list.push(Some(figure as i64)),
            Some(Growing::Figure(list)) => list.push(Some(number::rounded(figure))),
            Some(Growing::Text(list)) => list.push(Some(&number::text(figure))),
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
    Figure(Figures),
    Text(Texts),
}

impl Growing {
    fn new(kind: Kind) -> Growing {
        match kind {
            Kind::Whole => Growing::Whole(Vec::new()),
            Kind::Figure => Growing::Figure(Figures::default()),
            _ => Growing::Text(Texts::default()),
        }
    }

    fn finish(self) -> PolarsResult<Column> {
        match self {
            Growing::Whole(list) => Ok(Column::whole(list)),
            Growing::Figure(list) => list.finish(),
            Growing::Text(list) => list.finish(),
        }
    }
}

/// Key and value pairs of a Parquet file: title, columns with units, each analyte's unit, sources, cautions.
pub(in super::super) fn metadata(results: &Results<'_>, edition: Edition, table: &str) -> Vec<(String, String)> {
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
    pairs.into_iter().map(|(key, value)| (key.to_owned(), text(value))).collect()
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
