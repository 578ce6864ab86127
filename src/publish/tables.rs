//! Rows of the stages become tables. Column names are those of data-dictionary/columns.csv, which a test compares.

use crate::compare::{HotSpot, LandUseRow, ModelRow, PeriodRow};
use crate::dictionary::{BenchmarkKind, Dictionary};
use crate::ids::{AnalyteId, AreaId};
use crate::per_well::Accounting;
use crate::place::Areas;
use crate::summarise::{AnyHealthRow, ExceedanceRow, QualityRow, Scope, SummaryRow, TrendRow};
use crate::table::{Cell, Table};

/// Columns of exceedance.csv.
pub const EXCEEDANCE: [&str; 29] = [
    "area_id",
    "area_name",
    "analyte",
    "benchmark_set",
    "effect",
    "limit",
    "limit_low",
    "unit",
    "wells",
    "exceeding",
    "meeting",
    "undetermined",
    "rate",
    "rate_low",
    "rate_high",
    "rate_floor",
    "rate_ceiling",
    "rate_smoothed",
    "smoothed_low",
    "smoothed_high",
    "rate_equal_area",
    "equal_area_low",
    "equal_area_high",
    "equal_area_wells",
    "rate_censored",
    "censored_low",
    "censored_high",
    "chance_worst_fifth",
    "note",
];
/// Columns of summary.csv.
pub const SUMMARY: [&str; 31] = [
    "area_id",
    "area_name",
    "analyte",
    "unit",
    "wells",
    "detected",
    "detected_share",
    "limits",
    "lowest_limit",
    "highest_limit",
    "lowest_detect",
    "highest",
    "mean",
    "mean_low",
    "mean_high",
    "sd",
    "p25",
    "median",
    "p75",
    "p90",
    "p95",
    "mean_upper",
    "median_low",
    "median_high",
    "p90_low",
    "p90_high",
    "p95_upper",
    "lognormal_gap",
    "gamma_gap",
    "method",
    "note",
];
/// Columns of land-use.csv.
pub const LAND_USE: [&str; 33] = [
    "land_use",
    "band",
    "band_from",
    "band_to",
    "analyte",
    "benchmark_set",
    "effect",
    "wells",
    "exceeding",
    "undetermined",
    "rate",
    "rate_low",
    "rate_high",
    "odds_ratio",
    "odds_low",
    "odds_high",
    "fisher_p",
    "fisher_q",
    "trend_p",
    "rank_p",
    "rank_q",
    "risk_ratio",
    "risk_ratio_low",
    "risk_ratio_high",
    "risk_difference",
    "risk_difference_low",
    "risk_difference_high",
    "fisher_mid_p",
    "rank_trend_p",
    "neighbour_p",
    "neighbour_q",
    "rank_neighbour_p",
    "note",
];
/// Columns of land-use-model.csv.
pub const LAND_USE_MODEL: [&str; 13] = [
    "analyte",
    "benchmark_set",
    "effect",
    "term",
    "estimate",
    "std_error",
    "odds_ratio",
    "odds_low",
    "odds_high",
    "p",
    "q",
    "wells",
    "fit",
];
/// Columns of period.csv.
pub const PERIOD: [&str; 22] = [
    "area_id",
    "area_name",
    "analyte",
    "benchmark_set",
    "effect",
    "wells_first",
    "exceeding_first",
    "rate_first",
    "wells_second",
    "exceeding_second",
    "rate_second",
    "difference",
    "difference_low",
    "difference_high",
    "p",
    "q",
    "both",
    "rose",
    "fell",
    "paired_p",
    "paired_q",
    "note",
];
/// Columns of trend.csv.
pub const TREND: [&str; 9] = ["area_id", "analyte", "wells", "tau", "slope_per_year", "p", "q", "note", "in_words"];
/// Columns of hot-spots.csv.
pub const HOT_SPOTS: [&str; 9] = ["area_id", "area_name", "analyte", "benchmark_set", "effect", "z", "p", "q", "note"];
/// Columns of any-health.csv.
pub const ANY_HEALTH: [&str; 9] =
    ["area_id", "area_name", "wells", "exceeding", "undetermined", "rate", "rate_low", "rate_high", "note"];
/// Columns of accounting.csv.
pub const ACCOUNTING: [&str; 4] = ["stage", "reason", "results", "wells"];
/// Columns of quality.csv.
pub const QUALITY: [&str; 6] = ["check", "subject", "tested", "failed", "share", "note"];

/// Names for ids.
#[derive(Clone, Copy)]
pub struct Names<'a> {
    /// Analytes.
    pub dictionary: &'a Dictionary,
    /// Areas.
    pub areas: &'a Areas,
}

impl Names<'_> {
    /// `region` or the area's id.
    pub fn scope_id(&self, scope: Scope) -> String {
        match scope {
            Scope::Region => "region".to_owned(),
            Scope::Area(area) => self.area_id(area),
        }
    }

    /// The area's id.
    pub fn area_id(&self, area: AreaId) -> String {
        self.areas.id(area).to_owned()
    }

    /// The area's name.
    pub fn area_name(&self, area: AreaId) -> String {
        self.areas.name(area).to_owned()
    }

    /// `Whole region` or the area's name.
    pub fn scope_name(&self, scope: Scope) -> String {
        match scope {
            Scope::Region => "Whole region".to_owned(),
            Scope::Area(area) => self.area_name(area),
        }
    }

    /// The analyte's id.
    pub fn analyte(&self, analyte: AnalyteId) -> String {
        self.dictionary.analytes().id(analyte).to_owned()
    }

    /// The analyte's preferred unit with its basis.
    pub fn unit(&self, analyte: AnalyteId) -> String {
        self.dictionary.unit_text(analyte)
    }
}

pub(super) fn owned(columns: &[&str]) -> Vec<String> {
    columns.iter().map(|column| (*column).to_owned()).collect()
}

pub(super) fn notes(list: &[String]) -> Cell {
    Cell::text(list.join("; "))
}

pub(super) fn pair(interval: Option<(f64, f64)>) -> [Cell; 2] {
    [Cell::number(interval.map(|i| i.0)), Cell::number(interval.map(|i| i.1))]
}

/// exceedance.csv
pub fn exceedance<'a>(rows: impl Iterator<Item = &'a ExceedanceRow>, names: Names<'_>) -> Table {
    let rows = rows.map(|row| exceedance_row(row, names)).collect();
    Table { name: "exceedance", columns: owned(&EXCEEDANCE), rows }
}

fn exceedance_row(row: &ExceedanceRow, names: Names<'_>) -> Vec<Cell> {
    let (limit, low) = match row.kind {
        BenchmarkKind::Max { limit } => (limit, None),
        BenchmarkKind::Range { low, high } => (high, Some(low)),
        BenchmarkKind::Absent => (0.0, None),
    };
    let mut cells = vec![
        Cell::text(names.scope_id(row.scope)),
        Cell::text(names.scope_name(row.scope)),
        Cell::text(names.analyte(row.analyte)),
        Cell::text(row.set.clone()),
        Cell::text(row.effect.clone()),
        Cell::Number(limit),
        Cell::number(low),
        Cell::text(names.unit(row.analyte)),
        Cell::Count(row.wells.into()),
        Cell::Count(row.exceeding.into()),
        Cell::Count(row.meeting.into()),
        Cell::Count(row.undetermined.into()),
        Cell::number(row.rate),
    ];
    cells.extend(pair(row.rate_interval));
    cells.extend([Cell::number(row.floor), Cell::number(row.ceiling), Cell::number(row.smoothed)]);
    cells.extend(pair(row.smoothed_interval));
    cells.push(Cell::number(row.equal_area));
    cells.extend(pair(row.equal_area_interval));
    cells.extend([Cell::number(row.equal_area_wells), Cell::number(row.censored)]);
    cells.extend(pair(row.censored_interval));
    cells.extend([Cell::number(row.chance_worst_fifth), notes(&row.notes)]);
    cells
}

/// summary.csv
pub fn summary(rows: &[SummaryRow], names: Names<'_>) -> Table {
    let rows = rows.iter().map(|row| summary_row(row, names)).collect();
    Table { name: "summary", columns: owned(&SUMMARY), rows }
}

fn summary_row(row: &SummaryRow, names: Names<'_>) -> Vec<Cell> {
    let share = (row.wells > 0).then(|| f64::from(row.detected) / f64::from(row.wells));
    let mut cells = vec![
        Cell::text(names.scope_id(row.scope)),
        Cell::text(names.scope_name(row.scope)),
        Cell::text(names.analyte(row.analyte)),
        Cell::text(names.unit(row.analyte)),
        Cell::Count(row.wells.into()),
        Cell::Count(row.detected.into()),
        Cell::number(share),
        Cell::Count(row.limits.into()),
    ];
    cells.extend(pair(row.limit_range));
    cells.extend([Cell::number(row.lowest_detect), Cell::number(row.highest), Cell::number(row.mean)]);
    cells.extend(pair(row.mean_interval));
    cells.push(Cell::number(row.sd));
    cells.extend(row.quantiles.map(Cell::number));
    cells.push(Cell::number(row.mean_upper));
    cells.extend(row.quantile_intervals.into_iter().flatten().map(Cell::number));
    cells.push(Cell::number(row.p95_upper));
    cells.extend(row.gaps.map(Cell::number));
    cells.extend([Cell::text(row.method), notes(&row.notes)]);
    cells
}

/// land-use.csv
pub fn land_use(rows: &[LandUseRow], names: Names<'_>) -> Table {
    let rows = rows.iter().map(|row| land_use_row(row, names)).collect();
    Table { name: "land-use", columns: owned(&LAND_USE), rows }
}

fn land_use_row(row: &LandUseRow, names: Names<'_>) -> Vec<Cell> {
    let mut cells = vec![
        Cell::text(row.land_use.clone()),
        Cell::text(row.band.clone()),
        Cell::number(row.from),
        Cell::number(row.to),
        Cell::text(names.analyte(row.analyte)),
        row.benchmark.as_ref().map_or(Cell::Empty, |(set, _)| Cell::text(set.clone())),
        row.benchmark.as_ref().map_or(Cell::Empty, |(_, effect)| Cell::text(effect.clone())),
        Cell::Count(row.wells.into()),
        Cell::count(row.exceeding),
        Cell::count(row.undetermined),
        Cell::number(row.rate),
    ];
    cells.extend(pair(row.rate_interval));
    cells.push(Cell::number(row.odds_ratio));
    cells.extend(pair(row.odds_interval));
    cells.extend([row.fisher_p, row.fisher_q, row.trend_p, row.rank_p, row.rank_q].map(Cell::number));
    cells.push(Cell::number(row.risk_ratio));
    cells.extend(pair(row.risk_ratio_interval));
    cells.push(Cell::number(row.risk_difference));
    cells.extend(pair(row.risk_difference_interval));
    let checks = [row.fisher_mid_p, row.rank_trend_p, row.neighbour_p, row.neighbour_q, row.rank_neighbour_p];
    cells.extend(checks.map(Cell::number));
    cells.push(notes(&row.all_notes()));
    cells
}

/// land-use-model.csv
pub fn land_use_model(rows: &[ModelRow], names: Names<'_>) -> Table {
    let rows = rows.iter().map(|row| {
        let mut cells = vec![Cell::text(names.analyte(row.analyte)), Cell::text(row.set.clone())];
        cells.extend([Cell::text(row.effect), Cell::text(row.term.clone())]);
        cells.extend([row.estimate, row.std_error, row.odds_ratio].map(Cell::number));
        cells.extend(pair(row.odds_interval));
        cells.extend([
            Cell::number(row.p),
            Cell::number(row.q),
            Cell::Count(row.wells.into()),
            Cell::text(row.fit.clone()),
        ]);
        cells
    });
    Table { name: "land-use-model", columns: owned(&LAND_USE_MODEL), rows: rows.collect() }
}

/// trend.csv, with each row in plain words.
pub fn trend(rows: &[TrendRow], in_words: &[String], names: Names<'_>) -> Table {
    let rows = rows.iter().zip(in_words).map(|(row, words)| {
        let mut cells = vec![
            Cell::text(names.scope_id(row.scope)),
            Cell::text(names.analyte(row.analyte)),
            Cell::Count(row.wells.into()),
        ];
        cells.extend([row.tau, row.slope_per_year, row.p, row.q].map(Cell::number));
        cells.extend([notes(&row.notes), Cell::text(words.clone())]);
        cells
    });
    Table { name: "trend", columns: owned(&TREND), rows: rows.collect() }
}

/// hot-spots.csv
pub fn hot_spots(rows: &[HotSpot], names: Names<'_>) -> Table {
    let rows = rows.iter().map(|row| {
        let mut cells = vec![
            Cell::text(names.area_id(row.area)),
            Cell::text(names.area_name(row.area)),
            Cell::text(names.analyte(row.analyte)),
            Cell::text(row.set.clone()),
            Cell::text(row.effect.clone()),
        ];
        cells.extend([row.z, row.p, row.q].map(Cell::number));
        cells.push(notes(&row.notes));
        cells
    });
    Table { name: "hot-spots", columns: owned(&HOT_SPOTS), rows: rows.collect() }
}

/// any-health.csv
pub fn any_health(rows: &[AnyHealthRow], names: Names<'_>) -> Table {
    let rows = rows.iter().map(|row| {
        let mut cells = vec![
            Cell::text(names.scope_id(row.scope)),
            Cell::text(names.scope_name(row.scope)),
            Cell::Count(row.wells.into()),
            Cell::Count(row.exceeding.into()),
            Cell::Count(row.undetermined.into()),
            Cell::number(row.rate),
        ];
        cells.extend(pair(row.interval));
        cells.push(Cell::text(row.note.clone()));
        cells
    });
    Table { name: "any-health", columns: owned(&ANY_HEALTH), rows: rows.collect() }
}

/// period.csv
pub fn periods(rows: &[PeriodRow], names: Names<'_>) -> Table {
    let rows = rows.iter().map(|row| {
        let mut cells = vec![
            Cell::text(names.scope_id(row.scope)),
            Cell::text(names.scope_name(row.scope)),
            Cell::text(names.analyte(row.analyte)),
            Cell::text(row.set.clone()),
            Cell::text(row.effect.clone()),
        ];
        for ((wells, exceeding), rate) in row.wells.iter().zip(row.exceeding).zip(row.rate) {
            cells.extend([Cell::Count((*wells).into()), Cell::Count(exceeding.into()), Cell::number(rate)]);
        }
        cells.push(Cell::number(row.difference));
        cells.extend(pair(row.difference_interval));
        cells.extend([row.p, row.q].map(Cell::number));
        cells.extend([row.both, row.rose, row.fell].map(|n| Cell::Count(n.into())));
        cells.extend([row.paired_p, row.paired_q].map(Cell::number));
        cells.push(notes(&row.notes));
        cells
    });
    Table { name: "period", columns: owned(&PERIOD), rows: rows.collect() }
}

/// accounting.csv
pub fn accounting(accounting: &Accounting) -> Table {
    let rows = accounting.rows.iter().map(|row| {
        vec![Cell::text(row.stage), Cell::text(row.reason), Cell::Count(row.results), Cell::Count(row.wells)]
    });
    Table { name: "accounting", columns: owned(&ACCOUNTING), rows: rows.collect() }
}

/// quality.csv
pub fn quality(rows: &[QualityRow]) -> Table {
    let rows = rows.iter().map(|row| {
        let share = (row.tested > 0).then(|| row.failed as f64 / row.tested as f64);
        vec![
            Cell::text(row.check),
            Cell::text(row.subject.clone()),
            Cell::Count(row.tested),
            Cell::Count(row.failed),
            Cell::number(share),
            Cell::text(row.note.clone()),
        ]
    });
    Table { name: "quality", columns: owned(&QUALITY), rows: rows.collect() }
}
