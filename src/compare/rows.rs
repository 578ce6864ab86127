//! The rows of the land-use comparison: one a land use, band, analyte and benchmark.

use crate::ids::AnalyteId;

/// One row of land-use.csv.
#[derive(Clone, Debug)]
pub struct LandUseRow {
    /// Land use's name in the plan.
    pub land_use: String,
    /// low, middle, high; or low, high; or 1 to k: by exposure.
    pub band: String,
    /// The band's number by exposure, 0 the lowest.
    pub band_number: usize,
    /// Lower edge of the measure, `None` at the open end.
    pub from: Option<f64>,
    /// Upper edge of the measure, `None` at the open end.
    pub to: Option<f64>,
    /// Analyte.
    pub analyte: AnalyteId,
    /// Benchmark set and effect; `None` for an analyte without a benchmark.
    pub benchmark: Option<(String, String)>,
    /// Wells in the band with a value.
    pub wells: u32,
    /// Wells that exceed.
    pub exceeding: Option<u32>,
    /// Wells that could be either.
    pub undetermined: Option<u32>,
    /// exceeding / (exceeding + meeting).
    pub rate: Option<f64>,
    /// Wilson interval.
    pub rate_interval: Option<(f64, f64)>,
    /// Odds ratio against the lowest band; `None` for that band.
    pub odds_ratio: Option<f64>,
    /// Woolf interval.
    pub odds_interval: Option<(f64, f64)>,
    /// Rate over that of the lowest band; `None` where that is 0.
    pub risk_ratio: Option<f64>,
    /// Its interval on the log scale (Katz); `None` where a band has no exceeding well.
    pub risk_ratio_interval: Option<(f64, f64)>,
    /// Rate less that of the lowest band.
    pub risk_difference: Option<f64>,
    /// Newcombe's interval from two Wilson ones.
    pub risk_difference_interval: Option<(f64, f64)>,
    /// Fisher's exact two-sided p.
    pub fisher_p: Option<f64>,
    /// The same less half the chance of the very table seen (mid-p).
    pub fisher_mid_p: Option<f64>,
    /// Benjamini-Hochberg over analytes and bands of the land use.
    pub fisher_q: Option<f64>,
    /// Cochran-Armitage trend over the bands.
    pub trend_p: Option<f64>,
    /// Peto-Peto over the bands.
    pub rank_p: Option<f64>,
    /// Benjamini-Hochberg over the analytes of the land use.
    pub rank_q: Option<f64>,
    /// Peto-Peto test of a trend over the bands.
    pub rank_trend_p: Option<f64>,
    /// Trend of exceeding over the bands, with neighbours allowed to be alike.
    pub neighbour_p: Option<f64>,
    /// Benjamini-Hochberg over analytes and benchmarks of the land use.
    pub neighbour_q: Option<f64>,
    /// Trend of concentrations (Peto-Peto scores) over the bands, with neighbours allowed to be alike.
    pub rank_neighbour_p: Option<f64>,
    /// Plain phrases: the first says what kind of limit it is, the others speak of counts and odds ratio.
    pub notes: Vec<String>,
    /// Plain phrases about the tests and the risk ratio.
    pub test_notes: Vec<String>,
}

impl LandUseRow {
    /// All that is said of the row.
    pub fn all_notes(&self) -> Vec<String> {
        self.notes.iter().chain(&self.test_notes).cloned().collect()
    }
}

/// One row of land-use-model.csv.
#[derive(Clone, Debug)]
pub struct ModelRow {
    /// Analyte.
    pub analyte: AnalyteId,
    /// Benchmark set's id.
    pub set: String,
    /// What the limit guards against.
    pub effect: &'static str,
    /// `intercept`, a land use's name, or `depth_m`.
    pub term: String,
    /// Coefficient on the log-odds scale, of one standard unit named in `fit`.
    pub estimate: Option<f64>,
    /// Its standard error.
    pub std_error: Option<f64>,
    /// exp(estimate).
    pub odds_ratio: Option<f64>,
    /// Profile-likelihood interval of the odds ratio.
    pub odds_interval: Option<(f64, f64)>,
    /// Penalised likelihood-ratio p.
    pub p: Option<f64>,
    /// Benjamini-Hochberg over the analytes, for this term.
    pub q: Option<f64>,
    /// Wells in the model.
    pub wells: u32,
    /// How the fit went, in words.
    pub fit: String,
}
