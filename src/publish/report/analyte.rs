//! What one analyte's section is made from: its benchmarks with map and ranking, land use, model and summary.
//!
//! As in `input`, hidden rows carry their keys and no figures.

use serde::Serialize;

use super::distribution::Distribution;
use super::input::{RateLine, Spread};

/// One analyte's section.
#[derive(Clone, Debug, Serialize)]
pub struct AnalyteSection {
    /// The dictionary id.
    pub id: String,
    /// The display name.
    pub name: String,
    /// One entry for each benchmark.
    pub benchmarks: Vec<AnalyteBenchmark>,
    /// Summary numbers, the region first.
    pub summary: Vec<SummaryLine>,
    /// Land-use rows, by land use and band.
    pub land_use: Vec<LandUseLine>,
    /// Rows of the model of all land uses together.
    pub model: Vec<ModelLine>,
    /// How the region's values spread; `None` where hidden or without amounts.
    pub distribution: Option<Distribution>,
    /// Change over the years, the region first; rows without a result of the test are left out.
    pub trend: Vec<TrendLine>,
}

/// One analyte against one benchmark.
#[derive(Clone, Debug, Serialize)]
pub struct AnalyteBenchmark {
    /// The benchmark set's id.
    pub set: String,
    /// What counts as exceeding, in words.
    pub benchmark: String,
    /// `acute-health`, `chronic-health`, `aesthetic` or `infrastructure`.
    pub effect: String,
    /// The map, as `maps::choropleth_svg` made it. It is put into the page as it is: nothing else may stand here.
    pub map_svg: Option<String>,
    /// The region's rate.
    pub region: Option<RateLine>,
    /// The areas, in any order: the page ranks them, hidden ones last.
    pub ranking: Vec<RateLine>,
    /// Areas amid unusually high shares, and amid unusually low ones; hidden areas left out.
    pub amid_high: Vec<String>,
    /// As `amid_high`, of low shares.
    pub amid_low: Vec<String>,
}

/// Summary numbers of one area or the region.
#[derive(Clone, Debug, Serialize)]
pub struct SummaryLine {
    /// The area's id, or `region`.
    pub area_id: String,
    /// The area's name.
    pub area: String,
    /// Unit, with its basis.
    pub unit: String,
    /// The figures; `None` where they are hidden.
    pub figures: Option<SummaryFigures>,
}

/// The figures of a shown summary.
#[derive(Clone, Debug, Serialize)]
pub struct SummaryFigures {
    /// Wells with a value.
    pub wells: u32,
    /// Wells where it was detected.
    pub detected: u32,
    /// Lowest and highest limit of the non-detects.
    pub limits: Option<(f64, f64)>,
    /// Highest detect.
    pub highest: Option<f64>,
    /// Mean with its interval.
    pub mean: Option<Spread>,
    /// Median.
    pub median: Option<f64>,
    /// 90th percentile.
    pub p90: Option<f64>,
    /// all-detected, kaplan-meier, order-statistics, shares-only.
    pub method: String,
    /// Plain phrases.
    pub notes: Vec<String>,
}

/// One band of one land use.
#[derive(Clone, Debug, Serialize)]
pub struct LandUseLine {
    /// The land use's name in the plan.
    pub land_use: String,
    /// The band: low, middle, high, or a number.
    pub band: String,
    /// The band by exposure, 0 the lowest.
    pub band_number: u32,
    /// What the band covers, in words, such as `10% to 40% of the circle`.
    pub range: String,
    /// The benchmark set's id; empty where the analyte has none.
    pub set: String,
    /// What counts as exceeding, in words; empty where there is no benchmark.
    pub benchmark: String,
    /// The figures; `None` where they are hidden.
    pub figures: Option<LandUseFigures>,
}

/// The figures of a shown band.
#[derive(Clone, Debug, Serialize)]
pub struct LandUseFigures {
    /// Wells in the band with a value.
    pub wells: u32,
    /// Wells that exceed.
    pub exceeding: Option<u32>,
    /// Wells that could be either.
    pub undetermined: Option<u32>,
    /// The rate and its interval.
    pub rate: Option<Spread>,
    /// Odds ratio against the lowest band and its interval.
    pub odds: Option<Spread>,
    /// Fisher's exact p, adjusted for the number of comparisons.
    pub fisher_q: Option<f64>,
    /// Trend over the bands.
    pub trend_p: Option<f64>,
    /// Rank test of concentrations over the bands, adjusted.
    pub rank_q: Option<f64>,
    /// Plain phrases.
    pub notes: Vec<String>,
}

/// Change over the years in one area or the region.
#[derive(Clone, Debug, Serialize)]
pub struct TrendLine {
    /// The area's id, or `region`.
    pub area_id: String,
    /// The area's name.
    pub area: String,
    /// The figures; `None` where they are hidden.
    pub figures: Option<TrendFigures>,
}

/// The figures of a shown trend.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct TrendFigures {
    /// Wells with enough repeats.
    pub wells: u32,
    /// Change in a year, in the analyte's unit.
    pub slope_per_year: Option<f64>,
    /// Which way more wells went than the other: below 0 down, above 0 up.
    pub tau: f64,
    /// Adjusted p.
    pub q: Option<f64>,
}

/// One term of the model of all land uses together.
#[derive(Clone, Debug, Serialize)]
pub struct ModelLine {
    /// The benchmark set's id.
    pub set: String,
    /// `intercept`, a land use's name, or `depth_m`.
    pub term: String,
    /// Odds ratio and its interval.
    pub odds: Option<Spread>,
    /// Adjusted p.
    pub q: Option<f64>,
    /// Wells in the model; `None` where hidden.
    pub wells: Option<u32>,
    /// How the fit went, in words.
    pub fit: String,
}
