//! The rows that this stage makes: one an area (or the region), analyte and benchmark, or area and analyte.
//!
//! Numbers are unrounded; `None` is "not known", with its reason among the notes.

use crate::dictionary::BenchmarkKind;
use crate::ids::{AnalyteId, AreaId};
use crate::methods::integrated::Posterior;
use std::sync::Arc;

/// Where a row speaks of: the whole region (wells that lie in some area) or one area.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scope {
    /// All areas together; `region` in the tables.
    Region,
    /// One area.
    Area(AreaId),
}

/// One row of exceedance.csv.
#[derive(Clone, Debug)]
pub struct ExceedanceRow {
    /// Region or area.
    pub scope: Scope,
    /// Analyte.
    pub analyte: AnalyteId,
    /// Benchmark set's id.
    pub set: String,
    /// Effect: acute-health, chronic-health, aesthetic, infrastructure.
    pub effect: String,
    /// Whether the limit counts in rankings and advice (see `Benchmark::ranks`).
    pub ranks: bool,
    /// The limit in the analyte's preferred unit and basis.
    pub kind: BenchmarkKind,
    /// Wells with a value.
    pub wells: u32,
    /// Wells that exceed.
    pub exceeding: u32,
    /// Wells that meet.
    pub meeting: u32,
    /// Wells of which the result allows both.
    pub undetermined: u32,
    /// exceeding / (exceeding + meeting).
    pub rate: Option<f64>,
    /// Wilson interval of the rate.
    pub rate_interval: Option<(f64, f64)>,
    /// exceeding / wells.
    pub floor: Option<f64>,
    /// (exceeding + undetermined) / wells.
    pub ceiling: Option<f64>,
    /// Posterior mean of the small-area model; `None` for the region.
    pub smoothed: Option<f64>,
    /// Equal-tailed interval of the posterior.
    pub smoothed_interval: Option<(f64, f64)>,
    /// Chance that the true rate is above the plan's concern rate.
    pub chance_of_concern: Option<f64>,
    /// The posterior that these come from, over all areas in order; `None` for the region.
    pub posterior: Option<Arc<Posterior>>,
    /// Rate from equal-area cells, when the plan asks.
    pub equal_area: Option<f64>,
    /// Wilson interval of that rate with its effective wells.
    pub equal_area_interval: Option<(f64, f64)>,
    /// Wells that, evenly spread, would tell as much.
    pub equal_area_wells: Option<f64>,
    /// Kaplan-Meier share above the limit, undetermined wells taking part.
    pub censored: Option<f64>,
    /// Its interval.
    pub censored_interval: Option<(f64, f64)>,
    /// Chance that the area's true rate is among the highest fifth of all areas; `None` for the region.
    pub chance_worst_fifth: Option<f64>,
    /// Plain phrases.
    pub notes: Vec<String>,
}

impl ExceedanceRow {
    /// Whether the benchmark speaks of everybody's health (acute or chronic).
    pub fn is_health(&self) -> bool {
        self.ranks && self.effect.ends_with("-health")
    }
}

/// One row of summary.csv.
#[derive(Clone, Debug)]
pub struct SummaryRow {
    /// Region or area.
    pub scope: Scope,
    /// Analyte.
    pub analyte: AnalyteId,
    /// Wells with a value.
    pub wells: u32,
    /// Wells where it was detected.
    pub detected: u32,
    /// How many different non-detect limits.
    pub limits: u32,
    /// Lowest and highest limit of the non-detects.
    pub limit_range: Option<(f64, f64)>,
    /// Lowest detect.
    pub lowest_detect: Option<f64>,
    /// Highest detect.
    pub highest: Option<f64>,
    /// Mean.
    pub mean: Option<f64>,
    /// Interval of the mean.
    pub mean_interval: Option<(f64, f64)>,
    /// Standard deviation.
    pub sd: Option<f64>,
    /// 25th, 50th, 75th, 90th, 95th percentile.
    pub quantiles: [Option<f64>; 5],
    /// One-sided upper limit of the mean.
    pub mean_upper: Option<f64>,
    /// Order-statistics interval of the median and of the 90th percentile; an open end is `None`.
    pub quantile_intervals: [[Option<f64>; 2]; 2],
    /// One-sided upper limit of the 95th percentile.
    pub p95_upper: Option<f64>,
    /// Largest distance of a fitted lognormal and gamma distribution from Kaplan-Meier, where percentiles are modelled.
    pub gaps: [Option<f64>; 2],
    /// all-detected, kaplan-meier, order-statistics, shares-only.
    pub method: &'static str,
    /// Plain phrases.
    pub notes: Vec<String>,
}

/// One row of trend.csv.
#[derive(Clone, Debug)]
pub struct TrendRow {
    /// Region or area.
    pub scope: Scope,
    /// Analyte.
    pub analyte: AnalyteId,
    /// Wells with enough repeats.
    pub wells: u32,
    /// Regional Kendall tau.
    pub tau: Option<f64>,
    /// Median of the wells' slopes, in the preferred unit a year.
    pub slope_per_year: Option<f64>,
    /// Two-sided p of the regional Kendall test.
    pub p: Option<f64>,
    /// Benjamini-Hochberg over the rows of the scope.
    pub q: Option<f64>,
    /// Plain phrases.
    pub notes: Vec<String>,
}

/// One row of quality.csv.
#[derive(Clone, Debug)]
pub struct QualityRow {
    /// What was checked.
    pub check: &'static str,
    /// What it concerns: an analyte, a land use, a file.
    pub subject: String,
    /// Of which analyte's wells it tells the number; `None` of no one's.
    pub analyte: Option<AnalyteId>,
    /// How many were tested.
    pub tested: u64,
    /// How many failed.
    pub failed: u64,
    /// Plain phrases.
    pub note: String,
}
