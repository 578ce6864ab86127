//! Rows about places become tables: coverage of areas, several radii, coarse locations. Column names as in `tables`.

use super::tables::{Names, notes, owned, pair};
use crate::compare::{CoarseRow, RadiiRow};
use crate::summarise::CoverageRow;
use crate::table::{Cell, Table};

/// Columns of radii.csv.
pub const RADII: [&str; 9] =
    ["land_use", "analyte", "benchmark_set", "effect", "radii_m", "radii_found", "odds_lowest", "odds_highest", "note"];
/// Columns of coverage.csv.
pub const COVERAGE: [&str; 10] = [
    "area_id",
    "area_name",
    "wells_on_record",
    "wells_sampled",
    "share_sampled",
    "square_km",
    "nearest_mean_m",
    "nearest_sd_m",
    "clark_evans",
    "largest_gap_m",
];
/// Columns of coarse-locations.csv.
pub const COARSE_LOCATIONS: [&str; 14] = [
    "land_use",
    "band",
    "analyte",
    "benchmark_set",
    "effect",
    "wells_without",
    "exceeding_without",
    "rate_without",
    "odds_ratio_without",
    "wells_with",
    "exceeding_with",
    "rate_with",
    "odds_ratio_with",
    "note",
];
/// radii.csv
pub fn radii(rows: &[RadiiRow], names: Names<'_>) -> Table {
    let list = |radii: &[f64]| radii.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
    let rows = rows.iter().map(|row| {
        let mut cells = vec![Cell::text(row.land_use.clone()), Cell::text(names.analyte(row.analyte))];
        let (set, effect) = &row.benchmark;
        cells.extend([set.clone(), effect.clone(), list(&row.radii), list(&row.found)].map(Cell::text));
        cells.extend(pair(row.odds));
        cells.push(Cell::text(row.verdict));
        cells
    });
    Table { name: "radii", columns: owned(&RADII), rows: rows.collect() }
}

/// coverage.csv
pub fn coverage(rows: &[CoverageRow], names: Names<'_>) -> Table {
    let rows = rows.iter().map(|row| {
        let on_record = row.wells_on_record.filter(|n| *n > 0);
        let share = on_record.map(|n| f64::from(row.wells_sampled) / f64::from(n));
        vec![
            Cell::text(names.area_id(row.area)),
            Cell::text(names.area_name(row.area)),
            Cell::count(row.wells_on_record),
            Cell::Count(row.wells_sampled.into()),
            Cell::number(share),
            Cell::Number(row.square_km),
            Cell::number(row.nearest_mean),
            Cell::number(row.nearest_sd),
            Cell::number(row.clark_evans),
            Cell::number(row.largest_gap),
        ]
    });
    Table { name: "coverage", columns: owned(&COVERAGE), rows: rows.collect() }
}

/// What holds without the coarse wells and with them, and then what holds of one only.
fn said_of_both(without: &[String], with: &[String]) -> Vec<String> {
    let both = without.iter().filter(|note| with.contains(note)).cloned();
    let only = |word: &str, own: &[String], other: &[String]| {
        let own = own.iter().filter(|note| !other.contains(note));
        own.map(|note| format!("{word} them: {note}")).collect::<Vec<String>>()
    };
    both.chain(only("without", without, with)).chain(only("with", with, without)).collect()
}

/// coarse-locations.csv
pub fn coarse_locations(rows: &[CoarseRow], names: Names<'_>) -> Table {
    let rows = rows.iter().map(|CoarseRow { without, with }| {
        let mut cells = vec![Cell::text(with.land_use.clone()), Cell::text(with.band.clone())];
        cells.push(Cell::text(names.analyte(with.analyte)));
        cells.push(with.benchmark.as_ref().map_or(Cell::Empty, |(set, _)| Cell::text(set.clone())));
        cells.push(with.benchmark.as_ref().map_or(Cell::Empty, |(_, effect)| Cell::text(effect.clone())));
        for row in [without, with] {
            cells.extend([Cell::Count(row.wells.into()), Cell::count(row.exceeding)]);
            cells.extend([row.rate, row.odds_ratio].map(Cell::number));
        }
        cells.push(notes(&said_of_both(&without.notes, &with.notes)));
        cells
    });
    Table { name: "coarse-locations", columns: owned(&COARSE_LOCATIONS), rows: rows.collect() }
}
