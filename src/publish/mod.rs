//! Findings become files: public tables, maps and page; internal lists; the manifest.
//!
//! Comes in: everything that the stages before made. Goes out: the folder. No figure is computed here. A public writer
//! accepts only what `protect` made, so the compiler refuses a leak; `number` alone rounds; writing itself is `stage`'s.

mod across;
pub(crate) mod advice_tables;
mod csv;
mod further;
mod geojson;
mod geopackage;
mod hidden;
mod hot_spots;
mod internal;
mod leftovers;
pub mod letters;
mod manifest;
pub mod maps;
pub mod number;
mod occupied;
mod page;
mod page_parts;
mod parquet;
mod pictures;
mod place_tables;
mod points;
mod protect;
pub mod report;
mod research;
mod spread;
mod stage;
mod tables;
mod workbook;

pub use advice_tables::{FOLLOW_UP, OUTREACH, PANEL, RECOMMEND, RETEST, SAMPLE_NEXT};
pub use place_tables::{COARSE_LOCATIONS, COVERAGE, RADII};
pub use protect::{Protected, Protection};
pub use stage::Stage;
pub use tables::{
    ACCOUNTING, ANY_HEALTH, EXCEEDANCE, HOT_SPOTS, LAND_USE, LAND_USE_MODEL, Names, PERIOD, QUALITY, SUMMARY, TREND,
};

use crate::compare::Comparison;
use crate::layers::LayerFindings;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::problem::{Problem, Problems};
use crate::progress::Progress;
use crate::recommend::Advice;
use crate::summarise::{Findings, QualityRow, Scope, quality};
use crate::survey::Job;
use crate::table::Table;

/// Everything there is to publish.
#[derive(Clone, Copy)]
pub struct Results<'a> {
    /// Plan, dictionary and inputs.
    pub job: &'a Job,
    /// Wells.
    pub wells: &'a Wells,
    /// Rows and values.
    pub survey: &'a Survey,
    /// Rates and summaries.
    pub findings: &'a Findings,
    /// By land use.
    pub comparison: &'a Comparison,
    /// What to do.
    pub advice: &'a Advice,
    /// Findings of the further layers of areas.
    pub layers: &'a [LayerFindings],
}

impl<'a> Results<'a> {
    /// Names for ids.
    pub fn names(&self) -> Names<'a> {
        Names { dictionary: &self.job.dictionary, areas: self.wells.areas() }
    }
}

/// Writes everything and puts it in place.
///
/// # Errors
/// A folder that cannot be written, or a picture that cannot be drawn.
pub fn publish(stage: Stage, results: &Results<'_>, progress: &Progress) -> Result<(), Problems> {
    let plan = &results.job.plan;
    let protection = Protection::decide(results);
    let told = protection.told(results);
    let public = told.beside(results);
    let quality = quality(plan, &results.job.dictionary, results.wells, results.survey, results.findings)?;
    progress.step("Writing tables and drawing maps");
    let (rows, (tables, pictures)) = rayon::join(
        || write_rows(&stage, results),
        || {
            let tables = || {
                let tables = tables_out(&stage, results, &protection, &quality)?;
                geojson::write(&stage, "public/areas.geojson", &public, &protection)?;
                points::write(&stage, results, &protection)?;
                further::write(&stage, results, &protection).map(|()| tables)
            };
            rayon::join(tables, || pictures::write(&stage, results, &public, &protection))
        },
    );
    rows?;
    let tables = tables?;
    research::write(&stage, results, &tables)?;
    progress.step("Writing the report");
    let page = page::page(&public, &protection, &quality, &pictures?, page_parts::further(results, &tables))?;
    stage.write("public/report.html", page.as_bytes(), None)?;
    let template = letters::Template::read(plan, &results.job.inputs)?;
    letters::write(&stage, results, &protection, template.as_ref())?;
    manifest::write(&stage, results)?;
    let placed = stage.finish()?;
    progress.place();
    placed.told.iter().for_each(|told| progress.step(told));
    Ok(())
}

/// The tables and files of areas alone, without maps, report and research files: what is told, for tests of what is hidden.
///
/// # Errors
/// As `publish`.
pub fn publish_tables(stage: Stage, results: &Results<'_>) -> Result<(), Problems> {
    let protection = Protection::decide(results);
    let plan = &results.job.plan;
    let quality = quality(plan, &results.job.dictionary, results.wells, results.survey, results.findings)?;
    tables_out(&stage, results, &protection, &quality)?;
    let told = protection.told(results);
    geojson::write(&stage, "public/areas.geojson", &told.beside(results), &protection)?;
    further::write(&stage, results, &protection)?;
    stage.finish().map(|_| ())
}

/// The files with a line for each row or well.
fn write_rows(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    let (lists, parquet) = rayon::join(|| internal::write(stage, results), || parquet::write(stage, results));
    lists.and(parquet)
}

/// Every table twice: protected and public, whole and internal.
fn tables_out(
    stage: &Stage,
    results: &Results<'_>,
    protection: &Protection,
    quality: &[QualityRow],
) -> Result<Vec<(Table, Protected<Table>)>, Problem> {
    let tables = all_tables(results, protection, quality);
    books(stage, results, protection, &tables)?;
    for (table, public) in &tables {
        let rows = Some(table.rows.len() as u64);
        stage.write(&format!("internal/tables/{}.csv", table.name), &bytes(table)?, rows)?;
        stage.write(&format!("public/tables/{}.csv", table.name), &bytes(public.get())?, rows)?;
    }
    if !results.comparison.coarse.is_empty() {
        let coarse = place_tables::coarse_locations(&results.comparison.coarse, results.names());
        stage.write("internal/tables/coarse-locations.csv", &bytes(&coarse)?, Some(coarse.rows.len() as u64))?;
    }
    Ok(tables)
}

fn all_tables(
    results: &Results<'_>,
    protection: &Protection,
    quality: &[QualityRow],
) -> Vec<(Table, Protected<Table>)> {
    let names = results.names();
    let (findings, comparison, advice) = (results.findings, results.comparison, results.advice);
    let exceedance = tables::exceedance(findings.all_exceedance(), names);
    let summary = tables::summary(&findings.summaries, names);
    let land_use = tables::land_use(&comparison.land_use, names);
    let model = tables::land_use_model(&comparison.model, names);
    let hot_spots = tables::hot_spots(&comparison.hot_spots, names);
    let periods = tables::periods(&comparison.periods, names);
    let recommend = advice_tables::recommend(&advice.areas, names);
    let panel = advice_tables::panel(&advice.panels.rows(|_, _| false), names);
    let outreach = advice_tables::outreach(&advice.outreach, names);
    let any_health = tables::any_health(&findings.any_health, names);
    let trend = tables::trend(&findings.trends, &advice.trend_words, names);
    let coverage = place_tables::coverage(&findings.coverage, names);
    let radii = place_tables::radii(&comparison.radii, names);
    let accounting = tables::accounting(&results.survey.accounting);
    let checks = quality;
    let quality = tables::quality(checks);
    let told = protection.outreach_rows(advice);
    let public = [
        protection.by_group(&exceedance, findings.all_exceedance().map(|row| (row.scope, row.analyte))),
        protection.by_group(&summary, findings.summaries.iter().map(|row| (row.scope, row.analyte))),
        protection.land_use(&land_use, &comparison.land_use),
        protection.model(&model, &comparison.model),
        protection.by_group(&hot_spots, comparison.hot_spots.iter().map(|row| (Scope::Area(row.area), row.analyte))),
        protection.periods(&periods, &comparison.periods),
        protection.recommend(&recommend, advice),
        protection.panel(advice, |rows| advice_tables::panel(rows, names)),
        protection.outreach(&advice_tables::outreach(&told, names), &told),
        protection.trend(&trend, &findings.trends),
        protection.any_health(&any_health, &findings.any_health),
        protection.coverage(&coverage, &findings.coverage),
        protection.radii(&radii, comparison),
        protection.accounting(&accounting, &results.survey.accounting),
        protection.quality(&quality, checks),
    ];
    let whole = [
        exceedance, summary, land_use, model, hot_spots, periods, recommend, panel, outreach, trend, any_health,
        coverage, radii, accounting, quality,
    ];
    whole.into_iter().zip(public).collect()
}

/// What is hidden and why, and the tables once more as workbooks.
fn books(
    stage: &Stage,
    results: &Results<'_>,
    protection: &Protection,
    tables: &[(Table, Protected<Table>)],
) -> Result<(), Problem> {
    let hidden = hidden::table(tables.iter().map(|(_, public)| public), protection);
    stage.write("public/hidden.csv", &bytes(&hidden)?, Some(hidden.rows.len() as u64))?;
    let about = hidden::about(protection);
    stage.write("public/README.txt", about.as_bytes(), None)?;
    let dictionary = &results.job.dictionary;
    let public: Vec<&Table> = tables.iter().map(|(_, public)| public.get()).chain([&hidden]).collect();
    stage.write("public/survey.xlsx", &book(&public, dictionary, &about)?, None)?;
    let whole: Vec<&Table> = tables.iter().map(|(table, _)| table).collect();
    stage.write("internal/survey.xlsx", &book(&whole, dictionary, "INTERNAL: nothing is hidden here.")?, None)
}

fn book(tables: &[&Table], dictionary: &crate::dictionary::Dictionary, about: &str) -> Result<Vec<u8>, Problem> {
    workbook::bytes(tables, dictionary, about).map_err(|error| {
        Problem::file(
            std::path::Path::new("survey.xlsx"),
            "table-unwritable",
            error.to_string(),
            "report this: it is a bug",
        )
    })
}

fn bytes(table: &Table) -> Result<Vec<u8>, Problem> {
    csv::bytes(table).map_err(|error| {
        Problem::file(
            std::path::Path::new(table.name),
            "table-unwritable",
            error.to_string(),
            "report this: it is a bug",
        )
    })
}
