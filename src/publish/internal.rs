//! The internal lists: with well ids and places, for the people who call on households.

use super::{Results, Stage, advice_tables, geopackage};
use crate::fate::Fate;
use crate::ids::WellId;
use crate::normalise::Block;
use crate::per_well::fate;
use crate::plan::{LandUse, Measure, Plan, shown_path};
use crate::problem::Problem;
use crate::table::{Cell, Listing, Table};
use std::io::Write;

/// Writes set-aside.csv, wells.csv, follow-up.csv, retest.csv and sample-next.csv, and the note at the folder's door.
///
/// # Errors
/// A folder that cannot be written.
pub fn write(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    stage.write("internal/INTERNAL.txt", DOOR.as_bytes(), None)?;
    let list = |table: Listing<'_>| {
        let name = format!("internal/{}.csv", table.name);
        let mut out = stage.create(&name)?;
        let rows = super::csv::write(&mut out, &table.columns, table.rows);
        let rows = rows.map_err(|e| stage.unwritable(&name, &out.failed().or(e)))?;
        stage.keep(&name, out, Some(rows))
    };
    let lists = || {
        let (advice, names) = (results.advice, results.names());
        let (dictionary, wells) = (&results.job.dictionary, results.wells);
        list(advice_tables::follow_up(advice.follow_up.rows(dictionary, wells), names))?;
        list(advice_tables::retest(advice.retest.rows(dictionary, wells)))?;
        let table = sample_next(results)?;
        let rows = Some(table.rows.len() as u64);
        stage.write(&format!("internal/{}.csv", table.name), &super::bytes(&table)?, rows)
    };
    let (rows, (wells, lists)) =
        rayon::join(|| set_aside(stage, results), || rayon::join(|| list(wells(results)?), lists));
    geopackage::write(stage, results)?;
    rows.and(wells).and(lists)
}

const DOOR: &str = "INTERNAL: the files in this folder hold well ids and locations. Do not publish or pass on any of them.\n\
The public folder beside this one holds what may be published.\n";

/// Rows are many, so they are written as they are met.
fn set_aside(stage: &Stage, results: &Results<'_>) -> Result<(), Problem> {
    let name = "internal/set-aside.csv";
    let mut out = stage.create(name)?;
    let fault = |e: std::io::Error| stage.unwritable(name, &e);
    out.write_all(b"file,line,well,sample,analyte,value,reason\n").map_err(fault)?;
    let mut rows = 0;
    results.survey.ledger.in_order(
        1,
        |blocks| blocks.iter().map(|(_, block)| set_aside_rows(block, results)).collect::<Result<Vec<_>, _>>(),
        |made| {
            for (bytes, count) in made.map_err(|e| unwritable(name, &e))? {
                out.write_all(&bytes).map_err(fault)?;
                rows += count;
            }
            Ok(())
        },
    )?;
    stage.keep(name, out, Some(rows))
}

/// A block's lines and how many they are.
fn set_aside_rows(block: &Block, results: &Results<'_>) -> Result<(Vec<u8>, u64), String> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::Any(b'\n')).from_writer(Vec::new());
    let mut rows = 0;
    let file = shown_path(&results.job.plan.base, &block.file.path);
    for row in &block.rows {
        let Fate::SetAside(reason) = fate(row) else { continue };
        let written = block.spellings.get(usize::from(row.spelling)).map_or("", |(name, _)| name.as_str());
        let analyte = row.analyte.map_or(written, |analyte| results.job.dictionary.analytes().id(analyte));
        let well = results.wells.id_at(row.well).unwrap_or_else(|| block.text(row.well_text));
        let texts = [well, block.text(row.sample), analyte, block.text(row.written)].map(super::csv::harmless);
        let [well, sample, analyte, value] = texts.each_ref().map(|text| &**text);
        let record = [&*file, &*row.line.to_string(), well, sample, analyte, value, reason.name()];
        writer.write_record(record).map_err(|e| e.to_string())?;
        rows += 1;
    }
    Ok((writer.into_inner().map_err(|e| e.to_string())?, rows))
}

fn unwritable(name: &str, found: &str) -> Problem {
    Problem::file(std::path::Path::new(name), "out-unwritable", found, "name a folder with room that you may write to")
}

/// wells.csv
///
/// # Errors
/// A working system that cannot be turned back into longitude and latitude.
pub(super) fn wells<'a>(results: &'a Results<'_>) -> Result<Listing<'a>, Problem> {
    let wells = results.wells;
    let plan = &results.job.plan;
    let lonlat = wells.region().to_lonlat().map_err(|fault| unwritable("internal/wells.csv", &fault.to_string()))?;
    let mut columns: Vec<String> = vec!["well".to_owned(), "area_id".to_owned()];
    columns.extend(plan.land_use.iter().map(|land_use| land_use.name.clone()));
    columns.extend(wells.further().iter().map(|layer| layer.called.clone()));
    columns
        .extend(["notes", "longitude", "latitude", "accuracy_m", "transform_accuracy_m", "depth_m"].map(str::to_owned));
    columns.push("uncertainty_m".to_owned());
    columns.extend(plan.land_use.iter().map(|land_use| format!("{}_spread", land_use.name)));
    columns.extend(densities(plan).map(|(_, land_use)| format!("{}_uncorrected", land_use.name)));
    let rows = wells.ids().map(move |well| {
        let site = wells.site(well);
        let at = wells.xy(well).and_then(|xy| lonlat.point(xy));
        let mut row = vec![
            Cell::text(wells.id(well)),
            wells.area(well).map_or(Cell::Empty, |area| Cell::text(wells.areas().id(area))),
        ];
        row.extend((0..plan.land_use.len()).map(|number| measure(results, well, number)));
        row.extend(wells.further().iter().map(|layer| {
            let area = layer.wells.area(well);
            area.map_or(Cell::Empty, |area| Cell::text(layer.wells.areas().id(area)))
        }));
        row.push(Cell::text(site.map(|s| s.notes.join("; ")).unwrap_or_default()));
        row.extend([at.map(|p| p[0]), at.map(|p| p[1])].map(Cell::number));
        row.extend(
            [site.and_then(|s| s.accuracy_m), site.and_then(|s| s.transform_accuracy_m), site.and_then(|s| s.depth_m)]
                .map(Cell::number),
        );
        row.push(Cell::number(site.and_then(|s| s.uncertainty_m)));
        row.extend((0..plan.land_use.len()).map(|n| Cell::number(wells.average(well, n).map(|(_, spread)| spread))));
        row.extend(densities(plan).map(|(n, _)| Cell::number(wells.uncorrected(well, n))));
        row
    });
    Ok(Listing { name: "wells", columns, rows: Box::new(rows) })
}

fn densities(plan: &Plan) -> impl Iterator<Item = (usize, &LandUse)> {
    plan.land_use.iter().enumerate().filter(|(_, land_use)| matches!(land_use.measure, Measure::Density { .. }))
}

/// The measure, or the average where the location is too coarse, whether a comparison uses it or not.
fn measure(results: &Results<'_>, well: WellId, number: usize) -> Cell {
    let average = || results.wells.average(well, number).map(|(mean, _)| mean);
    Cell::number(results.wells.measure(well, number).or_else(average))
}

fn sample_next(results: &Results<'_>) -> Result<Table, Problem> {
    let rows = &results.advice.sample_next;
    let lonlat = results.wells.region().to_lonlat();
    let lonlat = lonlat.map_err(|fault| unwritable("internal/sample-next.csv", &fault.to_string()))?;
    let places: Vec<Option<[f64; 2]>> = rows.iter().map(|row| lonlat.point(row.place)).collect();
    Ok(advice_tables::sample_next(rows, &places, results.names()))
}
