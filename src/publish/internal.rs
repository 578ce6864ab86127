//! The internal lists: with well ids and places, for the people who call on households.

use super::csv::Lines;
use super::stage::Digested;
use super::{Results, Stage, advice_tables, csv, geopackage};
use crate::fate::Fate;
use crate::ids::WellId;
use crate::normalise::Block;
use crate::per_well::fate;
use crate::place::shape::Point;
use crate::plan::{LandUse, Measure, Plan, shown_path};
use crate::problem::Problem;
use crate::table::{Cells, Listing, Table};
use std::io::Write;

/// Writes wells.csv, follow-up.csv, retest.csv and sample-next.csv, wells.gpkg and the note at the folder's door. `places` are
/// the wells' longitudes and latitudes.
///
/// # Errors
/// A folder that cannot be written.
pub fn write(stage: &Stage, results: &Results<'_>, places: &[Option<Point>]) -> Result<(), Problem> {
    stage.write("internal/INTERNAL.txt", DOOR.as_bytes(), None)?;
    let list = |listing: Listing<'_>| csv::write(stage, &format!("internal/{}.csv", listing.name), &listing);
    let lists = || {
        let (advice, dictionary, wells) = (results.advice, &results.job.dictionary, results.wells);
        list(advice_tables::follow_up(&advice.follow_up, dictionary, wells))?;
        list(advice_tables::retest(&advice.retest, dictionary, wells))?;
        let table = sample_next(results)?;
        let rows = Some(table.rows.len() as u64);
        stage.write(&format!("internal/{}.csv", table.name), &csv::bytes(&table), rows)
    };
    // The GeoPackage is made by one thread alone, so it comes first.
    let lists = || rayon::join(lists, || list(wells(results, places)));
    let (package, (lists, wells)) = rayon::join(|| geopackage::write(stage, results, places), lists);
    package.and(lists).and(wells)
}

const DOOR: &str = "INTERNAL: the files in this folder hold well ids and locations. Do not publish or pass on any of them.\n\
The public folder beside this one holds what may be published.\n";

/// set-aside.csv, whose rows are too many to be held.
pub(super) struct SetAside<'s> {
    stage: &'s Stage,
    out: Digested,
    rows: u64,
}

impl<'s> SetAside<'s> {
    const NAME: &'static str = "internal/set-aside.csv";

    /// Begins it.
    ///
    /// # Errors
    /// A folder that cannot be written; of the others too.
    pub(super) fn new(stage: &'s Stage) -> Result<SetAside<'s>, Problem> {
        let mut file = SetAside { stage, out: stage.create(SetAside::NAME)?, rows: 0 };
        file.put(&Lines::headed(&["file", "line", "well", "sample", "analyte", "value", "reason"]))?;
        Ok(file)
    }

    /// Writes lines.
    pub(super) fn put(&mut self, lines: &Lines) -> Result<(), Problem> {
        self.rows += lines.rows;
        self.out.write_all(&lines.bytes).map_err(|e| self.stage.unwritable(SetAside::NAME, &e))
    }

    /// Ends it.
    pub(super) fn keep(self) -> Result<(), Problem> {
        self.stage.keep(SetAside::NAME, self.out, Some(self.rows))
    }
}

/// A block's lines of it.
pub(super) fn set_aside(block: &Block, results: &Results<'_>) -> Lines {
    let mut lines = Lines::default();
    let file = shown_path(&results.job.plan.base, &block.file.path);
    for row in &block.rows {
        let Fate::SetAside(reason) = fate(row) else { continue };
        let written = block.spellings.get(usize::from(row.spelling)).map_or("", |(name, _)| name.as_str());
        let analyte = row.analyte.map_or(written, |analyte| results.job.dictionary.analytes().id(analyte));
        let well = results.wells.id_at(row.well).unwrap_or_else(|| block.text(row.well_text));
        lines.text(&file);
        lines.count(row.line.into());
        [well, block.text(row.sample), analyte, block.text(row.written)].iter().for_each(|text| lines.text(text));
        lines.text(reason.name());
        lines.end();
    }
    lines
}

fn unwritable(name: &str, found: &str) -> Problem {
    Problem::file(std::path::Path::new(name), "out-unwritable", found, "name a folder with room that you may write to")
}

/// wells.csv; `places` are the wells' longitudes and latitudes.
pub(super) fn wells<'a>(results: &'a Results<'_>, places: &'a [Option<Point>]) -> Listing<'a> {
    let wells = results.wells;
    let plan = &results.job.plan;
    let mut columns: Vec<String> = vec!["well".to_owned(), "area_id".to_owned()];
    columns.extend(plan.land_use.iter().map(|land_use| land_use.name.clone()));
    columns.extend(wells.further().iter().map(|layer| layer.called.clone()));
    columns
        .extend(["notes", "longitude", "latitude", "accuracy_m", "transform_accuracy_m", "depth_m"].map(str::to_owned));
    columns.push("uncertainty_m".to_owned());
    columns.extend(plan.land_use.iter().map(|land_use| format!("{}_spread", land_use.name)));
    columns.extend(densities(plan).map(|(_, land_use)| format!("{}_uncorrected", land_use.name)));
    let ids: Vec<WellId> = wells.ids().collect();
    let rows = move |number: usize, cells: &mut dyn Cells| {
        let Some(well) = ids.get(number) else { return };
        well_row(results, *well, places.get(number).copied().flatten(), cells);
    };
    Listing { name: "wells", columns, things: wells.len(), rows: Box::new(rows) }
}

fn well_row(results: &Results<'_>, well: WellId, place: Option<Point>, cells: &mut dyn Cells) {
    let (wells, plan) = (results.wells, &results.job.plan);
    let site = wells.site(well);
    cells.text(wells.id(well));
    cells.text(wells.area(well).map_or("", |area| wells.areas().id(area)));
    (0..plan.land_use.len()).for_each(|number| cells.number(measure(results, well, number)));
    for layer in wells.further() {
        cells.text(layer.wells.area(well).map_or("", |area| layer.wells.areas().id(area)));
    }
    cells.text(&site.map(|s| s.notes.join("; ")).unwrap_or_default());
    [place.map(|p| p[0]), place.map(|p| p[1])].into_iter().for_each(|x| cells.number(x));
    cells.number(site.and_then(|s| s.accuracy_m));
    cells.number(site.and_then(|s| s.transform_accuracy_m));
    cells.number(site.and_then(|s| s.depth_m));
    cells.number(site.and_then(|s| s.uncertainty_m));
    (0..plan.land_use.len()).for_each(|n| cells.number(wells.average(well, n).map(|(_, spread)| spread)));
    densities(plan).for_each(|(n, _)| cells.number(wells.uncorrected(well, n)));
    cells.end();
}

fn densities(plan: &Plan) -> impl Iterator<Item = (usize, &LandUse)> {
    plan.land_use.iter().enumerate().filter(|(_, land_use)| matches!(land_use.measure, Measure::Density { .. }))
}

/// The measure, or the average where the location is too coarse, whether a comparison uses it or not.
fn measure(results: &Results<'_>, well: WellId, number: usize) -> Option<f64> {
    let average = || results.wells.average(well, number).map(|(mean, _)| mean);
    results.wells.measure(well, number).or_else(average)
}

fn sample_next(results: &Results<'_>) -> Result<Table, Problem> {
    let rows = &results.advice.sample_next;
    let lonlat = results.wells.region().to_lonlat();
    let lonlat = lonlat.map_err(|fault| unwritable("internal/sample-next.csv", &fault.to_string()))?;
    let places: Vec<Option<[f64; 2]>> = rows.iter().map(|row| lonlat.point(row.place)).collect();
    Ok(advice_tables::sample_next(rows, &places, results.names()))
}
