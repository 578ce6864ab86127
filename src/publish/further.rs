//! The further layers of areas: a folder of tables and an areas file for each.
//!
//! Each layer is protected on its own and then against all layers before it (`across`). Land use, accounting and quality are no
//! matter of areas, and are not repeated. What the page says of a layer is read from its protected tables (`layer_parts`).

use super::across::{self, Shown};
use super::pictures::Formats;
use super::protect::{Protected, Protection, Public};
use super::report::LayerSection;
use super::{Results, Stage, advice_tables, csv, geojson, layer_parts, place_tables, tables};
use crate::compare::Comparison;
use crate::problem::Problems;
use crate::recommend::Advice;
use crate::summarise::Findings;
use crate::table::Table;

/// Writes every further layer; where maps are wanted draws them, and gives what the page says of each.
///
/// # Errors
/// A folder that cannot be written, or an outline that cannot be drawn.
pub fn write(
    stage: &Stage,
    results: &Results<'_>,
    main: &Protection,
    maps: Option<Formats>,
) -> Result<Vec<LayerSection>, Problems> {
    let mut sections = Vec::new();
    let mut done: Vec<Protection> = Vec::new();
    let further = results.wells.further();
    let comparison = Comparison::default();
    for (layer, found) in further.iter().zip(results.layers) {
        let own = Results {
            wells: &layer.wells,
            findings: &found.findings,
            advice: &found.advice,
            comparison: &comparison,
            ..*results
        };
        let mut protection = Protection::decide(&own);
        let first = Shown { wells: results.wells, protection: main };
        let others = further.iter().zip(&done).map(|(layer, protection)| Shown { wells: &layer.wells, protection });
        let before: Vec<Shown<'_>> = std::iter::once(first).chain(others).collect();
        // What the layers before ask to hide may narrow other numbers of this one, and the other way round.
        loop {
            across::hide_more(&mut protection, own.wells, &before, own.survey, own.job.dictionary.sum_rules());
            let Some(next) = protection.again(&own) else { break };
            protection = next;
        }
        let public = protection.public(&own, &[])?;
        let tables = by_area(&own, &public);
        for (table, public) in &tables {
            let rows = Some(table.rows.len() as u64);
            let name = format!("tables/{}/{}.csv", layer.called, table.name);
            stage.write(&format!("internal/{name}"), &csv::bytes(table), rows)?;
            stage.write(&format!("public/{name}"), &csv::bytes(public.get()), rows)?;
        }
        geojson::write(stage, &format!("public/areas-{}.geojson", layer.called), &public)?;
        if let Some(formats) = maps {
            let named = (layer.called.as_str(), sections.len() + 1);
            sections.push(layer_parts::section(stage, &public, named, &tables, formats)?);
        }
        done.push(protection);
    }
    Ok(sections)
}

/// The tables that go by area, whole and protected.
fn by_area(results: &Results<'_>, public: &Public<'_>) -> Vec<(Table, Protected<Table>)> {
    let (names, protection) = (results.names(), public.protection);
    let make = |findings: &Findings, advice: &Advice| {
        [
            tables::exceedance(findings.all_exceedance(), names),
            tables::summary(&findings.summaries, names),
            advice_tables::recommend(&advice.areas, names),
            advice_tables::outreach(&advice.outreach, names),
            place_tables::coverage(&findings.coverage, names),
            tables::trend(&findings.trends, &advice.trend_words, names),
        ]
    };
    let (findings, advice) = (public.told.findings(), public.told.advice());
    let [exceedance, summary, recommend, outreach, coverage, trend] = make(findings, advice);
    let told = [
        protection.by_group(&exceedance, findings.all_exceedance().map(|row| (row.scope, row.analyte))),
        protection.by_group(&summary, findings.summaries.iter().map(|row| (row.scope, row.analyte))),
        protection.recommend(&recommend, advice),
        protection.outreach(&outreach, advice),
        protection.coverage(&coverage, &findings.coverage),
        protection.trend_without_counts(&trend, &findings.trends),
    ];
    make(results.findings, results.advice).into_iter().zip(told).collect()
}
