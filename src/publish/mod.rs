//! Findings become files: public tables, maps and page; internal lists; the manifest.
//!
//! Comes in: everything that the stages before made. Goes out: the folder. No figure is computed here. A public writer
//! accepts only what `protect` made, so the compiler refuses a leak; `number` alone rounds; writing itself is `stage`'s.

mod across;
pub(crate) mod advice_tables;
mod columns;
mod csv;
mod further;
mod geojson;
mod geopackage;
mod hidden;
mod hot_spots;
mod internal;
mod layer_parts;
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
mod protect;
pub mod report;
mod research;
mod stage;
mod tables;
mod words;
mod workbook;

pub use advice_tables::{FOLLOW_UP, OUTREACH, PANEL, RECOMMEND, RETEST, SAMPLE_NEXT};
pub use place_tables::{COARSE_LOCATIONS, COVERAGE, RADII};
pub use protect::{Protected, Protection, Public};
pub use stage::Stage;
pub use tables::{
    ACCOUNTING, ANY_HEALTH, EXCEEDANCE, HOT_SPOTS, LAND_USE, LAND_USE_MODEL, Names, PERIOD, QUALITY, SUMMARY, TREND,
};

use pictures::{Formats, Pictures};

use report::LayerSection;

use crate::compare::Comparison;
use crate::layers::LayerFindings;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::place::shape::Point;
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
    let (quality, protection) = rayon::join(
        || quality(plan, &results.job.dictionary, results.wells, results.survey, results.findings),
        || Protection::decide(results),
    );
    let quality = quality?;
    let public = protection.public(results, &quality)?;
    progress.step("Writing tables and drawing maps");
    let places = lonlats(results)?;
    let (rows, (tables, pictures)) = rayon::join(
        || write_rows(&stage, results, &places),
        || {
            rayon::join(
                || areas_out(&stage, results, &public, &quality, Some(Formats::All)),
                || pictures::write(&stage, &public, Formats::All),
            )
        },
    );
    rows?;
    let ((tables, layers), pictures) = (tables?, pictures?);
    progress.step("Writing the report");
    let (research, page) = rayon::join(
        || research::write(&stage, results, &tables, &places),
        || write_page(&stage, &public, &pictures, &tables, layers),
    );
    research.and(page)?;
    let template = letters::Template::read(plan, &results.job.inputs)?;
    letters::write(&stage, results, &protection, template.as_ref())?;
    manifest::write(&stage, results)?;
    let placed = stage.finish()?;
    progress.place();
    placed.told.iter().for_each(|told| progress.step(told));
    Ok(())
}

/// How much of what is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// Tables and areas files.
    Tables,
    /// Maps, page and research files too.
    All,
}

/// Everything that is told, without the internal lists and without PNG, which shows what SVG does: for tests of what is hidden.
///
/// # Errors
/// As `publish`.
pub fn publish_told(stage: Stage, results: &Results<'_>, extent: Extent) -> Result<(), Problems> {
    let plan = &results.job.plan;
    let quality = quality(plan, &results.job.dictionary, results.wells, results.survey, results.findings)?;
    let protection = Protection::decide(results);
    let public = protection.public(results, &quality)?;
    let maps = (extent == Extent::All).then_some(Formats::Svg);
    let (tables, layers) = areas_out(&stage, results, &public, &quality, maps)?;
    if extent == Extent::All {
        let pictures = pictures::write(&stage, &public, Formats::Svg)?;
        research::write_public(&stage, results, &tables)?;
        write_page(&stage, &public, &pictures, &tables, layers)?;
    }
    stage.finish().map(|_| ())
}

/// Tables, areas files, displaced points, further layers; of these maps and the page's part too where maps are wanted.
fn areas_out(
    stage: &Stage,
    results: &Results<'_>,
    public: &Public<'_>,
    quality: &[QualityRow],
    maps: Option<Formats>,
) -> Result<(Tables, Vec<LayerSection>), Problems> {
    let tables = tables_out(stage, results, public, quality)?;
    geojson::write(stage, "public/areas.geojson", public)?;
    protect::points::write(stage, results, public.protection)?;
    further::write(stage, results, public.protection, maps).map(|layers| (tables, layers))
}

fn write_page(
    stage: &Stage,
    public: &Public<'_>,
    pictures: &Pictures,
    tables: &Tables,
    layers: Vec<LayerSection>,
) -> Result<(), Problem> {
    let page = page::page(public, pictures, (page_parts::further(public, tables), layers))?;
    stage.write("public/report.html", page.as_bytes(), None)
}

/// Longitudes and latitudes of the wells.
fn lonlats(results: &Results<'_>) -> Result<Vec<Option<Point>>, Problem> {
    results.wells.lonlats().map_err(|fault| {
        let path = std::path::Path::new("internal/wells.csv");
        Problem::file(path, "crs-unknown", fault.to_string(), "report this: it is a bug")
    })
}

/// The files with a line for each row or well. What one thread alone can do comes first, and results, which any number of threads can
/// share, are there for whoever has nothing else to do.
fn write_rows(stage: &Stage, results: &Results<'_>, places: &[Option<Point>]) -> Result<(), Problem> {
    let lists = || internal::write(stage, results, places);
    let maps = || pictures::write_internal(stage, results);
    let long = || parquet::write_values(stage, results).and_then(|()| parquet::write_results(stage, results));
    let (lists, (maps, long)) = rayon::join(lists, || rayon::join(maps, long));
    lists.and(maps).and(long)
}

/// Every table twice: whole and internal, protected and public.
type Tables = Vec<(Table, Protected<Table>)>;

fn tables_out(
    stage: &Stage,
    results: &Results<'_>,
    public: &Public<'_>,
    quality: &[QualityRow],
) -> Result<Tables, Problem> {
    let tables: Tables =
        whole_tables(results, quality).into_iter().zip(public_tables(public, results, quality)).collect();
    books(stage, results, public.protection, &tables)?;
    for (table, public) in &tables {
        let rows = |table: &Table| Some(table.rows.len() as u64);
        stage.write(&format!("internal/tables/{}.csv", table.name), &csv::bytes(table), rows(table))?;
        let public = public.get();
        stage.write(&format!("public/tables/{}.csv", table.name), &csv::bytes(public), rows(public))?;
    }
    if !results.comparison.coarse.is_empty() {
        let coarse = place_tables::coarse_locations(&results.comparison.coarse, results.names());
        stage.write("internal/tables/coarse-locations.csv", &csv::bytes(&coarse), Some(coarse.rows.len() as u64))?;
    }
    Ok(tables)
}

/// The tables of a run, in the order in which `public_tables` gives them.
fn whole_tables(results: &Results<'_>, quality: &[QualityRow]) -> Vec<Table> {
    let names = results.names();
    let (findings, comparison, advice) = (results.findings, results.comparison, results.advice);
    vec![
        tables::exceedance(findings.all_exceedance(), names),
        tables::summary(&findings.summaries, names),
        tables::land_use(&comparison.land_use, names),
        tables::land_use_model(&comparison.model, names),
        tables::hot_spots(&comparison.hot_spots, names),
        tables::periods(&comparison.periods, names),
        advice_tables::recommend(&advice.areas, names),
        advice_tables::panel(&advice.panels.rows(|_, _| false), names),
        advice_tables::outreach(&advice.outreach, names),
        tables::trend(&findings.trends, &advice.trend_words, names),
        tables::any_health(&findings.any_health, names),
        place_tables::coverage(&findings.coverage, names),
        place_tables::radii(&comparison.radii, names),
        tables::accounting(&results.survey.accounting),
        tables::quality(quality),
    ]
}

/// The same tables as they may be told: made of what may be told, then emptied where something is hidden.
fn public_tables(public: &Public<'_>, results: &Results<'_>, quality: &[QualityRow]) -> Vec<Protected<Table>> {
    let (names, protection) = (public.names(), public.protection);
    let (findings, comparison, advice) = (public.told.findings(), public.told.comparison(), public.told.advice());
    let spots = comparison.hot_spots.iter().map(|row| (Scope::Area(row.area), row.analyte));
    vec![
        protection.by_group(
            &tables::exceedance(findings.all_exceedance(), names),
            findings.all_exceedance().map(|row| (row.scope, row.analyte)),
        ),
        protection.by_group(
            &tables::summary(&findings.summaries, names),
            findings.summaries.iter().map(|row| (row.scope, row.analyte)),
        ),
        protection.land_use(&tables::land_use(&comparison.land_use, names), &comparison.land_use),
        protection.model(&tables::land_use_model(&comparison.model, names), &comparison.model),
        protection.by_group(&tables::hot_spots(&comparison.hot_spots, names), spots),
        protection.periods(&tables::periods(&comparison.periods, names), &comparison.periods),
        protection.recommend(&advice_tables::recommend(&advice.areas, names), advice),
        protection.panel(&public.told, |rows| advice_tables::panel(rows, names)),
        protection.outreach(&advice_tables::outreach(&advice.outreach, names), advice),
        protection.trend(&tables::trend(&findings.trends, &advice.trend_words, names), &findings.trends),
        protection.any_health(&tables::any_health(&findings.any_health, names), &findings.any_health),
        protection.coverage(&place_tables::coverage(&findings.coverage, names), &findings.coverage),
        protection.radii(&place_tables::radii(&comparison.radii, names), comparison),
        protection.accounting(&tables::accounting(&results.survey.accounting), &results.survey.accounting),
        protection.quality(&tables::quality(quality), quality),
    ]
}

/// What is hidden and why, and the tables once more as workbooks.
fn books(
    stage: &Stage,
    results: &Results<'_>,
    protection: &Protection,
    tables: &[(Table, Protected<Table>)],
) -> Result<(), Problem> {
    let hidden = hidden::table(tables.iter().map(|(_, public)| public), protection);
    stage.write("public/hidden.csv", &csv::bytes(&hidden), Some(hidden.rows.len() as u64))?;
    let about = hidden::about(protection);
    stage.write("public/README.txt", about.as_bytes(), None)?;
    let dictionary = &results.job.dictionary;
    let public: Vec<&Table> = tables.iter().map(|(_, public)| public.get()).chain([&hidden]).collect();
    let whole: Vec<&Table> = tables.iter().map(|(table, _)| table).collect();
    let write = |name, tables, about| stage.write(name, &book(tables, dictionary, about)?, None);
    let (public, whole) = rayon::join(
        || write("public/survey.xlsx", &public, &about),
        || write("internal/survey.xlsx", &whole, "INTERNAL: nothing is hidden here."),
    );
    public.and(whole)
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
