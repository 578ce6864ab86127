//! One value a well becomes rates, summaries and trends by area and for the region.
//!
//! Comes in: the reduced survey and the placed wells. Goes out: `Findings`. Nothing can go wrong but the disk: a figure the data
//! cannot give is empty, with its reason in the row's notes. Every group has a random stream of its own, so that no
//! group's answer depends on another's.

mod balance;
mod blanks;
mod cells;
mod coverage;
mod duplicates;
mod exceedance;
mod groups;
mod notes;
mod panel;
mod quality;
mod rows;
mod summary;
mod sums;
mod trend;

pub use coverage::{CoverageRow, rows as coverage};
pub use exceedance::{NOT_SMOOTHED, judge, reading, smooth};
pub use groups::{Groups, Member};
pub use panel::AnyHealthRow;
pub use quality::quality;
pub use rows::{ExceedanceRow, QualityRow, Scope, SummaryRow, TrendRow};
pub use sums::EXCEED_ALREADY;
pub use trend::adjust as adjust_trends;

use crate::dictionary::{Benchmark, Dictionary};
use crate::ids::Day;
use crate::per_well::Survey;
use crate::place::Wells;
use crate::plan::{Plan, Sums};
use crate::problem::Problem;
use rayon::prelude::*;

/// What the survey says, by area and for the region.
#[derive(Debug, Default)]
pub struct Findings {
    /// Limits in force on `as_of`.
    pub benchmarks: Vec<Benchmark>,
    /// The day that limits and ages refer to.
    pub as_of: Option<Day>,
    /// exceedance.csv
    pub exceedance: Vec<ExceedanceRow>,
    /// exceedance.csv, its rows of sums computed from several analytes
    pub sums: Vec<ExceedanceRow>,
    /// summary.csv
    pub summaries: Vec<SummaryRow>,
    /// trend.csv
    pub trends: Vec<TrendRow>,
    /// Wells over any health limit, the region first.
    pub any_health: Vec<AnyHealthRow>,
    /// coverage.csv
    pub coverage: Vec<CoverageRow>,
}

impl Findings {
    /// exceedance.csv whole: single analytes, then sums.
    pub fn all_exceedance(&self) -> impl Iterator<Item = &ExceedanceRow> {
        self.exceedance.iter().chain(&self.sums)
    }
}

/// Summarises every analyte.
///
/// # Errors
/// A disk that fails.
pub fn summarise(plan: &Plan, dictionary: &Dictionary, wells: &Wells, survey: &Survey) -> Result<Findings, Problem> {
    let as_of = plan.benchmarks.as_of.or(survey.last_day());
    let benchmarks = as_of
        .and_then(Day::date)
        .map(|day| dictionary.benchmarks().in_force(&plan.benchmarks.sets, day))
        .unwrap_or_default();
    let groups: Vec<Groups<'_>> =
        survey.by_analyte().map(|(analyte, values)| Groups::new(analyte, values, wells)).collect();
    let cells = cells::WellCells::of(wells, plan.summary.equal_area_cells);
    let parts: Vec<(Vec<ExceedanceRow>, Vec<SummaryRow>)> = groups
        .par_iter()
        .map(|group| (exceedance::rows(plan, &benchmarks, &cells, group), summary::rows(plan, dictionary, group)))
        .collect();
    let mut findings = Findings { benchmarks, as_of, ..Findings::default() };
    for (exceedance, summaries) in parts {
        findings.exceedance.extend(exceedance);
        findings.summaries.extend(summaries);
    }
    if plan.benchmarks.sums == Sums::Judged {
        findings.sums = sums::rows(plan, dictionary, &findings.benchmarks, wells, survey);
    }
    findings.trends = trend::rows(plan, dictionary, wells, survey)?;
    findings.coverage = coverage::rows(wells, survey, |_| true);
    findings.any_health = panel::rows(plan, dictionary, wells, survey, &findings.benchmarks);
    Ok(findings)
}
