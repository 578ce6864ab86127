//! datapackage.json: what files an edition has, what their columns mean, how to trust them.
//!
//! A descriptor by the Data Package standard, version 2.0 (datapackage.org). `unit` of a field and `wellreeve` of the
//! package are our own properties, which the standard allows.

use super::super::{Results, Stage};
use super::Edition;
use super::edition::CAUTIONS;
use super::fields::{Field, Resource};
use super::frame::sources;
use crate::plan::Choose;
use serde_json::{Map, Value, json};

/// The profile that the descriptor keeps to.
const PROFILE: &str = "https://datapackage.org/profiles/2.0/datapackage.json";

/// The file's text.
pub(super) fn text(stage: &Stage, results: &Results<'_>, edition: Edition, resources: &[Resource]) -> String {
    let facts = stage.facts();
    let hash = |file: &str| facts.get(&edition.path(file)).map(|fact| format!("sha256:{}", fact.sha256));
    let mut listed: Vec<Value> = resources.iter().map(|resource| table(resource, &hash)).collect();
    listed.push(json!({
        "name": "areas",
        "title": "Outlines of the areas",
        "description": "One feature an area, longitude and latitude (RFC 7946), with published rates as properties.",
        "path": "areas.geojson",
        "format": "geojson",
        "mediatype": "application/geo+json",
        "hash": hash("areas.geojson"),
    }));
    let package = json!({
        "$schema": PROFILE,
        "name": edition.id(),
        "title": results.job.plan.survey.title,
        "description": format!("{} {}", edition.about(), CAUTIONS.join(" ")),
        "keywords": ["private wells", "drinking water", "ground water"],
        "sources": sources(results, edition),
        "resources": listed,
        "wellreeve": settings(results),
    });
    serde_json::to_string_pretty(&package).unwrap_or_default() + "\n"
}

fn table(resource: &Resource, hash: &impl Fn(&str) -> Option<String>) -> Value {
    let file = format!("{}.parquet", resource.name);
    json!({
        "name": resource.name,
        "type": "table",
        "title": resource.title,
        "description": resource.meaning,
        "hash": hash(&file),
        "path": file,
        "format": "parquet",
        "mediatype": "application/vnd.apache.parquet",
        "schema": {
            "fields": resource.fields.iter().map(field).collect::<Vec<_>>(),
        },
        "wellreeve": { "rows_are_named_by": resource.key },
    })
}

fn field(field: &Field) -> Value {
    let kind = if field.kind == "text" { "string" } else { field.kind.as_str() };
    let mut map = Map::new();
    map.insert("name".to_owned(), json!(field.name));
    map.insert("type".to_owned(), json!(kind));
    map.insert("description".to_owned(), json!(field.meaning));
    if !field.unit.is_empty() {
        map.insert("unit".to_owned(), json!(field.unit));
    }
    Value::Object(map)
}

/// What a second calculation needs to know of the plan.
fn settings(results: &Results<'_>) -> Value {
    let plan = &results.job.plan;
    let choose = match plan.per_well.choose {
        Choose::Latest => "latest",
        Choose::Highest => "highest",
        Choose::Median => "median",
    };
    json!({
        "version": env!("CARGO_PKG_VERSION"),
        "interval": plan.summary.interval,
        "fewest_detects": plan.summary.fewest_detects,
        "resamples": plan.summary.resamples,
        "seed": plan.summary.seed,
        "one_value_a_well": choose,
        "smallest_group": plan.smallest_group,
        "limits_in_force_on": results.findings.as_of.map(|day| day.to_string()),
    })
}
